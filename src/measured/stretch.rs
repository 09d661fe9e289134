//! Stretches of bars: long rests, and music without a rehearsal mark.

use super::{Bars, Bench};
use crate::place::{Known, Place};
use crate::score::{MarkKind, Note, Score, Traits};
use crate::turn::{has_rest_beside_small, plays};
use crate::units::Time;
use std::collections::BTreeSet;
use std::ops::Range;

/// Why it is not known how long a rest lasts.
const NO_TEMPO: &str = "no tempo is stated, so it is not known how many seconds a rest lasts";
/// Bars before an entry in which a player looks for a cue or a mark (from memory).
const LOOKS_BACK: usize = 8;
/// Rests shorter than this are counted without trouble at any tempo that music has; nothing is said of their seconds.
const WORTH_COUNTING: usize = 8;

/// What a stretch is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StretchKind {
    /// Nobody plays in it.
    Rest,
    /// It begins and ends with a rehearsal mark or with its movement, and holds none.
    Unmarked,
}

/// A run of bars.
#[derive(Debug)]
pub struct Stretch {
    /// What it is.
    pub kind: StretchKind,
    /// Its bars.
    pub bars: Bars,
    /// Movement it lies in, from 1.
    pub movement: u32,
    /// How long it lasts; absent for what is no rest, and for short rests.
    pub seconds: Known<f64>,
    /// A cue or a mark in its last bars.
    pub cued: bool,
    /// Somebody plays after it.
    pub entry_follows: bool,
    /// Bars in it that are counted: a pick-up and the second half of a split bar are not.
    pub counted: u32,
    /// Place of its first bar.
    pub at: Option<Place>,
}

/// All stretches worth a thought, in the order of their bars; `seconds` has how long each bar lasts, where that is known.
pub(super) fn all(bench: &Bench, seconds: &[Option<f64>]) -> Vec<Stretch> {
    let marked: Vec<bool> = (0..bench.score.bar_count()).map(|bar| has_mark(bench.score, bar)).collect();
    let cue_staves = bench.cue_staves();
    let mut found = Vec::new();
    for movement in &bench.layout.movements {
        let bars = movement.bars.start..movement.bars.end.min(marked.len());
        found.extend(rests(bench, bars.clone(), seconds, &cue_staves));
        found.extend(unmarked(bench, bars, &marked));
    }
    found.sort_by_key(|stretch| stretch.bars.index);
    found
}

/// Bars with a rehearsal mark.
pub(super) fn rehearsal_marks(score: &Score) -> u32 {
    super::count((0..score.bar_count()).filter(|bar| has_mark(score, *bar)).count())
}

fn has_mark(score: &Score, bar: usize) -> bool {
    score.marks_at(bar).any(|mark| matches!(mark.kind, MarkKind::Rehearsal(_)))
}

fn is_counted(score: &Score, bar: usize) -> bool {
    score.parts.iter().find_map(|part| part.bars.get(bar)).is_none_or(|bar| !bar.implicit)
}

fn stretch(bench: &Bench, kind: StretchKind, bars: Range<usize>) -> Stretch {
    Stretch {
        kind,
        bars: Bars::of(bench.score, bars.start, bars.end - 1),
        movement: bench.movement(bars.start),
        seconds: Known::Absent,
        cued: false,
        entry_follows: false,
        counted: super::count(bars.clone().filter(|bar| is_counted(bench.score, *bar)).count()),
        at: bench.score.bar_place(bars.start),
    }
}

fn unmarked<'a>(bench: &'a Bench, bars: Range<usize>, marked: &'a [bool]) -> impl Iterator<Item = Stretch> + use<'a> {
    let (start, end) = (bars.start, bars.end);
    let begins = std::iter::once(start).chain((start + 1..end).filter(|bar| marked[*bar]));
    let ends = (start + 1..end).filter(|bar| marked[*bar]).chain([end]);
    begins
        .zip(ends)
        .map(|(begin, end)| begin..end)
        .filter(|bars| !bars.is_empty())
        .map(move |bars| stretch(bench, StretchKind::Unmarked, bars))
}

/// Rests of two bars and more. Bars in which nothing but cues stands belong to the rest before them.
fn rests(bench: &Bench, bars: Range<usize>, seconds: &[Option<f64>], cue_staves: &BTreeSet<(usize, u8)>) -> Vec<Stretch> {
    let small_are_others = |bar: usize| {
        bench.score.may_hold(bar, Traits::SMALL) && bench.score.parts.iter().any(|part| has_rest_beside_small(part.notes_of(bar)))
    };
    let plays = |bar: &usize| {
        let small_are_others = small_are_others(*bar);
        bench.score.parts.iter().enumerate().any(|(index, part)| {
            part.notes_of(*bar).iter().any(|note| plays(note, small_are_others) && !cue_staves.contains(&(index, note.staff)))
        })
    };
    let end = bars.end;
    let mut found = Vec::new();
    let mut begin = bars.start;
    while begin < end {
        let until = (begin..end).find(plays).unwrap_or(end);
        if until > begin + 1 {
            let rest = begin..until;
            let lasts: Option<f64> = seconds[rest.clone()].iter().copied().sum();
            found.push(Stretch {
                seconds: match lasts {
                    Some(lasts) => Known::Derived(lasts),
                    None if rest.len() > WORTH_COUNTING => Known::Unknown(NO_TEMPO),
                    None => Known::Absent,
                },
                cued: (until.saturating_sub(LOOKS_BACK).max(begin)..until).any(|bar| helps(bench.score, bar, cue_staves))
                    || begins_with_mark(bench.score, until),
                entry_follows: until < end,
                ..stretch(bench, StretchKind::Rest, rest)
            });
        }
        begin = (until..end).find(|bar| !plays(bar)).unwrap_or(end);
    }
    found
}

/// A mark stands at the entry itself: a player who has counted to it is sure.
fn begins_with_mark(score: &Score, bar: usize) -> bool {
    let mut marks = score.marks_at(bar);
    marks.any(|mark| matches!(mark.kind, MarkKind::Rehearsal(_)) && mark.onset == Time::ZERO)
}

/// Something in a bar tells a resting player where the music is: another player's notes, a mark, words.
fn helps(score: &Score, bar: usize, cue_staves: &BTreeSet<(usize, u8)>) -> bool {
    score.parts.iter().enumerate().any(|(index, part)| {
        let shown = |note: &&Note| !note.is_rest() && !note.traits.contains(Traits::HIDDEN);
        let cue = |note: &Note| note.traits.intersects(Traits::CUE | Traits::SMALL) || cue_staves.contains(&(index, note.staff));
        let mut marks = part.marks_of(bar).iter();
        part.notes_of(bar).iter().filter(shown).any(cue)
            || marks.any(|mark| match &mark.kind {
                MarkKind::Rehearsal(_) | MarkKind::Metronome { .. } | MarkKind::Segno | MarkKind::Coda => true,
                MarkKind::Words(words) => words.chars().any(char::is_alphabetic),
                _ => false,
            })
    })
}
