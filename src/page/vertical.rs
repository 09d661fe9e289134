//! Where the staves of a page stand, from the top of the sheet down.

use super::heights::Heights;
use super::hidden::StaffState;
use super::lookup::in_force;
use super::{Agreement, Kept, Page, Staff, System};
use crate::place::{Confidence, Known};
use crate::score::instructions::Print;
use crate::score::{Instructions, Score};
use crate::units::{STAFF_TENTHS, Tenths};

/// Tenths within which two reckonings of a staff's place agree: exporters round each distance.
const AGREE: Tenths = Tenths(1.5);

/// The staves of a system with the gaps the file gives them; where they stand comes later.
pub(super) fn stack(states: &[StaffState], prints: &[&Print], instructions: &Instructions) -> Vec<Staff> {
    let mut staves: Vec<Staff> = Vec::with_capacity(states.len());
    // Room of hidden staves that keep it, to be added to the gap of the next printed one.
    let mut kept: Option<Known<Tenths>> = None;
    let mut cut_away: Option<Box<Kept>> = None;
    for state in states {
        let full = STAFF_TENTHS * state.size_percent / 100.0;
        let room = Tenths(if state.lines > 1 { f64::from(state.lines - 1) * full / 4.0 } else { full });
        // A small five-line staff scales the distance above it too, unless the file scales distances apart.
        let distance_factor = if state.lines == 5 && !state.size_has_scaling { state.size_percent / 100.0 } else { 1.0 };
        let first = staves.is_empty() && kept.is_none();
        let own = if first { Known::Absent } else { gap(state, prints, instructions).map(|gap| gap * distance_factor) };
        let gap_above = kept.map_or(own, |kept| plus(kept, own));
        if state.only_room {
            kept = Some(plus(gap_above, Known::Derived(room)));
            let hidden = cut_away.get_or_insert_default();
            hidden.staves += 1;
            hidden.room += room;
            continue;
        }
        kept = None;
        staves.push(Staff {
            part: state.part,
            staff: state.staff,
            room_top: Known::Unknown("not placed yet"),
            room,
            lines: state.lines,
            size_percent: state.size_percent,
            kind: state.kind,
            gap_above,
            kept: cut_away.take(),
            size_at: state.size_at,
            distance_factor,
        });
    }
    staves
}

/// Sum of two lengths; what applies to neither is absent, and the unknown stays unknown.
fn plus(one: Known<Tenths>, other: Known<Tenths>) -> Known<Tenths> {
    match (one, other) {
        (Known::Unknown(why), _) | (_, Known::Unknown(why)) => Known::Unknown(why),
        (Known::Absent, other) => other,
        (one, Known::Absent) => one,
        (one, other) => one.map(|length| length + other.value().unwrap_or_default()),
    }
}

/// Distance from the staff above as stated for this staff in this system, else in the defaults.
fn gap(state: &StaffState, prints: &[&Print], instructions: &Instructions) -> Known<Tenths> {
    let own = |print: &Print| {
        let layout = print.staff_layouts().iter().find(|layout| layout.staff == state.staff)?;
        (print.part == state.part).then_some(layout.distance).flatten()
    };
    let spacing = |print: &Print| own(print).or_else(|| (print.part == state.part).then_some(print.staff_spacing()).flatten());
    let of = |staff: u8| instructions.staff_layouts.iter().find(|layout| layout.staff == staff).and_then(|layout| layout.distance);
    in_force(prints, spacing, of(state.staff).or_else(|| of(1)), "the distance between staves is not stated")
}

/// Places every staff of a page, and checks it against the stated heights of its notes.
pub(super) fn place(page: &mut Page, score: &Score, heights: &Heights) -> Agreement {
    let mut tally = Agreement::default();
    let mut above = page.margins.top;
    for system in &mut page.systems {
        let factor = system.staves.first().map_or(1.0, |staff| staff.distance_factor);
        system.distance = system.distance.map(|distance| distance * factor);
        let mut top = match (above.value(), system.distance.value()) {
            (Some(above), Some(distance)) => Known::Derived(above + distance),
            _ => Known::Unknown(reason(above).or(reason(system.distance)).unwrap_or("what stands above it is not known")),
        };
        for staff in &mut system.staves {
            top = match (staff.gap_above, top.value()) {
                (Known::Absent, _) | (_, None) => top,
                (Known::Unknown(why), _) => Known::Unknown(why),
                (gap, Some(bottom_above)) => Known::Derived(bottom_above + gap.value().unwrap_or_default()),
            };
            staff.room_top = top;
            top = top.map(|top| top + staff.room);
        }
        if heights.trusted {
            check(system, score, heights, &mut tally);
        }
        if system.staves.iter().any(|staff| (staff.size_percent - 100.0).abs() > 1e-9 && staff.lines == 5) {
            // How a small staff scales the distances above it was seen in few files only.
            system.confidence = Confidence::Low;
        }
        above = system.staves.last().map_or(above, |last| last.room_top.map(|top| top + last.room));
    }
    tally
}

fn reason<T: Copy>(known: Known<T>) -> Option<&'static str> {
    match known {
        Known::Unknown(why) => Some(why),
        _ => None,
    }
}

/// Heights of notes count from the system's top line, so they tell where each staff stands below it: they fill what
/// is not stated, and where they contradict the reading they win.
fn check(system: &mut System, score: &Score, heights: &Heights, tally: &mut Agreement) {
    let Some(first) = system.staves.first() else { return };
    // The system's own reckoning, from its top line; unknown gaps leave holes.
    let mut reckoned = Some(Tenths::ZERO);
    let top = first.room_top;
    let mut stands: Vec<Option<Tenths>> = vec![Some(Tenths::ZERO)];
    let mut above = first.room;
    let mut corrected = false;
    for staff in &mut system.staves[1..] {
        reckoned = reckoned.zip(staff.gap_above.value()).map(|(upper, gap)| upper + above + gap);
        let told = heights.offset(score, staff, &system.bars);
        if let (Some(told), Some(own)) = (told, reckoned) {
            tally.checked += 1;
            tally.agreed += usize::from((told - own).abs() <= AGREE);
        }
        let differs = told.is_some_and(|told| reckoned.is_none_or(|own| (told - own).abs() > AGREE));
        if differs {
            corrected |= reckoned.is_some();
            reckoned = told;
            let upper = stands.last().copied().flatten();
            staff.gap_above = match (upper, told) {
                (Some(upper), Some(told)) => Known::Derived(told - upper - above),
                _ => Known::Unknown("the distance between staves is not stated"),
            };
        }
        staff.room_top = match (top, reckoned) {
            (Known::Unknown(why), _) => Known::Unknown(why),
            (top, Some(own)) => top.map(|top| top + own),
            (_, None) => staff.room_top,
        };
        stands.push(reckoned);
        above = staff.room;
    }
    if corrected {
        system.confidence = Confidence::Low;
    }
}
