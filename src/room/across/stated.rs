//! The gap-by-gap picture, where notes state their place: how evenly a system is spaced, and which signs collide.

use super::bar::{Bar, Content, Music};
use super::glyph;
use super::line::TENTHS_A_SPACE;
use super::object::Object;
use crate::page::System;
use crate::score::note::NoteBody;
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
    let mut gaps: Vec<Gap> = Vec::with_capacity(bars.iter().map(|bar| bar.columns.len()).sum());
    let mut desk = Desk::default();
    for bar in bars {
        gaps_of(bar, force, &mut desk, &mut gaps);
    }
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

/// Room to reckon in the gaps of one bar after the other.
#[derive(Default)]
struct Desk<'a> {
    nodes: Vec<Sp>,
    /// What is left of each staff.
    lanes: Vec<&'a [Object]>,
    /// Where the heads of a column stand on each staff.
    heads: Vec<f64>,
    /// Where each column stands.
    stated: Vec<Option<f64>>,
}

/// The gaps between neighbouring columns whose place is stated.
fn gaps_of<'a>(bar: &'a Bar, force: f64, desk: &mut Desk<'a>, into: &mut Vec<Gap>) {
    let Content::Music(graph) = &bar.content else { return };
    let Desk { nodes, lanes, heads, stated } = desk;
    graph.place(force, nodes);
    // The first node is the bar line before.
    let even = &nodes[1..];
    lanes.clear();
    lanes.extend(bar.lanes.iter());
    stated.clear();
    stated.extend((0..bar.columns.len()).map(|column| column_x(column, lanes, heads)));
    let gap = |index: usize| {
        let given = (stated[index + 1]? - stated[index]?) / TENTHS_A_SPACE;
        let wanted = even[index + 1] - even[index];
        let time = bar.columns[index + 1].minus(bar.columns[index])?;
        (wanted > Sp::ZERO).then(|| Gap { of_even: given / wanted.0, by_time: given / time.whole_notes(), time })
    };
    into.extend((0..stated.len().saturating_sub(1)).filter_map(gap));
}

/// Where the heads of a column stand, in tenths: the middle one of its staves. What is left of the lanes begins at that column or later, and what
/// stands at it is taken away.
fn column_x(column: usize, lanes: &mut [&[Object]], heads: &mut Vec<f64>) -> Option<f64> {
    heads.clear();
    for lane in lanes {
        if let Some((object, rest)) = lane.split_first().filter(|(object, _)| object.column as usize == column) {
            heads.extend(object.stated_x);
            *lane = rest;
        }
    }
    heads.sort_unstable_by(f64::total_cmp);
    heads.get(heads.len().saturating_sub(1) / 2).copied()
}

impl Music<'_> {
    /// Heads and accidentals of a system that lie on a head before them, where notes state their place.
    pub fn collisions(&self, system: &System) -> Vec<Collision> {
        let mut found = Vec::new();
        let mut placed: Vec<Placed> = Vec::new();
        for staff in &system.staves {
            let size = (staff.size_percent / 100.0).min(1.0);
            let part = &self.score.parts[staff.part];
            for bar in system.bars.clone() {
                placed.clear();
                placed.extend(part.notes_of(bar).iter().filter_map(|note| Placed::of(note, staff.staff, size)));
                placed.sort_by(|one, other| one.onset.cmp(&other.onset).then(one.x.0.total_cmp(&other.x.0)));
                let worst = worst_overlap(&placed);
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
    /// A note of a staff of some share of the usual size; `None` for what is no head of this staff, or states no place.
    fn of(Note { offset, x, body }: &Note, staff: u8, size: f64) -> Option<Self> {
        let note: &NoteBody = body;
        if note.staff != staff || note.traits.intersects(Traits::HIDDEN | Traits::GRACE) {
            return None;
        }
        let (Tone::Pitch(pitch) | Tone::Unpitched(Some(pitch))) = note.tone else { return None };
        let x = Sp(x.get()?.0 / TENTHS_A_SPACE);
        let drawn = size * if note.traits.intersects(Traits::CUE | Traits::SMALL) { glyph::CUE_SHARE } else { 1.0 };
        let before = note.accidental.map_or(Sp::ZERO, |sign| glyph::accidental(sign) * drawn);
        Some(Self { onset: note.onset, offset: *offset, x, right: x + glyph::head(note.value) * drawn, before, steps: pitch.diatonic() })
    }

    /// How far a later head, or its accidental, lies on this one.
    fn overlap(&self, later: &Self) -> Sp {
        let apart = (self.steps - later.steps).abs();
        // Heads are a space high, two steps.
        let heads = if apart < 2 { self.right - later.x } else { Sp::ZERO };
        let sign = if apart <= ACCIDENTAL_STEPS && later.before > Sp::ZERO { self.right - (later.x - later.before) } else { Sp::ZERO };
        heads.max(sign)
    }
}

/// Of all heads that lie on one of the moment before, or whose accidental does, the one that does most: place in the file, and overlap. Of equal
/// ones the last.
fn worst_overlap(placed: &[Placed]) -> Option<(u32, Sp)> {
    let mut worst: Option<(u32, Sp)> = None;
    let mut before: &[Placed] = &[];
    for moment in placed.chunk_by(|one, other| one.onset == other.onset) {
        for later in moment {
            for earlier in before {
                let overlap = earlier.overlap(later);
                if overlap > EXPLAINED && worst.is_none_or(|(_, most)| most <= overlap) {
                    worst = Some((later.offset, overlap));
                }
            }
        }
        before = moment;
    }
    worst
}
