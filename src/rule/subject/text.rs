//! `text`: what is sung, and words to the player.

use super::{Line, on_bars};
use crate::measured::{Measured, Text, TextKind};
use crate::place::Confidence;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};

/// The table.
pub(super) static TEXT: Subject<Text> = Subject {
    name: "text",
    what: "The texts of one part that have one size: what is sung, or words to the player.",
    columns: &[
        Column::new("kind", Kind::Text, Unit::None, "What it is: lyrics, words.", |text| {
            Value::text(match text.kind {
                TextKind::Lyrics => "lyrics",
                TextKind::Words => "words",
            })
        }),
        Column::new("points", Kind::Number, Unit::Points, "Its size on paper; absent for words without a stated size.", |text| {
            Value::of(&text.points, Value::measure)
        }),
        Column::new("times", Kind::Number, Unit::Count, "How many syllables or phrases of that size there are.", |text| {
            Value::count(text.count as usize)
        }),
        Column::new("part", Kind::Text, Unit::None, "Name of its part.", |text| Value::text(&text.part_name)),
    ],
};

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    let on = |text: &'_ Text| {
        let page = measured.bars.get(text.bars.index.0 as usize - 1).and_then(|bar| bar.page.clone());
        Where {
            page: page.as_ref().map(|(ordinal, _)| *ordinal),
            page_label: page.map(|(_, label)| label),
            part: Some(text.part_id.clone()),
            part_name: Some(text.part_name.clone()),
            part_index: u32::try_from(text.part + 1).ok(),
            ..on_bars(&text.bars, text.movement)
        }
    };
    let lines = measured.texts.iter().map(|text| Line {
        facts: Box::new(TEXT.of(text)),
        place: Some(text.at),
        on: on(text),
        confidence: Confidence::High,
    });
    lines.collect()
}
