//! Sizes that no paper has: said once, then treated as not stated.

use crate::place::{Place, Stated};
use crate::score::instructions::{Margins, PageLayout};
use crate::score::{Flaw, Given, Score};
use crate::units::{Mm, Scale, Tenths};

/// Least and most height of a staff that is taken seriously.
const STAFF_HEIGHT: (Mm, Mm) = (Mm(0.5), Mm(100.0));
/// Least and most side of a page that is taken seriously.
const PAGE_SIDE: (Mm, Mm) = (Mm(20.0), Mm(3000.0));

/// Takes absurd sizes out of the instructions and notes a flaw for each.
pub(super) fn check(score: &mut Score) {
    let mut flaws = Vec::new();
    if let Some(scale) = score.instructions.scale {
        let height = scale.value.staff_height();
        if height < STAFF_HEIGHT.0 || height > STAFF_HEIGHT.1 {
            let at = score.instructions.millimeters_at.unwrap_or(scale.at);
            let what = format!("the scaling makes a staff {} mm high", round(height));
            flaws.push(grave(what, "A staff of 7 mm is written as millimeters 7 and tenths 40.", at));
            score.instructions.scale = None;
        }
    }
    let scale = score.instructions.scale.map(|scale| scale.value);
    let prints = score.instructions.prints.iter_mut().filter_map(|print| print.more.as_mut()?.page.as_mut());
    for layout in std::iter::once(&mut score.instructions.page).chain(prints) {
        check_page(layout, scale, &mut flaws);
    }
    for details in &mut score.instructions.staff_details {
        if let Some(Stated { value, at }) = details.size_percent
            && !(1.0..=1000.0).contains(&value)
        {
            flaws.push(grave(format!("a staff size of {value} percent"), "Write a percentage of the usual size, such as 70.", at));
            details.size_percent = None;
        }
    }
    score.flaws.extend(flaws);
}

fn check_page(layout: &mut PageLayout, scale: Option<Scale>, flaws: &mut Vec<Flaw>) {
    for (side, name) in [(&mut layout.width, "wide"), (&mut layout.height, "high")] {
        let Some(Stated { value, at }) = *side else { continue };
        let absurd = match scale {
            Some(scale) => scale.mm(value) < PAGE_SIDE.0 || scale.mm(value) > PAGE_SIDE.1,
            None => value <= Tenths::ZERO,
        };
        if absurd {
            let size = scale.map_or_else(|| format!("{} tenths", value.0), |scale| format!("{} mm", round(scale.mm(value))));
            flaws.push(grave(format!("the page is {size} {name}"), "Write the size in tenths of the scaling; export the file again.", at));
            *side = None;
        }
    }
    for (_, Margins { left, right, top, bottom }) in &mut layout.margins {
        leave_room(left, right, layout.width, "beside each other", flaws);
        leave_room(top, bottom, layout.height, "above each other", flaws);
    }
}

/// Margins that leave nothing of the page.
fn leave_room(one: &mut Given<Tenths>, other: &mut Given<Tenths>, side: Given<Tenths>, how: &str, flaws: &mut Vec<Flaw>) {
    let (Some(first), Some(second), Some(side)) = (*one, *other, side) else { return };
    if first.value + second.value >= side.value {
        let what = format!("the two margins {how} leave nothing of the page");
        flaws.push(grave(what, "Write smaller margins; export the file again.", first.at));
        *one = None;
        *other = None;
    }
}

fn grave(what: String, help: &str, at: Place) -> Flaw {
    Flaw { what, help: help.to_owned(), at, grave: true, times: 1 }
}

fn round(length: Mm) -> f64 {
    (length.0 * 1000.0).round() / 1000.0
}
