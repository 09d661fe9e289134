//! One system: the room its bars have, against the room they need.

use super::bar::{Bar, Content, Desk, Music, NO_TIME};
use super::change;
use crate::page::System;
use crate::units::{STAFF_TENTHS, Sp, Tenths};
use std::borrow::Borrow;

/// Tenths of a staff space of full size.
pub(super) const TENTHS_A_SPACE: f64 = STAFF_TENTHS / 4.0;
/// Room that clef, key and time at the beginning of a system can take at most.
const MOST_BEGINNING: Sp = Sp(12.0);
/// Force at which a bar stands as if every note were half as long.
const HALF_AS_LONG: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// The four widths of one bar, which add up over a system.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Widths {
    /// Where signs all but touch.
    pub least: Sp,
    /// Spaced as if every note were half as long.
    pub short: Sp,
    /// Where all stands naturally.
    pub natural: Sp,
    /// Spaced as if every note were twice as long.
    pub stretched: Sp,
}

impl Widths {
    /// The widths of one bar.
    pub fn of(bar: &Bar) -> Self {
        if bar.content == Content::Gathered {
            return Self::default();
        }
        let mut nodes = Vec::with_capacity(bar.columns.len() + 2);
        Self {
            least: bar.width(0.0, &mut nodes),
            short: bar.width(HALF_AS_LONG, &mut nodes),
            natural: bar.width(1.0, &mut nodes),
            stretched: bar.width((bar.give() / 2.0).exp2(), &mut nodes),
        }
    }

    /// How far some room is from natural: 0 is natural, one step is "as if every note were twice (half) as long".
    pub fn steps(&self, available: Sp) -> f64 {
        let over = available - self.natural;
        let step = if over >= Sp::ZERO { self.stretched - self.natural } else { self.natural - self.short };
        over / step
    }
}

impl std::ops::Add for Widths {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            least: self.least + other.least,
            short: self.short + other.short,
            natural: self.natural + other.natural,
            stretched: self.stretched + other.stretched,
        }
    }
}

/// How a system's room stands to what its bars need.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Room before its first note: clef, key, time.
    pub beginning: Sp,
    /// Room for its bars: their widths without the beginning and without signs announced at the end.
    pub available: Sp,
    /// What its bars need, together.
    pub widths: Widths,
    /// The force under which its bars just fill it: below 1 closer than natural, above wider.
    pub force: f64,
}

impl Line {
    /// How far its room is from natural, in steps of half or twice the durations.
    pub fn steps(&self) -> f64 {
        self.widths.steps(self.available)
    }

    /// Its room against the natural one.
    pub fn of_natural(&self) -> f64 {
        self.available / self.widths.natural
    }

    /// Share of the way from the least to the natural width.
    pub fn share_of_ease(&self) -> f64 {
        (self.available - self.widths.least) / (self.widths.natural - self.widths.least)
    }
}

/// Sum of the four widths of some bars.
pub fn sum(bars: impl Iterator<Item = Widths>) -> Widths {
    bars.fold(Widths::default(), |sum, bar| sum + bar)
}

