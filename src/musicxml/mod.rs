//! From bytes to what the file says: members of a container, encoding, window, well-formedness, elements.

mod damage;
mod doctype;
mod direction;
mod element;
mod entity;
mod header;
mod measure;
mod note;
mod number;
mod pull;
mod reader;
mod sanity;
mod tag;
mod wellformed;
mod window;

pub use damage::Damage;
pub use element::Element;
pub use pull::Pull;
pub use reader::read;
