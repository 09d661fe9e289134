//! `system`: how a system sits between the margins, and how its space is shared out.

use super::{Line, on_bars};
use crate::measured::{Measured, Page, System};
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};
use std::sync::Arc;

/// The table.
pub(super) static SYSTEM: Subject<System> = Subject {
    name: "system",
    what: "A system: one line of music through all its staves.",
    columns: &[
        Column::new("bars", Kind::Number, Unit::Bars, "Bars in it.", |system| {
            Value::count((system.bars.index.1 + 1 - system.bars.index.0) as usize)
        }),
        Column::new("staves", Kind::Number, Unit::Count, "Staves printed in it.", |system| Value::count(system.staves.len())),
        Column::new(
            "overrun_mm",
            Kind::Number,
            Unit::Mm,
            "How far its bars reach beyond its right end; negative where they stop short of it.",
            |system| Value::of(&system.overrun, Value::mm),
        ),
        Column::new(
            "short_mm",
            Kind::Number,
            Unit::Mm,
            "How far its bars stop short of its right end; negative where they reach beyond.",
            |system| Value::of(&system.overrun.map(|overrun| -overrun), Value::mm),
        ),
        Column::new(
            "past_edge_mm",
            Kind::Number,
            Unit::Mm,
            "How far it reaches past the left or right edge of the sheet; negative where it stays within.",
            |system| Value::of(&system.past_edge, Value::mm),
        ),
        Column::new("overrun_tolerance_mm", Kind::Number, Unit::Mm, "Overrun that the rounding of bar widths explains.", |system| {
            Value::of(&system.overrun_tolerance, Value::mm)
        }),
        Column::new("short_tolerance_mm", Kind::Number, Unit::Mm, "Shortfall that the rounding of bar widths explains.", |system| {
            Value::of(&system.short_tolerance, Value::mm)
        }),
        Column::new(
            "space_given",
            Kind::Number,
            Unit::Ratio,
            "Width of its sounding bars against what the durations in them ask for; absent where nothing sounds.",
            |system| Value::of(&system.space_given, Value::ratio),
        ),
        Column::new(
            "looseness",
            Kind::Number,
            Unit::Ratio,
            "That space against the usual one of its movement; absent where the movement has too few systems to tell.",
            |system| Value::of(&system.looseness, Value::ratio),
        ),
        Column::new("moments", Kind::Number, Unit::Count, "Moments at which something sounds.", |system| {
            Value::count(system.moments as usize)
        }),
        Column::new("sounding_share", Kind::Number, Unit::Ratio, "Share of its bars in which something sounds.", |system| {
            Value::ratio(system.sounding_share)
        }),
        Column::new("first_on_page", Kind::Truth, Unit::None, "It is the first of its page.", |system| Value::Truth(system.number == 1)),
        Column::new("numbered", Kind::Truth, Unit::None, "Its first bar, or every bar, bears its number.", |system| {
            Value::of(&system.numbered, Value::Truth)
        }),
        Column::written(
            "dividers",
            Kind::Truth,
            Unit::None,
            "Dividers are drawn between it and the system above; absent where the file says nothing of dividers.",
            |system| Value::of(&system.divided, Value::Truth),
            |system| system.divided.place(),
        ),
        Column::new(
            "reaches_for_turn",
            Kind::Truth,
            Unit::None,
            "It is the last of a right-hand page and reaches for a bar in which everybody rests.",
            |system| Value::Truth(system.reaches_for_turn),
        ),
        Column::new("begins_movement", Kind::Truth, Unit::None, "A movement begins with it.", |system| {
            Value::Truth(system.begins_movement)
        }),
        Column::new("ends_movement", Kind::Truth, Unit::None, "A movement ends with it.", |system| Value::Truth(system.ends_movement)),
    ],
};

/// Where a system is.
pub(super) fn on_system(page: &Page, system: &System) -> Where {
    Where {
        page: Some(page.ordinal),
        page_label: Some(Arc::from(page.label.as_str())),
        system: Some(system.number),
        ..on_bars(&system.bars, system.movement)
    }
}

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    let line = |page: &Page, system| Line {
        facts: Box::new(SYSTEM.of(system)),
        place: system.at,
        on: on_system(page, system),
        confidence: system.confidence,
    };
    measured.pages.iter().flat_map(|page| page.systems.iter().map(move |system| line(page, system))).collect()
}
