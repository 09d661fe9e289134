//! Bars and parts: breaks on which parts disagree, rests that are not gathered, staves that are hidden.

use super::{Bars, Bench, Page};
use crate::house::PartHint;
use crate::place::Place;
use crate::score::mark::Side;
use crate::score::{MarkKind, Part, Score, SignKind, Traits};
use std::sync::Arc;

/// One bar of the score.
#[derive(Debug, Clone)]
pub struct Bar {
    /// Which it is.
    pub bars: Bars,
    /// Movement it belongs to, from 1.
    pub movement: u32,
    /// Page it stands on, counted in the file from 1, with its printed number, where known.
    pub page: Option<(u32, Arc<str>)>,
    /// System it stands in, on its page from 1, where known.
    pub system: Option<u32>,
    /// A break here that one part states and another does not: the names of the two.
    pub break_differs: Option<[Arc<str>; 2]>,
    /// Whole-bar rests in a row that begin here, with nothing between them, outside a multi-bar rest; 0 where none begins.
    pub rests_in_a_row: u32,
    /// Place of its start tag, or of the break on which parts disagree.
    pub at: Option<Place>,
}

/// A staff that is hidden although it sounds.
#[derive(Debug, Clone)]
pub struct HiddenStaff {
    /// Id of its part.
    pub part_id: Arc<str>,
    /// Name of its part.
    pub part_name: Arc<str>,
    /// Index of its part.
    pub part: usize,
    /// Which of the part's staves.
    pub staff: u8,
    /// First and last bar that sounds.
    pub bars: Bars,
    /// Movement, from 1.
    pub movement: u32,
    /// Whether the staff is printed nowhere in the file.
    pub throughout: bool,
    /// Where it is hidden.
    pub at: Place,
}

pub(super) fn hidden(bench: &Bench) -> Vec<HiddenStaff> {
    let staff = |hidden: &crate::page::HiddenMusic| HiddenStaff {
        part_id: bench.score.parts[hidden.part].id.clone(),
        part_name: bench.part_name(hidden.part),
        part: hidden.part,
        staff: hidden.staff,
        bars: Bars::of(bench.score, hidden.bars.0, hidden.bars.1),
        movement: bench.movement(hidden.bars.0),
        throughout: hidden.throughout,
        at: hidden.at,
    };
    bench.layout.hidden_music.iter().map(staff).collect()
}

pub(super) fn bars(bench: &Bench, pages: &[Page]) -> Vec<Bar> {
    let score = bench.score;
    let runs = rests_in_a_row(score);
    let mut bars: Vec<Bar> = (0..score.bar_count())
        .map(|bar| Bar {
            bars: Bars::of(score, bar, (bar + (runs[bar] as usize).max(1) - 1).min(score.bar_count() - 1)),
            movement: bench.movement(bar),
            page: None,
            system: None,
            break_differs: None,
            rests_in_a_row: runs[bar],
            at: score.bar_place(bar),
        })
        .collect();
    for page in pages {
        let label: Arc<str> = page.label.as_str().into();
        for system in &page.systems {
            for index in system.bars.index.0..=system.bars.index.1 {
                if let Some(bar) = bars.get_mut(index as usize - 1) {
                    bar.page = Some((page.ordinal, label.clone()));
                    bar.system = Some(system.number);
                }
            }
        }
    }
    for one in &bench.layout.disagreements {
        if let Some(bar) = bars.get_mut(one.bar) {
            bar.break_differs = Some([bench.part_name(one.with), bench.part_name(one.without)]);
            bar.at = Some(one.at);
        }
    }
    bars
}

/// For every bar, how many bars of rest in a row begin there that could be gathered to one multi-bar rest: in all
/// parts at once, with no mark, sign or bar line of its own between them.
fn rests_in_a_row(score: &Score) -> Vec<u32> {
    let all = score.bar_count();
    let mut runs = vec![0; all];
    let mut gathered_until = 0;
    let mut begun: Option<usize> = None;
    for bar in 0..all {
        let gathered = score.parts.iter().filter_map(|part| part.bars.get(bar)).map(|bar| bar.rest_bars).max().unwrap_or(0);
        if gathered > 0 {
            gathered_until = bar + gathered as usize;
        }
        let rests = bar >= gathered_until && score.parts.iter().all(|part| is_whole_bar_rest(part, bar));
        let something_before =
            score.parts.iter().any(|part| begins_with_something(part, bar) || bar > 0 && ends_with_something(part, bar - 1));
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

/// Nothing but one rest for the whole bar on each staff, and it is shown.
fn is_whole_bar_rest(part: &Part, bar: usize) -> bool {
    let notes = part.notes_of(bar);
    let Some(length) = part.bars.get(bar).and_then(|bar| bar.length) else { return false };
    let shown = |note: &&crate::score::Note| !note.traits.contains(Traits::HIDDEN);
    !notes.is_empty()
        && notes.iter().any(|note| shown(&note))
        && notes.iter().filter(shown).all(|note| {
            let fills = note.duration == length && note.onset == crate::units::Time::ZERO;
            note.is_rest()
                && (fills || note.traits.contains(Traits::WHOLE_BAR_REST))
                && !note.traits.intersects(Traits::FERMATA | Traits::SUNG)
        })
}

/// Something stands at the beginning of a bar that a multi-bar rest may not cover: a mark, a change of clef, key, time or
/// tempo, a repeat.
fn begins_with_something(part: &Part, bar: usize) -> bool {
    let sign = part.signs_of(bar).iter().any(|sign| match sign.kind {
        SignKind::Clef(_) | SignKind::Key { .. } | SignKind::Time { .. } | SignKind::Transpose { .. } => bar > 0,
        _ => false,
    });
    let mark = part.marks_of(bar).iter().any(|mark| match &mark.kind {
        MarkKind::Barline { side, repeat, ending, style, .. } => {
            *side == Side::Left && (repeat.is_some() || ending.is_some() || is_double(style))
        }
        _ => true,
    });
    sign || mark
}

/// A bar ends with more than a plain bar line.
fn ends_with_something(part: &Part, bar: usize) -> bool {
    part.marks_of(bar).iter().any(|mark| match &mark.kind {
        MarkKind::Barline { side, repeat, ending, style, fermata, .. } => {
            *side != Side::Left && (repeat.is_some() || ending.is_some() || *fermata || is_double(style))
        }
        _ => false,
    })
}

fn is_double(style: &str) -> bool {
    !matches!(style, "" | "regular" | "dotted" | "dashed" | "tick" | "short" | "none")
}

/// What the parts of a score tell about who plays them.
pub fn hints(score: &Score) -> Vec<PartHint<'_>> {
    score
        .parts
        .iter()
        .enumerate()
        .map(|(index, part)| PartHint {
            name: if part.name.is_empty() { part.instruments.first().map_or("", |instrument| &instrument.name) } else { &part.name },
            abbreviation: &part.abbreviation,
            sounds: part.instruments.iter().filter_map(|instrument| instrument.sound.as_deref()).collect(),
            staves: part.staves,
            group: score.groups.iter().rfind(|group| (group.first..=group.last).contains(&index)).map(|group| group.name.as_str()),
            has_lyrics: !part.lyrics.is_empty(),
        })
        .collect()
}
