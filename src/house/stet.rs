//! Stets: findings that the house lets stand, each with its reason.

use super::date::Date;
use crate::place::Place;

/// A finding that may stand. It is known by what it is about, never by a line of a file, so that it outlives a new export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stet {
    /// The rule, by its id.
    pub rule: String,
    /// The copies, as a pattern of paths below the folder of the house style; `None`: all of them.
    pub file: Option<String>,
    /// The part, by its name in the score or its id; `None`: whatever part.
    pub part: Option<String>,
    /// The movement, counted in the file from 1; `None`: whatever movement.
    pub movement: Option<u32>,
    /// First and last bar as the file numbers them; `None`: wherever it is.
    pub bars: Option<[String; 2]>,
    /// Why it may stand.
    pub reason: String,
    /// Who says so.
    pub by: Option<String>,
    /// The last day on which it holds (UTC).
    pub until: Option<Date>,
    /// The file it is written in, as it was named.
    pub written_in: String,
    /// Where it stands in that file.
    pub at: Place,
}
