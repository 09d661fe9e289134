//! Rules as data: one TOML file a rule, read, checked against the tables of fields, and judged by.
//!
//! The way through this room: a [`field::Vocabulary`] says which subjects have which fields;
//! [`book::RuleBook`] reads rule files against it; [`judge::judge`] takes the things of one subject and
//! gives [`finding::Finding`]s. Measuring happens in the rooms above; nothing here knows what a gap is.

mod check;
mod condition;
mod evaluate;
mod example;
mod fingerprint;
mod load;
mod merge;
mod quick;
mod reads;
mod rule_file;
mod scope;
mod template;
mod template_scan;
#[cfg(test)]
mod testing;
mod verdict;
mod words;

pub mod book;
pub mod error;
pub mod field;
pub mod finding;
pub mod judge;
pub mod loaded;
pub mod subject;
pub mod value;

pub use book::{Examples, RuleBook};
pub use condition::{MOST_BYTES, MOST_DEPTH, MOST_NESTED};
pub use error::RuleFileError;
pub use field::{Column, Entry, Facts, Field, Kind, Row, Subject, Unit, Unknowable, Vocabulary};
pub use finding::{Covers, Excused, Finding, Level, NotJudged, Overlap, Where};
pub use judge::{Context, Outcome, Thing, Things, judge};
pub use loaded::{Case, Effect, Example, Limit, Mends, Merge, Reason, Rule};
pub use reads::Read;
pub use template::Template;
pub use value::Value;
