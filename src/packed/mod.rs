//! The data files of `rules/` as they come with the program: their TOML is read when the program is built, and what
//! it holds lies beside the text in a packed form that serde reads in a small part of the time.
//!
//! The packed form of a text is an index of it: every value with the bytes it stands at, so that [`toml::Spanned`] is
//! as true as it is from the text, and strings are pieces of the text itself wherever it writes them without escapes.
//! A document is one value, a table:
//!
//! ```text
//! value  = TEXT    at before length         the piece of the text that begins `before` bytes behind `at`
//!        | ESCAPED at length bytes          a string that the text does not write as it reads
//!        | INTEGER at eight bytes           smallest first
//!        | FLOAT   at eight bytes           smallest first, as IEEE 754 has it
//!        | FALSE   at
//!        | TRUE    at
//!        | ARRAY   at size count value...   `size` bytes of values: it is passed over without a look at them
//!        | TABLE   at size count (key value)...
//! key    = a TEXT or ESCAPED
//! at     = start length                     the bytes of the text it stands at
//! ```
//!
//! The words in capitals are one byte each (`tags.rs`), numbers 7 bits a byte, smallest first, the last byte below 128.
//! There are no dates. `build.rs` is the build script; `write.rs` is there and in tests only, `read.rs` and `fit.rs` are what
//! the program has. Bytes that are wrong are a [`Misfit`], never a panic.

mod fit;
mod groups;
mod read;
mod tags;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod write;

pub(crate) use groups::{NoGroup, share};

use serde::Deserialize;
use std::fmt;

/// A data file that comes with the program.
#[derive(Debug, Clone, Copy)]
pub struct Packed<'a> {
    /// Its name in errors: `rules/page-turn.toml`.
    pub name: &'a str,
    /// Its text.
    pub text: &'a str,
    /// What the text holds, packed.
    index: &'a [u8],
}

macro_rules! packed {
    ($name:literal) => {
        Packed {
            name: concat!("rules/", $name, ".toml"),
            text: include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/rules/", $name, ".toml")),
            index: include_bytes!(concat!(env!("OUT_DIR"), "/", $name, ".packed")),
        }
    };
}

// What `build.rs` found in `rules/`.
include!(concat!(env!("OUT_DIR"), "/packed.rs"));

impl<'a> Packed<'a> {
    /// The file as the type its keys must fit.
    ///
    /// # Errors
    /// That it does not fit. What is wrong and where, the TOML of its text says.
    pub fn read<T: Deserialize<'a>>(self) -> Result<T, Misfit> {
        T::deserialize(read::document(self.text, self.index)?)
    }

    /// The same as if one key of the document were not there.
    ///
    /// # Errors
    /// As [`Packed::read`].
    pub fn read_without<T: Deserialize<'a>>(self, key: &'a str) -> Result<T, Misfit> {
        T::deserialize(read::document(self.text, self.index)?.without(key))
    }
}

/// A packed form that is damaged, or holds something other than what it is read as. That is all it says: whoever wants to know
/// more reads the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Misfit;

impl fmt::Display for Misfit {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.write_str("the packed form does not fit")
    }
}

impl std::error::Error for Misfit {}

impl serde::de::Error for Misfit {
    fn custom<T: fmt::Display>(_: T) -> Self {
        Self
    }
}
