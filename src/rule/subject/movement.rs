//! `movement`: how the lines of a movement are spaced on the whole.

use super::{Line, on_bars};
use crate::measured::{Bars, Measured, Usual};
use crate::place::Confidence;
use crate::rule::Value;
use crate::rule::field::{Column, Kind, Subject, Unit};

/// The table.
pub(super) static MOVEMENT: Subject<Usual> = Subject {
    name: "movement",
    what: "A movement: how its systems are spaced on the whole. Judged where at least three systems before its last tell.",
    columns: &[
        Column::new("number", Kind::Number, Unit::Count, "Which movement of the file, from 1.", |usual| {
            Value::count(usual.movement as usize)
        }),
        Column::new("systems", Kind::Number, Unit::Count, "Systems that tell, its last not among them.", |usual| {
            Value::count(usual.systems as usize)
        }),
        Column::new(
            "pull",
            Kind::Number,
            Unit::Ratio,
            "How far apart its notes stand in most systems: 1 is natural, 2 twice as far.",
            |usual| Value::ratio(usual.force),
        ),
        Column::new("of_natural", Kind::Number, Unit::Ratio, "Room of most of its systems against the natural one.", |usual| {
            Value::ratio(usual.of_natural)
        }),
    ],
};

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    measured.usual_spacing.iter().map(|usual| line(measured, usual)).collect()
}

fn line<'a>(measured: &'a Measured, usual: &'a Usual) -> Line<'a> {
    let number = |bar: u32| {
        let bar = (bar as usize).checked_sub(1).and_then(|bar| measured.bars.get(bar));
        bar.map(|bar| bar.bars.numbers[0].clone()).unwrap_or_default()
    };
    let (first, last) = measured.movements.get((usual.movement as usize).saturating_sub(1)).copied().unwrap_or_default();
    let bars = Bars { index: (first, last), numbers: [number(first), number(last)] };
    let begins = measured.systems().find(|system| system.bars.index.0 >= first);
    Line {
        facts: Box::new(MOVEMENT.of(usual)),
        place: begins.and_then(|system| system.at),
        on: on_bars(&bars, usual.movement),
        confidence: Confidence::High,
    }
}
