//! `measure --report csv`: a row for each printed staff of each system.
//!
//! Columns are named as in the JSON. What is not known or does not apply is empty. A text that a spreadsheet would take for
//! a formula gets an apostrophe before it. A document that could not be read has one row, with its `damage`.

use crate::measured::{Between, DocumentMeasure, Page, Spacing, Staff, System};
use crate::page::Side;
use crate::place::Known;
use crate::rule::value::rounded;
use crate::units::Mm;

const HEADER: [&str; 30] = [
    "path",
    "member",
    "page",
    "page_label",
    "side",
    "width_mm",
    "height_mm",
    "depth_used",
    "white_between_mm",
    "systems_that_fit",
    "system",
    "movement",
    "first_bar",
    "last_bar",
    "first_bar_index",
    "last_bar_index",
    "system_left_mm",
    "system_right_mm",
    "system_gap_above_mm",
    "available",
    "natural",
    "percent_of_natural",
    "spacing",
    "part",
    "part_name",
    "staff",
    "top_mm",
    "bottom_mm",
    "gap_above_mm",
    "damage",
];

/// The report as text.
///
/// # Errors
/// None in practice: rows go to memory.
pub fn write(documents: &[DocumentMeasure]) -> Result<String, csv::Error> {
    let mut rows = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
    rows.write_record(HEADER)?;
    for document in documents {
        let measured = match &document.measured {
            Ok(measured) => measured,
            Err(damage) => {
                rows.write_record(damaged(document, &damage.what))?;
                continue;
            }
        };
        for page in &measured.pages {
            for system in &page.systems {
                for staff in &system.staves {
                    rows.write_record(row(document, page, system, staff))?;
                }
            }
        }
    }
    let bytes = rows.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn row(document: &DocumentMeasure, page: &Page, system: &System, staff: &Staff) -> [String; HEADER.len()] {
    let gap = page.gaps_of(system.number).iter().find(|gap| gap.between == Between::Systems);
    [
        text(&document.path),
        document.member.as_deref().map(text).unwrap_or_default(),
        page.ordinal.to_string(),
        text(&page.label),
        if page.side == Side::Recto { "recto" } else { "verso" }.to_owned(),
        mm(&page.width),
        mm(&page.height),
        page.depth_used.value().map(|share| rounded(share, 4).to_string()).unwrap_or_default(),
        mm(&page.white_between),
        page.systems_that_fit.value().map(|fit| fit.to_string()).unwrap_or_default(),
        system.number.to_string(),
        system.movement.to_string(),
        text(&system.bars.numbers[0]),
        text(&system.bars.numbers[1]),
        system.bars.index.0.to_string(),
        system.bars.index.1.to_string(),
        mm(&system.left),
        mm(&system.right),
        gap.map(|gap| mm(&gap.white)).unwrap_or_default(),
        spacing(system, |spacing| rounded(spacing.available.0, 3).to_string()),
        spacing(system, |spacing| rounded(spacing.widths.natural.0, 3).to_string()),
        spacing(system, |spacing| rounded(spacing.of_natural * 100.0, 1).to_string()),
        spacing(system, |spacing| spacing.state.name().to_owned()),
        text(&staff.of.id),
        text(&staff.of.name),
        staff.staff.to_string(),
        mm(&staff.top),
        mm(&staff.bottom()),
        mm(&staff.gap_above),
        String::new(),
    ]
}

/// Something of a system's spacing; empty where it is not known.
fn spacing(system: &System, of: impl Fn(&Spacing) -> String) -> String {
    system.spacing.as_ref().map(of).unwrap_or_default()
}

fn damaged(document: &DocumentMeasure, what: &str) -> [String; HEADER.len()] {
    let mut row: [String; HEADER.len()] = std::array::from_fn(|_| String::new());
    let [path, member, .., damage] = &mut row;
    *path = text(&document.path);
    *member = document.member.as_deref().map(text).unwrap_or_default();
    *damage = text(what);
    row
}

fn mm(length: &Known<Mm>) -> String {
    length.value().map(|length| rounded(length.0, 3).to_string()).unwrap_or_default()
}

/// A text from the file that no spreadsheet runs.
pub(super) fn text(text: &str) -> String {
    let shown = super::plain::plain(text);
    let formula = shown.trim_start().starts_with(['=', '+', '-', '@', '|', '%', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}']);
    if formula { format!("'{shown}") } else { shown.into_owned() }
}
