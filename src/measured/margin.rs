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
    /// It is held against the first page, which may have margins of its own, for want of another.
    pub against_first: bool,
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

/// Margins usual in a group, and whether they are those of the first page alone.
#[derive(Clone, Copy)]
struct Usual {
    margins: [Mm; 4],
    of_first_page: bool,
}

/// Whether two sets of margins are the same.
fn alike(one: &[Mm; 4], other: &[Mm; 4]) -> bool {
    one.iter().zip(other).all(|(one, other)| (*one - *other).abs() <= SAME)
}

/// Left and right exchanged.
fn mirrored([left, right, top, bottom]: [Mm; 4]) -> [Mm; 4] {
    [right, left, top, bottom]
}

/// The margins usual in every group: those that most of its pages have, all four together. Of several as usual those that go
/// with the right-hand pages count, else the first. The first page counts only where there is no other.
fn usual(pages: &[Page]) -> BTreeMap<Group, Usual> {
    /// Different sets of margins of a group, with how many pages have them.
    type Sets = Vec<([Mm; 4], usize, bool)>;
    let mut groups: BTreeMap<Group, Sets> = BTreeMap::new();
    for page in pages.iter().skip(1).chain(pages.first()) {
        let sets = groups.entry(group(page, page.side)).or_default();
        let Some(here) = margins(page).filter(|_| page.ordinal > 1 || sets.is_empty()) else { continue };
        match sets.iter_mut().find(|(set, ..)| alike(set, &here)) {
            Some((_, count, _)) => *count += 1,
            None => sets.push((here, 1, page.ordinal == 1)),
        }
    }
    let most = |sets: &Sets, goes_with: Option<Usual>| -> Option<Usual> {
        let goes = |set: &[Mm; 4]| goes_with.is_some_and(|other| alike(set, &other.margins) || alike(set, &mirrored(other.margins)));
        let best = sets.iter().rev().max_by_key(|(set, count, _)| (*count, goes(set)))?;
        Some(Usual { margins: best.0, of_first_page: best.2 })
    };
    let mut usual: BTreeMap<Group, Usual> = BTreeMap::new();
    // Right-hand pages first: the others are held against them.
    for ((paper, is_recto), sets) in groups.iter().rev() {
        let right_hand = usual.get(&(*paper, true)).copied();
        usual.extend(most(sets, right_hand).map(|most| ((*paper, *is_recto), most)));
    }
    usual
}

/// The margin that differs most.
fn furthest(here: [Mm; 4], usual: [Mm; 4]) -> OtherMargin {
    let of = |index: usize| OtherMargin {
        side: SIDES[index],
        here: here[index],
        usual: usual[index],
        between_sides: false,
        against_first: false,
    };
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
        let own_side = usual.get(&group(page, page.side))?;
        let within = furthest(here, own_side.margins);
        if within.off() > SAME || page.side == Side::Recto {
            return Some(within);
        }
        let Some(right_hand) = usual.get(&group(page, Side::Recto)) else { return Some(within) };
        let across = |usual| OtherMargin {
            between_sides: true,
            against_first: own_side.of_first_page || right_hand.of_first_page,
            ..furthest(here, usual)
        };
        let [alike, mirrored] = [right_hand.margins, mirrored(right_hand.margins)].map(across);
        Some(if mirrored.off() < alike.off() { mirrored } else { alike })
    };
    pages.iter().map(one).collect()
}
