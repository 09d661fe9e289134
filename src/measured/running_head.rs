//! Running heads: whether a later page says whose copy it is and which page; and whether the next page opens with a heading.

use super::Bench;
use crate::place::Known;
use crate::score::{Credit, HEADING_POINTS, MarkKind, Score};
use crate::units::{Tenths, Time};
use std::collections::BTreeMap;

/// Why it cannot be said whether pages are named and numbered.
const NOTHING_WRITTEN: &str =
    "the file writes neither name nor page number on any page after the first: they may be added when it is printed";
/// Words for a page that may stand beside its number (English, German, French, Italian, Spanish; from memory).
const PAGE_WORDS: [&str; 9] = ["p", "pp", "page", "s", "seite", "pag", "pagina", "pg", "página"];
/// A shorter name must stand alone: "S." is in many words.
const SHORT_NAME: usize = 3;

/// What a page says of itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunningHead {
    /// The name of the part or of the piece stands on it.
    pub named: Known<bool>,
    /// Its number stands on it.
    pub numbered: Known<bool>,
}

/// What stands on pages beside the music, page by page.
pub(super) struct Writing<'a> {
    by_page: BTreeMap<u32, Vec<&'a Credit>>,
    /// Names by which the copy may call itself.
    names: Vec<String>,
    /// Some page after the first says its name or number.
    any: bool,
}

impl<'a> Writing<'a> {
    /// The writing of a score whose pages have these numbers.
    pub fn of(score: &'a Score, labels: &[&str]) -> Self {
        let mut by_page: BTreeMap<u32, Vec<&Credit>> = BTreeMap::new();
        for credit in &score.credits {
            by_page.entry(credit.page).or_default().push(credit);
        }
        let titles = [&score.work_title, &score.movement_title].into_iter().flatten().map(String::as_str);
        let parts = score.parts.iter().flat_map(|part| [&*part.name, &*part.abbreviation]);
        let names = titles.chain(parts).map(plain).filter(|name| !name.is_empty()).collect();
        let mut writing = Self { by_page, names, any: false };
        writing.any = labels.iter().zip(1..).skip(1).any(|(label, ordinal)| {
            let here = writing.on_page(ordinal, label);
            here.named.value() == Some(true) || here.numbered.value() == Some(true)
        });
        writing
    }

    /// What the page of that count, from 1, says of itself. The first page has its title.
    pub fn of_page(&self, ordinal: u32, label: &str) -> RunningHead {
        match ordinal {
            0 | 1 => RunningHead { named: Known::Absent, numbered: Known::Absent },
            _ if self.any => self.on_page(ordinal, label),
            _ => RunningHead { named: Known::Unknown(NOTHING_WRITTEN), numbered: Known::Unknown(NOTHING_WRITTEN) },
        }
    }

    fn on_page(&self, ordinal: u32, label: &str) -> RunningHead {
        let here = || self.credits(ordinal).filter(|credit| credit.kinds.iter().all(|kind| kind != "rights"));
        RunningHead {
            named: Known::Derived(here().any(|credit| self.is_name(credit))),
            numbered: Known::Derived(here().any(|credit| self.is_number(credit, label))),
        }
    }

    fn credits(&self, ordinal: u32) -> impl Iterator<Item = &'a Credit> {
        self.by_page.get(&ordinal).into_iter().flatten().copied()
    }

    fn is_name(&self, credit: &Credit) -> bool {
        let said = credit.kinds.iter().any(|kind| matches!(kind.as_str(), "title" | "part name"));
        let names = |text: &str| {
            self.names.iter().any(|name| if name.chars().count() <= SHORT_NAME { text == name } else { text.contains(name.as_str()) })
        };
        said || credit.words.iter().any(|words| names(&plain(&words.text)))
    }

    /// Whether a text is the number of a page: alone, with a word for page, or beside a name of the copy.
    fn is_number(&self, credit: &Credit, label: &str) -> bool {
        let said = credit.kinds.iter().any(|kind| kind == "page number");
        let holds = |text: &str| {
            let words: Vec<&str> = text.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
            let Some(at) = words.iter().position(|word| word.eq_ignore_ascii_case(label)) else { return false };
            let rest = plain(&[&words[..at], &words[at + 1..]].concat().join(""));
            rest.is_empty() || PAGE_WORDS.contains(&rest.as_str()) || self.names.contains(&rest)
        };
        said || credit.words.iter().any(|one| holds(&one.text))
    }
}

/// Letters and figures alone, in small letters: line breaks and points do not matter.
fn plain(text: &str) -> String {
    text.chars().filter(|letter| letter.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// Whether the page of that count, whose first bar is given, opens with a heading: large text at its head, or large words over
/// its first bar.
pub(super) fn opens_with_heading(bench: &Bench, ordinal: u32, first_bar: usize, music_from: Option<Tenths>) -> bool {
    let default = bench.instructions.word_points;
    let large = |points: Option<f64>| points.or(default).is_some_and(|points| points >= HEADING_POINTS);
    let texts = bench.writing.credits(ordinal).flat_map(|credit| &credit.words);
    let above = |y: Option<Tenths>| y.zip(music_from).is_some_and(|(y, from)| y > from);
    let mut heads = texts.filter(|words| !words.text.trim().is_empty() && large(words.points) && above(words.y));
    let mut marks = bench.score.parts.iter().flat_map(|part| part.marks_of(first_bar));
    heads.next().is_some()
        || marks.any(|mark| {
            let words = matches!(&mark.kind, MarkKind::Words(words) if !words.trim().is_empty());
            words && mark.onset == Time::ZERO && mark.points.is_some_and(|points| f64::from(points) >= HEADING_POINTS)
        })
}
