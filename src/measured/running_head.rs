//! Running heads: whether a later page says whose copy it is and which page; and whether the next page opens with a heading.

use super::Bench;
use crate::place::Known;
use crate::score::{Credit, HEADING_POINTS, MarkKind, Score};
use crate::units::{Tenths, Time};
use std::collections::{BTreeMap, BTreeSet};

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
    /// Texts without their figures that stand on several later pages: heads, whatever they say.
    repeated: BTreeSet<String>,
    /// How far the number on a page lies from its count, where figures rise from page to page.
    offset: Option<i64>,
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
        // What stands on the first page as title or name of the part.
        let first = by_page.get(&1).into_iter().flatten().filter(|credit| is_said_name(credit));
        let first = first.flat_map(|credit| &credit.words).map(|words| words.text.as_str());
        let names = titles.chain(parts).chain(first).map(plain).filter(|name| !name.is_empty()).collect();
        let mut writing = Self { by_page, names, repeated: BTreeSet::new(), offset: None, any: false };
        writing.repeated = writing.repeated_texts();
        writing.offset = writing.rising_figures();
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
        let texts = || self.texts(ordinal);
        let said = |kind: &str| self.credits(ordinal).any(|credit| credit.kinds.iter().any(|one| one == kind));
        let rises = |text: &str| self.offset.is_some_and(|offset| figures(text).contains(&(i64::from(ordinal) + offset)));
        RunningHead {
            named: Known::Derived(said("title") || said("part name") || texts().any(|text| self.is_name(text))),
            numbered: Known::Derived(said("page number") || texts().any(|text| self.is_number(text, label) || rises(text))),
        }
    }

    fn credits(&self, ordinal: u32) -> impl Iterator<Item = &'a Credit> {
        self.by_page.get(&ordinal).into_iter().flatten().copied()
    }

    /// Texts of a page that do not tell of rights.
    fn texts(&self, ordinal: u32) -> impl Iterator<Item = &'a str> {
        let credits = self.credits(ordinal).filter(|credit| credit.kinds.iter().all(|kind| kind != "rights"));
        credits.flat_map(|credit| &credit.words).map(|words| words.text.as_str())
    }

    fn later_pages(&self) -> impl Iterator<Item = u32> {
        self.by_page.keys().copied().filter(|page| *page > 1)
    }

    fn repeated_texts(&self) -> BTreeSet<String> {
        let mut pages: BTreeMap<String, u32> = BTreeMap::new();
        for page in self.later_pages() {
            let here: BTreeSet<String> = self.texts(page).map(letters).filter(|text| text.chars().count() >= SHORT_NAME).collect();
            for text in here {
                *pages.entry(text).or_default() += 1;
            }
        }
        pages.into_iter().filter(|(_, pages)| *pages > 1).map(|(text, _)| text).collect()
    }

    /// The distance of figures from the count of their pages that most pages share, of two at least.
    fn rising_figures(&self) -> Option<i64> {
        let mut pages: BTreeMap<i64, u32> = BTreeMap::new();
        for page in self.later_pages() {
            let offsets: BTreeSet<i64> = self.texts(page).flat_map(figures).map(|figure| figure - i64::from(page)).collect();
            for offset in offsets {
                *pages.entry(offset).or_default() += 1;
            }
        }
        let (offset, pages) = pages.into_iter().max_by_key(|(offset, pages)| (*pages, *offset == 0))?;
        (pages > 1).then_some(offset)
    }

    fn is_name(&self, text: &str) -> bool {
        let text_plain = plain(text);
        let holds =
            |name: &String| if name.chars().count() <= SHORT_NAME { &text_plain == name } else { text_plain.contains(name.as_str()) };
        self.names.iter().any(holds) || self.repeated.contains(&letters(text))
    }

    /// Whether a text is the number of a page: alone, with a word for page, or beside a name of the copy.
    fn is_number(&self, text: &str, label: &str) -> bool {
        let words: Vec<&str> = words(text).collect();
        let Some(at) = words.iter().position(|word| word.eq_ignore_ascii_case(label)) else { return false };
        let rest = plain(&[&words[..at], &words[at + 1..]].concat().join(""));
        rest.is_empty() || PAGE_WORDS.contains(&rest.as_str()) || self.names.contains(&rest)
    }
}

/// A credit that the file calls a title or the name of a part.
fn is_said_name(credit: &Credit) -> bool {
    credit.kinds.iter().any(|kind| matches!(kind.as_str(), "title" | "part name"))
}

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty())
}

/// Figures of a text, Roman ones too where they stand alone in small letters or capitals.
fn figures(text: &str) -> Vec<i64> {
    words(text).filter_map(|word| word.parse().ok().or_else(|| roman(word))).collect()
}

/// A Roman number up to 399; `None` for other words.
fn roman(word: &str) -> Option<i64> {
    let value = |letter: char| match letter.to_ascii_lowercase() {
        'i' => Some(1),
        'v' => Some(5),
        'x' => Some(10),
        'l' => Some(50),
        'c' => Some(100),
        _ => None,
    };
    let values: Vec<i64> = word.chars().map(value).collect::<Option<_>>()?;
    let signed = |(index, one): (usize, &i64)| if values.get(index + 1).is_some_and(|next| next > one) { -one } else { *one };
    Some(values.iter().enumerate().map(signed).sum())
}

/// Letters alone, in small letters: what stays of a head from page to page.
fn letters(text: &str) -> String {
    words(text)
        .filter(|word| word.parse::<i64>().is_err() && roman(word).is_none())
        .flat_map(str::chars)
        .flat_map(char::to_lowercase)
        .collect()
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
    let mut marks = bench.score.marks_at(first_bar);
    heads.next().is_some()
        || marks.any(|mark| {
            let words = matches!(&mark.kind, MarkKind::Words(words) if !words.trim().is_empty());
            words && mark.onset == Time::ZERO && mark.points.is_some_and(|points| f64::from(points) >= HEADING_POINTS)
        })
}
