//! What cannot be met, in words, and the nearest thing that can.

use super::{Ground, Plan};
use crate::cast::Impossible;
use crate::units::Mm;

/// Why a plan has no casting off, and what to do.
pub fn impossible(ground: &Ground, plan: &Plan, why: Impossible) -> (String, String) {
    let number = |bar: usize| ground.score.bar_number(bar);
    match why {
        Impossible::NoBars => ("the score holds no bars".to_owned(), "Export it with its music.".to_owned()),
        Impossible::NoWidth(by) => (
            format!("the margins leave no width for music: a line lacks {:.1} mm for clef, key and time alone", by.0),
            "Take smaller margins, smaller staves or wider paper.".to_owned(),
        ),
        Impossible::NoHeight(by) => (
            format!("margins, title and foot line leave no height for music: a page lacks {:.1} mm for one staff", by.0),
            "Take smaller margins, smaller staves or higher paper.".to_owned(),
        ),
        Impossible::NoLine(bar) => (
            format!("no line that begins with bar {} holds all that may not be parted from it", number(bar)),
            "Allow a break somewhere in it, or take smaller staves or larger paper.".to_owned(),
        ),
        Impossible::NoTime(bar) => (
            format!("the exact time of bar {} cannot be known, so it is not known how much room it needs", number(bar)),
            "Mend the durations in that bar.".to_owned(),
        ),
        Impossible::TooMuch => (
            format!("{} bars are more than can be cast off at once", ground.score.bar_count()),
            "Take the movements one by one; and where the staves are very small, larger ones: so many bars a line can be divided in too many ways.".to_owned(),
        ),
        Impossible::TooHigh(bar, by) => {
            let page = plan.page.height - plan.page.margins[2] - plan.page.margins[3];
            let staff = plan.staff * (page / (page + by));
            (
                format!("the system that begins with bar {} is {:.1} mm higher than a page holds", number(bar), by.0),
                if staff < plan.staff && staff > Mm::ZERO {
                    format!(
                        "At staves of {:.1} mm it would fit; so it would on larger paper, or with staves left out that rest.",
                        (staff.0 * 10.0).floor() / 10.0
                    )
                } else {
                    "On larger paper it would fit, or with staves left out that rest.".to_owned()
                },
            )
        }
        Impossible::Pages(nearest) => (
            "no division of the music has as many pages as are wanted".to_owned(),
            nearest.map_or_else(
                || "Ask for another number of pages, smaller staves or larger paper.".to_owned(),
                |nearest| format!("The nearest that can be had is {nearest}."),
            ),
        ),
    }
}
