//! Pages: their size, margins, numbers and sides, and the systems on them with their staves.

use super::breaks::Breaks;
use super::hidden::{Hiding, StaffState};
use super::lookup::{in_force, in_order};
use super::vertical::stack;
use super::{Page, PageMargins, Side, System};
use crate::place::{Confidence, Known};
use crate::score::instructions::{Margins, PageLayout, Parity, Print};
use crate::score::{Given, Instructions, Score};
use crate::units::Tenths;

/// Every page with its systems; staves know their distances but not yet where they stand.
pub(super) fn read(score: &Score, instructions: &Instructions, breaks: &Breaks, hiding: &Hiding) -> Vec<Page> {
    let mut pages: Vec<Page> = Vec::new();
    let mut number = 1_i64;
    let mut numbered = false;
    for systems in &breaks.pages {
        let first_bar = breaks.systems[systems.start].start;
        let staves = &hiding.systems[systems.start];
        let prints = in_order(instructions.prints_at(first_bar), |part| printed(staves, part));
        let blank_before = prints.iter().filter(|print| print.new_page == Some(true)).map(|print| print.blank_pages).max().unwrap_or(0);
        if !pages.is_empty() {
            number += 1 + i64::from(blank_before);
        }
        // The standard ignores page-number without new-page; real files put it on the first bar all the same.
        let renumbers = |print: &&&Print| print.new_page == Some(true) || first_bar == 0;
        let token = prints.iter().filter(renumbers).find_map(|print| print.page_number()).map(str::to_owned);
        if let Some(stated) = token.as_deref().and_then(page_number) {
            number = stated;
            numbered = true;
        }
        let left_first = i64::from(instructions.begins_verso && !numbered);
        let side = if (number + left_first).rem_euclid(2) == 1 { Side::Recto } else { Side::Verso };
        let own: Vec<&PageLayout> = prints.iter().filter_map(|print| print.page()).collect();
        let systems = systems
            .clone()
            .map(|index| system(score, instructions, &breaks.systems[index], &hiding.systems[index], index == systems.start))
            .collect();
        pages.push(Page {
            label: token.unwrap_or_else(|| number.to_string()),
            side,
            blank_before,
            width: size(&own, |layout| layout.width, instructions.page.width, "the page width is not stated"),
            height: size(&own, |layout| layout.height, instructions.page.height, "the page height is not stated"),
            margins: margins(&own, &instructions.page, side),
            head: Tenths::ZERO,
            foot: Tenths::ZERO,
            systems,
        });
    }
    pages
}

fn printed(staves: &[StaffState], part: usize) -> bool {
    staves.iter().any(|staff| staff.part == part && !staff.only_room)
}

fn size(own: &[&PageLayout], pick: impl Fn(&PageLayout) -> Given<Tenths>, default: Given<Tenths>, why: &'static str) -> Known<Tenths> {
    if let Some(stated) = own.iter().find_map(|layout| pick(layout)) {
        return Known::Stated(stated.value, stated.at);
    }
    default.map_or(Known::Unknown(why), |default| Known::Inherited(default.value, default.at))
}

fn margins(own: &[&PageLayout], defaults: &PageLayout, side: Side) -> PageMargins {
    let one = |pick: fn(&Margins) -> Given<Tenths>, why| {
        let own = own.iter().find_map(|layout| of_side(layout, side, pick, true));
        let default = of_side(defaults, side, pick, false);
        match (own, default) {
            (Some(own), _) => Known::Stated(own.value, own.at),
            (None, Some(default)) => Known::Inherited(default.value, default.at),
            (None, None) => Known::Unknown(why),
        }
    };
    PageMargins {
        left: one(|margins| margins.left, "the left margin is not stated"),
        right: one(|margins| margins.right, "the right margin is not stated"),
        top: one(|margins| margins.top, "the top margin is not stated"),
        bottom: one(|margins| margins.bottom, "the bottom margin is not stated"),
    }
}

/// A margin out of the set for this side of the leaf. In a print the type is not needed: whatever it says is this page.
fn of_side(layout: &PageLayout, side: Side, pick: fn(&Margins) -> Given<Tenths>, this_page: bool) -> Given<Tenths> {
    let wanted = if side == Side::Recto { Parity::Odd } else { Parity::Even };
    let of = |parity| layout.margins.iter().find(|(own, _)| *own == parity).and_then(|(_, margins)| pick(margins));
    let exact = of(wanted).or_else(|| of(Parity::Both));
    if this_page { exact.or_else(|| layout.margins.iter().find_map(|(_, margins)| pick(margins))) } else { exact }
}

fn system(score: &Score, instructions: &Instructions, bars: &std::ops::Range<usize>, staves: &[StaffState], opens_page: bool) -> System {
    let prints = in_order(instructions.prints_at(bars.start), |part| printed(staves, part));
    let defaults = &instructions.system;
    let distance = if opens_page {
        in_force(&prints, |print| print.system().top_distance, defaults.top_distance, "the top system distance is not stated")
    } else {
        in_force(&prints, |print| print.system().distance, defaults.distance, "the system distance is not stated")
    };
    let zero = |margin: Known<Tenths>| if margin.value().is_some() { margin } else { Known::Derived(Tenths::ZERO) };
    let at = prints.first().map(|print| print.at).or_else(|| score.bar_place(bars.start));
    System {
        bars: bars.clone(),
        at,
        distance,
        // Indents for now; the horizontal reckoning turns them into positions.
        left: zero(in_force(&prints, |print| print.system().left, defaults.left, "")),
        right: zero(in_force(&prints, |print| print.system().right, defaults.right, "")),
        staves: stack(staves, &prints, instructions),
        boxes: Vec::new(),
        boxes_missing: None,
        ends_movement: false,
        begins_movement: false,
        heading_above: false,
        confidence: Confidence::High,
    }
}

/// The number that a token of the file means: digits, or a Roman number.
fn page_number(token: &str) -> Option<i64> {
    token.parse().ok().or_else(|| roman(token))
}

fn roman(token: &str) -> Option<i64> {
    let mut sum = 0;
    let mut before = 0;
    for letter in token.chars().rev() {
        let value = match letter.to_ascii_lowercase() {
            'i' => 1,
            'v' => 5,
            'x' => 10,
            'l' => 50,
            'c' => 100,
            _ => return None,
        };
        sum += if value < before { -value } else { value };
        before = before.max(value);
    }
    (sum > 0).then_some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_front_matter() {
        for (token, number) in [("iv", 4), ("XII", 12), ("xl", 40), ("7", 7)] {
            assert_eq!(page_number(token), Some(number), "{token}");
        }
        assert_eq!(page_number("A3"), None);
        assert_eq!(page_number(""), None);
    }
}
