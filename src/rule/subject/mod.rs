//! What rules can be about: one table of fields for each subject, which gives conditions, `explain`, schema and
//! docs; and the judging of everything measured.

mod bar;
mod fault;
mod file;
mod gap;
mod good;
mod lots;
mod movement;
mod opening;
mod page;
mod paper;
mod role;
mod said;
mod set;
mod staff;
mod stet;
mod stretch;
mod system;
mod text;
mod turn;

pub use good::{good, good_in_set};
pub use role::Reader;
pub use said::{Said, said};
pub use set::judge_in_set;
pub use stet::StetUse;

use super::field::{Facts, Subject, Unknowable, Vocabulary};
use super::judge::{Context, Outcome, Thing, Things, judge as judge_things};
use super::{Covers, RuleBook, Value, Where};
use crate::house::Basis;
use crate::measured::{Bars, Measured};
use crate::place::{Confidence, Place};
use crate::score::Flaw;
use rayon::prelude::*;
use std::borrow::Cow;
use std::sync::Arc;

/// Every subject that a rule can be about or read.
pub fn vocabulary() -> Vocabulary {
    let measured = Vocabulary::new()
        .with(&fault::FAULT)
        .with(&file::FILE)
        .with(&paper::PAPER)
        .with(&page::PAGE)
        .with(&system::SYSTEM)
        .with(&staff::STAFF)
        .with(&gap::GAP)
        .with(&bar::BAR)
        .with(&opening::OPENING)
        .with(&movement::MOVEMENT)
        .with(&stretch::STRETCH)
        .with(&text::TEXT)
        .with(&turn::TURN);
    set::add(measured).with(&stet::STET).with(&role::ROLE)
}

/// One row of facts and where it is.
struct Line<'a> {
    facts: Box<dyn Facts + 'a>,
    place: Option<Place>,
    on: Where,
    confidence: Confidence,
}

/// A row that owns its facts.
struct Owned<T: 'static> {
    table: &'static Subject<T>,
    row: T,
}

impl<T: Sync> Facts for Owned<T> {
    fn columns(&self) -> usize {
        self.table.columns.len()
    }

    fn value(&self, column: usize) -> Value {
        self.table.of(&self.row).value(column)
    }

    fn place(&self, column: usize) -> Option<Place> {
        self.table.of(&self.row).place(column)
    }
}

impl Line<'_> {
    fn thing(&self) -> Thing<'_> {
        Thing { facts: &*self.facts, place: self.place, on: Cow::Borrowed(&self.on), confidence: self.confidence }
    }
}

fn things<'a>(lines: &'a [Line]) -> Vec<Thing<'a>> {
    lines.iter().map(Line::thing).collect()
}

/// Judges everything measured of one document for one reader.
pub fn judge(book: &RuleBook, flaws: &[Flaw], measured: &Measured, reader: &Reader, enabled: &(dyn Fn(&str) -> bool + Sync)) -> Outcome {
    let file = file::File::of(measured);
    let file_facts = file::FILE.of(&file);
    let row = reader.row();
    let known = row.as_ref().map(|row| role::ROLE.of(row));
    let nobody = Unknowable("it is not known who reads this");
    let role_facts: &dyn Facts = known.as_ref().map_or(&nobody, |row| row);
    let context = Context {
        file: &file_facts,
        role: role_facts,
        role_name: reader.role.map(|role| role.name.as_str()),
        role_basis: reader.known_by(),
        enabled,
    };
    let about = |subject: &str, things: &dyn Things| judge_things(book, subject, things, &context);
    let subjects: [&(dyn Fn() -> Outcome + Sync); 13] = [
        &|| about("fault", &flaws.iter().map(fault::line).collect::<Vec<_>>()),
        &|| about("file", &vec![file::line(&file)]),
        &|| about("paper", &measured.papers.iter().map(|paper| paper::line(paper, measured)).collect::<Vec<_>>()),
        &|| about("page", &page::lines(measured)),
        &|| about("system", &system::lines(measured)),
        &|| about("staff", &staff::lots(measured)),
        &|| about("gap", &gap::lots(measured)),
        &|| about("bar", &bar::lines(measured)),
        &|| about("opening", &opening::lines(measured)),
        &|| about("movement", &movement::lines(measured)),
        &|| about("stretch", &stretch::lines(measured)),
        &|| about("text", &text::lines(measured)),
        &|| about("turn", &turn::lines(measured)),
    ];
    // One beside the other, on whatever cores have nothing else to do.
    let judged: Vec<Outcome> = subjects.par_iter().map(|judge| judge()).collect();
    let mut outcome = judged.into_iter().fold(Outcome::default(), Outcome::with);
    // Where there is no page to judge, silence would look like a pass.
    if !measured.systems_known {
        let staves = measured.dialect == crate::page::Dialect::None;
        for subject in ["page", "system", "movement", "gap", "opening"].into_iter().chain((!staves).then_some("staff")) {
            outcome.leave(book, subject, "it is not stated where systems begin", enabled);
        }
    }
    if !measured.pages_known {
        outcome.leave(book, "turn", "it is not stated where pages begin", enabled);
    }
    if measured.papers.is_empty() {
        outcome.leave(book, "paper", "the page size is not stated", enabled);
    }
    outcome
}

