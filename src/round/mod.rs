//! Rounds of one delivery: what each round found, and which finding of one is which of another.
//!
//! A round is an audit made now, or one read from its JSON report. Findings are known again by what they are about: the rule,
//! the part, the movement, the bars; never by a line of the file or a page, so that they are the same when bars have moved.

mod compare;
mod matching;
mod number;
mod read;

pub use compare::{Changed, Comparison, CopyChanges, compare};
pub use number::number;
pub use read::{NotAReport, read};

use crate::audit::{DocumentAudit, Placed};
use crate::rule::Level;

/// What one round of a delivery found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Round {
    /// Its copies, in the order of their paths.
    pub copies: Vec<RoundCopy>,
}

/// What a round found in one copy.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundCopy {
    /// Its path as it was named in that round.
    pub path: String,
    /// The member of a container.
    pub member: Option<String>,
    /// What was found.
    pub findings: Vec<RoundFinding>,
    /// The highest number given to a correction of this copy so far.
    pub last_number: u32,
}

/// A finding of a round.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundFinding {
    /// The rule.
    pub rule: String,
    /// How grave.
    pub level: Level,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub advice: String,
    /// Where, for people: page, system, bars, staff.
    pub place: String,
    /// The part, by its name, else by its id.
    pub part: Option<String>,
    /// The movement.
    pub movement: Option<u32>,
    /// The staff of the part.
    pub staff: Option<u32>,
    /// First and last bar it is about, as the file numbers them: its own, or those that stand on its page.
    pub bars: Option<[String; 2]>,
    /// Its number in the correction list of its copy.
    pub number: u32,
    /// The house lets it stand.
    pub stet: bool,
}

impl Round {
    /// The round of an audit made now.
    pub fn of(documents: &[DocumentAudit]) -> Self {
        Self { copies: documents.iter().map(RoundCopy::of).collect() }
    }
}

impl RoundCopy {
    fn of(document: &DocumentAudit) -> Self {
        let findings: Vec<RoundFinding> = document.findings.iter().map(RoundFinding::of).collect();
        let last_number = document.last_number.max(findings.iter().map(|finding| finding.number).max().unwrap_or(0));
        Self { path: document.path.clone(), member: document.member.clone(), findings, last_number }
    }
}

impl RoundFinding {
    fn of(placed: &Placed) -> Self {
        let found = &placed.finding;
        let on = &found.on;
        Self {
            rule: found.rule.to_string(),
            level: found.level,
            message: found.message.clone(),
            advice: found.advice.clone(),
            place: on.to_string(),
            part: on.part_name_or_id().map(str::to_owned),
            movement: on.movement,
            staff: on.staff,
            bars: on.stretch().map(|covers| covers.numbers.map(|number| number.to_string())),
            number: placed.number,
            stet: placed.stet.is_some(),
        }
    }
}
