//! What stands in a report, one file a format. A report is written into a text; where that goes is not its matter.

mod excerpt;

pub mod explain;
pub mod json;
pub mod measure_csv;
pub mod measure_json;
pub mod measure_table;
pub mod plain;
pub mod terminal;

use crate::audit::DocumentAudit;
use crate::rule::{Excused, Level};
use serde::Serialize;

/// From which level on a finding fails the audit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gate {
    /// At this level or above.
    At(Level),
    /// None does.
    Never,
}

impl Gate {
    /// Whether a finding of this level fails the audit.
    pub fn stops(self, level: Level) -> bool {
        matches!(self, Self::At(gate) if level >= gate)
    }
}

/// What an audit comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// No finding stands at or above the gate.
    Pass,
    /// One does.
    Fail,
    /// Nothing is known of a document because the program itself failed on it, and no other one fails.
    Undecided,
}

/// How many findings of each level, and how many files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, schemars::JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Totals {
    /// Documents audited: files, or scores within a container.
    pub files: usize,
    /// Must change.
    pub error: usize,
    /// Should change.
    pub warning: usize,
    /// Query.
    pub note: usize,
    /// Findings that the house lets stand; counted in none of the others.
    pub stet: usize,
}

/// Everything that one audit found: what every format shows.
#[derive(Debug)]
pub struct AuditReport<'a> {
    /// Name of the house style.
    pub house: &'a str,
    /// The documents in their order.
    pub documents: &'a [DocumentAudit],
    /// From which level on a finding fails.
    pub gate: Gate,
}

impl AuditReport<'_> {
    /// Findings counted by level.
    pub fn totals(&self) -> Totals {
        let mut totals = Totals { files: self.documents.len(), ..Totals::default() };
        for placed in self.documents.iter().flat_map(|document| &document.findings) {
            match placed.finding.level {
                Level::Error => totals.error += 1,
                Level::Warning => totals.warning += 1,
                Level::Note => totals.note += 1,
            }
        }
        totals
    }

    /// Whether something in a document stands at or above the gate.
    pub fn comes_back(&self, document: &DocumentAudit) -> bool {
        document.findings.iter().any(|placed| self.gate.stops(placed.finding.level))
    }

    /// What it comes to.
    pub fn verdict(&self) -> Verdict {
        if self.documents.iter().any(|document| self.comes_back(document)) {
            Verdict::Fail
        } else if self.documents.iter().any(|document| document.crashed) {
            Verdict::Undecided
        } else {
            Verdict::Pass
        }
    }
}

/// Page numbers as a printer writes them: `1, 3-7, iv`.
fn runs(pages: &[String]) -> String {
    let follows =
        |one: &String, next: &String| one.parse::<i64>().ok().zip(next.parse::<i64>().ok()).is_some_and(|(one, next)| one + 1 == next);
    let told: Vec<String> = pages
        .chunk_by(follows)
        .map(|run| match run {
            [first, .., last] if run.len() > 2 => format!("{first}-{last}"),
            few => few.join(", "),
        })
        .collect();
    told.join(", ")
}

/// What reasons excused, in words: each reason once, with its pages.
pub fn excuses(excused: &[Excused]) -> Vec<String> {
    let mut reasons: Vec<(&str, Vec<String>)> = Vec::new();
    for one in excused {
        let index = reasons.iter().position(|(says, _)| *says == one.says).unwrap_or_else(|| {
            reasons.push((&one.says, Vec::new()));
            reasons.len() - 1
        });
        let pages = &mut reasons[index].1;
        pages.extend(one.on.page_name().filter(|page| !pages.contains(page)));
    }
    let told = |(says, pages): (&str, Vec<String>)| match pages.as_slice() {
        [] => says.to_owned(),
        [page] => format!("p. {page}: {says}"),
        pages => format!("pp. {}: {says}", runs(pages)),
    };
    reasons.into_iter().map(told).collect()
}