/// The force under which bars fill some room: 0 where even the least is too much.
pub fn force<B: Borrow<Bar>>(bars: &[B], available: Sp) -> f64 {
    /// Exactness of the force, and of the room it fills.
    const EXACT: f64 = 1e-10;
    /// Far more steps than it takes; where a length is no number no step leads on.
    const MOST_STEPS: usize = 100;
    let mut nodes = Vec::new();
    let mut over = |force: f64| (bars.iter().map(|bar| bar.borrow().width(force, &mut nodes)).sum::<Sp>() - available).0;
    let least = over(0.0);
    if least >= 0.0 {
        return 0.0;
    }
    let natural = over(1.0);
    if natural <= 0.0 {
        // Beyond natural everything but the fixed room grows in proportion.
        let twice = over(2.0);
        return if twice > natural { 1.0 - natural / (twice - natural) } else { 1.0 };
    }
    // A width grows with the force in straight stretches, ever steeper. Where the line through both ends meets the room is nearer; an end that
    // stays twice counts half (the Illinois variant of regula falsi), so that both close in.
    let (mut low, mut high) = ((0.0, least), (1.0, natural));
    let mut stayed = 0;
    let mut middle = 1.0;
    for _ in 0..MOST_STEPS {
        middle = low.0 - low.1 * (high.0 - low.0) / (high.1 - low.1);
        let off = over(middle);
        if off.abs() <= EXACT || high.0 - low.0 <= EXACT {
            break;
        }
        if off < 0.0 {
            low = (middle, off);
            high.1 *= if stayed > 0 { 0.5 } else { 1.0 };
            stayed = 1;
        } else {
            high = (middle, off);
            low.1 *= if stayed < 0 { 0.5 } else { 1.0 };
            stayed = -1;
        }
    }
    middle
}

impl<'a> Music<'a> {
    /// The bars of a system as they stand in it.
    pub fn bars(&self, system: &System, desk: &mut Desk<'a>) -> Result<Vec<Bar>, &'static str> {
        let bar = |bar: usize| self.bar(&system.staves, bar, bar == system.bars.start, desk);
        system.bars.clone().map(bar).collect::<Option<_>>().ok_or(NO_TIME)
    }

    /// The room of a system, of its bars and what each needs; `next` is the one that follows in the same movement, whose signs may be announced.
    pub fn line(&self, system: &System, bars: &[Bar], needs: &[Widths], next: Option<&System>) -> Result<Line, &'static str> {
        if let Some(why) = system.boxes_missing {
            return Err(why);
        }
        let widths: Tenths = system.boxes.iter().map(|one| one.width).sum();
        let beginning = self.beginning(system, bars);
        let announced = next.map_or(Sp::ZERO, |next| change::announced(self.changes(&next.staves), next.bars.start));
        let available = Sp(widths.0 / TENTHS_A_SPACE) - beginning - announced;
        Ok(Line { beginning, available, widths: sum(needs.iter().copied()), force: force(bars, available) })
    }

    /// Room before the first note of a system: where heads of the first column state their place, it tells; else the usual room of
    /// the signs there.
    fn beginning(&self, system: &System, bars: &[Bar]) -> Sp {
        let told = bars.first().and_then(|bar| {
            let natural = bar.first_column()?;
            let first = *bar.columns.first()?;
            let stated = |lane: &[super::Object]| {
                let object = lane.first().filter(|object| object.single_head && object.onset == first)?;
                Some(Sp(object.stated_x? / TENTHS_A_SPACE) - natural)
            };
            lower_median(bar.lanes.iter().filter_map(stated).collect())
        });
        told.map_or_else(|| self.beginning_at(&system.staves, system.bars.start), |told| told.max(Sp::ZERO).min(MOST_BEGINNING))
    }
}

/// The lower of the two middle values, or the only one; the least of fewer than three, where one pushed aside would count as much.
fn lower_median(mut values: Vec<Sp>) -> Option<Sp> {
    values.sort_unstable_by(|one, other| one.0.total_cmp(&other.0));
    let middle = if values.len() < 3 { 0 } else { (values.len() - 1) / 2 };
    values.get(middle).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lower_of_two_middle_values() {
        let of = |values: &[f64]| lower_median(values.iter().copied().map(Sp).collect()).map(|value| value.0);
        assert_eq!([of(&[]), of(&[5.0]), of(&[7.0, 5.0])], [None, Some(5.0), Some(5.0)]);
        assert_eq!([of(&[9.0, 5.0, 7.0]), of(&[9.0, 5.0, 8.0, 7.0]), of(&[4.0, 1.0, 5.0, 2.0, 3.0])], [Some(7.0), Some(7.0), Some(3.0)]);
    }
}