/// Judges a document that could not be read to its end: that is all there is to say of it.
pub fn judge_damage(book: &RuleBook, flaw: &Flaw, enabled: &(dyn Fn(&str) -> bool + Sync)) -> Outcome {
    let nothing = Unknowable("the file could not be read");
    let context = Context { file: &nothing, role: &nothing, role_name: None, role_basis: Basis::Unknown, enabled };
    let line = fault::line(flaw);
    judge_things(book, "fault", things(&[line]).as_slice(), &context)
}

/// Judges the stets of a house style.
pub fn judge_stets(book: &RuleBook, used: &[StetUse], enabled: &(dyn Fn(&str) -> bool + Sync)) -> Outcome {
    judge_lines(book, stet::STET.name, &used.iter().map(stet::line).collect::<Vec<_>>(), None, enabled)
}

/// Judges things that are not measured on the pages of one file, for a reader if there is one.
fn judge_lines(
    book: &RuleBook,
    subject: &str,
    lines: &[Line],
    reader: Option<&Reader>,
    enabled: &(dyn Fn(&str) -> bool + Sync),
) -> Outcome {
    let nothing = Unknowable("it is not a matter of one file");
    let row = reader.and_then(Reader::row);
    let known = row.as_ref().map(|row| role::ROLE.of(row));
    let nobody = Unknowable("it is not known who reads this");
    let role: &dyn Facts = known.as_ref().map_or(&nobody, |row| row);
    let role_name = reader.and_then(|reader| reader.role).map(|role| role.name.as_str());
    let context = Context { file: &nothing, role, role_name, role_basis: reader.map_or(Basis::Unknown, Reader::known_by), enabled };
    judge_things(book, subject, things(lines).as_slice(), &context)
}

/// Where bars stand, without page or system.
fn on_bars(bars: &Bars, movement: u32) -> Where {
    Where { movement: Some(movement), bar_index: Some(bars.index), bars: Some(bars.numbers.clone()), ..Where::default() }
}

/// Where a page is.
fn on_page(page: &crate::measured::Page) -> Where {
    let ends = page.systems.first().zip(page.systems.last());
    let covers = ends.map(|(first, last)| Covers {
        index: (first.bars.index.0, last.bars.index.1),
        numbers: [first.bars.numbers[0].clone(), last.bars.numbers[1].clone()],
    });
    Where { page: Some(page.ordinal), page_label: Some(Arc::from(page.label.as_str())), covers, ..Where::default() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::house::House;
    use crate::rule::{Examples, Rule};

    #[test]
    fn the_built_in_rules_load_and_their_examples_hold() {
        let house = House::built_in().expect("the house loads");
        let roles: Vec<&str> = house.roles.names().collect();
        let read = |examples| RuleBook::built_in(&vocabulary(), &roles, examples).unwrap_or_else(|error| panic!("{error}"));
        let (whole, without) = (read(Examples::Read), read(Examples::PassedOver));
        assert!(whole.rules().all(|rule| !rule.examples.is_empty()));
        // Examples stand last in their files: nothing else is passed over with them.
        let rest = |book: &RuleBook| {
            let rules = book.rules().map(|rule| Rule { examples: Vec::new(), ..rule.clone() });
            rules.map(|rule| format!("{rule:?}")).collect::<Vec<_>>()
        };
        assert_eq!(rest(&whole), rest(&without));
    }
}
