//! Openings: two pages that face each other, and how evenly they are spaced.

use super::{Between, Gap, Page};
use crate::page::Side;
use crate::place::{Confidence, Known};

/// Two pages that face each other.
#[derive(Debug)]
pub struct Opening {
    /// Count of the left-hand page in the file, from 1; the right-hand one follows.
    pub left: u32,
    /// Printed numbers of the two.
    pub labels: [String; 2],
    /// Mean white of the gaps that both pages have, in staff heights: left-hand, right-hand.
    pub gap_heights: [Known<f64>; 2],
    /// Mean clear white of the same gaps, without what hangs into them.
    pub clear_heights: [Known<f64>; 2],
    /// Gaps that went into it, of the page that has fewer.
    pub gaps: usize,
    /// White let in between staves and systems of the page that has more of it, as a share of its usable height.
    pub white_between_share: Known<f64>,
    /// Systems of both pages have but one staff.
    pub single_staves: bool,
    /// A movement ends on one of them, or the copy.
    pub ends: bool,
    /// Nothing sounds on one of them.
    pub tacet: bool,
    /// A hidden staff keeps its room on one of them.
    pub cutaway: bool,
    /// One of them is left short, or wide, for the sake of a turn.
    pub turns_at_rest: bool,
    /// How sure its reckoning is.
    pub confidence: Confidence,
}

/// The openings of some pages in their order.
pub(super) fn of(pages: &[Page]) -> Vec<Opening> {
    let facing = pages.windows(2).filter_map(|pair| match pair {
        [left, right] if left.side == Side::Verso && right.side == Side::Recto && !left.blank_after && right.begin_known => {
            Some(opening(left, right))
        }
        _ => None,
    });
    facing.collect()
}

fn opening(left: &Page, right: &Page) -> Opening {
    let either = |is: fn(&Page) -> bool| is(left) || is(right);
    let (gap_heights, gaps) = gaps_of(left, right, Gap::white_heights);
    let (clear_heights, _) = gaps_of(left, right, Gap::clear_heights);
    Opening {
        left: left.ordinal,
        labels: [left.label.clone(), right.label.clone()],
        gap_heights,
        clear_heights,
        gaps,
        white_between_share: most_white_between(left, right),
        single_staves: left.staves_a_system() == 1 && right.staves_a_system() == 1,
        ends: either(|page| page.last || page.systems.iter().any(|system| system.ends_movement)),
        tacet: either(|page| page.tacet),
        cutaway: either(|page| page.gaps.iter().any(|gap| gap.cutaway)),
        turns_at_rest: right.turns_at_rest,
        confidence: left.confidence.min(right.confidence),
    }
}

fn most_white_between(left: &Page, right: &Page) -> Known<f64> {
    let share = |page: &Page| match (page.white_between, page.usable.value()) {
        (Known::Unknown(why), _) => Err(why),
        (white, Some(usable)) => Ok(white.value().unwrap_or_default() / usable),
        _ => Err("the page size or a margin is not stated"),
    };
    match (share(left), share(right)) {
        (Ok(left), Ok(right)) => Known::Derived(left.max(right)),
        (Err(why), _) | (_, Err(why)) => Known::Unknown(why),
    }
}

/// What makes two gaps comparable: their kind, and their staves.
type Pair = (bool, [(u32, u8); 2]);

/// White by pair of staves, headings and cutaway left out: all its gaps, in staff heights.
fn by_pair(page: &Page, heights: fn(&Gap) -> Known<f64>) -> Result<Vec<(Pair, Option<f64>)>, &'static str> {
    let mut found: Vec<(Pair, Option<f64>)> = Vec::with_capacity(page.gaps.len());
    for gap in page.gaps.iter().filter(|gap| !gap.heading && !gap.cutaway) {
        match heights(gap) {
            Known::Unknown(why) => return Err(why),
            known => found.push(((gap.between == Between::Staves, gap.pair()), known.value())),
        }
    }
    found.sort_by_key(|(pair, _)| *pair);
    Ok(found)
}

fn gaps_of(left: &Page, right: &Page, heights: fn(&Gap) -> Known<f64>) -> ([Known<f64>; 2], usize) {
    let (of_left, of_right) = match (by_pair(left, heights), by_pair(right, heights)) {
        (Ok(left), Ok(right)) => (left, right),
        (Err(why), _) | (_, Err(why)) => return ([Known::Unknown(why); 2], 0),
    };
    let mut sums = [0.0; 2];
    let mut counts = [0_usize; 2];
    let mut rest = &of_right[..];
    for left in of_left.chunk_by(|one, other| one.0 == other.0) {
        let pair = left[0].0;
        rest = &rest[rest.partition_point(|(other, _)| *other < pair)..];
        let right = &rest[..rest.iter().take_while(|(other, _)| *other == pair).count()];
        if right.is_empty() {
            continue;
        }
        for (side, heights) in [left, right].into_iter().enumerate() {
            sums[side] += heights.iter().filter_map(|(_, height)| *height).sum::<f64>();
            counts[side] += heights.iter().filter(|(_, height)| height.is_some()).count();
        }
    }
    if counts.contains(&0) {
        return ([Known::Absent; 2], 0);
    }
    let mean = |side: usize| Known::Derived(sums[side] / f64::from(super::count(counts[side])));
    ([mean(0), mean(1)], counts[0].min(counts[1]))
}
