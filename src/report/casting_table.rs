//! `castoff --report terminal`: the casting-off sheet for people, and for the printer.

use super::casting::DocumentCasting;
use super::plain::{padded, plain};
use super::terminal::{Look, Paint, plural, short, wrapped};
use crate::page::Side;
use crate::repair::{CastingSheet, Figures, SheetPage, SheetSystem, SheetTurn, TurnKind};
use crate::turn::Told;
use std::fmt::{self, Write};

/// What the rows mean.
const LEGEND: &str = "Each row a page: its side, where its first top line stands, and the last bar of each system; an asterisk where a system \
     ends now as it did before. Of natural: the room of the bars against what their notes naturally take, tightest and widest line. \
     What is wrong is weighed in one currency over lines, pages and turns; less is better. This is advice; the house and the librarian decide.";

/// Writes the sheets.
///
/// # Errors
/// Those of `out`.
pub fn write(documents: &[DocumentCasting], look: Look, out: &mut dyn Write) -> fmt::Result {
    for (index, document) in documents.iter().enumerate() {
        if index > 0 {
            writeln!(out)?;
        }
        let member = document.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
        writeln!(out, "{}", look.paint(Paint::Name, &plain(&format!("{}{member}", document.path))))?;
        match &document.sheet {
            Ok(sheet) => self::sheet(sheet, document.reader.as_deref(), look, out)?,
            Err((what, help)) => wrapped(&plain(&format!("cannot be cast off: {what}. {help}")), "  ", "  ", look.width, out)?,
        }
    }
    let sheets: Vec<&CastingSheet> = documents.iter().filter_map(|document| document.sheet.as_ref().ok()).collect();
    if sheets.len() > 1 {
        writeln!(out)?;
        wrapped(&in_all(documents, &sheets), "", "", look.width, out)?;
    }
    if !sheets.is_empty() {
        writeln!(out)?;
        wrapped(LEGEND, "", "", look.width, out)?;
    }
    Ok(())
}

/// Pages, leaves and paper of a whole set.
fn in_all(documents: &[DocumentCasting], sheets: &[&CastingSheet]) -> String {
    let (pages, leaves) = (sheets.iter().map(|sheet| sheet.then.pages).sum(), sheets.iter().map(|sheet| sheet.then.leaves).sum());
    let desks = |document: &DocumentCasting| document.desks as usize;
    let (paper, printed) = (documents.iter().map(|one| one.sheets * desks(one)).sum(), documents.iter().map(desks).sum::<usize>());
    let copies = plural(sheets.len(), "copy").replace("copys", "copies");
    let printed = if printed > documents.len() { format!(" for the {printed} that are printed") } else { String::new() };
    format!("{copies} in all: {}, {}; {} of paper{printed}", plural(pages, "page"), leaves_of(leaves), plural(paper, "sheet"))
}

fn leaves_of(leaves: usize) -> String {
    if leaves == 1 { "1 leaf".to_owned() } else { format!("{leaves} leaves") }
}

fn sheet(sheet: &CastingSheet, reader: Option<&str>, look: Look, out: &mut dyn Write) -> fmt::Result {
    let plan = &sheet.plan;
    let [left, right, top, bottom] = plan.page.margins.map(|margin| short(margin.0));
    let line = format!(
        "{} x {} mm, staves of {} mm, margins left {left}, right {right}, top {top}, bottom {bottom}{}",
        short(plan.page.width.0),
        short(plan.page.height.0),
        short(plan.staff.0),
        reader.map(|reader| format!("; read as {reader}")).unwrap_or_default()
    );
    wrapped(&plain(&line), "  ", "  ", look.width, out)?;
    for assumed in &sheet.assumed {
        wrapped(&plain(assumed), "  - ", "    ", look.width, out)?;
    }
    writeln!(out)?;
    for page in &sheet.pages {
        self::page(page, look, out)?;
    }
    if sheet.blank_after > 0 {
        writeln!(out, "  {} blank at the end", plural(sheet.blank_after, "page"))?;
    }
    for system in sheet.pages.iter().flat_map(|page| &page.systems) {
        if let Some(over) = system.overfull {
            let what = format!("bar {} needs {} mm more than any line has: larger paper or smaller staves", system.bars[0], short(over.0));
            wrapped(&plain(&what), "  ! ", "    ", look.width, out)?;
        }
    }
    writeln!(out)?;
    if let Some(now) = &sheet.now {
        wrapped(&figures(now, sheet.turns_matter), "  now:  ", "        ", look.width, out)?;
    }
    wrapped(&figures(&sheet.then, sheet.turns_matter), "  then: ", "        ", look.width, out)
}

