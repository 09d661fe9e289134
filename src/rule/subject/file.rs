//! `file`: facts of the whole document, which every rule can read beside its own subject.

use super::Line;
use crate::measured::Measured;
use crate::page::Stating;
use crate::place::{Confidence, Known};
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};
use crate::units::Mm;

/// What rules read of a document.
pub(super) struct File {
    stating: Stating,
    missing: Vec<&'static str>,
    pages: usize,
    pages_known: bool,
    systems_known: bool,
    systems: usize,
    bars: usize,
    parts: usize,
    movements: usize,
    staff_height: Known<Mm>,
    lies_open: bool,
    page_saved: bool,
    printed_at: Known<f64>,
    families: Vec<&'static str>,
    staff_line: Known<Mm>,
    marks: usize,
    every_bar_numbered: bool,
    writes_dividers: bool,
    last_line: &'static str,
    tacet: bool,
}

impl File {
    pub fn of(measured: &Measured) -> Self {
        Self {
            stating: measured.stating,
            missing: measured.missing.clone(),
            pages: measured.pages.len(),
            pages_known: measured.pages_known,
            systems_known: measured.systems_known,
            systems: measured.systems().count(),
            bars: measured.bars.len(),
            parts: measured.parts.len(),
            movements: measured.movements.len(),
            staff_height: measured.staff_height,
            page_saved: page_saved(measured),
            printed_at: measured.printed_at,
            families: measured.families.iter().map(|family| family.name()).collect(),
            staff_line: measured.staff_line,
            marks: measured.rehearsal_marks as usize,
            every_bar_numbered: measured.every_bar_numbered,
            last_line: measured.last_line.name(),
            tacet: !measured.pages.is_empty() && measured.pages.iter().all(|page| page.tacet),
            writes_dividers: measured.systems().any(|system| system.divided.value() == Some(true)),
            lies_open: measured.pages.iter().any(|page| page.lies_open),
        }
    }
}

/// Whether the systems of the last page would fit on the pages before it. Pages of several movements are not added up:
/// each movement may want its own.
fn page_saved(measured: &Measured) -> bool {
    let Some((_, before)) = measured.pages.split_last().filter(|(_, before)| !before.is_empty()) else { return false };
    let fit: Option<u32> = before.iter().map(|page| page.systems_that_fit.value()).sum();
    let all = measured.systems().count();
    measured.pages_known && measured.movements.len() == 1 && fit.is_some_and(|fit| fit as usize >= all)
}

/// The table.
pub(super) static FILE: Subject<File> = Subject {
    name: "file",
    what: "The whole document: one file, or one score of a container.",
    columns: &[
        Column::new("layout", Kind::Text, Unit::None, "How much of its layout it states: stated, partly, none.", |file| {
            Value::text(match file.stating {
                Stating::Stated => "stated",
                Stating::Partly => "partly",
                Stating::None => "none",
            })
        }),
        Column::new("missing", Kind::Texts, Unit::None, "What of its layout it leaves out, in words.", |file| {
            Value::texts(file.missing.iter().copied())
        }),
        Column::new("pages", Kind::Number, Unit::Count, "Pages with music; unknown where it is not stated where pages begin.", |file| {
            if file.pages_known { Value::count(file.pages) } else { Value::unknown("it is not stated where pages begin") }
        }),
        Column::new("systems_known", Kind::Truth, Unit::None, "Whether it is stated where systems begin.", |file| {
            Value::Truth(file.systems_known)
        }),
        Column::new("pages_known", Kind::Truth, Unit::None, "Whether it is stated where pages begin.", |file| {
            Value::Truth(file.pages_known)
        }),
        Column::new("systems", Kind::Number, Unit::Count, "Systems.", |file| Value::count(file.systems)),
        Column::new("bars", Kind::Number, Unit::Bars, "Bars.", |file| Value::count(file.bars)),
        Column::new("parts", Kind::Number, Unit::Count, "Parts.", |file| Value::count(file.parts)),
        Column::new("families", Kind::Texts, Unit::None, "Families of its parts' instruments, as far as they are known.", |file| {
            Value::texts(file.families.iter().copied())
        }),
        Column::new("movements", Kind::Number, Unit::Count, "Movements.", |file| Value::count(file.movements)),
        Column::written(
            "staff_height_mm",
            Kind::Number,
            Unit::Mm,
            "Height of the staves, of the size that most have.",
            |file| Value::of(&file.staff_height, Value::mm),
            |file| file.staff_height.place(),
        ),
        Column::new(
            "printed_at",
            Kind::Number,
            Unit::Ratio,
            "Share of its own size at which it is printed: every millimetre is one on paper.",
            |file| Value::of(&file.printed_at, Value::ratio),
        ),
        Column::new("staff_line_mm", Kind::Number, Unit::Mm, "Width of the lines of its staves.", |file| {
            Value::of(&file.staff_line, Value::mm)
        }),
        Column::new("rehearsal_marks", Kind::Number, Unit::Count, "Bars with a rehearsal mark.", |file| Value::count(file.marks)),
        Column::new("every_bar_numbered", Kind::Truth, Unit::None, "Every bar bears its number.", |file| {
            Value::Truth(file.every_bar_numbered)
        }),
        Column::new("last_line", Kind::Text, Unit::None, "How the house wants the last line of a movement: full, short, either.", |file| {
            Value::text(file.last_line)
        }),
        Column::new("tacet", Kind::Truth, Unit::None, "Nothing sounds in it: a tacet leaf.", |file| Value::Truth(file.tacet)),
        Column::new("writes_dividers", Kind::Truth, Unit::None, "Dividers are drawn between systems somewhere in it.", |file| {
            Value::Truth(file.writes_dividers)
        }),
        Column::new(
            "page_saved",
            Kind::Truth,
            Unit::None,
            "With natural gaps the systems of its last page would fit on the pages before.",
            |file| Value::Truth(file.page_saved),
        ),
        Column::new(
            "lies_open",
            Kind::Truth,
            Unit::None,
            "Whether all its pages lie open at once: one page, or two on facing pages.",
            |file| Value::Truth(file.lies_open),
        ),
    ],
};

pub(super) fn line(file: &File) -> Line<'_> {
    Line { facts: Box::new(FILE.of(file)), place: None, on: Where::default(), confidence: Confidence::High }
}
