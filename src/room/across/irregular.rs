//! Bars whose room no durations tell: the model does not judge whether they are crowded.

use super::bar::Music;
use crate::page::Staff;
use crate::score::{Score, SignKind, Traits};
use crate::units::Time;
use std::ops::Range;

/// Grace and small notes of one staff in one bar from which it is a cadenza (common practice, no source).
const CADENZA_NOTES: usize = 12;
/// How much longer than its metre a bar may be before it counts as unmeasured (common practice, no source).
const BEYOND_METRE: i32 = 2;

impl Music<'_> {
    /// Why the durations of some bars do not tell their room, if one of them is such a bar.
    pub fn irregular(&self, staves: &[Staff], bars: Range<usize>) -> Option<&'static str> {
        bars.into_iter().find_map(|bar| staves.chunk_by(|one, other| one.part == other.part).find_map(|same| self.irregular_bar(same, bar)))
    }

    /// The same of one bar on staves of one part.
    fn irregular_bar(&self, staves: &[Staff], bar: usize) -> Option<&'static str> {
        let index = staves[0].part;
        let part = &self.score.parts[index];
        let length = part.bars.get(bar)?.length?;
        let notes = || part.notes_of(bar).iter().map(|note| &*note.body);
        let traits = notes().fold(Traits::empty(), |all, note| all | note.traits);
        let odd = Traits::SMALL | Traits::GRACE | Traits::DOUBLE_TREMOLO;
        let metre = self.changes_of(index)?.metre(bar);
        let beyond = |metre: Time| length > metre && metre.times(BEYOND_METRE).is_some_and(|most| length > most);
        let unmeasured = || length > Time::ZERO && metre.is_none_or(beyond);
        let of_all = || {
            if self.shorthand_in(index, bar) {
                return Some("it holds bars written as repeat signs or slashes");
            }
            unmeasured().then_some("it holds an unmeasured bar")
        };
        let of_staff = |staff: &Staff| {
            let own = || notes().filter(|note| note.staff == staff.staff);
            if own().filter(|note| note.traits.intersects(Traits::SMALL | Traits::GRACE)).count() >= CADENZA_NOTES {
                return Some("it holds a cadenza in small notes");
            }
            own().any(|note| note.traits.contains(Traits::DOUBLE_TREMOLO)).then_some("it holds a tremolo between two notes")
        };
        let first = |staff: &Staff| of_staff(staff).or_else(of_all);
        if traits.intersects(odd) { staves.iter().find_map(first) } else { of_all() }
    }
}

/// For every part, the bars that are written as repeat signs or slashes, as ranges.
pub(super) fn shorthands(score: &Score) -> Vec<Vec<Range<usize>>> {
    let of_part = |part: &crate::score::Part| {
        let mut ranges = Vec::new();
        let mut begun: Option<usize> = None;
        for bar in 0..part.bars.len() {
            for sign in part.signs_of(bar) {
                match sign.kind {
                    SignKind::BarRepeat(true) | SignKind::Slashes(true) => begun = begun.or(Some(bar)),
                    SignKind::BarRepeat(false) | SignKind::Slashes(false) => {
                        ranges.extend(begun.take().map(|from| from..bar.max(from + 1)));
                    }
                    _ => {}
                }
            }
        }
        ranges.extend(begun.map(|from| from..part.bars.len()));
        ranges
    };
    score.parts.iter().map(of_part).collect()
}
