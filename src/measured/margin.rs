//! Margins: what is left to the edges of the sheet, and pages whose margins are not those of the others.

use super::{Page, median};
use crate::page::Side;
use crate::units::Mm;

/// A page whose margins are not the usual ones.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherMargin {
    /// Which margin differs most: `left`, `right`, `top`, `bottom`.
    pub side: &'static str,
    /// What it is here.
    pub here: Mm,
    /// What it is usually.
    pub usual: Mm,
    /// Right-hand and left-hand pages differ from each other, neither alike nor mirrored.
    pub between_sides: bool,
}

impl OtherMargin {
    /// By how much it differs.
    pub fn off(&self) -> Mm {
        (self.here - self.usual).abs()
    }
}

const SIDES: [&str; 4] = ["left", "right", "top", "bottom"];
/// Sizes closer than this are the same paper, margins closer than this the same margin: exporters round.
const SAME: Mm = Mm(0.5);

/// Margins of a page, left, right, top, bottom, where all are known.
fn margins(page: &Page) -> Option<[Mm; 4]> {
    let [left, right, top, bottom] = page.margins;
    Some([left.value()?, right.value()?, top.value()?, bottom.value()?])
}

fn same_paper(one: &Page, other: &Page) -> bool {
    let near = |one: Option<Mm>, other: Option<Mm>| match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() < SAME,
        (one, other) => one == other,
    };
    near(one.width.value(), other.width.value()) && near(one.height.value(), other.height.value())
}

/// The margins usual among some pages: the median of each.
fn usual(pages: &[&Page]) -> Option<[Mm; 4]> {
    let all: Vec<[Mm; 4]> = pages.iter().filter_map(|page| margins(page)).collect();
    let of = |side: usize| median(all.iter().map(|margins| margins[side].0).collect()).map(Mm);
    Some([of(0)?, of(1)?, of(2)?, of(3)?])
}

/// The margin that differs most.
fn furthest(here: [Mm; 4], usual: [Mm; 4], between_sides: bool) -> OtherMargin {
    let mut most = OtherMargin { side: SIDES[0], here: here[0], usual: usual[0], between_sides };
    for index in 1..SIDES.len() {
        let one = OtherMargin { side: SIDES[index], here: here[index], usual: usual[index], between_sides };
        if one.off() > most.off() {
            most = one;
        }
    }
    most
}

/// How far the margins of every page are from the usual ones of its side and paper; where they are those, how far the usual
/// ones of left-hand pages are from those of right-hand pages, as they are or mirrored. In the order of the pages; `None` where
/// a margin is not known.
pub(super) fn others(pages: &[Page]) -> Vec<Option<OtherMargin>> {
    let usual_like =
        |page: &Page, side: Side| usual(&pages.iter().filter(|one| one.side == side && same_paper(one, page)).collect::<Vec<_>>());
    let one = |page: &Page| -> Option<OtherMargin> {
        let here = margins(page)?;
        let within = furthest(here, usual_like(page, page.side)?, false);
        if within.off() > SAME || page.side == Side::Recto {
            return Some(within);
        }
        let Some(right_hand) = usual_like(page, Side::Recto) else { return Some(within) };
        let mirrored = [right_hand[1], right_hand[0], right_hand[2], right_hand[3]];
        let across = [right_hand, mirrored].map(|usual| furthest(here, usual, true));
        let [alike, mirrored] = across;
        Some(if mirrored.off() < alike.off() { mirrored } else { alike })
    };
    pages.iter().map(one).collect()
}
