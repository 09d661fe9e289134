//! The papers: their names and sizes, and who says so.

use super::Library;
use super::page::{Name, Page, Text};
use super::words::{DECIDE, Notes};
use crate::house::{Paper, Papers, Role, Said};
use crate::report::terminal::short;
use crate::units::{MM_PER_INCH, Mm};

/// Builds the page.
pub(super) fn page(library: &Library) -> Page {
    let mut page = Page::new(Name::Papers, "Papers");
    let papers = &library.house.papers;
    page.paragraph(format!(
        "A page is named after the nearest of these whose sides are both within {}, upright or lying. Sizes are given upright, as the \
         source has them: in millimetres or in inches; the other is reckoned from that, at 25.4 mm an inch. A number in brackets \
         names who says so: the list is at the end.",
        mm(papers.tolerance())
    ));
    let mut notes = Notes::default();
    let mut rows = Vec::new();
    for paper in papers.all() {
        let sides = |of: fn(Mm) -> f64| format!("{} x {}", short(of(paper.width)), short(of(paper.height)));
        let (in_mm, in_inches) = (sides(|side| side.0), sides(|side| side.0 / MM_PER_INCH));
        let given = if paper.inches { "inches" } else { "mm" };
        rows.push(vec![
            Text::new(&paper.name),
            Text::new(in_mm),
            Text::new(in_inches),
            notes.cell(given, &paper.source),
            Text::new(if paper.also.is_empty() { "-".to_owned() } else { paper.also.join(", ") }),
        ]);
    }
    page.table(["paper", "mm", "inches", "given in", "other names"], rows);
    page.heading("Whom they suit");
    page.paragraph("Readers for whom somebody says that a paper is right, or refuses it. Of all others nobody says anything.");
    let mut rows = Vec::new();
    let spoken_of = |role: &&Role| papers.all().iter().any(|paper| paper.serves(&role.name).is_some());
    for role in library.house.roles.all().iter().filter(spoken_of) {
        let suits = said(papers, role, |paper| &paper.suits, &mut notes);
        let refused = said(papers, role, |paper| &paper.refused, &mut notes);
        rows.push(vec![Text::code(&role.name), suits, refused]);
    }
    page.table(["reader", "suits", "refused"], rows);
    notes.tell(&mut page);
    page.paragraph(DECIDE);
    page
}

/// Formats of which somebody says something for a reader, and who.
fn said<'a>(papers: &'a Papers, role: &Role, pick: fn(&Paper) -> &Vec<Said>, notes: &mut Notes<'a>) -> Text {
    let mut cells = Vec::new();
    for paper in papers.all() {
        let by = pick(paper).iter().find(|said| said.roles.contains(&role.name));
        cells.extend(by.map(|by| notes.cell(&paper.name, &by.source)));
    }
    if cells.is_empty() { Text::new("-") } else { Text::joined(cells, ", ") }
}

fn mm(length: Mm) -> String {
    format!("{} mm", short(length.0))
}
