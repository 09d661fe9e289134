//! `paper`: a size of sheet that pages of the document are on.

use super::Line;
use crate::house::{Paper, Said};
use crate::measured::{Measured, PaperUse};
use crate::place::Confidence;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};

/// A list of roles that somebody names for a format.
fn roles(paper: &PaperUse, pick: fn(&Paper) -> &Vec<Said>) -> Value {
    match (&paper.format, paper.not_known) {
        (_, Some(why)) => Value::unknown(why),
        (Some(format), None) if !pick(format).is_empty() => {
            Value::texts(pick(format).iter().flat_map(|said| said.roles.iter().map(String::as_str)))
        }
        _ => Value::Absent,
    }
}

/// The table.
pub(super) static PAPER: Subject<PaperUse> = Subject {
    name: "paper",
    what: "A size of sheet that pages of the document are on.",
    columns: &[
        Column::written(
            "width_mm",
            Kind::Number,
            Unit::Mm,
            "Width of the sheet.",
            |paper| Value::of(&paper.width, Value::mm),
            |paper| paper.width.place(),
        ),
        Column::written(
            "height_mm",
            Kind::Number,
            Unit::Mm,
            "Height of the sheet.",
            |paper| Value::of(&paper.height, Value::mm),
            |paper| paper.height.place(),
        ),
        Column::new("name", Kind::Text, Unit::None, "Name of the format, upright or landscape; absent where it has none.", |paper| {
            match paper.not_known {
                Some(why) => Value::unknown(why),
                None => paper.name.as_deref().map_or(Value::Absent, Value::text),
            }
        }),
        Column::new(
            "format",
            Kind::Text,
            Unit::None,
            "Name of the format, whichever way it lies; absent where it has none.",
            |paper| match (&paper.format, paper.not_known) {
                (_, Some(why)) => Value::unknown(why),
                (Some(format), None) => Value::text(&format.name),
                (None, None) => Value::Absent,
            },
        ),
        Column::new("wanted", Kind::Texts, Unit::None, "Formats that the house prints on; absent where it does not say.", |paper| {
            if paper.wanted.is_empty() { Value::Absent } else { Value::texts(paper.wanted.iter().map(String::as_str)) }
        }),
        Column::new("suits", Kind::Texts, Unit::None, "Roles that the format suits; absent where nobody says.", |paper| {
            roles(paper, |format| &format.suits)
        }),
        Column::new("refused_by", Kind::Texts, Unit::None, "Roles for which somebody refuses it; absent where nobody does.", |paper| {
            roles(paper, |format| &format.refused)
        }),
        Column::new("refused_says", Kind::Text, Unit::None, "What is said against it; absent where nobody refuses it.", |paper| {
            let refused = paper.format.iter().flat_map(|format| &format.refused);
            let mut titles: Vec<&str> = refused.map(|said| said.source.says.as_str()).collect();
            titles.dedup();
            if titles.is_empty() { Value::Absent } else { Value::text(&titles.join("; ")) }
        }),
        Column::new("pages", Kind::Number, Unit::Count, "Pages on it.", |paper| Value::count(paper.pages.len())),
    ],
};

pub(super) fn line<'a>(paper: &'a PaperUse, measured: &'a Measured) -> Line<'a> {
    let first = paper.pages.first().and_then(|ordinal| measured.pages.get(*ordinal as usize - 1));
    // One paper throughout is a fact of the file, not of its first page.
    let on = if measured.papers.len() == 1 { Where::default() } else { first.map(super::on_page).unwrap_or_default() };
    Line { facts: Box::new(PAPER.of(paper)), place: paper.width.place(), on, confidence: Confidence::High }
}