/// What faults weigh, for people: beyond a million it does not matter how much.
fn weight(faults: f64) -> String {
    const MOST: f64 = 1e6;
    if faults > MOST { "over a million".to_owned() } else { format!("{faults:.0}") }
}

fn figures(figures: &Figures, turns_matter: bool) -> String {
    let [easy, enough, quick, none] = figures.turns;
    let faults = &figures.faults;
    let back = if figures.turns_back > 0 { format!(", {} back over a turn", figures.turns_back) } else { String::new() };
    let turns = if turns_matter {
        format!("; turns: {easy} easy, {enough} with time enough, {quick} quick, {none} with no time{back}")
    } else {
        String::new()
    };
    format!(
        "{}, {}, {}{turns}; faults {} (lines {}, pages {}, turns {})",
        plural(figures.pages, "page"),
        leaves_of(figures.leaves),
        plural(figures.systems, "system"),
        weight(faults.total()),
        weight(faults.across),
        weight(faults.down + faults.pages),
        weight(faults.turns)
    )
}

fn page(page: &SheetPage, look: Look, out: &mut dyn Write) -> fmt::Result {
    /// Columns of the number and side, and of the first top line.
    const COLUMNS: (usize, usize) = (12, 14);
    if page.blank_before {
        writeln!(out, "  {}blank", padded(&format!("{} {}", page.number - 1, side(other(page.side))), COLUMNS.0))?;
    }
    let systems: Vec<String> = page.systems.iter().map(system).collect();
    let head = format!(
        "  {}{}",
        padded(&format!("{} {}", page.number, side(page.side)), COLUMNS.0),
        padded(&format!("top {} mm", short(page.first_top.0)), COLUMNS.1)
    );
    let of_natural = page.systems.iter().map(|system| (system.of_natural * 100.0).round());
    let (least, most) = (of_natural.clone().fold(f64::INFINITY, f64::min), of_natural.fold(0.0, f64::max));
    let spread = if (least - most).abs() < 0.5 { format!("{least:.0} %") } else { format!("{least:.0}-{most:.0} %") };
    let mut line = format!("{}: to bar {}; {spread} of natural", plural(page.systems.len(), "system"), systems.join(" | "));
    if let Some(short_by) = page.short.filter(|white| white.0 >= 1.0) {
        let _ = write!(line, "; natural gaps, {} mm white at the foot", short(short_by.0));
    }
    if let Some(turn) = &page.turn {
        let _ = write!(line, "; {}", self::turn(turn));
    }
    let indent = " ".repeat(2 + COLUMNS.0 + COLUMNS.1);
    wrapped(&plain(&line), &head, &indent, look.width, out)
}

fn side(side: Side) -> &'static str {
    if side == Side::Recto { "recto" } else { "verso" }
}

fn other(side: Side) -> Side {
    if side == Side::Recto { Side::Verso } else { Side::Recto }
}

fn system(system: &SheetSystem) -> String {
    let kept = if system.moved == Some(false) { "*" } else { "" };
    format!("{}{kept}", system.bars[1])
}

fn turn(turn: &SheetTurn) -> String {
    let how = if turn.told == Told::Numbers { "" } else { " or so" };
    if turn.seconds.is_infinite() {
        return "turn: no limit".to_owned();
    }
    let seconds = format!("{:.1} s{how}", turn.seconds);
    let kind = match turn.kind {
        TurnKind::Easy => "easy turn",
        TurnKind::Enough => "turn",
        TurnKind::Quick => "quick turn",
        TurnKind::NoTime => "no time to turn",
    };
    format!("{kind}, {seconds}{}", if turn.warn { " (print V.S.)" } else { "" })
}
