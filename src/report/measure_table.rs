//! `measure --report terminal`: the measured layout as a table for people.

use super::plain::{padded, plain};
use super::terminal::{Look, Paint, plural, short, wrapped};
use crate::measured::{Between, DocumentMeasure, Gap, Measured, Page, System};
use crate::page::{Side, Stating};
use crate::place::Known;
use crate::units::Mm;
use std::collections::BTreeSet;
use std::fmt::{self, Write};
use unicode_width::UnicodeWidthStr;

/// What is not known, in a cell.
const NOT_KNOWN: &str = "?";
/// What the columns mean.
const LEGEND: &str = "Millimetres from the top left corner of the sheet. White above: to the system or staff above, in brackets \
     in heights of that staff. Of natural: the room of the system's bars against what their notes naturally take.";
/// What does not apply, in a cell.
const ABSENT: &str = "-";

/// Writes the table.
///
/// # Errors
/// Those of `out`.
pub fn write(documents: &[DocumentMeasure], look: Look, out: &mut dyn Write) -> fmt::Result {
    for (index, document) in documents.iter().enumerate() {
        if index > 0 {
            writeln!(out)?;
        }
        let member = document.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
        writeln!(out, "{}", look.paint(Paint::Name, &plain(&format!("{}{member}", document.path))))?;
        match &document.measured {
            Err(damage) => wrapped(&plain(&format!("cannot be read: {}. {}", damage.what, damage.help)), "  ", "  ", look.width, out)?,
            Ok(measured) => self::measured(measured, look, out)?,
        }
    }
    Ok(())
}

fn measured(measured: &Measured, look: Look, out: &mut dyn Write) -> fmt::Result {
    let stated = match measured.stating {
        Stating::Stated => "layout stated".to_owned(),
        Stating::Partly => format!("layout partly stated, without {}", measured.missing.join(", ")),
        Stating::None => "no layout stated".to_owned(),
    };
    let height = measured.staff_height.value().map(|height| format!(", staves of {} mm", short(height.0))).unwrap_or_default();
    let line = format!(
        "{}, {}, {}{height}; {stated}",
        plural(measured.pages.len(), "page"),
        plural(measured.systems().count(), "system"),
        plural(measured.bars.len(), "bar")
    );
    wrapped(&line, "  ", "  ", look.width, out)?;
    for page in &measured.pages {
        writeln!(out)?;
        self::page(page, look, out)?;
    }
    if measured.pages.is_empty() {
        return Ok(());
    }
    writeln!(out)?;
    wrapped(LEGEND, "  ", "  ", look.width, out)
}

fn page(page: &Page, look: Look, out: &mut dyn Write) -> fmt::Result {
    let side = if page.side == Side::Recto { "recto" } else { "verso" };
    let [left, right, top, bottom] = &page.margins;
    let percent = |share: &Known<f64>| {
        share.value().map_or_else(|| NOT_KNOWN.to_owned(), |share| format!("{} %", short((share * 1000.0).round() / 10.0)))
    };
    let (share, of_sheet) = (percent(&page.depth_used), percent(&page.sheet_used));
    let fit = page.systems_that_fit.value().map_or_else(|| NOT_KNOWN.to_owned(), |fit| fit.to_string());
    let head = format!("p. {}, {side}, {} x {} mm", page.label, cell(&page.width), cell(&page.height));
    writeln!(out, "  {}", look.paint(Paint::Name, &plain(&head)))?;
    let margins = format!("margins left {}, right {}, top {}, bottom {}", cell(left), cell(right), cell(top), cell(bottom));
    let edges = format!("head to {}, foot line from {}", cell(&page.head), cell(&page.foot));
    wrapped(&format!("{margins}; {edges}"), "  ", "  ", look.width, out)?;
    let filled = format!(
        "{share} of {} mm used, {of_sheet} of the sheet; white between {} mm, at the foot {} mm; holds {}, {fit} would fit",
        cell(&page.usable),
        cell(&page.white_between),
        cell(&page.white_at_foot),
        plural(page.systems.len(), "system")
    );
    wrapped(&filled, "  ", "  ", look.width, out)?;
    let mut rows = vec![["system", "bars", "top", "bottom", "left", "right", "white above", "of natural"].map(str::to_owned).to_vec()];
    for system in &page.systems {
        rows.push(system_row(page, system));
        if system.staves.len() > 1 {
            rows.extend(staff_rows(page, system));
        }
    }
    table(&rows, out)?;
    for reason in reasons(page) {
        wrapped(reason, "  ? ", "    ", look.width, out)?;
    }
    Ok(())
}

