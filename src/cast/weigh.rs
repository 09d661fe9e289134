//! What a division that stands already is worth.

use super::cost;
use super::page::{Down, Faults, Pages};
use super::spacing::{Evenness, Spacing, is_turned, spacings, unevenness};
use crate::page::Side;
use std::ops::Range;

/// A page that stands already: its side, whether a blank page stands before it, its systems.
pub type Standing<'a> = (Side, bool, &'a [Range<usize>]);

/// What is wrong with a division that stands already, in the same currency. A line that cannot be, or a page that is too full, counts as a
/// line that cannot hold its one bar.
pub fn weigh(work: &Pages, pages: &[Standing]) -> Faults {
    let mut faults = Faults::default();
    let mut facing: Evenness = None;
    for (index, (side, blank, systems)) in pages.iter().enumerate() {
        faults.pages += cost::PAGE + if *blank { cost::BLANK_PAGE } else { 0.0 };
        let mut need = Down::default();
        let mut below: Option<Down> = None;
        for system in *systems {
            let line = work.lines.get(system.start).and_then(|row| *row.get(system.len().checked_sub(1)?)?);
            let Some(line) = line else {
                faults.across += cost::OVERFULL;
                continue;
            };
            faults.across += line.faults;
            need = need + below.map_or(Down::default(), |below| below + line.above) + line.body;
            if below.is_some() {
                need = need + Down::fixed(work.heading[system.start]);
            }
            below = Some(line.below);
        }
        let last = index + 1 == pages.len();
        let height = if index == 0 { work.sheet.first } else { work.sheet.height };
        // How it is spaced now is not held against it: of the ways there are it has the best beside the page it faces.
        let ends = last || systems.last().is_some_and(|system| work.own_page.get(system.end) == Some(&true));
        let weighed = |way: &Spacing| way.faults + unevenness(facing, way.evenness().filter(|_| !ends));
        let ways = spacings(&need, systems.len(), height, &work.sheet, last).into_iter().flatten();
        let best = ways.min_by(|one, other| weighed(one).total_cmp(&weighed(other)));
        faults.down += best.as_ref().map_or(cost::OVERFULL, weighed);
        if last && index > 0 {
            faults.down += cost::fill(need.natural / height);
        }
        let blank_follows = pages.get(index + 1).is_some_and(|next| next.1);
        let turned = index + 1 < pages.len() && is_turned(work, *side, blank_follows, index + 1);
        facing = best.and_then(|way| way.evenness()).filter(|_| !turned && !ends && !blank_follows);
        if let (true, Some(end), Some(turns)) = (turned, systems.last().map(|last| last.end), work.turns) {
            faults.turns += cost::turn(turns[end]);
        }
    }
    faults
}
