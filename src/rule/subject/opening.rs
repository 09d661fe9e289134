//! `opening`: two pages that face each other.

use super::{Line, on_page};
use crate::measured::{Measured, Opening};
use crate::place::Known;
use crate::rule::Value;
use crate::rule::field::{Column, Kind, Subject, Unit};

/// The table.
pub(super) static OPENING: Subject<Opening> = Subject {
    name: "opening",
    what: "An opening: a left-hand and a right-hand page that face each other.",
    columns: &[
        Column::new("left_label", Kind::Text, Unit::None, "Printed number of the left-hand page.", |opening| {
            Value::text(&opening.labels[0])
        }),
        Column::new("right_label", Kind::Text, Unit::None, "Printed number of the right-hand page.", |opening| {
            Value::text(&opening.labels[1])
        }),
        Column::new(
            "left_gap_heights",
            Kind::Number,
            Unit::StaffHeights,
            "Mean white of the gaps on the left-hand page, of those that both pages have; absent where they have none in common.",
            |opening| Value::of(&opening.gap_heights[0], Value::ratio),
        ),
        Column::new("right_gap_heights", Kind::Number, Unit::StaffHeights, "The same of the right-hand page.", |opening| {
            Value::of(&opening.gap_heights[1], Value::ratio)
        }),
        Column::new(
            "unevenness",
            Kind::Number,
            Unit::Ratio,
            "The wider of the two against the narrower, from line to line or from ink to ink, whichever differs less: 1 where both pages are spaced alike, or where what stands in the gaps explains it.",
            unevenness,
        ),
        Column::new("gaps", Kind::Number, Unit::Count, "Gaps that went into it, of the page that has fewer.", |opening| {
            Value::count(opening.gaps)
        }),
        Column::new(
            "white_between_share",
            Kind::Number,
            Unit::Ratio,
            "White let in between staves and systems, as a share of the usable height, of the page that has more of it.",
            |opening| Value::of(&opening.white_between_share, Value::ratio),
        ),
        Column::new("single_staves", Kind::Truth, Unit::None, "All its systems have but one staff.", |opening| {
            Value::Truth(opening.single_staves)
        }),
        Column::new("ends", Kind::Truth, Unit::None, "A movement ends on one of its pages, or the copy.", |opening| {
            Value::Truth(opening.ends)
        }),
        Column::new("tacet", Kind::Truth, Unit::None, "Nothing sounds on one of its pages.", |opening| Value::Truth(opening.tacet)),
        Column::new("cutaway", Kind::Truth, Unit::None, "A hidden staff keeps its room on one of them.", |opening| {
            Value::Truth(opening.cutaway)
        }),
        Column::new(
            "turns_at_rest",
            Kind::Truth,
            Unit::None,
            "Everybody rests at the turn of the right-hand page: it may be spaced for that turn.",
            |opening| Value::Truth(opening.turns_at_rest),
        ),
    ],
};

fn unevenness(opening: &Opening) -> Value {
    let (left, right) = match opening.gap_heights {
        [Known::Unknown(why), _] | [_, Known::Unknown(why)] => return Value::unknown(why),
        [left, right] => match (left.value(), right.value()) {
            (Some(left), Some(right)) if left.min(right) > 0.0 => (left, right),
            _ => return Value::Absent,
        },
    };
    let ratio = if left > right { left / right } else { right / left };
    let clear = match opening.clear_heights.map(|heights| heights.value()) {
        [Some(clear_left), Some(clear_right)] if clear_left.min(clear_right) > 0.0 => {
            let turned = (clear_left > clear_right) != (left > right);
            if turned { 1.0 } else { clear_left.max(clear_right) / clear_left.min(clear_right) }
        }
        // Ink fills the gaps of one page: nothing is left to compare.
        _ => 1.0,
    };
    Value::ratio(ratio.min(clear))
}

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    let line = |opening: &'_ Opening| {
        let left = measured.pages.get(opening.left as usize - 1);
        (left.and_then(|page| page.at), left.map(on_page).unwrap_or_default())
    };
    let lines = measured.openings.iter().map(|opening| {
        let (place, on) = line(opening);
        Line { facts: Box::new(OPENING.of(opening)), place, on, confidence: opening.confidence }
    });
    lines.collect()
}
