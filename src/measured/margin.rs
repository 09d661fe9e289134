//! Margins: what is left to the edges of the sheet, and pages whose margins are not those of the others.

use super::Page;
use crate::page::Side;
use crate::units::Mm;
use std::collections::BTreeMap;

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

/// Pages that are held against each other: on one paper, on one side.
type Group = (Option<(i64, i64)>, bool);

/// The group of a page, with its paper to the nearest half millimetre.
fn group(page: &Page, side: Side) -> Group {
    #[expect(clippy::cast_possible_truncation, reason = "a length of paper")]
    let near = |length: Mm| (length / SAME).round() as i64;
    let paper = page.width.value().zip(page.height.value()).map(|(width, height)| (near(width), near(height)));
    (paper, side == Side::Recto)
}

/// The margins usual in every group: of each the one in the middle. The first page counts only where there is no other.
fn usual(pages: &[Page]) -> BTreeMap<Group, [Mm; 4]> {
    let mut all: BTreeMap<Group, Vec<[Mm; 4]>> = BTreeMap::new();
    for page in pages.iter().rev() {
        let others = all.entry(group(page, page.side)).or_default();
        if page.ordinal > 1 || others.is_empty() {
            others.extend(margins(page));
        }
    }
    let middle = |all: &[[Mm; 4]], side: usize| {
        let mut lengths: Vec<f64> = all.iter().map(|margins| margins[side].0).collect();
        lengths.sort_unstable_by(f64::total_cmp);
        lengths.get(lengths.len().saturating_sub(1) / 2).copied().map(Mm)
    };
    let usual =
        |(group, all): (Group, Vec<[Mm; 4]>)| Some((group, [middle(&all, 0)?, middle(&all, 1)?, middle(&all, 2)?, middle(&all, 3)?]));
    all.into_iter().filter_map(usual).collect()
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
    let usual = usual(pages);
    let one = |page: &Page| -> Option<OtherMargin> {
        let here = margins(page)?;
        let within = furthest(here, *usual.get(&group(page, page.side))?, false);
        if within.off() > SAME || page.side == Side::Recto {
            return Some(within);
        }
        let Some(right_hand) = usual.get(&group(page, Side::Recto)) else { return Some(within) };
        let mirrored = [right_hand[1], right_hand[0], right_hand[2], right_hand[3]];
        let [alike, mirrored] = [*right_hand, mirrored].map(|usual| furthest(here, usual, true));
        Some(if mirrored.off() < alike.off() { mirrored } else { alike })
    };
    pages.iter().map(one).collect()
}
