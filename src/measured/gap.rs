//! White between neighbouring staves and neighbouring systems.

use super::{Bench, Page, Whose, median};
use crate::house::Family;
use crate::page as layout;
use crate::place::{Confidence, Known};
use crate::room::down;
use crate::score::MarkKind;
use crate::units::{Mm, Sp, Time};
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
    /// What hangs into it from both sides, with clear white between.
    pub ink: Known<Mm>,
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
    /// White in heights of the staff above.
    pub fn white_heights(&self) -> Known<f64> {
        match (self.white, self.staff_height.value()) {
            (white, Some(height)) if height > Mm::ZERO => white.map(|white| white / height),
            (Known::Absent, _) => Known::Absent,
            _ => Known::Unknown(super::NO_SCALING),
        }
    }

    /// White beyond what it needs.
    pub fn excess(&self) -> Option<Mm> {
        Some((self.white.value()? - self.needed.value()?).max(Mm::ZERO))
    }
}

/// The gap above a staff of a system; `None` for the first.
pub(super) fn above_staff(bench: &Bench, system: &layout::System, index: usize) -> Option<Gap> {
    let upper = system.staves.get(index.checked_sub(1)?)?;
    let lower = system.staves.get(index)?;
    Some(gap(bench, Between::Staves, system, upper, system, lower, lower.gap_above))
}

/// The gap above a system; `None` for the first of a page.
pub(super) fn above_system(bench: &Bench, upper: &layout::System, lower: &layout::System) -> Option<Gap> {
    let last = upper.staves.last()?;
    let first = lower.staves.first()?;
    // A staff cut away at the top of a system keeps its room above the first that is printed.
    let white = match (first.gap_above, lower.distance) {
        (Known::Absent, distance) => distance,
        (Known::Unknown(why), _) => Known::Unknown(why),
        (kept, distance) => distance.map(|distance| distance + kept.value().unwrap_or_default()),
    };
    Some(gap(bench, Between::Systems, upper, last, lower, first, white))
}

fn gap(
    bench: &Bench,
    between: Between,
    upper_system: &layout::System,
    upper: &layout::Staff,
    lower_system: &layout::System,
    lower: &layout::Staff,
    white: Known<crate::units::Tenths>,
) -> Gap {
    let white = bench.mm(white);
    let height = bench.mm(Known::Derived(upper.five_line_height().max(lower.five_line_height())));
    let single_staves = between == Between::Systems && upper_system.staves.len() == 1 && lower_system.staves.len() == 1;
    let usual_heights = match between {
        Between::Staves => down::STAFF_GAP_HEIGHTS,
        Between::Systems if single_staves => down::LINE_GAP_HEIGHTS,
        Between::Systems => down::SYSTEM_GAP_HEIGHTS,
    };
    let heights = &bench.layout.heights;
    let hang = down::overhang(bench.score, heights, upper, &upper_system.bars).down;
    let rise = down::overhang(bench.score, heights, lower, &lower_system.bars).up;
    let inked = hang.max(Sp::ZERO) + rise.max(Sp::ZERO) + down::CLEARANCE;
    let ink = height.map(|height| height * (inked.0 / 4.0));
    let needed = match (white.value(), height.value(), ink.value()) {
        (Some(white), Some(height), Some(ink)) => {
            // A staff cut away keeps its room and a gap of its own.
            let kept = bench.mm(Known::Derived(lower.kept_room)).value().unwrap_or_default();
            let gaps = height * (usual_heights * f64::from(lower.kept_staves + 1));
            Known::Derived(down::needed(white, gaps + kept, ink))
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
        ink,
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
