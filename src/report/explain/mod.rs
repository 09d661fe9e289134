//! The rule book to be read: a page for each rule, one for all readers, papers and values, and the list of rules.
//!
//! A page is made once, from the rules, readers and papers in force, and shown on a terminal or in Markdown; the pages of
//! `docs/rules` are these. Every number on a page stands beside who says it.

mod fields;
mod house;
mod index;
mod markdown;
mod page;
mod papers;
mod readers;
mod rule;
mod terminal;
mod words;

pub(super) use markdown::escaped;
pub use markdown::markdown;
pub use page::{Name, Page};
pub use terminal::write;

use crate::house::{House, Role};
use crate::rule::{Rule, RuleBook, Vocabulary};

/// What there is to explain.
#[derive(Debug, Clone, Copy)]
pub struct Library<'a> {
    /// The rules in force.
    pub rules: &'a RuleBook,
    /// The house style: readers and papers.
    pub house: &'a House,
    /// The values that rules may read.
    pub vocabulary: &'a Vocabulary,
}

impl<'a> Library<'a> {
    /// All rules by family.
    pub fn index(&self) -> Page {
        index::page(self)
    }

    /// A rule; with its numbers for one reader, if one is named.
    pub fn rule(&self, rule: &Rule, reader: Option<&Role>) -> Page {
        rule::page(self, rule, reader)
    }

    /// All readers.
    pub fn readers(&self) -> Page {
        readers::all(self)
    }

    /// One reader.
    pub fn reader(&self, role: &Role) -> Page {
        readers::one(self, role)
    }

    /// All papers.
    pub fn papers(&self) -> Page {
        papers::page(self)
    }

    /// All values that rules may read.
    pub fn fields(&self) -> Page {
        fields::page(self)
    }

    /// The house style in force, read from a file if it has one.
    pub fn house(&self, file: Option<&str>) -> Page {
        house::page(self, file)
    }

    /// Every page that stands in `docs/rules`.
    pub fn pages(&self) -> Vec<Page> {
        let mut pages = vec![self.index(), self.readers(), self.papers(), self.fields()];
        pages.extend(self.rules.rules().map(|rule| self.rule(rule, None)));
        pages
    }

    /// The rules, what does most harm first.
    fn by_harm(&self) -> Vec<&'a Rule> {
        let mut rules: Vec<&Rule> = self.rules.rules().collect();
        rules.sort_by_key(|rule| (rule.harm, rule.id.clone()));
        rules
    }
}
