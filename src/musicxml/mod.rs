//! From bytes to what the file says: members of a container, encoding, window, well-formedness, elements.

mod container;
mod damage;
mod decode;
mod doctype;
mod direction;
mod element;
mod entity;
<<<<<<< HEAD
mod header;
mod measure;
mod note;
mod number;
mod pull;
mod reader;
mod sanity;
=======
mod locate;
mod pull;
mod source;
>>>>>>> input
mod tag;
mod wellformed;
mod window;

pub use damage::Damage;
pub use element::Element;
pub use locate::{Spot, locate};
pub use pull::Pull;
<<<<<<< HEAD
pub use reader::read;
=======
pub use source::Source;
>>>>>>> input
