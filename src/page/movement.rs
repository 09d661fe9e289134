//! Movements: where one ends and another begins in the same file.
//!
//! `MusicXML` has no word for it. A boundary is a final bar line without a repeat with music after it, plus a second
//! sign: bar numbers that start again, a heading, a new page, a full indent. Where the music runs on (attacca), it is none.

use super::breaks::Breaks;
use crate::score::mark::Side;
use crate::score::{HEADING_POINTS, Instructions, MarkKind, Score};
use crate::units::Tenths;
use std::ops::Range;

/// One movement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Movement {
    /// Its bars, by index.
    pub bars: Range<usize>,
}

pub(super) fn read(score: &Score, instructions: &Instructions, breaks: &Breaks) -> Vec<Movement> {
    let bars = score.bar_count();
    let mut movements = Vec::new();
    let mut begins = 0;
    for bar in 0..bars.saturating_sub(1) {
        if final_bar_line(score, bar) && !runs_on(score, bar) && second_sign(score, instructions, breaks, bar + 1) {
            movements.push(Movement { bars: begins..bar + 1 });
            begins = bar + 1;
        }
    }
    if bars > 0 {
        movements.push(Movement { bars: begins..bars });
    }
    movements
}

fn final_bar_line(score: &Score, bar: usize) -> bool {
    let marks = score.marks_at(bar);
    let mut found = false;
    for mark in marks {
        if let MarkKind::Barline { style, side: Side::Right, repeat, .. } = &mark.kind {
            if repeat.is_some() {
                return false;
            }
            found |= style == "light-heavy";
        }
    }
    found
}

/// The last two bars say that the music goes on at once.
fn runs_on(score: &Score, bar: usize) -> bool {
    let marks = (bar.saturating_sub(1)..=bar).flat_map(|bar| score.marks_at(bar));
    marks.filter_map(|mark| if let MarkKind::Words(words) = &mark.kind { Some(words) } else { None }).any(|words| {
        let words = words.to_lowercase();
        words.contains("attacca") || words.contains("segue")
    })
}

fn second_sign(score: &Score, instructions: &Instructions, breaks: &Breaks, bar: usize) -> bool {
    let number = |bar: usize| score.bar_number(bar).parse::<i64>().ok();
    let starts_again = matches!((number(bar - 1), number(bar)), (Some(before), Some(now)) if now <= 1 && now < before);
    let new_page = breaks.pages.iter().any(|systems| breaks.systems[systems.start].start == bar);
    let indent_at = |bar: usize| {
        let own = instructions.prints_at(bar).find_map(|print| print.system().left);
        own.or(instructions.system.left).map_or(Tenths::ZERO, |left| left.value)
    };
    let opens_system = breaks.systems.iter().any(|system| system.start == bar);
    // The first system's indent is the full one; systems within a movement have less.
    let indented = opens_system && indent_at(bar) > Tenths::ZERO && indent_at(bar) >= indent_at(0) && breaks.systems.len() > 2 && {
        let within = breaks.systems.iter().map(|system| indent_at(system.start)).fold(Tenths(f64::INFINITY), Tenths::min);
        indent_at(bar) > within + Tenths(20.0)
    };
    let heading = opens_system
        && score.marks_at(bar).any(|mark| match &mark.kind {
            // Large words over the first bar: a heading written as a direction.
            MarkKind::Words(_) => mark.points.is_some_and(|points| f64::from(points) >= HEADING_POINTS),
            _ => false,
        });
    starts_again || new_page || indented || heading
}
