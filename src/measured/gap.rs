//! White between neighbouring staves and neighbouring systems.

use super::{Bench, Page, Whose, median};
use crate::house::Family;
use crate::page as layout;
use crate::place::{Confidence, Known};
use crate::room::down::{self, Axis, Ink};
use crate::score::MarkKind;
use crate::units::{Mm, Sp, Tenths, Time};
use std::collections::BTreeMap;
use std::sync::Arc;

/// What a gap lies between.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// Two staves of one system.
    Staves,
    /// Two systems of one page.
    Systems,
}

/// One gap.
#[derive(Debug, Clone)]
pub struct Gap {
    /// What it lies between.
    pub between: Between,
    /// Number on its page of the system it lies in, or of the lower of the two, from 1.
    pub system: u32,
    /// White from line to line.
    pub white: Known<Mm>,
    /// Height of the larger of the two staves, by which an engraver judges it.
    pub staff_height: Known<Mm>,
    /// White that it needs at most.
    pub needed: Known<Mm>,
    /// What hangs into it from both sides where most meets, everything counted.
    pub ink: Known<Mm>,
    /// Clear white between the ink of both sides where it comes closest; negative where it overlaps.
    pub clearance: Known<Mm>,
    /// The same of heads and of stems whose ends the file states.
    pub note_clearance: Known<Mm>,
    /// From the lowest note above to the highest below, wherever they stand.
    pub note_distance: Known<Mm>,
    /// White in which the ink of both sides all but touches.
    pub least: Known<Mm>,
    /// White that what hangs into it wants comfortably.
    pub comfortable: Known<Mm>,
    /// White that is close but clear, comfortable, generous: the steps by which its page is judged.
    pub steps: [Known<Mm>; 3],
    /// The same pair's usual gap elsewhere in the piece, in staff heights; absent where it stands nowhere else.
    pub usual_heights: Option<f64>,
    /// Names of the parts above and below.
    pub names: [Arc<str>; 2],
    /// Indices of the parts above and below, with their staves.
    pub pair: [(usize, u8); 2],
    /// Instruments of different families meet here.
    pub family_border: bool,
    /// A voice stands above its accompaniment.
    pub voice_above: bool,
    /// A hidden staff keeps its room here.
    pub cutaway: bool,
    /// A heading or a coda stands below, or a movement ends above.
    pub heading: bool,
    /// One of the two is not the reader's own: a cue, an ossia, another player's.
    pub small_staff: bool,
    /// Both systems have but one staff.
    pub single_staves: bool,
    /// How sure its reckoning is.
    pub confidence: Confidence,
}

impl Gap {
    /// White in heights of the larger staff.
    pub fn white_heights(&self) -> Known<f64> {
        self.heights(self.white)
    }

    /// Clear white where ink comes closest, in the same.
    pub fn clear_heights(&self) -> Known<f64> {
        self.heights(self.clearance)
    }

    fn heights(&self, length: Known<Mm>) -> Known<f64> {
        match (length, self.staff_height.value()) {
            (length, Some(height)) if height > Mm::ZERO => length.map(|length| length / height),
            (Known::Absent, _) => Known::Absent,
            _ => Known::Unknown(super::NO_SCALING),
        }
    }

    /// White beyond what it needs.
    pub fn excess(&self) -> Option<Mm> {
        Some((self.white.value()? - self.needed.value()?).max(Mm::ZERO))
    }
}

/// A staff of a system with its ink.
#[derive(Clone, Copy)]
struct Standing<'a> {
    system: &'a layout::System,
    staff: &'a layout::Staff,
    ink: &'a Ink,
}

/// The gaps of a page, from the top down.
pub(super) fn of_page(bench: &Bench, page: &layout::Page) -> Vec<Gap> {
    let mut gaps = Vec::new();
    // Only the last staff of the system above is kept: a page may hold any number of systems.
    let mut above: Option<(&layout::System, &layout::Staff, Ink)> = None;
    for (number, system) in page.systems.iter().enumerate() {
        let axis = Axis::of(system, page.width.value());
        let ink = |staff: &layout::Staff| down::ink(bench.score, &bench.layout.heights, system, staff, axis);
        let mut inside: Option<(&layout::Staff, Ink)> = None;
        for staff in &system.staves {
            let own = ink(staff);
            let lower = Standing { system, staff, ink: &own };
            let found = match (&inside, &above) {
                (Some((upper, ink)), _) => {
                    Some(gap(bench, Between::Staves, Standing { system, staff: upper, ink }, lower, staff.gap_above))
                }
                (None, Some((upper_system, upper, ink))) => {
                    let upper = Standing { system: upper_system, staff: upper, ink };
                    Some(gap(bench, Between::Systems, upper, lower, white_above(system, staff)))
                }
                (None, None) => None,
            };
            gaps.extend(found.map(|gap| Gap { system: super::count(number + 1), ..gap }));
            inside = Some((staff, own));
        }
        above = inside.map(|(staff, ink)| (system, staff, ink));
    }
    gaps
}

