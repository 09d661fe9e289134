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

/// Whether two sets of margins are the same.
fn alike(one: &[Mm; 4], other: &[Mm; 4]) -> bool {
    one.iter().zip(other).all(|(one, other)| (*one - *other).abs() <= SAME)
}

/// Left and right exchanged.
fn mirrored([left, right, top, bottom]: [Mm; 4]) -> [Mm; 4] {
    [right, left, top, bottom]
}

/// Fewest pages of one side that tell what is usual on that side; where there are fewer, both sides tell it together.
const ENOUGH_PAGES: usize = 3;

/// Different sets of margins of some pages, in their order, with the weight of the pages that have them: a first page may have
/// its own, so it weighs half of another.
#[derive(Default)]
struct Sets(Vec<([Mm; 4], u32)>);

impl Sets {
    fn add(&mut self, set: [Mm; 4], weight: u32, same: impl Fn(&[Mm; 4], &[Mm; 4]) -> bool) {
        match self.0.iter_mut().find(|(known, _)| same(known, &set)) {
            Some((_, sum)) => *sum += weight,
            None => self.0.push((set, weight)),
        }
    }

    /// The set of most weight; of several the one that `goes`, else the first.
    fn most(&self, goes: impl Fn(&[Mm; 4]) -> bool) -> Option<[Mm; 4]> {
        self.0.iter().rev().max_by_key(|(set, sum)| (*sum, goes(set))).map(|(set, _)| *set)
    }
}

/// The margins usual in every group: those that most of its pages have, all four together. On a paper with few pages on a side,
/// those that most pages of both sides have, as they are or mirrored.
fn usual(pages: &[Page]) -> BTreeMap<Group, [Mm; 4]> {
    let mut groups: BTreeMap<Group, (usize, Sets)> = BTreeMap::new();
    let mut papers: BTreeMap<Option<(i64, i64)>, Sets> = BTreeMap::new();
    let either = |one: &[Mm; 4], other: &[Mm; 4]| alike(one, other) || alike(one, &mirrored(*other));
    for page in pages {
        let Some(here) = margins(page) else { continue };
        let weight = if page.ordinal == 1 { 1 } else { 2 };
        let (paper, side) = group(page, page.side);
        let (count, sets) = groups.entry((paper, side)).or_default();
        *count += 1;
        sets.add(here, weight, alike);
        papers.entry(paper).or_default().add(here, weight, either);
    }
    let mut usual: BTreeMap<Group, [Mm; 4]> = BTreeMap::new();
    // Right-hand pages first: of several as usual on the left those that go with them count.
    for ((paper, is_recto), (count, sets)) in groups.iter().rev() {
        let other_side = groups.get(&(*paper, !is_recto)).map_or(0, |(count, _)| *count);
        let few = (*count).min(other_side.max(1)) < ENOUGH_PAGES && other_side > 0;
        let of_both = papers.get(paper).and_then(|sets| sets.most(|_| false));
        let right_hand = usual.get(&(*paper, true)).copied();
        let own = sets.most(|set| right_hand.is_some_and(|right_hand| either(set, &right_hand)));
        // As they are on this side, where it has them: else as the other has them, turned as may be.
        let turned = of_both.map(|both| if sets.0.iter().any(|(set, _)| alike(set, &mirrored(both))) { mirrored(both) } else { both });
        usual.extend(if few { turned } else { own }.map(|set| ((*paper, *is_recto), set)));
    }
    usual
}

/// The margin that differs most.
fn furthest(here: [Mm; 4], usual: [Mm; 4]) -> OtherMargin {
    let of = |index: usize| OtherMargin { side: SIDES[index], here: here[index], usual: usual[index], between_sides: false };
    let mut most = of(0);
    for one in (1..SIDES.len()).map(of) {
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
        let within = furthest(here, *usual.get(&group(page, page.side))?);
        if within.off() > SAME || page.side == Side::Recto {
            return Some(within);
        }
        let Some(right_hand) = usual.get(&group(page, Side::Recto)) else { return Some(within) };
        let across = |usual| OtherMargin { between_sides: true, ..furthest(here, usual) };
        let [alike, mirrored] = [*right_hand, mirrored(*right_hand)].map(across);
        Some(if mirrored.off() < alike.off() { mirrored } else { alike })
    };
    pages.iter().map(one).collect()
}
