//! Across: how much space a system gives each of its notes.

use crate::page::System;
use crate::score::{Note, Part, Score, Traits};
use crate::units::Tenths;

/// What stands across a system.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Content {
    /// Different moments at which a printed staff sounds, bar by bar.
    pub moments: usize,
    /// Bars in which some printed staff sounds.
    pub sounding_bars: usize,
    /// Width of those bars.
    pub sounding_width: Tenths,
}

impl Content {
    /// Space for each moment; `None` where nothing sounds.
    #[expect(clippy::cast_precision_loss, reason = "a count of moments on one line")]
    pub fn space_a_moment(&self) -> Option<Tenths> {
        (self.moments > 0).then(|| self.sounding_width * (1.0 / self.moments as f64))
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
        }
    }
    Some(content)
}
