//! What the data files of a house have in common: a source for every value, and errors that point
//! into the TOML.

use crate::packed::Packed;
use crate::place::Place;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;

/// How well a value is founded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
pub enum Mark {
    /// Read in the source named.
    R,
    /// Another page quotes the source named.
    S,
    /// Common practice, no source.
    C,
    /// Arithmetic from a value that was read.
    D,
    /// From memory.
    M,
    /// Said by the house.
    H,
}

/// The title that goes with [`Mark::C`], and with no other mark.
pub const NO_SOURCE: &str = "common practice, no source";

/// Who says a value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Title of the standard, guideline or article, or [`NO_SOURCE`].
    pub title: String,
    /// What it says, shortened.
    pub says: String,
    /// How well that is founded.
    pub mark: Mark,
}

/// What is wrong with a data file, where, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DataError {
    /// The file, as it was named to the loader.
    pub file: String,
    /// The stretch of the file's text that is wrong; nothing if the file as a whole is.
    pub at: Option<Place>,
    /// Line of that place, from 1.
    pub line: u32,
    /// Column of that place in characters, from 1.
    pub column: u32,
    /// What is wrong and what to do.
    pub message: String,
}

impl DataError {
    /// An error at `span` (bytes) of `text`.
    pub fn new(file: &str, text: &str, span: Option<Range<usize>>, message: impl Into<String>) -> Self {
        let before = span.as_ref().and_then(|span| text.get(..span.start)).unwrap_or_default();
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().map_or(0, |tail| tail.chars().count()) + 1;
        Self {
            file: file.to_owned(),
            at: span.map(|span| Place::new(span.start as u64, span.len() as u64)),
            line: u32::try_from(line).unwrap_or(u32::MAX),
            column: u32::try_from(column).unwrap_or(u32::MAX),
            message: message.into(),
        }
    }
}

impl fmt::Display for DataError {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "{}:{}:{}: {}", self.file, self.line, self.column, self.message)
    }
}

impl std::error::Error for DataError {}

/// A data file while it is checked: its name and text, so that whatever is found can be pointed at.
#[derive(Clone, Copy)]
pub(super) struct DataFile<'a> {
    pub name: &'a str,
    pub text: &'a str,
}

impl<'a> DataFile<'a> {
    /// A file that comes with the program.
    pub fn of(packed: Packed<'a>) -> Self {
        Self { name: packed.name, text: packed.text }
    }

    /// The file as the type its keys must fit.
    pub fn parse<T: serde::de::DeserializeOwned>(self) -> Result<T, DataError> {
        toml::from_str(self.text).map_err(|error| DataError::new(self.name, self.text, error.span(), said(error.message())))
    }

    /// An error at a value of the file.
    pub fn wrong<T>(self, at: &Spanned<T>, message: impl Into<String>) -> DataError {
        DataError::new(self.name, self.text, Some(at.span()), message)
    }

    /// The value, if it is a number above zero.
    pub fn positive(self, value: &Spanned<f64>, what: &str) -> Result<f64, DataError> {
        let number = *value.get_ref();
        if number.is_finite() && number > 0.0 { Ok(number) } else { Err(self.wrong(value, format!("{what} must be a number above 0"))) }
    }
}

/// What the reader of TOML says; of a key or a value that there is not, in our own words.
fn said(message: &str) -> String {
    let message = message.lines().collect::<Vec<_>>().join(" ");
    for (what, begins) in [("key", "unknown field `"), ("value", "unknown variant `")] {
        if let Some((name, rest)) = message.strip_prefix(begins).and_then(|rest| rest.split_once('`')) {
            // The known names stand between backticks.
            return UnknownName::new(what, name, rest.split('`').skip(1).step_by(2)).to_string();
        }
    }
    message
}

/// The `[source.*]` tables of a data file.
#[derive(Debug, Deserialize)]
#[serde(transparent)]
pub(super) struct Sources(BTreeMap<String, Spanned<Arc<Source>>>);

impl Sources {
    /// Refuses a source that claims more, or less, than its mark.
    pub fn check(&self, file: DataFile) -> Result<(), DataError> {
        for source in self.0.values() {
            let Source { title, says, mark } = &**source.get_ref();
            if (*mark == Mark::C) != (title == NO_SOURCE) {
                return Err(
                    file.wrong(source, format!("mark C and the title \"{NO_SOURCE}\" go together, one without the other does not do"))
                );
            }
            if title.trim().is_empty() || says.trim().is_empty() {
                return Err(file.wrong(source, "a source needs a title and what it says"));
            }
        }
        Ok(())
    }

    /// The source of that name.
    pub fn get(&self, key: &Spanned<String>, file: DataFile) -> Result<Arc<Source>, DataError> {
        let Some(source) = self.0.get(key.get_ref()) else {
            let unknown = UnknownName::new("source", key.get_ref(), self.0.keys().map(String::as_str));
            return Err(file.wrong(key, format!("{unknown}; or add [source.{}]", key.get_ref())));
        };
        Ok(Arc::clone(source.get_ref()))
    }
}

/// A name that is not in its table, with the known name nearest to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownName {
    /// What was asked for: `role`, `paper`, `source`.
    pub what: &'static str,
    /// The name asked for.
    pub name: String,
    /// The known name that is most like it, if one is like it at all.
    pub nearest: Option<String>,
    /// Every known name.
    pub known: Vec<String>,
}

/// Jaro-Winkler likeness from which a name is offered as what was meant; below it the list is shown.
const LIKE_ENOUGH: f64 = 0.75;

impl UnknownName {
    /// The error for `name`, which is not among the `known`.
    pub fn new<'a>(what: &'static str, name: &str, known: impl Iterator<Item = &'a str>) -> Self {
        let known: Vec<String> = known.map(str::to_owned).collect();
        let asked = name.to_lowercase();
        let nearest = known
            .iter()
            .map(|one| (strsim::jaro_winkler(&asked, &one.to_lowercase()), one))
            .filter(|(likeness, _)| *likeness >= LIKE_ENOUGH)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, one)| one.clone());
        Self { what, name: name.to_owned(), nearest, known }
    }
}

impl fmt::Display for UnknownName {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "there is no {} \"{}\"; ", self.what, self.name)?;
        match &self.nearest {
            Some(nearest) => write!(to, "did you mean \"{nearest}\"?"),
            None => write!(to, "known: {}", self.known.join(", ")),
        }
    }
}

impl std::error::Error for UnknownName {}
