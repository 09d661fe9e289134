//! A house style: what a publisher changes of the one that comes with the program.
//!
//! A style is read in two steps: its file as plain data ([`StyleFile`]), then laid over a [`House`] ([`House::follow`]),
//! which checks all but the names of rules; those are checked where rules are known.

mod file;
mod pattern;
mod reader;
mod setting;
mod stets;
mod words;

pub use file::{Binding, CopiesAre, FirstPage, GateOf, LastLine, RuleLevel, StyleFile, Units, WordsOf};
pub use pattern::Pattern;
pub use setting::{CopyMapping, LimitSetting, MovementMapping, Named, RuleSetting};

use super::data::{DataError, DataFile};
use super::{House, Paper, Source};
use crate::house::Mark;
use crate::place::Place;
use crate::units::Mm;
use file::{CopyTable, PaperTable, RuleTable};
use std::collections::HashSet;
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;

/// A house style file, read but not yet laid over a house.
#[derive(Debug)]
pub struct Style {
    name: String,
    text: String,
    file: StyleFile,
}

/// A path that a house style names, with its place.
pub type NamedPath<'a> = (&'a str, Place);

fn place(span: Range<usize>) -> Place {
    Place::new(span.start as u64, span.len() as u64)
}

fn named(name: &Spanned<String>) -> Named {
    Named { name: name.get_ref().clone(), at: place(name.span()) }
}

impl Style {
    /// Reads a house style; `name` is that of its file in errors.
    ///
    /// # Errors
    /// TOML that cannot be read, a key that there is not, a value of another kind; each points into the text.
    pub fn read(name: &str, text: &str) -> Result<Self, DataError> {
        let file = DataFile { name, text }.parse()?;
        Ok(Self { name: name.to_owned(), text: text.to_owned(), file })
    }

    /// Its file as it was named.
    pub fn file_name(&self) -> &str {
        &self.name
    }

    /// The style it changes, if it names one other than the one that comes with the program.
    pub fn base(&self) -> Option<NamedPath<'_>> {
        let base = self.file.base.as_ref().filter(|base| base.get_ref() != BUILT_IN)?;
        Some((base.get_ref(), place(base.span())))
    }

    /// Its own rule files.
    pub fn rule_files(&self) -> impl Iterator<Item = NamedPath<'_>> {
        self.file.rule_files.iter().flatten().map(|path| (path.get_ref().as_str(), place(path.span())))
    }

    /// Its files of stets.
    pub fn stet_files(&self) -> impl Iterator<Item = NamedPath<'_>> {
        self.file.stet_files.iter().flatten().map(|path| (path.get_ref().as_str(), place(path.span())))
    }

    /// Whether it says anything but stets: a file of stets may not.
    pub fn says_more_than_stets(&self) -> bool {
        let text: toml::Table = toml::from_str(&self.text).unwrap_or_default();
        text.keys().any(|key| key != "stet")
    }

    /// An error at a place of its text.
    pub fn wrong(&self, at: Place, message: impl Into<String>) -> DataError {
        let start = at.offset as usize;
        DataError::new(&self.name, &self.text, Some(start..start + at.length as usize), message)
    }

    fn data(&self) -> DataFile<'_> {
        DataFile { name: &self.name, text: &self.text }
    }
}

/// The name of the style that comes with the program.
pub const BUILT_IN: &str = "built-in";

/// Percentages outside this range are a slip of the hand.
pub const PRINTED_PERCENT: std::ops::RangeInclusive<f64> = 10.0..=400.0;

