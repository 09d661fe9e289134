//! Running heads: whether a later page says whose copy it is and which page; and whether the next page opens with a heading.

use super::Bench;
use crate::place::Known;
use crate::score::{Credit, MarkKind};
use crate::units::{Tenths, Time};

/// Why it cannot be said whether pages are named and numbered.
const NOTHING_WRITTEN: &str =
    "the file writes no text on any page after the first, so heads and page numbers may be added when it is printed";
/// Text of at least this size at the head of a page, or over its first bar, is a heading (common practice, no source).
const HEADING_POINTS: f64 = 16.0;

/// What a page says of itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunningHead {
    /// The name of the part or of the piece stands on it.
    pub named: Known<bool>,
    /// Its number stands on it.
    pub numbered: Known<bool>,
}

/// What the page of that count, from 1, says of itself. The first page has its title.
pub(super) fn of_page(bench: &Bench, ordinal: u32, label: &str) -> RunningHead {
    if ordinal < 2 {
        return RunningHead { named: Known::Absent, numbered: Known::Absent };
    }
    if !bench.score.credits.iter().any(|credit| credit.page > 1 && has_text(credit)) {
        return RunningHead { named: Known::Unknown(NOTHING_WRITTEN), numbered: Known::Unknown(NOTHING_WRITTEN) };
    }
    let here = || bench.score.credits.iter().filter(move |credit| credit.page == ordinal && has_text(credit));
    RunningHead {
        named: Known::Derived(here().any(|credit| is_name(bench, credit))),
        numbered: Known::Derived(here().any(|credit| is_number(credit, label))),
    }
}

fn has_text(credit: &Credit) -> bool {
    credit.words.iter().any(|words| !words.text.trim().is_empty())
}

fn is_name(bench: &Bench, credit: &Credit) -> bool {
    let said = credit.kinds.iter().any(|kind| matches!(kind.as_str(), "title" | "part name" | "subtitle"));
    let score = bench.score;
    let titles = [&score.work_title, &score.movement_title].into_iter().flatten().map(String::as_str);
    let parts = score.parts.iter().flat_map(|part| [&*part.name, &*part.abbreviation]);
    let names: Vec<String> = titles.chain(parts).map(plain).filter(|name| !name.is_empty()).collect();
    said || credit.words.iter().any(|words| {
        let text = plain(&words.text);
        names.iter().any(|name| text.contains(name.as_str()))
    })
}

/// Letters and figures alone, in small letters: line breaks and points do not matter.
fn plain(text: &str) -> String {
    text.chars().filter(|letter| letter.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

fn is_number(credit: &Credit, label: &str) -> bool {
    let said = credit.kinds.iter().any(|kind| kind == "page number");
    let words = |text: &str| text.split(|letter: char| !letter.is_alphanumeric()).any(|word| word.eq_ignore_ascii_case(label));
    said || credit.words.iter().any(|one| words(&one.text))
}

/// Whether the page of that count, whose first bar is given, opens with a heading: large text at its head, or large words over
/// its first bar.
pub(super) fn opens_with_heading(bench: &Bench, ordinal: u32, first_bar: usize, music_from: Option<Tenths>) -> bool {
    let default = bench.instructions.word_points;
    let large = |points: Option<f64>| points.or(default).is_some_and(|points| points >= HEADING_POINTS);
    let texts = bench.score.credits.iter().filter(|credit| credit.page == ordinal).flat_map(|credit| &credit.words);
    let above = |y: Option<Tenths>| y.zip(music_from).is_some_and(|(y, from)| y > from);
    let mut heads = texts.filter(|words| !words.text.trim().is_empty() && large(words.points) && above(words.y));
    let mut marks = bench.score.parts.iter().flat_map(|part| part.marks_of(first_bar));
    heads.next().is_some()
        || marks.any(|mark| {
            let words = matches!(&mark.kind, MarkKind::Words(words) if !words.trim().is_empty());
            words && mark.onset == Time::ZERO && mark.points.is_some_and(|points| f64::from(points) >= HEADING_POINTS)
        })
}
