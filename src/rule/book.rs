//! The rule book: every rule in force, with its templates.

use super::error::{Fault, RuleFileError, nearest};
use super::field::Vocabulary;
use super::finding::Level;
use super::load::load;
use super::loaded::{Example, HouseSays, Rule};
use super::rule_file::{Origin, RuleFile};
use super::template::{Compile, Templates};
use crate::house::{LimitSetting, RuleLevel, RuleSetting, Units, WordsOf};
use crate::packed::RULES;
use crate::place::Place;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What becomes of the examples of the built-in rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Examples {
    /// They are read and tried, to be shown.
    Read,
    /// They are not even looked at: trying them takes time at every start, and a test holds them.
    PassedOver,
}

/// Rules that were read and checked, in the order of their files.
#[derive(Debug, Default)]
pub struct RuleBook {
    rules: Vec<Rule>,
    templates: Templates,
}

impl RuleBook {
    /// A book without rules.
    pub fn empty() -> Self {
        Self::default()
    }

    /// The rules that come with the program.
    ///
    /// # Errors
    /// A rule file that does not hold against this vocabulary and these roles.
    pub fn built_in(vocabulary: &Vocabulary, roles: &[&str], examples: Examples) -> Result<Self, RuleFileError> {
        let next = AtomicUsize::new(0);
        // Each thread takes the next file, until there is none.
        let read = || {
            let mut book = Self::empty();
            book.templates.compile(Compile::OnUse);
            let mut places = Vec::new();
            loop {
                let place = next.fetch_add(1, Ordering::Relaxed);
                let Some(file) = RULES.get(place) else { break };
                let origin = Origin { file: file.name, text: file.text };
                book.add_read(origin, origin.read_packed(*file, examples)?, vocabulary, roles, examples)?;
                places.push(place);
            }
            Ok::<Vec<(usize, Rule)>, RuleFileError>(places.into_iter().zip(book.rules).collect())
        };
        // Reading them takes most of the time until the first score is looked at.
        let (first, second) = rayon::join(read, read);
        let mut rules = first?;
        rules.extend(second?);
        rules.sort_unstable_by_key(|(place, _)| *place);
        // None of their templates has been compiled yet: the book that compiles one on use need not be the one that checked it.
        Ok(Self { rules: rules.into_iter().map(|(_, rule)| rule).collect(), ..Self::empty() })
    }

    /// Reads one rule file more. `file` names it in errors.
    ///
    /// # Errors
    /// What is wrong with the file, and where; or that another rule has its name already.
    pub fn add(&mut self, file: &str, text: &str, vocabulary: &Vocabulary, roles: &[&str]) -> Result<(), RuleFileError> {
        let origin = Origin { file, text };
        self.add_read(origin, origin.read()?, vocabulary, roles, Examples::Read)
    }

    fn add_read(
        &mut self,
        origin: Origin,
        file: RuleFile,
        vocabulary: &Vocabulary,
        roles: &[&str],
        examples: Examples,
    ) -> Result<(), RuleFileError> {
        for name in std::iter::once(&file.id).chain(&file.aliases) {
            if let Some(taken) = self.find(name.get_ref()) {
                let fault = Fault::new(format!("there is a rule `{}` already", name.get_ref()));
                return Err(origin.fault(fault.help(format!("it is in {}; take another name", taken.file)), Some(name.span())));
            }
        }
        let rule = load(origin, file, vocabulary, roles, examples, &mut self.templates)?;
        self.rules.push(rule);
        Ok(())
    }

    /// Every rule.
    pub fn rules(&self) -> impl Iterator<Item = &Rule> {
        self.rules.iter()
    }

    /// A limit of a rule as it holds for a reader; `None` where there is no such rule or limit.
    pub fn limit(&self, rule: &str, limit: &str, role: Option<&str>) -> Option<f64> {
        self.find(rule)?.limits.iter().find(|one| one.name == limit).map(|limit| limit.for_role(role))
    }

    /// The rule of that name or former name.
    pub fn find(&self, name: &str) -> Option<&Rule> {
        self.rules.iter().find(|rule| &*rule.id == name || rule.aliases.iter().any(|alias| alias == name))
    }

    /// The rule name nearest to one that is not known.
    pub fn nearest(&self, name: &str) -> Option<&str> {
        nearest(name, self.rules.iter().map(|rule| &*rule.id))
    }

    /// Follows what a house says of a rule: its level, its limits. `by` names the house style.
    ///
    /// # Errors
    /// A rule or limit that there is not, with the nearest name, and where the house names it.
    pub fn follow(&mut self, setting: &RuleSetting, by: &str) -> Result<(), (Place, String)> {
        let RuleSetting { rule: named, level, reason, limits } = setting;
        let known: Vec<String> = self.rules.iter().map(|rule| rule.id.to_string()).collect();
        let is_named = |one: &&mut Rule| *one.id == *named.name || one.aliases.contains(&named.name);
        let unknown = || unknown_name("rule", &named.name, known.iter().map(String::as_str));
        let rule = self.rules.iter_mut().find(is_named).ok_or_else(|| (named.at, unknown()))?;
        for setting in limits {
            let LimitSetting { limit, reader, value } = setting;
            let names: Vec<String> = rule.limits.iter().map(|one| one.name.clone()).collect();
            let what = format!("limit of `{}`", rule.id);
            let unknown = || (limit.at, unknown_name(&what, &limit.name, names.iter().map(String::as_str)));
            let found = rule.limits.iter_mut().find(|one| one.name == limit.name).ok_or_else(unknown)?;
            match reader {
                Some(reader) => {
                    found.by_role.insert(reader.clone(), *value);
                }
                None => found.value = *value,
            }
            found.changed_by = Some(by.to_owned());
        }
        if level.is_some() || reason.is_some() {
            rule.house = Some(HouseSays { level: *level, reason: reason.clone(), by: by.to_owned() });
        }
        let wanted = match level {
            Some(RuleLevel::Error) => Level::Error,
            Some(RuleLevel::Warning) => Level::Warning,
            Some(RuleLevel::Note) => Level::Note,
            Some(RuleLevel::Off) | None => return Ok(()),
        };
        let steps = wanted as i32 - rule.gravest() as i32;
        for case in &mut rule.cases {
            case.level = case.level.shifted(steps);
        }
        Ok(())
    }

    /// Writes its messages in these units, and in these words.
    pub fn speak(&mut self, units: Units, words: Option<WordsOf>) {
        self.templates.speak(units, words);
    }

    /// Message and advice of the finding of an example of a rule, as they read on page 1, system 1, bars 1-4; `None` where
    /// it keeps the rule.
    pub fn said_of(&self, rule: &Rule, example: &Example) -> Option<(String, String)> {
        example.trial.words(rule, &self.templates)
    }

    pub(super) fn templates(&self) -> &Templates {
        &self.templates
    }
}

fn unknown_name<'a>(what: &str, name: &str, known: impl Iterator<Item = &'a str>) -> String {
    let Fault { what, help, .. } = Fault::unknown_name(format!("there is no {what} `{name}`"), name, known);
    help.map_or_else(|| what.clone(), |help| format!("{what}; {help}"))
}
