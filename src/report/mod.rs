//! What stands in a report, one file a format. A report is written into a text; where that goes is not its matter.

pub mod casting;
pub mod casting_json;
pub mod casting_table;
mod excerpt;

pub mod explain;
pub mod fitting;
pub mod fitting_page;
mod fitting_set;
pub mod json;
pub mod junit;
pub mod markdown;
pub mod measure_csv;
pub mod measure_json;
pub mod measure_table;
mod mended;
pub mod plain;
pub mod proof;
pub mod rounds;
pub mod rounds_json;
pub mod sarif;
pub mod style_schema;
pub mod terminal;

use crate::audit::set::Set;
use crate::audit::{DocumentAudit, Placed};
use crate::house::WordsOf;
use crate::rule::{Excused, Level, NotJudged, Rule, RuleBook};
use serde::Serialize;
use std::borrow::Cow;
use std::collections::BTreeSet;

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
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// No finding stands at or above the gate.
    Pass,
    /// One does.
    Fail,
    /// None does, but of a document something that must be judged could not be, or the program itself failed on it.
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

/// The house style of a report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Style {
    /// Its name.
    pub name: String,
    /// Its file as it was named or found; `None` for the built-in style.
    pub file: Option<String>,
    /// The words of reports for people; `None`: bar and staff.
    pub words: Option<WordsOf>,
}

impl Style {
    /// A text of our own in the words of the house. Messages of rules are in them already.
    pub fn say<'a>(&self, text: &'a str) -> Cow<'a, str> {
        self.words.map_or(Cow::Borrowed(text), |words| words.say(text))
    }
}

/// Everything that one audit found: what every format shows.
#[derive(Debug)]
pub struct AuditReport<'a> {
    /// The house style.
    pub house: &'a Style,
    /// The rules that were judged by.
    pub rules: &'a RuleBook,
    /// Those of them, by id, that were asked for this time.
    pub judged: &'a BTreeSet<String>,
    /// The documents in their order.
    pub documents: &'a [DocumentAudit],
    /// The deliveries among them.
    pub sets: &'a [Set],
    /// What is wrong with the house style's own words: stets that have run out or match nothing.
    pub house_findings: &'a [Placed],
    /// From which level on a finding fails.
    pub gate: Gate,
    /// Rules, by id, that must have been judged for a copy to pass.
    pub must_judge: &'a BTreeSet<String>,
}

impl AuditReport<'_> {
    /// Every finding, those on the house style last.
    pub fn findings(&self) -> impl Iterator<Item = &Placed> {
        self.documents.iter().flat_map(|document| &document.findings).chain(self.house_findings)
    }

    /// The rules that were asked for.
    pub fn rules_judged(&self) -> impl Iterator<Item = &Rule> {
        self.rules.rules().filter(|rule| self.judged.contains(&*rule.id))
    }

    /// Findings counted by level; those that the house lets stand apart.
    pub fn totals(&self) -> Totals {
        let mut totals = count(self.findings());
        totals.files = self.documents.len();
        totals
    }

    /// Whether something in a document stands at or above the gate.
    pub fn comes_back(&self, document: &DocumentAudit) -> bool {
        self.stops(&document.findings)
    }

    /// What a document comes to by itself.
    pub fn verdict_on(&self, document: &DocumentAudit) -> Verdict {
        if self.comes_back(document) {
            Verdict::Fail
        } else if document.crashed || self.unread(document) || self.must_have_judged(document).next().is_some() {
            Verdict::Undecided
        } else {
            Verdict::Pass
        }
    }

    /// What the house wants judged and could not be judged of a document.
    pub fn must_have_judged<'a>(&'a self, document: &'a DocumentAudit) -> impl Iterator<Item = &'a NotJudged> {
        document.not_judged.iter().filter(|one| self.must_judge.contains(&*one.rule))
    }

    /// What it comes to.
    pub fn verdict(&self) -> Verdict {
        let verdicts = self.documents.iter().map(|document| self.verdict_on(document));
        let all: BTreeSet<Verdict> = verdicts.chain(self.stops(self.house_findings).then_some(Verdict::Fail)).collect();
        if all.contains(&Verdict::Fail) {
            Verdict::Fail
        } else if all.contains(&Verdict::Undecided) {
            Verdict::Undecided
        } else {
            Verdict::Pass
        }
    }

    /// Whether nobody could look at a document, and something is asked of it: a gate, rules that must have been judged. That the house
    /// lets the damage stand, or holds it for less than the gate does, makes it no pass.
    fn unread(&self, document: &DocumentAudit) -> bool {
        document.summary.is_none() && (self.gate != Gate::Never || !self.must_judge.is_empty())
    }

    fn stops(&self, findings: &[Placed]) -> bool {
        findings.iter().any(|placed| placed.counts() && self.gate.stops(placed.finding.level))
    }
}

/// Findings counted by level; those that the house lets stand apart. Files are not counted here.
pub fn count<'a>(findings: impl Iterator<Item = &'a Placed>) -> Totals {
    let mut totals = Totals::default();
    for placed in findings {
        match placed.finding.level {
            _ if !placed.counts() => totals.stet += 1,
            Level::Error => totals.error += 1,
            Level::Warning => totals.warning += 1,
            Level::Note => totals.note += 1,
        }
    }
    totals
}

/// The words of practice for a level.
pub fn level_words(level: Level) -> &'static str {
    match level {
        Level::Error => "must change",
        Level::Warning => "should change",
        Level::Note => "query",
    }
}

/// The words of practice for what a copy comes to. Where no gate is asked for, nothing is said to be fit to go.
pub fn verdict_words(report: &AuditReport, document: &DocumentAudit) -> &'static str {
    match report.verdict_on(document) {
        Verdict::Pass if report.gate == Gate::Never => "no gate",
        Verdict::Pass => "can go",
        Verdict::Fail => "comes back",
        Verdict::Undecided => "not judged",
    }
}

/// The same as a sentence.
pub fn verdict_sentence(report: &AuditReport, document: &DocumentAudit) -> &'static str {
    match report.verdict_on(document) {
        Verdict::Pass if report.gate == Gate::Never => "No gate was set for it.",
        Verdict::Pass => "It can go.",
        Verdict::Fail => "It comes back.",
        Verdict::Undecided => "It is not judged.",
    }
}

/// How many copies a report has of each verdict: pass, fail, undecided.
fn verdicts(report: &AuditReport) -> [usize; 3] {
    let number = |verdict| report.documents.iter().filter(|document| report.verdict_on(document) == verdict).count();
    [Verdict::Pass, Verdict::Fail, Verdict::Undecided].map(number)
}

/// What a report of several copies comes to: `28 of 31 can go; 3 come back`.
pub fn outcome(report: &AuditReport) -> String {
    let [go, back, open] = verdicts(report);
    let copies = report.documents.len();
    let go = match (report.gate, copies) {
        (Gate::Never, 1) => "1 copy, no gate".to_owned(),
        (Gate::Never, _) => format!("{copies} copies, no gate"),
        (Gate::At(_), _) => format!("{go} of {copies} can go"),
    };
    let back = (back > 0).then(|| format!("{back} {} back", if back == 1 { "comes" } else { "come" }));
    let open = (open > 0).then(|| format!("{open} not judged"));
    [Some(go), back, open].into_iter().flatten().collect::<Vec<_>>().join("; ")
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
