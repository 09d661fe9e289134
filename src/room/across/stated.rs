//! The gap-by-gap picture, where notes state their place: how evenly a system is spaced, and which signs collide.

use super::bar::{Bar, Content, Music};
use super::glyph;
use super::line::TENTHS_A_SPACE;
use crate::page::System;
use crate::score::{Note, Tone, Traits};
use crate::units::{Sp, Time};

/// Fewest gaps from which evenness is told.
const FEWEST_GAPS: usize = 8;
/// Overlap that the widths of another music font explain.
const EXPLAINED: Sp = Sp(0.2);
/// Staff steps within which an accidental reaches the head before it: a sharp is almost three spaces high.
const ACCIDENTAL_STEPS: i32 = 2;

/// Two signs that lie on each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Collision {
    /// Index of the bar.
    pub bar: usize,
    /// Index of the part.
    pub part: usize,
    /// Staff of the part, from 1.
    pub staff: u8,
    /// Bytes before the second note's tag.
    pub offset: u32,
    /// By how much they overlap.
    pub overlap: Sp,
}

/// How evenly a system is spaced, from the gaps between neighbouring notes that state their place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evenness {
    /// The widest tenth of the gaps against the narrowest, each against the gap that even spacing of the same room gives.
    pub unevenness: f64,
    /// Notes stand in proportion to time, whatever their values.
    pub proportional: bool,
}

/// One gap between neighbouring columns.
struct Gap {
    /// Against the gap of even spacing.
    of_even: f64,
    /// Against the time it lasts.
    by_time: f64,
    time: Time,
}

/// How evenly a system is spaced under its force; `None` where too few notes state their place.
pub fn evenness(bars: &[Bar], force: f64) -> Option<Evenness> {
    /// Widest against narrowest gap by time up to which notes stand in proportion to it.
    const PROPORTIONAL: f64 = 1.2;
    let gaps: Vec<Gap> = bars.iter().flat_map(|bar| gaps(bar, force)).collect();
    if gaps.len() < FEWEST_GAPS {
        return None;
    }
    let unevenness = wide_to_narrow(gaps.iter().map(|gap| gap.of_even).collect())?;
    let values_differ = gaps.iter().any(|gap| gap.time != gaps[0].time);
    let by_time = wide_to_narrow(gaps.iter().map(|gap| gap.by_time).collect());
    Some(Evenness { unevenness, proportional: values_differ && by_time.is_some_and(|ratio| ratio <= PROPORTIONAL) })
}

/// The value a tenth below the largest against that a tenth above the least; `None` where that is nothing.
fn wide_to_narrow(mut values: Vec<f64>) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let last = values.len() - 1;
    let tenth = last / 10;
    let (narrow, wide) = (values[tenth], values[last - tenth]);
    (narrow > 0.0).then(|| wide / narrow)
}

/// The gaps between neighbouring columns whose place is stated.
fn gaps(bar: &Bar, force: f64) -> Vec<Gap> {
    let Content::Music(graph) = &bar.content else { return Vec::new() };
    let even = graph.positions(force);
    let stated: Vec<Option<f64>> = bar.columns.iter().map(|column| column_x(bar, *column)).collect();
    let gap = |index: usize| {
        let given = (stated[index + 1]? - stated[index]?) / TENTHS_A_SPACE;
        let wanted = even[index + 1] - even[index];
        let time = bar.columns[index + 1].minus(bar.columns[index])?;
        (wanted > Sp::ZERO).then(|| Gap { of_even: given / wanted.0, by_time: given / time.whole_notes(), time })
    };
    (0..stated.len().saturating_sub(1)).filter_map(gap).collect()
}

/// Where the heads of a column stand, in tenths: the middle one of its staves.
fn column_x(bar: &Bar, column: Time) -> Option<f64> {
    let at =
        |lane: &Vec<super::Object>| lane.binary_search_by_key(&column, |object| object.onset).ok().and_then(|found| lane[found].stated_x);
    let mut all: Vec<f64> = bar.lanes.iter().filter_map(at).collect();
    all.sort_unstable_by(f64::total_cmp);
    all.get(all.len().saturating_sub(1) / 2).copied()
}

impl Music<'_> {
    /// Heads and accidentals of a system that lie on a head before them, where notes state their place.
    pub fn collisions(&self, system: &System) -> Vec<Collision> {
        let mut found = Vec::new();
        for staff in &system.staves {
            let size = (staff.size_percent / 100.0).min(1.0);
            let part = &self.score.parts[staff.part];
            for bar in system.bars.clone() {
                let placed = part.notes_of(bar).iter().filter(|note| note.staff == staff.staff).filter_map(|note| Placed::of(note, size));
                let mut placed: Vec<Placed> = placed.collect();
                placed.sort_by(|one, other| one.onset.cmp(&other.onset).then(one.x.0.total_cmp(&other.x.0)));
                let worst = overlaps(&placed).max_by(|one, other| one.1.0.total_cmp(&other.1.0));
                let collision = |(offset, overlap)| Collision { bar, part: staff.part, staff: staff.staff, offset, overlap };
                found.extend(worst.map(collision));
            }
        }
        found
    }
}

/// A head that states its place.
#[derive(Clone, Copy)]
struct Placed {
    onset: Time,
    offset: u32,
    x: Sp,
    right: Sp,
    /// Room of its accidental.
    before: Sp,
    steps: i32,
}

impl Placed {
    fn of(note: &Note, size: f64) -> Option<Self> {
        let shown = !note.is_rest() && !note.traits.intersects(Traits::HIDDEN | Traits::GRACE);
        let (Tone::Pitch(pitch) | Tone::Unpitched(Some(pitch))) = note.tone else { return None };
        let x = Sp(note.x.get().filter(|_| shown)?.0 / TENTHS_A_SPACE);
        let drawn = size * if note.traits.intersects(Traits::CUE | Traits::SMALL) { glyph::CUE_SHARE } else { 1.0 };
        let before = note.accidental.map_or(Sp::ZERO, |sign| glyph::accidental(sign) * drawn);
        Some(Self {
            onset: note.onset,
            offset: note.offset,
            x,
            right: x + glyph::head(note.value) * drawn,
            before,
            steps: pitch.diatonic(),
        })
    }
}

/// Pairs of heads of different moments of which the later, or its accidental, lies on the earlier: place in the file, and overlap.
fn overlaps(placed: &[Placed]) -> impl Iterator<Item = (u32, Sp)> {
    let groups: Vec<&[Placed]> = placed.chunk_by(|one, other| one.onset == other.onset).collect();
    let pairs = groups.windows(2).flat_map(|pair| pair[1].iter().flat_map(|later| pair[0].iter().map(move |earlier| (*earlier, *later))));
    let overlap = |(earlier, later): (Placed, Placed)| {
        let apart = (earlier.steps - later.steps).abs();
        // Heads are a space high, two steps.
        let heads = if apart < 2 { earlier.right - later.x } else { Sp::ZERO };
        let sign = if apart <= ACCIDENTAL_STEPS && later.before > Sp::ZERO { earlier.right - (later.x - later.before) } else { Sp::ZERO };
        let overlap = heads.max(sign);
        (overlap > EXPLAINED).then_some((later.offset, overlap))
    };
    pairs.filter_map(overlap).collect::<Vec<_>>().into_iter()
}
