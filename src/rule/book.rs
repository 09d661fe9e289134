//! The rule book: every rule in force, with its templates.

use super::built_in::FILES;
use super::error::{Fault, RuleFileError, nearest};
use super::field::Vocabulary;
use super::load::load;
use super::rule::Rule;
use super::rule_file::Origin;
use super::template::Templates;

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
    /// The first rule file that does not hold against this vocabulary and these roles.
    pub fn built_in(vocabulary: &Vocabulary, roles: &[&str]) -> Result<Self, RuleFileError> {
        let mut book = Self::empty();
        for (file, text) in FILES {
            book.add(file, text, vocabulary, roles)?;
        }
        Ok(book)
    }

    /// Reads one rule file more. `file` names it in errors.
    ///
    /// # Errors
    /// What is wrong with the file, and where; or that another rule has its name already.
    pub fn add(&mut self, file: &str, text: &str, vocabulary: &Vocabulary, roles: &[&str]) -> Result<(), RuleFileError> {
        let origin = Origin { file, text };
        let names = origin.names()?;
        if let Some((name, taken, span)) =
            names.into_iter().find_map(|(name, span)| self.find(&name).map(|rule| (name, rule.file.clone(), span)))
        {
            let fault = Fault::new(format!("there is a rule `{name}` already")).help(format!("it is in {taken}; take another name"));
            return Err(origin.fault(fault, Some(span)));
        }
        let rule = load(origin, vocabulary, roles, &mut self.templates)?;
        self.rules.push(rule);
        Ok(())
    }

    /// Every rule.
    pub fn rules(&self) -> impl Iterator<Item = &Rule> {
        self.rules.iter()
    }

    /// The rule of that name or former name.
    pub fn find(&self, name: &str) -> Option<&Rule> {
        self.rules.iter().find(|rule| &*rule.id == name || rule.aliases.iter().any(|alias| alias == name))
    }

    /// The rule name nearest to one that is not known.
    pub fn nearest(&self, name: &str) -> Option<&str> {
        nearest(name, self.rules.iter().map(|rule| &*rule.id))
    }

    /// Changes a limit for one role, or for all that have none of their own. `by` says who changes it.
    ///
    /// # Errors
    /// What there is no rule or limit of, or that the value is no finite number; in words, with the nearest name.
    pub fn set_limit(&mut self, rule: &str, limit: &str, role: Option<&str>, value: f64, by: &str) -> Result<(), String> {
        let near = |near: Option<&str>| near.map(|near| format!("; did you mean `{near}`?")).unwrap_or_default();
        let unknown = format!("there is no rule `{rule}`{}", near(self.nearest(rule)));
        let is_named = |one: &&mut Rule| &*one.id == rule || one.aliases.iter().any(|alias| alias == rule);
        let found = self.rules.iter_mut().find(is_named).ok_or(unknown)?;
        let unknown = format!("`{rule}` has no limit `{limit}`{}", near(nearest(limit, found.limits.iter().map(|one| one.name.as_str()))));
        let found = found.limits.iter_mut().find(|one| one.name == limit).ok_or(unknown)?;
        if !value.is_finite() {
            return Err(format!("limit `{limit}` of `{rule}` must be a finite number"));
        }
        match role {
            Some(role) => {
                found.by_role.insert(role.to_owned(), value);
            }
            None => found.value = value,
        }
        found.changed_by = Some(by.to_owned());
        Ok(())
    }

    pub(super) fn templates(&self) -> &Templates {
        &self.templates
    }
}
