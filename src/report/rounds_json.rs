//! `compare --report json`. The format is a promise (`docs/schema/compare.schema.json`).

use crate::round::{Changed, Comparison, CopyChanges, RoundFinding};
use crate::rule::Level;
use schemars::JsonSchema;
use serde::Serialize;

/// Name and version of the format.
const FORMAT: &str = "stavegauge-compare/1";

/// Rounds of a delivery held against each other.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, title = "stavegauge compare")]
pub struct Compare {
    /// `stavegauge-compare/1`.
    format: &'static str,
    /// Version of the program.
    version: &'static str,
    /// What each round is called, the first first.
    rounds: Vec<String>,
    /// Its copies.
    copies: Vec<Copy>,
    /// All copies together.
    totals: Totals,
}

/// How many of each sort.
#[derive(Debug, Default, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Totals {
    /// Found before and no more.
    mended: usize,
    /// Found for the first time.
    new: usize,
    /// Mended once, or let stand, and found again.
    reopened: usize,
    /// Still there.
    remaining: usize,
    /// Let stand by the house now.
    stet: usize,
}

/// What has become of one copy.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Copy {
    /// Its path in the newest round that has it.
    path: String,
    /// The member of a container.
    member: Option<String>,
    /// It was not in the round before.
    added: bool,
    /// It is not in the newest round.
    gone: bool,
    /// Found before and no more.
    mended: Vec<Finding>,
    /// Found for the first time.
    new: Vec<Finding>,
    /// Mended once, or let stand, and found again.
    reopened: Vec<Finding>,
    /// Still there.
    remaining: Vec<Finding>,
    /// Let stand by the house now.
    stet: Vec<Finding>,
}

/// A finding.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Finding {
    /// The rule.
    rule: String,
    /// How grave it is.
    level: Level,
    /// How grave it was in the round before; null where it was not there.
    was: Option<Level>,
    /// Where, in words.
    place: String,
    /// The part, by its name, else by its id.
    part: Option<String>,
    /// The movement, counted in the file from 1.
    movement: Option<u32>,
    /// First and last bar it is about, as the file numbers them.
    bars: Option<[String; 2]>,
    /// What is wrong, in words.
    message: String,
    /// What to do.
    advice: String,
    /// Its number in the correction list of its copy.
    number: u32,
}

/// The comparison as data.
pub fn compare(comparison: &Comparison) -> Compare {
    let mut totals = Totals::default();
    for copy in &comparison.copies {
        totals.mended += copy.mended.len();
        totals.new += copy.new.len();
        totals.reopened += copy.reopened.len();
        totals.remaining += copy.remaining.len();
        totals.stet += copy.stet.len();
    }
    Compare {
        format: FORMAT,
        version: env!("CARGO_PKG_VERSION"),
        rounds: comparison.rounds.clone(),
        copies: comparison.copies.iter().map(copy).collect(),
        totals,
    }
}

fn copy(changes: &CopyChanges) -> Copy {
    let all = |findings: &[RoundFinding]| findings.iter().map(|found| finding(found, None)).collect();
    Copy {
        path: changes.path.clone(),
        member: changes.member.clone(),
        added: changes.added,
        gone: changes.gone,
        mended: all(&changes.mended),
        new: all(&changes.new),
        reopened: all(&changes.reopened),
        remaining: changes.remaining.iter().map(|Changed { now, was }| finding(now, Some(*was))).collect(),
        stet: all(&changes.stet),
    }
}

fn finding(found: &RoundFinding, was: Option<Level>) -> Finding {
    Finding {
        rule: found.rule.clone(),
        level: found.level,
        was,
        place: found.place.clone(),
        part: found.part.clone(),
        movement: found.movement,
        bars: found.bars.clone(),
        message: found.message.clone(),
        advice: found.advice.clone(),
        number: found.number,
    }
}
