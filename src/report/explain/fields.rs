//! The values that a rule may read, by subject.

use super::Library;
use super::page::{Name, Page, Text};
use super::words::sentence;
use crate::rule::Field;

/// Builds the page.
pub(super) fn page(library: &Library) -> Page {
    let mut page = Page::new(Name::Fields, "What a rule may read");
    page.paragraph(
        Text::new("A rule is about one subject; it reads the values of that subject, those of the file and of the reader, and its own limits (")
            .and(Text::code("limit.NAME"))
            .and("). A value that does not apply is absent, and the case that reads it is silent; a value that cannot be known is not judged, and the report says why. Numbers are judged as they are printed, rounded."),
    );
    for entry in library.vocabulary.subjects() {
        page.heading(Text::code(entry.name));
        page.paragraph(sentence(entry.what));
        let row = |field: &Field| {
            let kind = field.unit.name().map_or_else(|| field.kind.words().to_owned(), |unit| format!("{} ({unit})", field.kind.words()));
            vec![Text::code(format!("{}.{}", entry.name, field.name)), Text::new(kind), Text::new(field.what)]
        };
        page.table(["value", "kind", "what it is"], entry.fields.iter().map(row).collect());
        let about = library.rules.rules().filter(|rule| rule.about == entry.name);
        let about = Text::joined(about.map(|rule| Text::link(&*rule.id, Name::Rule(rule.id.to_string()))), ", ");
        if !about.is_empty() {
            page.paragraph(Text::new("Rules about it: ").and(about).and("."));
        }
    }
    page
}
