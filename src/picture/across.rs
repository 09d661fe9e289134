//! Where the moments of a bar stand across: as its notes state it, else as the room model would set them into the bar's width.

use crate::page::System;
use crate::room::across::{Content, Desk, Music, force};
use crate::score::{Score, Traits};
use crate::units::{STAFF_TENTHS, Sp, Time};

/// Tenths of a staff space of full size.
const SPACE: f64 = STAFF_TENTHS / 4.0;

/// The columns of one bar: moment, and tenths from the left of the bar to the left of its note heads.
#[derive(Debug)]
pub(super) struct Columns {
    places: Vec<(Time, f64)>,
    /// Where the signs at the beginning of a system end, from the left of the bar.
    pub beginning: f64,
    width: f64,
    length: Time,
}

impl Columns {
    /// The columns of a bar of a system, by its place among the system's bars; `None` where its width is not known.
    pub fn of(score: &Score, music: &Music, system: &System, place: usize) -> Option<Self> {
        let bar_box = system.boxes.get(place)?;
        let bar = system.bars.start + place;
        let opens = place == 0;
        let beginning = if opens { music.beginning_at(&system.staves, bar).0 * SPACE } else { 0.0 };
        let width = bar_box.width.0;
        let mut stated: Vec<(Time, f64)> = Vec::new();
        let mut length = Time::ZERO;
        let mut other_moments = false;
        for staff in &system.staves {
            for note in score.parts[staff.part].notes_of(bar).iter().filter(|note| note.staff == staff.staff) {
                length = length.max(note.onset.plus(note.duration).unwrap_or(note.onset));
                if note.traits.intersects(Traits::GRACE | Traits::HIDDEN | Traits::WHOLE_BAR_REST) {
                    continue;
                }
                match note.x.get() {
                    Some(x) => stated.push((note.onset, x.0)),
                    None => other_moments = true,
                }
            }
        }
        stated.sort_by(|one, other| one.0.cmp(&other.0).then(one.1.total_cmp(&other.1)));
        stated.dedup_by_key(|(onset, _)| *onset);
        if !stated.is_empty() || !other_moments {
            return Some(Self { places: stated, beginning, width, length });
        }
        let mut places = Vec::new();
        if let Some(set) = music.bar(&system.staves, bar, opens, &mut Desk::default()) {
            if let Content::Music(graph) = &set.content {
                let available = Sp((width - beginning) / SPACE);
                let natural = graph.positions(force(std::slice::from_ref(&set), available));
                places = set.columns.iter().zip(natural).map(|(onset, x)| (*onset, beginning + x.0 * SPACE)).collect();
            }
            length = set.length;
        }
        Some(Self { places, beginning, width, length })
    }

    /// Where a moment stands, in tenths from the left of the bar.
    pub fn at(&self, onset: Time) -> f64 {
        let after = self.places.partition_point(|(other, _)| *other < onset);
        if let Some((other, x)) = self.places.get(after)
            && *other == onset
        {
            return *x;
        }
        let before = after.checked_sub(1).map_or((Time::ZERO, self.beginning.max(SPACE)), |before| self.places[before]);
        let next = self.places.get(after).copied().unwrap_or((self.length, self.width - SPACE));
        let (from, to) = (before.0.whole_notes(), next.0.whole_notes());
        let share = if to > from { ((onset.whole_notes() - from) / (to - from)).clamp(0.0, 1.0) } else { 0.0 };
        before.1 + (next.1 - before.1) * share
    }

    /// The middle of the bar behind what stands at its beginning.
    pub fn middle(&self) -> f64 {
        f64::midpoint(self.beginning, self.width)
    }
}
