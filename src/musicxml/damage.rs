//! What is wrong with a document so that it cannot be read, or not to its end.

use crate::place::Place;
use std::fmt;
use std::io;
use std::ops::Deref;

/// A fault that ends the reading of a document. It is one pointer wide: nearly every step of the reading gives this or what it has read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage(Box<Account>);

/// What there is to say of a damage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Account {
    /// What is wrong, as a sentence without its full stop.
    pub what: String,
    /// What to do about it.
    pub help: String,
    /// Where in the decoded text, if it is a place there.
    pub at: Option<Place>,
    /// The text is well-formed but of another vocabulary: no score at all.
    pub other_vocabulary: bool,
}

impl Deref for Damage {
    type Target = Account;

    fn deref(&self) -> &Account {
        &self.0
    }
}

impl Damage {
    /// A fault without a place.
    pub fn new(what: impl Into<String>, help: impl Into<String>) -> Self {
        Self(Box::new(Account { what: what.into(), help: help.into(), at: None, other_vocabulary: false }))
    }

    /// The same fault at a place.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.0.at = Some(place);
        self
    }

    /// The same where the text is no score at all.
    #[must_use]
    pub fn of_other_vocabulary(mut self) -> Self {
        self.0.other_vocabulary = true;
        self
    }

    /// What there is to say of it.
    pub fn account(self) -> Account {
        *self.0
    }

    /// The fault behind an error of a stream: the [`Damage`] that was sent through it, or the system's
    /// words. `doing` says what failed ("reading parts/oboe.musicxml").
    pub fn from_io(error: io::Error, doing: &str) -> Self {
        match error.downcast::<Self>() {
            Ok(damage) => damage,
            Err(error) => Self::new(format!("{doing} failed: {error}"), "Check that the file is there, whole and readable"),
        }
    }
}

impl From<Damage> for io::Error {
    fn from(damage: Damage) -> Self {
        Self::new(io::ErrorKind::InvalidData, damage)
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.what)
    }
}

impl std::error::Error for Damage {}
