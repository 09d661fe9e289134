//! How far ink hangs out of a staff, column by column.

use crate::page::System;
use crate::units::Tenths;
use std::ops::Range;

/// Columns across a page: on paper some three quarters of a millimetre each.
const COLUMNS: usize = 256;

/// What columns stand for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Axis {
    /// Equal shares of the width of the sheet.
    Sheet(Tenths),
    /// The bars of a system, from its first.
    Bars(usize, usize),
}

impl Axis {
    /// The axis of a system: of the sheet where the places of its bars and the sheet's width are known.
    pub fn of(system: &System, width: Option<Tenths>) -> Self {
        match width {
            Some(width) if width > Tenths::ZERO && system.boxes.len() == system.bars.len() => Self::Sheet(width),
            _ => Self::Bars(system.bars.start, system.bars.len()),
        }
    }

    /// Number of columns.
    fn columns(self) -> usize {
        match self {
            Self::Sheet(_) => COLUMNS,
            Self::Bars(_, bars) => bars.max(1),
        }
    }

    /// The columns between two places of a bar, from its left; all of the bar where they are not stated.
    pub(super) fn span(self, system: &System, bar: usize, from: Option<f64>, to: Option<f64>) -> Range<usize> {
        match self {
            Self::Bars(first, bars) => {
                let column = bar.saturating_sub(first).min(bars.saturating_sub(1));
                column..column + 1
            }
            Self::Sheet(width) => {
                let Some(place) = system.boxes.get(bar.wrapping_sub(system.bars.start)) else { return 0..0 };
                let from = place.left.0 + from.unwrap_or(0.0);
                let to = to.map_or(place.left.0 + place.width.0, |to| place.left.0 + to);
                let most = f64::from(u32::try_from(COLUMNS).unwrap_or(u32::MAX));
                // A column counts where at least half of it is covered: what stands beside each other does not meet.
                let column = |x: f64| rounded((x / width.0 * most).clamp(0.0, most));
                let (from, to) = (column(from.min(to)).min(COLUMNS - 1), column(from.max(to)));
                from..to.max(from + 1)
            }
        }
    }
}

/// The nearest whole number to a share that lies between nothing and the columns there are; of a half the larger.
fn rounded(share: f64) -> usize {
    // What a processor does at once, where rounding as such calls for help.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "it lies among the columns there are")]
    let whole = share as u32;
    whole as usize + usize::from(share - f64::from(whole) >= 0.5)
}

/// How far ink hangs out above and below, by column, in tenths; 0 where none does.
#[derive(Debug, Clone, PartialEq)]
pub struct Skyline {
    axis: Axis,
    up: Line,
    down: Line,
}

impl Skyline {
    pub(super) fn new(axis: Axis) -> Self {
        Self { axis, up: Line::new(axis.columns()), down: Line::new(axis.columns()) }
    }

    /// A blank one of some axis, in the room of this one.
    pub(super) fn wiped(self, axis: Axis) -> Self {
        Self { axis, up: self.up.wiped(axis.columns()), down: self.down.wiped(axis.columns()) }
    }

    /// Ink over some columns that reaches so far above the top line and below the bottom line; what stays within counts nothing.
    pub(super) fn add(&mut self, columns: &Range<usize>, up: Tenths, down: Tenths) {
        self.up.raise(columns, up);
        self.down.raise(columns, down);
    }

    /// An arch over some columns, from one reach to another, that swells by `swell` in the middle; above the staff or below.
    pub(super) fn arch(&mut self, columns: Range<usize>, ends: [Tenths; 2], swell: Tenths, above: bool) {
        let last = u32::try_from(columns.len().saturating_sub(1).max(1)).map_or(1.0, f64::from);
        let line = if above { &mut self.up } else { &mut self.down };
        for (index, column) in columns.enumerate() {
            let along = u32::try_from(index).map_or(1.0, f64::from) / last;
            let straight = ends[0] + (ends[1] - ends[0]) * along;
            line.raise(&(column..column + 1), straight + swell * (4.0 * along * (1.0 - along)));
        }
    }

    /// The farthest it reaches above.
    pub fn most_up(&self) -> Tenths {
        Tenths(f64::from(self.up.most))
    }

    /// The farthest it reaches below.
    pub fn most_down(&self) -> Tenths {
        Tenths(f64::from(self.down.most))
    }
}

/// How far ink reaches to one side.
#[derive(Debug, Clone, PartialEq)]
struct Line {
    reaches: Vec<f32>,
    /// The farthest of them.
    most: f32,
}

impl Line {
    fn new(columns: usize) -> Self {
        Self { reaches: vec![0.0; columns], most: 0.0 }
    }

    fn wiped(mut self, columns: usize) -> Self {
        self.reaches.clear();
        self.reaches.resize(columns, 0.0);
        Self { most: 0.0, ..self }
    }

    #[expect(clippy::cast_possible_truncation, reason = "tenths on a page")]
    fn raise(&mut self, columns: &Range<usize>, reach: Tenths) {
        if reach <= Tenths::ZERO {
            return;
        }
        let reach = reach.0 as f32;
        let end = columns.end.min(self.reaches.len());
        for column in self.reaches.get_mut(columns.start.min(end)..end).into_iter().flatten() {
            *column = farther(*column, reach);
            self.most = farther(self.most, reach);
        }
    }
}

/// The farther of two reaches; one that is no number counts nothing where it comes second.
fn farther(one: f32, other: f32) -> f32 {
    if other > one { other } else { one }
}

/// The most that hangs in from above and below at one column between two staves; where their columns do not stand for the same, the
/// most from each side.
pub fn hangs_in(upper: &Skyline, lower: &Skyline) -> Tenths {
    /// Columns that are looked at together.
    const TOGETHER: usize = 8;
    if upper.axis != lower.axis {
        return upper.most_down() + lower.most_up();
    }
    // Each of them has a most of its own, so that a processor takes several at once.
    let mut most = [0.0; TOGETHER];
    let (upper, upper_rest) = upper.down.reaches.as_chunks::<TOGETHER>();
    let (lower, lower_rest) = lower.up.reaches.as_chunks::<TOGETHER>();
    for (upper, lower) in upper.iter().zip(lower) {
        for ((most, down), up) in most.iter_mut().zip(upper).zip(lower) {
            *most = farther(*most, down + up);
        }
    }
    for ((most, down), up) in most.iter_mut().zip(upper_rest).zip(lower_rest) {
        *most = farther(*most, down + up);
    }
    Tenths(f64::from(most.into_iter().fold(0.0, farther)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_meets_at_one_column_adds_up() {
        let axis = Axis::Bars(0, 3);
        let (mut upper, mut lower) = (Skyline::new(axis), Skyline::new(axis));
        upper.add(&(0..1), Tenths(-5.0), Tenths(30.0));
        lower.add(&(1..2), Tenths(25.0), Tenths::ZERO);
        assert_eq!(hangs_in(&upper, &lower), Tenths(30.0));
        lower.add(&(0..1), Tenths(10.0), Tenths::ZERO);
        assert_eq!(hangs_in(&upper, &lower), Tenths(40.0));
        let elsewhere = Skyline { axis: Axis::Bars(3, 3), ..lower };
        assert_eq!(hangs_in(&upper, &elsewhere), Tenths(55.0), "other bars: the most of each");
    }
}
