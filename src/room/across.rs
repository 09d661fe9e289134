//! Across: how much space a system gives each of its notes.

use crate::page::System;
use crate::score::{Note, Part, Score, Traits};
use crate::units::{STAFF_TENTHS, Sp, Tenths, Time};

/// Tenths of a staff space.
const TENTHS_A_SPACE: f64 = STAFF_TENTHS / 4.0;

/// What stands across a system.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Content {
    /// Different moments at which a printed staff sounds, bar by bar.
    pub moments: usize,
    /// Bars in which some printed staff sounds.
    pub sounding_bars: usize,
    /// Width of those bars.
    pub sounding_width: Tenths,
    /// Width that the durations between those moments ask for.
    pub asked: Sp,
}

/// Space that a duration asks for: as the square root of its length, a quarter four and a half staff spaces, none less than
/// two (after the spacing study of open scores; the first version, without regard to the size of signs).
fn asked(duration: Time) -> Sp {
    Sp((4.5 * (4.0 * duration.whole_notes().max(0.0)).sqrt()).max(2.1))
}

impl Content {
    /// Width against what the durations ask for; `None` where nothing sounds.
    pub fn width_over_asked(&self) -> Option<f64> {
        (self.asked > Sp::ZERO).then(|| self.sounding_width.0 / TENTHS_A_SPACE / self.asked.0)
    }
}

/// Whether a note is printed and sounds, so that it needs space of its own.
pub fn takes_space(note: &Note) -> bool {
    !note.is_rest() && !note.traits.intersects(Traits::HIDDEN | Traits::GRACE)
}

/// Whether a part has nothing but silence in a bar.
pub fn is_silent(part: &Part, bar: usize) -> bool {
    !part.notes_of(bar).iter().any(|note| note.sounds() && !note.traits.contains(Traits::HIDDEN))
}

/// What stands in the bars of a system; `None` where their widths are not known.
pub fn content(score: &Score, system: &System) -> Option<Content> {
    if system.boxes.len() != system.bars.len() {
        return None;
    }
    let mut content = Content::default();
    let mut onsets = Vec::new();
    for (bar, place) in system.bars.clone().zip(&system.boxes) {
        onsets.clear();
        for staff in &system.staves {
            let notes = score.parts[staff.part].notes_of(bar).iter();
            onsets.extend(notes.filter(|note| note.staff == staff.staff && takes_space(note)).map(|note| note.onset));
        }
        onsets.sort_unstable();
        onsets.dedup();
        if !onsets.is_empty() {
            content.moments += onsets.len();
            content.sounding_bars += 1;
            content.sounding_width += place.width;
            let end = score.parts.iter().filter_map(|part| part.bars.get(bar)?.length).max().unwrap_or_default();
            let ends = onsets.iter().skip(1).copied().chain([end]);
            content.asked += onsets.iter().zip(ends).filter_map(|(onset, end)| end.minus(*onset)).map(asked).sum();
        }
    }
    Some(content)
}
