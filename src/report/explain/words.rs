//! Numbers, levels and sources as pages of the rule book write them.

use super::page::{Page, Text};
use crate::house::{Mark, Source};
use crate::report::level_words;
use crate::rule::{Level, Unit, Value};

/// What stands at the foot of a page.
pub(super) const DECIDE: &str = "The tool advises; the house and the librarian decide.";

/// What the marks of sources mean.
pub(super) const MARKS: &str = "Marks: R read in the source named; S another page quotes it; C common practice, no source; \
     D arithmetic from a value that was read; M from memory; H said by the house.";

/// A level for people, and its word in reports for machines.
pub(super) fn level(level: Level) -> String {
    format!("{} ({})", level_words(level), level.name())
}

/// A number in full, with what it is measured in.
pub(super) fn number(number: f64, unit: Unit) -> String {
    let one = (number - 1.0).abs() < f64::EPSILON;
    match unit {
        Unit::None | Unit::Count => format!("{number}"),
        Unit::Ratio => {
            let percent = format!("{:.2}", number * 100.0);
            format!("{number} ({} %)", percent.trim_end_matches('0').trim_end_matches('.'))
        }
        Unit::StaffHeights if one => "1 staff height".to_owned(),
        Unit::Bars if one => "1 bar".to_owned(),
        unit => format!("{number} {}", unit.name().unwrap_or_default()),
    }
}

/// A value of any sort; `None` where there is none.
pub(super) fn value(value: &Value, unit: Unit) -> Option<String> {
    match value {
        Value::Absent | Value::Unknown(_) => None,
        Value::Number(one) => Some(number(*one, unit)),
        Value::Text(text) => Some(text.to_string()),
        Value::Truth(truth) => Some(if *truth { "yes" } else { "no" }.to_owned()),
        Value::Texts(texts) => Some(texts.join(", ")),
        Value::Numbers(numbers) => Some(numbers.iter().map(|one| number(*one, unit)).collect::<Vec<_>>().join(", ")),
    }
}

/// Words as a sentence: a capital first, a full stop last.
pub(super) fn sentence(words: &str) -> String {
    let words = words.trim();
    let mut letters = words.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().collect::<String>()).unwrap_or_default();
    let end = if words.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{end}", letters.as_str())
}

/// A source with what it says and how well that is founded.
pub(super) fn source(source: &Source) -> Text {
    Text::new(format!("{}: {} [{}]", source.title, source.says, mark(source.mark)))
}

/// The letter of a mark.
pub(super) fn mark(mark: Mark) -> &'static str {
    match mark {
        Mark::R => "R",
        Mark::S => "S",
        Mark::C => "C",
        Mark::D => "D",
        Mark::M => "M",
        Mark::H => "H",
    }
}

/// Sources told once below a table and numbered in its cells.
#[derive(Debug, Default)]
pub(super) struct Notes<'a>(Vec<&'a Source>);

impl<'a> Notes<'a> {
    /// The number of a source.
    pub fn number(&mut self, source: &'a Source) -> usize {
        let place = self.0.iter().position(|known| *known == source).unwrap_or_else(|| {
            self.0.push(source);
            self.0.len() - 1
        });
        place + 1
    }

    /// A number with the number of its source in brackets.
    pub fn cell(&mut self, words: impl std::fmt::Display, source: &'a Source) -> Text {
        Text::new(format!("{words} [{}]", self.number(source)))
    }

    /// All of them, at the end of a page.
    pub fn tell(self, page: &mut Page) {
        page.heading("Who says so");
        let note = |(place, one): (usize, &&Source)| Text::new(format!("[{}] ", place + 1)).and(source(one));
        page.points(self.0.iter().enumerate().map(note).collect());
        page.paragraph(MARKS);
    }
}
