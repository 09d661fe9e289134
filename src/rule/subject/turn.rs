//! `turn`: a page that must be turned, forward or back.

use super::Line;
use crate::measured::{Measured, Turn};
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Covers, Value, Where};
use std::sync::Arc;

/// The table.
pub(super) static TURN: Subject<Turn> = Subject {
    name: "turn",
    what: "A turn: the end of a page after which the next is not in view, or a repeat or jump back over one.",
    columns: &[
        Column::new("jump", Kind::Text, Unit::None, "What sends the player back over it: none, repeat, da capo, dal segno.", |turn| {
            Value::text(turn.jump.map_or("none", crate::turn::JumpKind::name))
        }),
        Column::new("leaves", Kind::Number, Unit::Count, "Leaves turned at once.", |turn| Value::count(turn.leaves as usize)),
        Column::new("from_label", Kind::Text, Unit::None, "Printed number of the page it leads from.", |turn| Value::text(&turn.labels[0])),
        Column::new("to_label", Kind::Text, Unit::None, "Printed number of the page it leads to.", |turn| Value::text(&turn.labels[1])),
        Column::new(
            "seconds",
            Kind::Number,
            Unit::Seconds,
            "Time to turn: silence before and after, less what other work of the hands takes; absent where a movement ends there, so that there is no limit.",
            |turn| Value::of(&turn.seconds, |seconds| if seconds.is_finite() { Value::measure(seconds) } else { Value::Absent }),
        ),
        Column::new("before_s", Kind::Number, Unit::Seconds, "Silence before the turn.", |turn| Value::measure(turn.parts[0])),
        Column::new("after_s", Kind::Number, Unit::Seconds, "Silence after it.", |turn| Value::measure(turn.parts[1])),
        Column::new("work_s", Kind::Number, Unit::Seconds, "What a mute, other sticks or another instrument takes of it.", |turn| {
            Value::measure(turn.parts[2])
        }),
        Column::new("one_hand", Kind::Truth, Unit::None, "One hand plays on for part of the time, which counts half.", |turn| {
            Value::Truth(turn.one_hand)
        }),
        Column::new("divided", Kind::Truth, Unit::None, "The players of a desk have different notes there (div.).", |turn| {
            Value::Truth(turn.divided)
        }),
        Column::new("warned", Kind::Truth, Unit::None, "The player is warned to turn at once (V.S.).", |turn| Value::Truth(turn.warned)),
        Column::new(
            "better",
            Kind::Text,
            Unit::None,
            "The nearest easy turn within two systems, in words; absent where there is none.",
            |turn| turn.better.as_ref().map_or(Value::Absent, |better| Value::text(&better_in_words(better))),
        ),
    ],
};

fn better_in_words(better: &crate::measured::Better) -> String {
    let time = if better.seconds.is_finite() { format!("{:.1} s", better.seconds) } else { "no limit, the movement ends".to_owned() };
    match &better.rests {
        Some([first, last]) if first == last => format!("{}, after bar {}: bar {first} rests, {time}", better.place, better.after),
        Some([first, last]) => format!("{}, after bar {}: bars {first}-{last} rest, {time}", better.place, better.after),
        None => format!("{}, after bar {}: {time}", better.place, better.after),
    }
}

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    let line = |turn: &Turn| {
        // A turn back stands where the music goes back; a turn forward between two bars.
        let index = if turn.jump.is_some() { (turn.bars.index.0, turn.bars.index.0) } else { turn.bars.index };
        let last = usize::from(turn.jump.is_none());
        let numbers = [turn.bars.numbers[0].clone(), turn.bars.numbers[last].clone()];
        Where {
            page: Some(turn.page),
            page_label: Some(Arc::from(turn.labels[0].as_str())),
            system: Some(turn.system),
            movement: Some(turn.movement),
            bar_index: Some(index),
            bars: Some(numbers.clone()),
            covers: Some(Covers { index, numbers }),
            ..Where::default()
        }
    };
    let lines = measured.turns.iter().map(|turn| Line {
        facts: Box::new(TURN.of(turn)),
        place: turn.at,
        on: line(turn),
        confidence: turn.confidence,
    });
    lines.collect()
}