fn system_row(page: &Page, system: &System) -> Vec<String> {
    let above = page.gaps_of(system.number).iter().find(|gap| gap.between == Between::Systems);
    let [first, last] = &system.bars.numbers;
    vec![
        system.number.to_string(),
        if first == last { plain(first).into_owned() } else { plain(&format!("{first}-{last}")).into_owned() },
        cell(&system.top),
        cell(&system.bottom),
        cell(&system.left),
        cell(&system.right),
        gap_cell(above),
        match &system.spacing {
            Err(_) => NOT_KNOWN.to_owned(),
            Ok(spacing) => format!("{:.0} % {}", spacing.of_natural * 100.0, spacing.state.name()),
        },
    ]
}

fn staff_rows(page: &Page, system: &System) -> Vec<Vec<String>> {
    let row = |staff: &crate::measured::Staff| {
        let pair = (staff.of.index, staff.staff);
        let gap = page.gaps_of(system.number).iter().find(|gap| gap.between == Between::Staves && gap.pair()[1] == pair);
        let number = if staff.staff > 1 { format!(", staff {}", staff.staff) } else { String::new() };
        vec![
            String::new(),
            plain(&format!("{}{number}", staff.of.name)).into_owned(),
            cell(&staff.top),
            cell(&staff.bottom()),
            String::new(),
            String::new(),
            gap_cell(gap),
            String::new(),
        ]
    };
    system.staves.iter().map(row).collect()
}

fn cell(length: &Known<Mm>) -> String {
    match length {
        Known::Absent => ABSENT.to_owned(),
        Known::Unknown(_) => NOT_KNOWN.to_owned(),
        known => known.value().map(|length| format!("{:.1}", length.0 + 0.0)).unwrap_or_default(),
    }
}

fn gap_cell(gap: Option<&Gap>) -> String {
    let Some(gap) = gap else { return ABSENT.to_owned() };
    match (gap.white.value(), gap.white_heights().value()) {
        (Some(white), Some(heights)) => format!("{:.1} ({heights:.1})", white.0),
        _ => NOT_KNOWN.to_owned(),
    }
}

/// Columns as wide as their widest cell; numbers to the right, names to the left.
fn table(rows: &[Vec<String>], out: &mut dyn Write) -> fmt::Result {
    const NAMES: usize = 1;
    let columns = rows.first().map_or(0, Vec::len);
    let widest = |column: usize| rows.iter().filter_map(|row| row.get(column)).map(|cell| cell.width()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(widest).collect();
    for row in rows {
        let mut line = String::from("  ");
        for (column, (cell, width)) in row.iter().zip(&widths).enumerate() {
            if column == NAMES {
                line.push_str(&padded(cell, *width));
            } else {
                line.push_str(&" ".repeat(width.saturating_sub(cell.width())));
                line.push_str(cell);
            }
            line.push_str("  ");
        }
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

/// Why cells of a page are not known, each reason once.
fn reasons(page: &Page) -> BTreeSet<&'static str> {
    let lengths = [&page.width, &page.height, &page.usable, &page.white_between, &page.white_at_foot];
    let of_systems = page.systems.iter().flat_map(|one| [&one.top, &one.bottom, &one.left, &one.right]);
    let of_gaps = page.gaps.iter().map(|gap| &gap.white);
    lengths
        .into_iter()
        .chain(of_systems)
        .chain(of_gaps)
        .filter_map(|known| if let Known::Unknown(why) = known { Some(*why) } else { None })
        .collect()
}
