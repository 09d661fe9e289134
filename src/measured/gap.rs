//! White between neighbouring staves and neighbouring systems.

use super::{Bench, Page, Whose, median};
use crate::house::Family;
use crate::page as layout;
use crate::place::{Confidence, Known};
use crate::room::down::{self, Axis, Ink};
use crate::score::MarkKind;
use crate::units::{Mm, Sp, Tenths, Time};
use std::collections::BTreeMap;

/// What a gap lies between.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// Two staves of one system.
    Staves,
    /// Two systems of one page.
    Systems,
}

/// One gap. A large score has tens of thousands: what follows from its white and its few lengths is reckoned when it is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Gap {
    /// What it lies between.
    pub between: Between,
    /// Number on its page of the system it lies in, or of the lower of the two, from 1.
    pub system: u32,
    /// White from line to line.
    pub white: Known<Mm>,
    /// What bears on it, or why nothing can be said in millimetres.
    lengths: Result<Lengths, &'static str>,
    /// The same pair's usual gap in staff heights; none is no number. A large score has some ten thousand gaps.
    usual: f64,
    /// Indices of the parts above and below, and which of their staves.
    parts: [u32; 2],
    staves: [u8; 2],
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

/// What bears on a gap.
#[derive(Debug, Clone, Copy)]
struct Lengths {
    /// Height of the larger of the two staves.
    height: Mm,
    /// White that it needs at most, where its white is known.
    needed: Mm,
    /// What hangs into it from both sides where most meets: of everything, of notes, and of the outermost notes wherever they stand.
    ink: Mm,
    notes: Mm,
    extreme_notes: Mm,
    /// White that is close but clear, comfortable, generous.
    steps: [Mm; 3],
}

impl Gap {
    /// The same pair's usual gap elsewhere in the piece, in staff heights; absent where it stands nowhere else.
    pub fn usual_heights(&self) -> Option<f64> {
        (!self.usual.is_nan()).then_some(self.usual)
    }

    /// Indices of the parts above and below, with their staves.
    pub fn pair(&self) -> [(u32, u8); 2] {
        [(self.parts[0], self.staves[0]), (self.parts[1], self.staves[1])]
    }

    /// Height of the larger of the two staves, by which an engraver judges it.
    pub fn staff_height(&self) -> Known<Mm> {
        self.length(|lengths| lengths.height)
    }

    /// White that it needs at most.
    pub fn needed(&self) -> Known<Mm> {
        match (self.white.value(), self.lengths) {
            (Some(_), Ok(lengths)) => Known::Derived(lengths.needed),
            _ => self.white,
        }
    }

    /// Clear white between the ink of both sides where it comes closest; negative where it overlaps.
    pub fn clearance(&self) -> Known<Mm> {
        self.clear(|lengths| lengths.ink)
    }

    /// The same of heads and of stems whose ends the file states.
    pub fn note_clearance(&self) -> Known<Mm> {
        self.clear(|lengths| lengths.notes)
    }

    /// From the lowest note above to the highest below, wherever they stand.
    pub fn note_distance(&self) -> Known<Mm> {
        self.clear(|lengths| lengths.extreme_notes)
    }

    /// White that what hangs into it wants comfortably.
    pub fn comfortable(&self) -> Known<Mm> {
        self.length(|lengths| lengths.steps[1])
    }

    /// White that is close but clear, comfortable, generous: the steps by which its page is judged.
    pub fn steps(&self) -> [Known<Mm>; 3] {
        [0, 1, 2].map(|step| self.length(|lengths| lengths.steps[step]))
    }

    /// White in heights of the larger staff.
    pub fn white_heights(&self) -> Known<f64> {
        self.heights(self.white)
    }

    /// Clear white where ink comes closest, in the same.
    pub fn clear_heights(&self) -> Known<f64> {
        self.heights(self.clearance())
    }

    fn length(&self, of: impl FnOnce(&Lengths) -> Mm) -> Known<Mm> {
        match &self.lengths {
            Ok(lengths) => Known::Derived(of(lengths)),
            Err(why) => Known::Unknown(why),
        }
    }

    fn clear(&self, hangs: impl FnOnce(&Lengths) -> Mm) -> Known<Mm> {
        let hangs = self.length(hangs).value().unwrap_or_default();
        self.white.map(|white| white - hangs)
    }

