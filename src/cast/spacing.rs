//! How a page is spaced down, and how two pages in one view differ.

use super::cost;
use super::page::{Down, Pages, Sheet};
use crate::page::Side;
use crate::units::Mm;

/// How far the gaps of a page are from natural, in quarters of a step; nothing where no page beside it minds.
pub(super) type Evenness = Option<i8>;

/// As far as gaps can be crowded, which is one step, in quarters of it.
#[expect(clippy::cast_possible_truncation, reason = "a small whole number")]
const CROWDED: i8 = -(cost::EVENNESS_PARTS as i8);
/// As far as they can be spread.
#[expect(clippy::cast_possible_truncation, reason = "a small whole number")]
const SPREAD: i8 = (cost::FURTHEST * cost::EVENNESS_PARTS) as i8;
/// So many kinds of evenness there are.
pub(super) const EVENNESSES: usize = (SPREAD - CROWDED) as usize + 2;

/// Their number, from 0.
pub(super) fn number_of(evenness: Evenness) -> usize {
    evenness.map_or(0, |parts| usize::from((parts - CROWDED).unsigned_abs()) + 1)
}

/// One way to space a page down.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spacing {
    pub faults: f64,
    /// How far its gaps are from natural, in steps.
    pub steps: f64,
    /// White at its foot, where it stays short.
    pub short: Option<Mm>,
    /// It has gaps that can be compared.
    has_gaps: bool,
}

impl Spacing {
    #[expect(clippy::cast_possible_truncation, reason = "steps lie between -1 and 3")]
    pub fn evenness(&self) -> Evenness {
        self.has_gaps.then(|| ((self.steps * cost::EVENNESS_PARTS).round() as i8).clamp(CROWDED, SPREAD))
    }
}

/// What is wrong with two pages in one view.
pub(super) fn unevenness(one: Evenness, other: Evenness) -> f64 {
    match (one, other) {
        (Some(one), Some(other)) => cost::uneven(f64::from(one.abs_diff(other)) / cost::EVENNESS_PARTS),
        _ => 0.0,
    }
}

/// The ways to space a page down: none where it is too full, two where it may fill its page or stay short.
pub(super) fn spacings(need: &Down, systems: usize, height: Mm, sheet: &Sheet, last: bool) -> [Option<Spacing>; 2] {
    if need.close > height {
        return [None, None];
    }
    let white = (height - need.natural).max(Mm::ZERO);
    let over = height - need.natural;
    let has_gaps = need.generous > need.natural;
    let natural = |faults: f64| Some(Spacing { faults, steps: 0.0, short: Some(white), has_gaps });
    if !has_gaps || systems == 1 && over >= Mm::ZERO {
        // What has no gaps cannot be spread; the gaps of a single system stay natural.
        return [natural(if last { cost::vertical(0.0, true) } else { cost::short_page(white / height) }), None];
    }
    let steps = over / if over >= Mm::ZERO { need.generous - need.natural } else { need.natural - need.close };
    let faults = cost::vertical(steps, last);
    if last && steps > 0.0 {
        return [natural(faults), None];
    }
    let spread = Some(Spacing { faults, steps: steps.min(cost::FURTHEST), short: None, has_gaps });
    let may_stay_short = sheet.may_stay_short && steps > 0.0;
    [spread, natural(cost::short_page(white / height)).filter(|_| may_stay_short)]
}

/// Whether a page is turned, by its side, whether a blank page follows, and its number from 1.
pub(super) fn is_turned(work: &Pages, side: Side, blank_follows: bool, number: usize) -> bool {
    match work.in_view {
        Some(in_view) => number.is_multiple_of(in_view),
        None => side == Side::Recto || blank_follows,
    }
}

pub(super) fn side_of(first: Side, number: usize) -> Side {
    let odd = !number.is_multiple_of(2);
    if odd == (first == Side::Recto) { Side::Recto } else { Side::Verso }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_evenness_has_a_number_of_its_own() {
        let even = |steps: f64| Spacing { faults: 0.0, steps, short: None, has_gaps: true }.evenness();
        let no_gaps = Spacing { faults: 0.0, steps: 0.0, short: None, has_gaps: false }.evenness();
        assert_eq!((no_gaps, even(-1.0), even(0.0), even(0.3), even(cost::FURTHEST)), (None, Some(-4), Some(0), Some(1), Some(12)));
        let all = std::iter::once(None).chain((-4..=12).map(Some));
        assert!(all.map(number_of).eq(0..EVENNESSES));
    }
}