/// White above a system whose first printed staff is `first`.
fn white_above(system: &layout::System, first: &layout::Staff) -> Known<Tenths> {
    // A staff cut away at the top of a system keeps its room above the first that is printed.
    match (first.gap_above, system.distance) {
        (Known::Absent, distance) => distance,
        (Known::Unknown(why), _) => Known::Unknown(why),
        (kept, distance) => distance.map(|distance| distance + kept.value().unwrap_or_default()),
    }
}

fn gap(bench: &Bench, between: Between, upper_at: Standing, lower_at: Standing, white: Known<Tenths>) -> Gap {
    let Standing { system: upper_system, staff: upper, .. } = upper_at;
    let Standing { system: lower_system, staff: lower, .. } = lower_at;
    let white = bench.mm(white);
    let larger = upper.five_line_height().max(lower.five_line_height());
    let height = bench.mm(Known::Derived(larger));
    let single_staves = between == Between::Systems && upper_system.staves.len() == 1 && lower_system.staves.len() == 1;
    let usual_heights = match between {
        Between::Staves => down::STAFF_GAP_HEIGHTS,
        Between::Systems if single_staves => down::LINE_GAP_HEIGHTS,
        Between::Systems => down::SYSTEM_GAP_HEIGHTS,
    };
    let each_other = match between {
        Between::Systems => down::Between::Systems,
        Between::Staves if upper.part == lower.part => down::Between::Keyboard,
        Between::Staves => down::Between::Parts,
    };
    let space = larger.0 / 4.0;
    let need = down::need(&down::Pair { between: each_other, upper: upper_at.ink, lower: lower_at.ink, space });
    let mm = |spaces: Sp| bench.mm(Known::Derived(Tenths(spaces.0 * space)));
    let clear = |hangs: Sp| white.map(|white| white - mm(hangs).value().unwrap_or_default());
    let needed = match (white.value(), height.value(), mm(need.comfortable).value()) {
        (Some(white), Some(height), Some(comfortable)) => {
            // A staff cut away keeps its room and a gap of its own.
            let kept = bench.mm(Known::Derived(lower.kept_room)).value().unwrap_or_default();
            let gaps = height * (usual_heights * f64::from(lower.kept_staves + 1));
            Known::Derived(down::natural_gap(white, gaps + kept, comfortable))
        }
        _ => white,
    };
    let (above, below) = (bench.families[upper.part], bench.families[lower.part]);
    let border = upper.part != lower.part && above.is_some() && below.is_some() && above != below;
    let names = [bench.part_name(upper.part), bench.part_name(lower.part)];
    Gap {
        between,
        system: 0,
        white,
        staff_height: height,
        needed,
        ink: mm(need.ink),
        clearance: clear(need.ink),
        note_clearance: clear(need.notes),
        note_distance: clear(need.extreme_notes),
        least: mm(need.hard),
        comfortable: mm(need.comfortable),
        steps: [mm(need.minimum), mm(need.comfortable), mm(need.generous)],
        usual_heights: None,
        names,
        pair: [(upper.part, upper.staff), (lower.part, lower.staff)],
        family_border: between == Between::Staves && border,
        voice_above: between == Between::Staves && border && above == Some(Family::Voice),
        cutaway: lower.kept_staves > 0,
        heading: between == Between::Systems
            && (lower_system.heading_above || upper_system.ends_movement || begins_coda(bench, lower_system)),
        small_staff: [upper, lower].into_iter().any(|staff| bench.whose(staff) != Whose::Own),
        single_staves,
        confidence: upper_system.confidence.min(lower_system.confidence),
    }
}

/// A system begins with the sign of the coda, which is set apart.
fn begins_coda(bench: &Bench, system: &layout::System) -> bool {
    let mut marks = bench.score.parts.iter().flat_map(|part| part.marks_of(system.bars.start));
    marks.any(|mark| mark.kind == MarkKind::Coda && mark.onset == Time::ZERO)
}

/// Gives every gap the usual gap of the same pair in the rest of the piece.
pub(super) fn compare(pages: &mut [Page]) {
    /// A kind of gap, and its staves.
    type Pair = (bool, [(usize, u8); 2]);
    let key = |gap: &Gap| -> Pair { (gap.between == Between::Staves, gap.pair) };
    let mut by_pair: BTreeMap<Pair, Vec<f64>> = BTreeMap::new();
    for gap in pages.iter().flat_map(|page| &page.gaps).filter(|gap| !gap.heading && !gap.cutaway) {
        by_pair.entry(key(gap)).or_default().extend(gap.white_heights().value());
    }
    let usual: BTreeMap<_, f64> =
        by_pair.into_iter().filter(|(_, all)| all.len() > 1).filter_map(|(key, all)| Some((key, median(all)?))).collect();
    for gap in pages.iter_mut().flat_map(|page| &mut page.gaps) {
        gap.usual_heights = usual.get(&key(gap)).copied();
    }
}