    fn heights(&self, length: Known<Mm>) -> Known<f64> {
        match (length, self.staff_height().value()) {
            (length, Some(height)) if height > Mm::ZERO => length.map(|length| length / height),
            (Known::Absent, _) => Known::Absent,
            _ => Known::Unknown(super::NO_SCALING),
        }
    }

    /// White beyond what it needs.
    pub fn excess(&self) -> Option<Mm> {
        Some((self.white.value()? - self.needed().value()?).max(Mm::ZERO))
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
    let mut spare: Option<Ink> = None;
    for (number, system) in page.systems.iter().enumerate() {
        let axis = Axis::of(system, page.width.value());
        let heights = &bench.layout.heights;
        let ink = |staff: &layout::Staff, spare: Option<Ink>| match spare {
            Some(spare) => down::ink_instead(spare, bench.score, heights, system, staff, axis),
            None => down::ink(bench.score, heights, system, staff, axis),
        };
        let mut inside: Option<(&layout::Staff, Ink)> = None;
        for staff in &system.staves {
            let own = ink(staff, spare.take());
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
            spare = inside.replace((staff, own)).map(|(_, ink)| ink);
        }
        above = inside.map(|(staff, ink)| (system, staff, ink));
    }
    gaps.shrink_to_fit();
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
    let lengths = bench.scale.map(|scale| {
        let mm = |spaces: Sp| scale.mm(Tenths(spaces.0 * space));
        let (height, comfortable) = (scale.mm(larger), mm(need.comfortable));
        // A staff cut away keeps its room and a gap of its own.
        let kept = lower.kept.as_deref().copied().unwrap_or_default();
        let gaps = height * (usual_heights * f64::from(kept.staves + 1));
        Lengths {
            height,
            needed: white.value().map_or(Mm::ZERO, |white| down::natural_gap(white, gaps + scale.mm(kept.room), comfortable)),
            ink: mm(need.ink),
            notes: mm(need.notes),
            extreme_notes: mm(need.extreme_notes),
            steps: [mm(need.minimum), comfortable, mm(need.generous)],
        }
    });
    let (above, below) = (bench.families[upper.part], bench.families[lower.part]);
    let border = upper.part != lower.part && above.is_some() && below.is_some() && above != below;
    Gap {
        between,
        system: 0,
        white,
        lengths,
        usual: f64::NAN,
        parts: [upper, lower].map(|staff| super::count(staff.part)),
        staves: [upper, lower].map(|staff| staff.staff),
        family_border: between == Between::Staves && border,
        voice_above: between == Between::Staves && border && above == Some(Family::Voice),
        cutaway: lower.kept.is_some(),
        heading: between == Between::Systems
            && (lower_system.heading_above || upper_system.ends_movement || begins_coda(bench, lower_system)),
        small_staff: [upper, lower].into_iter().any(|staff| bench.whose(staff) != Whose::Own),
        single_staves,
        confidence: upper_system.confidence.min(lower_system.confidence),
    }
}

/// A system begins with the sign of the coda, which is set apart.
fn begins_coda(bench: &Bench, system: &layout::System) -> bool {
    let mut marks = bench.score.marks_at(system.bars.start);
    marks.any(|mark| mark.kind == MarkKind::Coda && mark.onset == Time::ZERO)
}

/// Gives every gap the usual gap of the same pair in the rest of the piece.
pub(super) fn compare(pages: &mut [Page]) {
    /// A kind of gap, and its staves.
    type Pair = (bool, [(u32, u8); 2]);
    let key = |gap: &Gap| -> Pair { (gap.between == Between::Staves, gap.pair()) };
    let mut by_pair: BTreeMap<Pair, Vec<f64>> = BTreeMap::new();
    for gap in pages.iter().flat_map(|page| &page.gaps).filter(|gap| !gap.heading && !gap.cutaway) {
        by_pair.entry(key(gap)).or_default().extend(gap.white_heights().value());
    }
    let usual: BTreeMap<_, f64> =
        by_pair.into_iter().filter(|(_, all)| all.len() > 1).filter_map(|(key, all)| Some((key, median(all)?))).collect();
    for gap in pages.iter_mut().flat_map(|page| &mut page.gaps) {
        gap.usual = usual.get(&key(gap)).copied().unwrap_or(f64::NAN);
    }
}
