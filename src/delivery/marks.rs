//! Marks that a copy has otherwise than the score, or than most copies.

use super::copy::Copy;
use super::mark::{Kind, MarkHere};
use crate::place::Place;
use crate::score::BarNumber;
use std::collections::{BTreeMap, BTreeSet};

/// What is wrong with a mark of a copy.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// It is missing.
    Missing,
    /// All of its kind are missing.
    AllMissing,
    /// It says something else.
    Otherwise,
    /// It stands at another bar.
    Elsewhere,
    /// Only this copy has it.
    Extra,
}

/// A mark that a copy has otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MarkFact {
    /// What is wrong.
    pub status: Status,
    /// What it is.
    pub kind: Kind,
    /// What it should say; what it says, where only this copy has it.
    pub text: String,
    /// What it says here, where that is something else.
    pub here: Option<String>,
    /// The bar of this copy, by its place from 0, where it should stand, or where it stands if only this copy has it.
    pub bar: usize,
    /// Number of the bar where it stands instead.
    pub stands_at: Option<String>,
    /// How many are meant.
    pub count: usize,
    /// Where it stands in this file, where it does.
    pub at: Option<Place>,
}

/// What the marks of a copy are held against: bar by bar of the copy.
#[derive(Debug, Default)]
pub(super) struct Expected {
    /// Marks by bar of the copy.
    pub marks: Vec<MarkHere>,
    /// Numbers of the bars, by bar of the copy; nothing where the bar has none of its own there.
    pub numbers: Vec<Option<BarNumber>>,
}

/// Holds the marks of a copy against what is expected. `silent` says whether the copy rests through a bar: a fermata is looked
/// for over silence only.
pub(super) fn hold(copy: &Copy, expected: &Expected, silent: impl Fn(usize) -> bool) -> Vec<MarkFact> {
    let key = |mark: &MarkHere| (mark.bar, mark.kind, mark.says());
    let wanted = |mark: &&MarkHere| mark.for_all && (mark.kind != Kind::Fermata || silent(mark.bar));
    let own: BTreeSet<_> = copy.marks.iter().map(key).collect();
    let theirs: BTreeSet<_> = expected.marks.iter().map(key).collect();
    let mut missing: Vec<&MarkHere> = expected.marks.iter().filter(wanted).filter(|mark| !own.contains(&key(mark))).collect();
    let mut extra: Vec<&MarkHere> = copy.marks.iter().filter(|mark| mark.kind != Kind::Fermata && !theirs.contains(&key(mark))).collect();
    let mut facts = Vec::new();
    let fact = |status, mark: &MarkHere, bar| MarkFact {
        status,
        kind: mark.kind,
        text: mark.text.clone(),
        here: None,
        bar,
        stands_at: None,
        count: 1,
        at: None,
    };
    // Of one kind at one bar, another text: it says something else.
    pair(
        &mut missing,
        &mut extra,
        |mark, other| mark.kind == other.kind && mark.bar == other.bar,
        |mark, other| {
            facts.push(MarkFact { here: Some(other.text.clone()), at: Some(other.at), ..fact(Status::Otherwise, mark, mark.bar) });
        },
    );
    // The same at another bar: it stands elsewhere. A sign without a text is the same only nearby.
    let near = |mark: &MarkHere, other: &MarkHere| !mark.text.is_empty() || mark.bar.abs_diff(other.bar) <= NEARBY;
    let moves = |kind: Kind| !matches!(kind, Kind::Time | Kind::Fermata);
    pair(
        &mut missing,
        &mut extra,
        |mark, other| moves(mark.kind) && mark.kind == other.kind && mark.says() == other.says() && near(mark, other),
        |mark, other| {
            let stands_at = copy.bars.get(other.bar).map(|bar| bar.number.to_string());
            facts.push(MarkFact { stands_at, at: Some(other.at), ..fact(Status::Elsewhere, mark, mark.bar) });
        },
    );
    // None of a kind at all is one fault, not many.
    let mut by_kind: BTreeMap<Kind, Vec<&MarkHere>> = BTreeMap::new();
    for mark in missing {
        by_kind.entry(mark.kind).or_default().push(mark);
    }
    for (kind, marks) in by_kind {
        let has_any = copy.marks.iter().any(|mark| mark.kind == kind);
        match marks.as_slice() {
            [first, _, ..] if !has_any => {
                facts.push(MarkFact { count: marks.len(), ..fact(Status::AllMissing, first, first.bar) });
            }
            all => facts.extend(all.iter().map(|mark| fact(Status::Missing, mark, mark.bar))),
        }
    }
    facts.extend(extra.into_iter().map(|mark| MarkFact { at: Some(mark.at), ..fact(Status::Extra, mark, mark.bar) }));
    facts.extend(number(copy, expected));
    facts.sort_by_key(|fact| (fact.bar, fact.kind));
    facts
}

/// Bars within which a sign that has moved is taken for the same.
const NEARBY: usize = 2;

/// Takes out of two lists what belongs together, the first of each first.
fn pair<'a>(
    missing: &mut Vec<&'a MarkHere>,
    extra: &mut Vec<&'a MarkHere>,
    together: impl Fn(&MarkHere, &MarkHere) -> bool,
    mut found: impl FnMut(&'a MarkHere, &'a MarkHere),
) {
    missing.retain(|mark| {
        let Some(index) = extra.iter().position(|other| together(mark, other)) else { return true };
        found(mark, extra.remove(index));
        false
    });
}

/// The first bar that bears another number than it should; all that follow are of the same cause.
fn number(copy: &Copy, expected: &Expected) -> Option<MarkFact> {
    let differs = |(bar, wanted): (usize, &Option<BarNumber>)| {
        let here = copy.bars.get(bar).filter(|bar| !bar.implicit)?;
        let wanted = wanted.as_ref()?;
        (here.number != *wanted).then(|| MarkFact {
            status: Status::Otherwise,
            kind: Kind::BarNumber,
            text: wanted.to_string(),
            here: Some(here.number.to_string()),
            bar,
            stands_at: None,
            count: 1,
            at: here.at,
        })
    };
    expected.numbers.iter().enumerate().find_map(differs)
}
