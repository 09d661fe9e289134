//! Systems, their staves and their bars across.

use super::{Bars, Bench, Page, Spacing, Staff, count, staff};
use crate::page as layout;
use crate::place::{Confidence, Known, Place};
use crate::room::across::Widths;
use crate::score::Instructions;
use crate::score::instructions::BarNumbering;
use crate::units::Mm;
use std::collections::BTreeSet;

/// Exporters that round widths to whole tenths are off by half a tenth a bar.
const ROUNDED_BAR_TENTHS: f64 = 0.5;
/// Exporters that cut widths off to whole tenths are short by up to a tenth a bar.
const CUT_BAR_TENTHS: f64 = 1.0;

/// One system.
#[derive(Debug)]
pub struct System {
    /// Number on its page, from 1.
    pub number: u32,
    /// Its bars.
    pub bars: Bars,
    /// Movement it belongs to, from 1.
    pub movement: u32,
    /// Place of the print or bar that begins it.
    pub at: Option<Place>,
    /// Top line of its first staff from the top of the sheet.
    pub top: Known<Mm>,
    /// Bottom line of its last staff from the top of the sheet.
    pub bottom: Known<Mm>,
    /// Left end from the left of the sheet.
    pub left: Known<Mm>,
    /// Right end from the left of the sheet.
    pub right: Known<Mm>,
    /// Its printed staves.
    pub staves: Vec<Staff>,
    /// Its bars across; empty where a width is not known.
    pub across: Vec<BarAcross>,
    /// How far its bars reach beyond its right end; negative: stop short of it.
    pub overrun: Known<Mm>,
    /// How far it reaches past the left or right edge of the sheet; negative: stays within.
    pub past_edge: Known<Mm>,
    /// Overrun that rounding explains.
    pub overrun_tolerance: Known<Mm>,
    /// Shortfall that rounding explains.
    pub short_tolerance: Known<Mm>,
    /// What each of its bars needs across; empty where the exact time of one cannot be known.
    pub needs: Vec<Widths>,
    /// How it is spaced, or why that is not known.
    pub spacing: Result<Spacing, &'static str>,
    /// Its first bar, or every bar, bears its number.
    pub numbered: Known<bool>,
    /// Dividers are drawn between it and the system above; absent where the file never says anything of them.
    pub divided: Known<bool>,
    /// It is the last of a right-hand page and reaches for a bar in which everybody rests, so that the page can be turned.
    pub reaches_for_turn: bool,
    /// Whether it begins a movement.
    pub begins_movement: bool,
    /// Whether it ends a movement.
    pub ends_movement: bool,
    /// How sure its reckoning is.
    pub confidence: Confidence,
}

/// One bar across a system.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BarAcross {
    /// Index of the bar, from 1.
    pub index: u32,
    /// Left end from the left of the sheet.
    pub left: Mm,
    /// Its width.
    pub width: Mm,
}

pub(super) fn measure(bench: &Bench, number: usize, system: &layout::System) -> System {
    let score = bench.score;
    let bars = Bars::of(score, system.bars.start, system.bars.end.saturating_sub(1));
    let bar_count = f64::from(count(system.bars.len()));
    let tenths = |length: f64| bench.mm(Known::Derived(crate::units::Tenths(length)));
    let overrun = match (system.overrun(), system.boxes_missing) {
        (Some(overrun), _) => Known::Derived(overrun),
        (None, Some(why)) => Known::Unknown(why),
        (None, None) => Known::Unknown("the right end of the system is not known"),
    };
    let across = match bench.scale {
        Ok(scale) => {
            let place = |(bar, place): (usize, &layout::BarBox)| BarAcross {
                index: count(bar + 1),
                left: scale.mm(place.left),
                width: scale.mm(place.width),
            };
            system.bars.clone().zip(&system.boxes).map(place).collect()
        }
        Err(_) => Vec::new(),
    };
    System {
        number: count(number + 1),
        bars,
        movement: bench.movement(system.bars.start),
        at: system.at,
        top: bench.mm(system.top()),
        bottom: bench.mm(system.bottom()),
        left: bench.mm(system.left),
        right: bench.mm(system.right),
        staves: system.staves.iter().map(|one| staff::measure(bench, system, one)).collect(),
        across,
        overrun: bench.mm(overrun),
        past_edge: Known::Unknown("the page width is not stated"),
        overrun_tolerance: tenths((bar_count * ROUNDED_BAR_TENTHS).max(1.0)),
        short_tolerance: tenths((bar_count * CUT_BAR_TENTHS).max(1.0)),
        needs: Vec::new(),
        spacing: Err(Spacing::NOT_YET),
        numbered: Known::Unknown("the file does not say whether bars are numbered"),
        divided: divided(bench, system.bars.start),
        reaches_for_turn: false,
        begins_movement: system.begins_movement,
        ends_movement: system.ends_movement,
        confidence: system.confidence,
    }
}

/// For every system, whether its first bar bears its number in some part.
pub(super) fn number(pages: &mut [Page], instructions: &Instructions) {
    let mut shown: BTreeSet<usize> = BTreeSet::new();
    // Ordered by bar: what comes last for a part holds.
    let mut said = instructions.bar_numbering.iter().peekable();
    let mut any = false;
    for system in pages.iter_mut().flat_map(|page| &mut page.systems) {
        while let Some((part, _, numbering)) = said.next_if(|(_, bar, _)| *bar < system.bars.index.0 as usize) {
            any = true;
            if *numbering == BarNumbering::None {
                shown.remove(part)
            } else {
                shown.insert(*part)
            };
        }
        if any {
            system.numbered = Known::Derived(!shown.is_empty());
        }
    }
}

/// Whether dividers stand above a system, where the file says anything of dividers at all.
fn divided(bench: &Bench, bar: usize) -> Known<bool> {
    if !bench.speaks_of_dividers {
        return Known::Absent;
    }
    let own = bench.instructions.prints_at(bar).find_map(|print| print.system().dividers);
    own.or(bench.instructions.system.dividers).map_or(Known::Derived(false), |stated| Known::Stated(stated.value, stated.at))
}

impl System {
    /// Sets how far it reaches past the edges of a sheet of some width.
    pub(super) fn hold_against(&mut self, sheet: &Known<Mm>) {
        let Some(sheet) = sheet.value() else { return };
        self.past_edge = match (self.left, self.right, self.overrun.value()) {
            (Known::Unknown(why), ..) | (_, Known::Unknown(why), _) => Known::Unknown(why),
            (left, right, overrun) => {
                let end = right.value().unwrap_or_default() + overrun.unwrap_or_default().max(Mm::ZERO);
                Known::Derived((-left.value().unwrap_or_default()).max(end - sheet))
            }
        };
    }
}
