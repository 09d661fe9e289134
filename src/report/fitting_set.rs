//! `fit` over the parts of a set: one paper for all of them, each with the staves and margins that are best for its reader on it.

use super::fitting::DocumentFit;
use super::plain::{padded, plain};
use super::terminal::{Look, Paint, plural, wrapped};
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt::{self, Write};
use unicode_width::UnicodeWidthStr;

/// One paper for all parts.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct SetPaper {
    /// Its name.
    paper: String,
    /// Parts for which something on it serves and fits.
    parts_that_fit: usize,
    /// Pages of those, printed as often as they are.
    pages: usize,
    /// Leaves of those, printed as often as they are.
    leaves: usize,
    /// Their turns that are quick or leave no time, each part once.
    bad_turns: usize,
}

/// The parts of a run.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct SetFit {
    /// How many parts.
    parts: usize,
    /// The papers that were tried for every one of them, the best first.
    papers: Vec<SetPaper>,
}

/// The parts of some documents on each paper that was tried for all of them; `None` for fewer than two parts.
pub(super) fn of(documents: &[DocumentFit]) -> Option<SetFit> {
    let parts: Vec<&DocumentFit> = documents.iter().filter(|document| document.is_part && document.fit.is_ok()).collect();
    if parts.len() < 2 {
        return None;
    }
    let tried =
        |document: &DocumentFit| document.fit.iter().flat_map(|fit| &fit.on_paper).map(|(paper, _)| paper.clone()).collect::<Vec<_>>();
    let for_all = |paper: &String| parts.iter().all(|part| tried(part).contains(paper));
    let mut papers: Vec<SetPaper> = tried(parts[0]).into_iter().filter(for_all).map(|paper| on(&parts, paper)).collect();
    papers.sort_by_key(|paper| (std::cmp::Reverse(paper.parts_that_fit), paper.bad_turns, paper.leaves));
    Some(SetFit { parts: parts.len(), papers })
}

fn on(parts: &[&DocumentFit], paper: String) -> SetPaper {
    let mut all = SetPaper { paper, parts_that_fit: 0, pages: 0, leaves: 0, bad_turns: 0 };
    for part in parts {
        let Ok(fit) = &part.fit else { continue };
        let best = fit.on_paper.iter().find(|(name, _)| *name == all.paper).and_then(|(_, best)| *best);
        let Some(choice) = best.map(|index| &fit.choices[index]) else { continue };
        let Ok(fitted) = &choice.fitted else { continue };
        let printed = part.desks as usize;
        all.parts_that_fit += 1;
        all.pages += fitted.figures.pages * printed;
        all.leaves += fitted.figures.leaves * printed;
        all.bad_turns += if fit.turns_matter { choice.bad_turns().unwrap_or(0) } else { 0 };
    }
    all
}

/// The cells of a row as wide as those of all rows.
fn cells(row: &[String; 5], rows: &[[String; 5]]) -> String {
    let width = |column: usize| rows.iter().map(|row| row[column].width()).max().unwrap_or(0) + 2;
    row.iter().enumerate().map(|(column, cell)| padded(cell, width(column))).collect::<String>().trim_end().to_owned()
}

/// Writes the table.
///
/// # Errors
/// Those of `out`.
pub(super) fn write(set: &SetFit, look: Look, out: &mut dyn Write) -> fmt::Result {
    writeln!(out)?;
    writeln!(out, "{}", look.paint(Paint::Name, "one paper for all parts"))?;
    let Some(best) = set.papers.first() else {
        let what =
            format!("no paper was tried for each of the {}: name those that come into question with --paper", plural(set.parts, "part"));
        return wrapped(&format!("{what}."), "  ", "  ", look.width, out);
    };
    writeln!(out)?;
    let heads = ["paper", "parts that fit", "pages", "leaves", "bad turns"].map(str::to_owned);
    let row = |paper: &SetPaper| {
        let fit = format!("{} of {}", paper.parts_that_fit, set.parts);
        [paper.paper.clone(), fit, paper.pages.to_string(), paper.leaves.to_string(), paper.bad_turns.to_string()]
    };
    let rows: Vec<[String; 5]> = std::iter::once(heads).chain(set.papers.iter().map(row)).collect();
    for (index, row) in rows.iter().enumerate() {
        let text = format!("{}{}", if index == 1 { "   > " } else { "     " }, cells(row, &rows));
        writeln!(out, "{}", if index == 1 { look.paint(Paint::Name, &plain(&text)) } else { plain(&text).into_owned() })?;
    }
    writeln!(out)?;
    let what = if best.parts_that_fit == set.parts {
        format!(
            "best for all: {}, each part with the staves and margins that are best on it for its reader. Pages and leaves are those of all copies that are printed",
            best.paper
        )
    } else {
        format!("no paper will do for all: {} does for {} of {}", best.paper, best.parts_that_fit, set.parts)
    };
    wrapped(&plain(&format!("{what}.")), "  ", "  ", look.width, out)
}
