//! `bar`: one bar of the score, through all its parts.

use super::{Line, on_bars};
use crate::measured::{Bar, Measured};
use crate::place::Confidence;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};

/// The table.
pub(super) static BAR: Subject<Bar> = Subject {
    name: "bar",
    what: "A bar of the score, through all its parts.",
    columns: &[
        Column::new(
            "break_differs",
            Kind::Truth,
            Unit::None,
            "One part begins a system or page here, another that states breaks does not.",
            |bar| Value::Truth(bar.break_differs.is_some()),
        ),
        Column::new("with_break", Kind::Text, Unit::None, "Name of the part that has the break; absent where parts agree.", |bar| {
            bar.break_differs.as_ref().map_or(Value::Absent, |[with, _]| Value::text(with))
        }),
        Column::new(
            "without_break",
            Kind::Text,
            Unit::None,
            "Name of the part that has another break or none; absent where parts agree.",
            |bar| bar.break_differs.as_ref().map_or(Value::Absent, |[_, without]| Value::text(without)),
        ),
        Column::new(
            "rests_in_a_row",
            Kind::Number,
            Unit::Bars,
            "Bars of rest in a row that begin here and could be one multi-bar rest; absent where none begins.",
            |bar| if bar.rests_in_a_row == 0 { Value::Absent } else { Value::count(bar.rests_in_a_row as usize) },
        ),
        Column::new(
            "gathered",
            Kind::Number,
            Unit::Bars,
            "Bars that the multi-bar rest that begins here stands for; absent where none begins.",
            |bar| if bar.gathered == 0 { Value::Absent } else { Value::count(bar.gathered as usize) },
        ),
        Column::new(
            "across",
            Kind::Text,
            Unit::None,
            "What stands inside that multi-bar rest and should part it, with its article; absent where nothing does.",
            |bar| bar.across.as_ref().map_or(Value::Absent, |across| Value::text(across.what)),
        ),
        Column::new("across_bar", Kind::Text, Unit::None, "Number of the bar where that stands.", |bar| {
            bar.across.as_ref().map_or(Value::Absent, |across| Value::text(&across.bar))
        }),
    ],
};

fn line(bar: &Bar) -> Line<'_> {
    let Bar { bars, movement, page, system, at, .. } = bar;
    let on = Where {
        page: page.as_ref().map(|(ordinal, _)| *ordinal),
        page_label: page.as_ref().map(|(_, label)| label.clone()),
        system: *system,
        ..on_bars(bars, *movement)
    };
    Line { facts: Box::new(BAR.of(bar)), place: *at, on, confidence: Confidence::High }
}

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    measured.bars.iter().map(line).collect()
}
