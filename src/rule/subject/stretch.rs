//! `stretch`: a long rest, or music without a rehearsal mark.

use super::{Line, on_bars};
use crate::measured::{Measured, Stretch, StretchKind};
use crate::place::Confidence;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};

/// The table.
pub(super) static STRETCH: Subject<Stretch> = Subject {
    name: "stretch",
    what: "A run of bars: a rest of everybody in the copy, or the music from one rehearsal mark to the next.",
    columns: &[
        Column::new("kind", Kind::Text, Unit::None, "What it is: rest, unmarked.", |stretch| {
            Value::text(match stretch.kind {
                StretchKind::Rest => "rest",
                StretchKind::Unmarked => "unmarked",
            })
        }),
        Column::new(
            "bars",
            Kind::Number,
            Unit::Bars,
            "Bars in it that are counted: no pick-up, no second half of a split bar.",
            |stretch| Value::count(stretch.counted as usize),
        ),
        Column::new(
            "seconds",
            Kind::Number,
            Unit::Seconds,
            "How long a rest lasts at the tempi stated; absent for what is no rest and for short ones.",
            |stretch| Value::of(&stretch.seconds, Value::measure),
        ),
        Column::new("cued", Kind::Truth, Unit::None, "A cue, a mark or words stand in the last eight bars of the rest.", |stretch| {
            Value::Truth(stretch.cued)
        }),
        Column::new("entry_follows", Kind::Truth, Unit::None, "Somebody plays after the rest, in the same movement.", |stretch| {
            Value::Truth(stretch.entry_follows)
        }),
    ],
};

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    let line = |stretch: &'_ Stretch| {
        let bar = measured.bars.get(stretch.bars.index.0 as usize - 1);
        let page = bar.and_then(|bar| bar.page.clone());
        Where {
            page: page.as_ref().map(|(ordinal, _)| *ordinal),
            page_label: page.map(|(_, label)| label),
            system: bar.and_then(|bar| bar.system),
            ..on_bars(&stretch.bars, stretch.movement)
        }
    };
    let lines = measured.stretches.iter().map(|stretch| Line {
        facts: Box::new(STRETCH.of(stretch)),
        place: stretch.at,
        on: line(stretch),
        confidence: Confidence::High,
    });
    lines.collect()
}