impl House {
    /// Lays a style over this house: what it says counts, what it leaves out stays.
    ///
    /// # Errors
    /// An unknown role, paper or key, numbers out of order, a stet without a reason; each points into the style's text.
    pub fn follow(&mut self, style: &Style) -> Result<(), DataError> {
        let (file, data) = (&style.file, style.data());
        if let Some(name) = file.name.as_ref().filter(|name| !name.trim().is_empty()) {
            self.name.clone_from(name);
        } else if self.name == BUILT_IN {
            "house".clone_into(&mut self.name);
        }
        self.light = file.light.or(self.light);
        self.first_page = file.first_page.or(self.first_page);
        self.copies_are = file.copies_are.unwrap_or(self.copies_are);
        self.binding = file.binding.or(self.binding);
        self.last_line = file.last_line.unwrap_or(self.last_line);
        self.words = file.words.or(self.words);
        self.units = file.units.unwrap_or(self.units);
        self.gate = file.gate.or(self.gate);
        for paper in &file.paper {
            self.add_paper(paper, style)?;
        }
        self.follow_printing(style)?;
        if let Some(papers) = &file.papers {
            let mut known = HashSet::new();
            let mut wanted = papers.iter().map(|name| self.paper_name(name, data)).collect::<Result<Vec<String>, _>>()?;
            // A paper named a million times is one paper, and asked for once by each condition.
            wanted.retain(|name| known.insert(name.clone()));
            self.wanted_papers = wanted;
        }
        if let Some(rules) = &file.must_judge {
            self.must_judge = rules.iter().map(named).collect();
        }
        for (role, table) in &file.roles {
            reader::change(&mut self.roles, role, table, style)?;
        }
        for copy in &file.copy {
            let copy = self.copy(copy, data)?;
            self.copies.push(copy);
        }
        // The movements of a delivery are one list; a style that names some names them all.
        if !file.movement.is_empty() {
            let one = |movement: &file::MovementTable| {
                Ok(MovementMapping { name: movement.name.clone(), files: pattern_of(&movement.files, data)? })
            };
            self.movements = file.movement.iter().map(one).collect::<Result<_, DataError>>()?;
        }
        self.follow_stets(style)?;
        Ok(())
    }

    /// Takes in the stets of a style or of a file of stets.
    ///
    /// # Errors
    /// A stet without a reason, with a day or bars that are none.
    pub fn follow_stets(&mut self, style: &Style) -> Result<(), DataError> {
        let all: Result<Vec<_>, _> = style.file.stet.iter().map(|stet| stets::check(stet, style.data())).collect();
        self.stets.extend(all?);
        Ok(())
    }

    /// What a style says of rules, its limits by role checked against the roles.
    ///
    /// # Errors
    /// A limit that is no number, an unknown role, a rule switched off without a reason.
    pub fn rules_of(&self, style: &Style) -> Result<Vec<RuleSetting>, DataError> {
        style.file.rules.iter().map(|(rule, table)| self.rule(rule, table, style.data())).collect()
    }

    fn rule(&self, rule: &Spanned<String>, table: &RuleTable, data: DataFile) -> Result<RuleSetting, DataError> {
        let level = table.level.as_ref();
        let reasoned = table.reason.as_ref().is_some_and(|reason| !reason.trim().is_empty());
        if let Some(off) = level.filter(|level| *level.get_ref() == RuleLevel::Off && !reasoned) {
            return Err(data.wrong(off, "a rule is switched off with a reason; add `reason = \"...\"`"));
        }
        let mut limits = Vec::new();
        for (limit, value) in &table.limits {
            let one = |reader: Option<String>, number: &toml::Value| {
                let number = number_of(number).ok_or_else(|| data.wrong(value, "a limit is a number, or a table of numbers by role"))?;
                Ok(LimitSetting { limit: named(limit), reader, value: number })
            };
            match value.get_ref() {
                toml::Value::Table(by_role) => {
                    for (role, number) in by_role {
                        if role != "any" {
                            self.roles.get(role).map_err(|error| data.wrong(value, format!("{error} (or `any`, for all others)")))?;
                        }
                        limits.push(one(Some(role.clone()).filter(|role| role != "any"), number)?);
                    }
                }
                number => limits.push(one(None, number)?),
            }
        }
        Ok(RuleSetting { rule: named(rule), level: level.map(|level| *level.get_ref()), reason: table.reason.clone(), limits })
    }

