//! From bytes to what the file says: members of a container, encoding, window, well-formedness, elements.

mod container;
mod damage;
mod decode;
mod doctype;
mod element;
mod entity;
mod locate;
mod pull;
mod source;
mod tag;
mod wellformed;
mod window;

pub use damage::Damage;
pub use element::Element;
pub use locate::{Spot, locate};
pub use pull::Pull;
pub use source::Source;
