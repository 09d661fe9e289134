//! A loaded rule: everything `explain` shows, and what judging needs, names already resolved.

use super::condition::Condition;
use super::example::Trial;
use super::field::Unit;
use super::finding::Level;
use super::scope::{Ref, Source};
use super::template::Template;
use crate::house::{self, RuleLevel};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Which findings of a rule become one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Merge {
    /// Each stands alone.
    #[default]
    None,
    /// One for each page.
    Page,
    /// One for each part.
    Part,
    /// One for the file.
    File,
}

/// A repair that may mend what a rule finds, what changes least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Mends {
    /// The music cast off anew, on the same paper and with the same staves and margins.
    CastingOff,
    /// The same, beginning on the other side of a leaf.
    FirstSide,
    /// The same with the staves that the reader wants.
    StaffHeight,
    /// The same with the staves and margins at which one more system fits a page.
    OneMoreSystem,
}

impl Mends {
    /// Its name in rule files and reports.
    pub const fn name(self) -> &'static str {
        match self {
            Self::CastingOff => "casting-off",
            Self::FirstSide => "first-side",
            Self::StaffHeight => "staff-height",
            Self::OneMoreSystem => "one-more-system",
        }
    }

    /// What is done, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::CastingOff => "the music cast off anew, on the same paper and with the same staves and margins",
            Self::FirstSide => "the same from the other side of a leaf, where turns ask for it",
            Self::StaffHeight => "the music cast off anew with the staves that are ideal for the reader",
            Self::OneMoreSystem => "the music cast off anew with the staves and margins at which one more system fits a page",
        }
    }
}

/// A rule.
#[derive(Debug, Clone)]
pub struct Rule {
    /// Its name; never reused.
    pub id: Arc<str>,
    /// Names it had.
    pub aliases: Vec<String>,
    /// What is wrong, in a few words.
    pub title: String,
    /// The group it is listed in.
    pub family: String,
    /// Its place when findings are ordered by harm: the smaller, the worse.
    pub harm: u32,
    /// The subject it is about.
    pub about: String,
    /// Why it matters.
    pub why: String,
    /// Who says so.
    pub sources: Vec<house::Source>,
    /// What it leaves alone, in words.
    pub exemptions: Vec<String>,
    /// Which findings become one.
    pub merge: Merge,
    /// Repairs that may mend what it finds.
    pub mended_by: Vec<Mends>,
    /// Its cases; the first that holds gives the finding.
    pub cases: Vec<Case>,
    /// What silences or softens a finding.
    pub reasons: Vec<Reason>,
    /// Its limits.
    pub limits: Vec<Limit>,
    /// Examples that break or keep it.
    pub examples: Vec<Example>,
    /// The file it was read from, as the caller named it.
    pub file: String,
    /// What the house says of it, where it says more than limits.
    pub house: Option<HouseSays>,
    pub(super) points_at: Option<Ref>,
}

impl Rule {
    /// Whether the judgement turns on who reads: some case looks at the role or at a limit that differs by role.
    pub fn depends_on_role(&self) -> bool {
        let by_role = |name: &Ref| self.limits.get(name.index).is_some_and(|limit| !limit.by_role.is_empty());
        self.cases.iter().flat_map(Case::judges_by).any(|name| match name.source {
            Source::Role => true,
            Source::Limit => by_role(&name),
            Source::Own | Source::File => false,
        })
    }

    /// Whether the house has it judged.
    pub fn is_on(&self) -> bool {
        self.house.as_ref().is_none_or(|house| house.level != Some(RuleLevel::Off))
    }

    /// The level of its gravest case.
    pub fn gravest(&self) -> Level {
        self.cases.iter().map(|case| case.level).max().unwrap_or(Level::Note)
    }

    /// Every limit as it holds for a reader, in the order of `limits`.
    pub(super) fn limits_for(&self, role: Option<&str>) -> Vec<f64> {
        self.limits.iter().map(|limit| limit.for_role(role)).collect()
    }
}

/// What a house says of a rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HouseSays {
    /// How grave it is there; `None`: as the rule file has it.
    pub level: Option<RuleLevel>,
    /// Why.
    pub reason: Option<String>,
    /// The house style that says so, as the caller named it.
    pub by: String,
}

/// A case of a rule.
#[derive(Debug, Clone)]
pub struct Case {
    /// How grave.
    pub level: Level,
    /// The condition as it is written.
    pub when: String,
    /// The message.
    pub message: Template,
    /// What to do.
    pub advice: Template,
    /// What the measured value and the limit are measured in.
    pub unit: Unit,
    pub(super) holds: Condition,
    pub(super) measured: Option<Condition>,
    pub(super) against: Option<Condition>,
}

impl Case {
    /// The names that decide: those of its condition and of what it is held against.
    pub(super) fn judges_by(&self) -> impl Iterator<Item = Ref> {
        self.holds.reads.iter().chain(self.against.iter().flat_map(|against| &against.reads)).copied()
    }

    /// Every name in its conditions and formulas.
    pub(super) fn reads(&self) -> impl Iterator<Item = Ref> {
        self.judges_by().chain(self.measured.iter().flat_map(|measured| &measured.reads).copied())
    }

    /// Whether it turns on who reads, for a reader of this role.
    pub(super) fn turns_on_role(&self, limits: &[Limit], role: Option<&str>) -> bool {
        self.judges_by().any(|name| match name.source {
            Source::Role => true,
            Source::Limit => limits.get(name.index).zip(role).is_some_and(|(limit, role)| limit.by_role.contains_key(role)),
            Source::Own | Source::File => false,
        })
    }
}

/// What a reason does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effect {
    /// No finding; it is listed as excused.
    Silent,
    /// The finding is one level lower and says why.
    Softer,
}

/// Why a finding may be none, or less grave.
#[derive(Debug, Clone)]
pub struct Reason {
    /// The condition as it is written.
    pub when: String,
    /// The reason in words.
    pub says: Template,
    /// What it does.
    pub effect: Effect,
    pub(super) holds: Condition,
}

/// A number that a rule holds something against.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Its name after `limit.`.
    pub name: String,
    /// The number for every reader that has none of its own.
    pub value: f64,
    /// What it is.
    pub what: String,
    /// Where it comes from.
    pub source: String,
    /// What it is measured in.
    pub unit: Unit,
    /// The numbers of single roles.
    pub by_role: BTreeMap<String, f64>,
    /// Who changed it from what the rule file says: the house style, as the caller named it.
    pub changed_by: Option<String>,
}

impl Limit {
    /// The number that holds for a reader.
    pub fn for_role(&self, role: Option<&str>) -> f64 {
        role.and_then(|role| self.by_role.get(role)).copied().unwrap_or(self.value)
    }
}

/// An example: measured values and what the rule says of them. Checked when the rule is loaded.
#[derive(Debug, Clone, PartialEq)]
pub struct Example {
    /// What it shows.
    pub name: String,
    /// The level of the finding; `None` if it keeps the rule.
    pub breaks: Option<Level>,
    /// The reader.
    pub role: Option<String>,
    /// The values, by dotted name, as they are written.
    pub values: Vec<(String, String)>,
    /// The names that are absent, as they are written.
    pub absent: Vec<String>,
    /// The case that finds it and what was given, for its words ([`super::book::RuleBook::said_of`]).
    pub(super) trial: Trial,
}
