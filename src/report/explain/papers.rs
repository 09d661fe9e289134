//! The papers: their names and sizes, and who says so.

use super::Library;
use super::page::{Name, Page, Text};
use super::words::{DECIDE, Notes};
use crate::house::Said;
use crate::report::terminal::short;
use crate::units::Mm;

/// Millimetres in an inch, exactly.
const MM_PER_INCH: f64 = 25.4;

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
            named(&paper.suits, &mut notes),
            named(&paper.refused, &mut notes),
            Text::new(if paper.also.is_empty() { "-".to_owned() } else { paper.also.join(", ") }),
        ]);
    }
    page.table(["paper", "mm", "inches", "given in", "suits", "refused for", "other names"], rows);
    notes.tell(&mut page);
    page.paragraph(DECIDE);
    page
}

/// Roles that somebody names, and who.
fn named<'a>(all: &'a [Said], notes: &mut Notes<'a>) -> Text {
    let one = |said: &'a Said| notes.cell(said.roles.join(", "), &said.source);
    if all.is_empty() { Text::new("-") } else { Text::joined(all.iter().map(one).collect::<Vec<_>>(), "; ") }
}

fn mm(length: Mm) -> String {
    format!("{} mm", short(length.0))
}
