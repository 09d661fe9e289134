//! Bars and parts: breaks on which parts disagree, rests that are not gathered, staves that are hidden.

use super::rest::{self, Across};
use super::{Bars, Bench, Page};
use crate::house::PartHint;
use crate::place::Place;
use crate::score::Score;
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
    /// Bars that the multi-bar rest that begins here stands for; 0 where none begins.
    pub gathered: u32,
    /// What stands inside that multi-bar rest and should part it.
    pub across: Option<Across>,
    /// Place of its start tag, of the break on which parts disagree, or of what stands inside its multi-bar rest.
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
    let runs = rest::in_a_row(score);
    let mut gathered_until = 0;
    let mut bars: Vec<Bar> = (0..score.bar_count())
        .map(|bar| {
            // One that begins inside another is no rest of its own.
            let gathered = if bar < gathered_until { 0 } else { u32::from(score.most_rest_bars(bar)) };
            gathered_until = gathered_until.max(bar.saturating_add(gathered as usize));
            let across = rest::across(score, bar, gathered);
            let length = runs[bar].max(gathered).max(1) as usize;
            Bar {
                bars: Bars::of(score, bar, (bar + length - 1).min(score.bar_count() - 1)),
                movement: bench.movement(bar),
                page: None,
                system: None,
                break_differs: None,
                rests_in_a_row: runs[bar],
                gathered,
                at: across.as_ref().map(|across| across.at).or_else(|| score.bar_place(bar)),
                across,
            }
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
