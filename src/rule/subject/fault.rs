//! `fault`: something wrong in the file itself.

use super::Line;
use crate::place::Confidence;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};
use crate::score::Flaw;

/// The table.
pub(super) static FAULT: Subject<Flaw> = Subject {
    name: "fault",
    what: "Something wrong in the file itself: text that cannot be read, a number that is none, a part that no list names.",
    columns: &[
        Column::new("what", Kind::Text, Unit::None, "What is wrong.", |flaw| Value::text(&flaw.what)),
        Column::new("help", Kind::Text, Unit::None, "What to do about it.", |flaw| {
            Value::text(&format!("{}.", flaw.help.trim_end_matches('.')))
        }),
        Column::new("times", Kind::Number, Unit::Count, "How often it occurs; it is told at the first.", |flaw| Value::from(flaw.times)),
        Column::new("grave", Kind::Truth, Unit::None, "Whether the file or its layout cannot be trusted because of it.", |flaw| {
            Value::Truth(flaw.grave)
        }),
    ],
};

pub(super) fn line(flaw: &Flaw) -> Line<'_> {
    Line { facts: Box::new(FAULT.of(flaw)), place: Some(flaw.at), on: Where::default(), confidence: Confidence::High }
}
