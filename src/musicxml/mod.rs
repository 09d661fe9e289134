//! From bytes to what the file says: members of a container, encoding, window, well-formedness, elements.

mod damage;
mod doctype;
mod element;
mod entity;
mod pull;
mod tag;
mod wellformed;
mod window;

pub use damage::Damage;
pub use element::Element;
pub use pull::Pull;
