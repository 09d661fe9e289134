//! Rests: bars that should be gathered to one multi-bar rest, and multi-bar rests that should be parted.

use crate::place::Place;
use crate::score::mark::Side;
use crate::score::{BarNumber, Mark, MarkKind, Note, Part, Score, Sign, SignKind, Traits};
use crate::turn::is_tempo;
use crate::units::Time;

/// Something inside a multi-bar rest that a player looks for, and that the rest hides.
#[derive(Debug, Clone, PartialEq)]
pub struct Across {
    /// What it is, in words, with its article.
    pub what: &'static str,
    /// Number of the bar it stands at.
    pub bar: BarNumber,
    /// Where it is written.
    pub at: Place,
}

/// The first thing inside a multi-bar rest of so many bars that should part it: a mark, a double bar, a repeat, a fermata, a
/// change of time, key or tempo.
pub(super) fn across(score: &Score, first: usize, gathered: u32) -> Option<Across> {
    let end = first.checked_add(gathered as usize)?.min(score.bar_count());
    let found = |bar: usize, (what, at): (&'static str, Place)| Across { what, bar: score.bar_number(bar), at };
    let waits_in = |bar: usize| score.parts.iter().flat_map(|part| part.notes_of(bar)).find_map(waits);
    let inside = (first + 1..end).find_map(|bar| {
        let ends = score.marks_at(bar - 1).find_map(ends_with);
        let begins = || score.parts.iter().find_map(|part| begins_with(part, bar));
        let signs = || score.parts.iter().find_map(|part| changes(part, bar));
        let before = ends.or_else(|| waits_in(bar - 1)).map(|one| found(bar - 1, one));
        before.or_else(|| begins().or_else(signs).map(|one| found(bar, one)))
    });
    // A fermata holds up its own bar, the last one too.
    let last = || (gathered > 1).then(|| waits_in(end - 1)).flatten().map(|one| found(end - 1, one));
    inside.or_else(last)
}

/// The first mark of a bar that parts a rest. Words count where they tell a tempo, a tempo for playback where words go with it.
fn begins_with(part: &Part, bar: usize) -> Option<(&'static str, Place)> {
    let marks = part.marks_of(bar);
    let has_words = marks.iter().any(|mark| matches!(mark.kind, MarkKind::Words(_)));
    let what = |mark: &Mark| match &mark.kind {
        MarkKind::Rehearsal(_) => Some("a rehearsal mark"),
        MarkKind::Metronome { .. } | MarkKind::MetronomeRelation => Some("a change of tempo"),
        MarkKind::Tempo(_) if has_words => Some("a change of tempo"),
        MarkKind::Words(words) if is_tempo(words) => Some("a change of tempo"),
        MarkKind::Segno | MarkKind::Coda => Some("a sign to jump to or from"),
        MarkKind::Barline { side: Side::Left, repeat: Some(_), .. } => Some("a repeat"),
        MarkKind::Barline { side: Side::Left, ending: Some(_), .. } => Some("an ending"),
        MarkKind::Barline { side: Side::Left, style, .. } if is_double(style) => Some("a double bar"),
        _ => None,
    };
    marks.iter().find_map(|mark| Some((what(mark)?, mark.at)))
}

fn ends_with(mark: &Mark) -> Option<(&'static str, Place)> {
    let MarkKind::Barline { side, repeat, ending, style, fermata, .. } = &mark.kind else { return None };
    let what = match (repeat, ending, fermata) {
        _ if *side == Side::Left => return None,
        (Some(_), ..) => "a repeat",
        (_, Some(_), _) => "an ending",
        (.., true) => "a fermata",
        _ if is_double(style) => "a double bar",
        _ => return None,
    };
    Some((what, mark.at))
}

/// A key or time at a bar that is shown and is not the one in force.
fn changes(part: &Part, bar: usize) -> Option<(&'static str, Place)> {
    let same_kind = |one: &SignKind, other: &SignKind| std::mem::discriminant(one) == std::mem::discriminant(other);
    let in_force = |sign: &Sign| (0..bar).rev().find_map(|bar| part.signs_of(bar).iter().rfind(|one| same_kind(&one.kind, &sign.kind)));
    let new = |sign: &&Sign| sign.printed && in_force(sign).is_none_or(|before| !says_the_same(&before.kind, &sign.kind));
    let what = |sign: &Sign| match sign.kind {
        SignKind::Key { .. } => Some(("a change of key", sign.at)),
        SignKind::Time { .. } => Some(("a change of time", sign.at)),
        _ => None,
    };
    part.signs_of(bar).iter().filter(|sign| what(sign).is_some()).find(new).and_then(what)
}

/// Whether two keys, or two times, are the same to a player.
fn says_the_same(one: &SignKind, other: &SignKind) -> bool {
    match (one, other) {
        (SignKind::Key { fifths: one, unusual: a, .. }, SignKind::Key { fifths: other, unusual: b, .. }) => (one, a) == (other, b),
        (SignKind::Time { beats: one, beat_type: a, .. }, SignKind::Time { beats: other, beat_type: b, .. }) => (one, a) == (other, b),
        _ => one == other,
    }
}

fn waits(note: &Note) -> Option<(&'static str, Place)> {
    note.traits.contains(Traits::FERMATA).then(|| ("a fermata", note.place()))
}

/// For every bar, how many bars of rest in a row begin there that could be gathered to one multi-bar rest: in all
/// parts at once, with no mark, sign or bar line of its own between them.
pub(super) fn in_a_row(score: &Score) -> Vec<u32> {
    let resting = resting(score);
    let mut runs = vec![0; resting.len()];
    let mut gathered_until = 0;
    let mut begun: Option<usize> = None;
    for (bar, resting) in resting.into_iter().enumerate() {
        let gathered = usize::from(score.most_rest_bars(bar));
        if gathered > 0 {
            gathered_until = bar + gathered;
        }
        let rests = bar >= gathered_until && resting;
        let something_before = begins_with_something(score, bar) || bar > 0 && score.marks_at(bar - 1).any(ends_with_something);
        if !rests || something_before {
            begun = None;
        }
        if rests {
            let first = *begun.get_or_insert(bar);
            runs[first] += 1;
        }
    }
    runs
}

/// Which bars are rests in all parts.
fn resting(score: &Score) -> Vec<bool> {
    let mut resting = vec![true; score.bar_count()];
    for part in &score.parts {
        for (bar, resting) in resting.iter_mut().enumerate() {
            *resting = *resting && is_whole_bar_rest(part, bar);
        }
    }
    resting
}

/// Nothing but one rest for the whole bar on each staff, and it is shown.
fn is_whole_bar_rest(part: &Part, bar: usize) -> bool {
    let notes = part.notes_of(bar);
    let Some(length) = part.bars.get(bar).and_then(|bar| bar.length) else { return false };
    let shown = |note: &&Note| !note.traits.contains(Traits::HIDDEN);
    !notes.is_empty()
        && notes.iter().any(|note| shown(&note))
        && notes.iter().filter(shown).all(|note| {
            let fills = note.duration == length && note.onset == Time::ZERO;
            note.is_rest()
                && (fills || note.traits.contains(Traits::WHOLE_BAR_REST))
                && !note.traits.intersects(Traits::FERMATA | Traits::SUNG)
        })
}

/// Something stands at the beginning of a bar that a multi-bar rest may not cover: a mark, a change of clef, key, time or
/// tempo, a repeat.
fn begins_with_something(score: &Score, bar: usize) -> bool {
    let sign = score.signs_at(bar).any(|sign| match sign.kind {
        SignKind::Clef(_) | SignKind::Key { .. } | SignKind::Time { .. } | SignKind::Transpose { .. } => bar > 0,
        _ => false,
    });
    let mark = score.marks_at(bar).any(|mark| match &mark.kind {
        MarkKind::Barline { side, repeat, ending, style, .. } => {
            *side == Side::Left && (repeat.is_some() || ending.is_some() || is_double(style))
        }
        _ => true,
    });
    sign || mark
}

/// Whether a mark makes the end of its bar more than a plain bar line.
fn ends_with_something(mark: &Mark) -> bool {
    match &mark.kind {
        MarkKind::Barline { side, repeat, ending, style, fermata, .. } => {
            *side != Side::Left && (repeat.is_some() || ending.is_some() || *fermata || is_double(style))
        }
        _ => false,
    }
}

fn is_double(style: &str) -> bool {
    !matches!(style, "" | "regular" | "dotted" | "dashed" | "tick" | "short" | "none")
}