    fn follow_printing(&mut self, style: &Style) -> Result<(), DataError> {
        let (file, data) = (&style.file, style.data());
        if let (Some(_), Some(on)) = (&file.printed_at, &file.printed_on) {
            return Err(data.wrong(on, "`printed-at` and `printed-on` say two sizes; strike one"));
        }
        if let Some(percent) = &file.printed_at {
            if !PRINTED_PERCENT.contains(percent.get_ref()) {
                let range = format!("from {} to {}", PRINTED_PERCENT.start(), PRINTED_PERCENT.end());
                return Err(data.wrong(percent, format!("this is no percentage {range}; write 94 for copies printed at 94 percent")));
            }
            (self.printed_at, self.printed_on) = (Some(percent.get_ref() / 100.0), None);
        }
        if let Some(paper) = &file.printed_on {
            (self.printed_at, self.printed_on) = (None, Some(self.paper_name(paper, data)?));
        }
        Ok(())
    }

    fn paper_name(&self, name: &Spanned<String>, data: DataFile) -> Result<String, DataError> {
        self.papers.get(name.get_ref()).map(|paper| paper.name.clone()).map_err(|error| data.wrong(name, error.to_string()))
    }

    fn add_paper(&mut self, paper: &PaperTable, style: &Style) -> Result<(), DataError> {
        let data = style.data();
        let (width, height) = (data.positive(&paper.width_mm, "the width")?, data.positive(&paper.height_mm, "the height")?);
        if width > height {
            return Err(data.wrong(&paper.width_mm, "papers are given upright: the width is the shorter side"));
        }
        let added = Paper {
            name: paper.name.get_ref().clone(),
            also: Vec::new(),
            width: Mm(width),
            height: Mm(height),
            inches: false,
            source: self.says(style, "a paper of the house"),
            suits: Vec::new(),
            refused: Vec::new(),
        };
        self.papers.add(added).map_err(|why| data.wrong(&paper.name, why))
    }

    fn copy(&self, copy: &CopyTable, data: DataFile) -> Result<CopyMapping, DataError> {
        if let Some(role) = &copy.role {
            self.roles.get(role.get_ref()).map_err(|error| data.wrong(role, error.to_string()))?;
        }
        Ok(CopyMapping {
            files: pattern_of(&copy.files, data)?,
            name: copy.name.clone(),
            role: copy.role.as_ref().map(|role| role.get_ref().clone()),
            plays: copy.plays.clone(),
            light: copy.light,
            desks: copy.desks,
            apart: copy.apart,
        })
    }

    /// The house as the source of a value.
    fn says(&self, style: &Style, what: &str) -> Arc<Source> {
        Arc::new(Source { title: format!("{} ({})", self.name, style.name), says: what.to_owned(), mark: Mark::H })
    }

    /// What the house says of a file, by its path from the folder of the house style.
    pub fn copy_of(&self, path: &str) -> Option<&CopyMapping> {
        self.copies.iter().find(|copy| copy.files.means(path))
    }

    /// The movement that a file is, counted from 0, by its path from the folder of the house style.
    pub fn movement_of(&self, path: &str) -> Option<usize> {
        self.movements.iter().position(|movement| movement.files.means(path))
    }
}

fn pattern_of(text: &Spanned<String>, data: DataFile) -> Result<Pattern, DataError> {
    Pattern::new(text.get_ref()).map_err(|why| data.wrong(text, why))
}

fn number_of(value: &toml::Value) -> Option<f64> {
    match value {
        toml::Value::Integer(whole) => i32::try_from(*whole).ok().map(f64::from),
        toml::Value::Float(number) => Some(*number).filter(|number| number.is_finite()),
        _ => None,
    }
}
