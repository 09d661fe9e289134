//! A publisher's style: who reads a copy, what staff height that reader needs, which papers there are.
//!
//! Everything here is data from `rules/`, each value with its source, loaded once and passed down.

mod data;
mod family;
mod paper;
mod role;

pub use data::{DataError, Mark, NO_SOURCE, Source, UnknownName};
pub use family::Family;
pub use paper::{Paper, PaperMatch, Papers};
pub use role::{Basis, Fact, Kind, Players, ReadingDistance, Role, Roles, StaffGaps, StaffHeights};

/// A house style.
#[derive(Debug, Clone, PartialEq)]
pub struct House {
    /// Its name in reports.
    pub name: String,
    /// The readers it knows.
    pub roles: Roles,
    /// The papers it knows.
    pub papers: Papers,
}

impl House {
    /// The style that comes with the program; it fails to load only in a build whose tests fail.
    pub fn built_in() -> Result<Self, DataError> {
        Ok(Self { name: "built-in".to_owned(), roles: Roles::built_in()?, papers: Papers::built_in()? })
    }
}
