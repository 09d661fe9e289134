//! From bytes to what the file says: members of a container, encoding, window, well-formedness, elements.

mod amount;
mod bodies;
mod container;
mod cutter;
mod damage;
mod decode;
mod direction;
mod doctype;
mod element;
mod entity;
mod header;
mod locate;
mod measure;
mod note;
mod number;
mod order;
mod pull;
mod reader;
mod repeats;
mod sanity;
mod source;
mod stretches;
mod supply;
mod tag;
mod told;
mod wellformed;
mod window;
mod word;

pub use damage::Damage;
pub use element::Element;
pub use locate::{Spot, locate};
pub use pull::Pull;
pub use reader::read;
pub use source::Source;
pub use stretches::read_together;
