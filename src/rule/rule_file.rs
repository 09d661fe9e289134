//! The shape of a rule file, as TOML has it: every text that is checked later keeps its place.

use super::error::{Fault, RuleFileError};
use super::rule::RuleSource;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;

/// A text with its place in the file.
pub(super) type Text = Spanned<String>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RuleFile {
    pub id: Text,
    #[serde(default)]
    pub aliases: Vec<Text>,
    pub title: String,
    pub family: String,
    pub harm: u32,
    pub about: Text,
    pub why: String,
    #[serde(default)]
    pub sources: Vec<RuleSource>,
    #[serde(default)]
    pub exemptions: Vec<String>,
    pub merge: Option<Text>,
    pub points_at: Option<Text>,
    #[serde(default)]
    pub case: Vec<CaseFile>,
    #[serde(default)]
    pub reason: Vec<ReasonFile>,
    #[serde(default)]
    pub limits: BTreeMap<Text, LimitFile>,
    #[serde(default)]
    pub example: Vec<Spanned<ExampleFile>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CaseFile {
    pub level: Text,
    pub when: Text,
    pub measured: Option<Text>,
    pub against: Option<Text>,
    pub unit: Option<Text>,
    pub message: Text,
    pub advice: Text,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReasonFile {
    pub when: Text,
    pub says: Text,
    pub effect: Text,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LimitFile {
    pub value: Spanned<f64>,
    pub what: String,
    pub source: String,
    pub unit: Option<Text>,
    #[serde(default)]
    pub role: BTreeMap<Text, Spanned<f64>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ExampleFile {
    pub name: String,
    pub breaks: Option<Text>,
    pub role: Option<Text>,
    #[serde(default)]
    pub values: BTreeMap<Text, Spanned<toml::Value>>,
    /// Names that are absent in the example: the question does not arise.
    #[serde(default)]
    pub absent: Vec<Text>,
}

/// The text of a rule file, and its name for errors.
#[derive(Debug, Clone, Copy)]
pub(super) struct Origin<'a> {
    pub file: &'a str,
    pub text: &'a str,
}

impl Origin<'_> {
    /// Reads the file's shape.
    pub fn read(self) -> Result<RuleFile, RuleFileError> {
        toml::from_str(self.text).map_err(|error| self.from_toml(&error))
    }

    /// The name and former names the file gives its rule, with their places.
    pub fn names(self) -> Result<Vec<(String, Range<usize>)>, RuleFileError> {
        let file = self.read()?;
        Ok(std::iter::once(file.id).chain(file.aliases).map(|name| (name.get_ref().clone(), name.span())).collect())
    }

    /// A fault at a place of the file.
    pub fn fault(self, fault: Fault, at: Option<Range<usize>>) -> RuleFileError {
        fault.in_file(self.file, self.text, at)
    }

    /// A fault in a text of the file: at the bytes it names, where the file writes that text as it reads
    /// (no escapes); else at the whole text.
    pub fn fault_in(self, text: &Text, fault: Fault) -> RuleFileError {
        let whole = text.span();
        let written = self.text.get(whole.clone()).unwrap_or_default();
        let inner = written.find(text.get_ref().as_str()).zip(fault.span.clone());
        let at = inner.map_or(whole.clone(), |(start, span)| whole.start + start + span.start..whole.start + start + span.end);
        self.fault(fault, Some(at))
    }

    fn from_toml(self, error: &toml::de::Error) -> RuleFileError {
        let message = error.message().lines().collect::<Vec<_>>().join(" ");
        let fault = match message.strip_prefix("unknown field `").and_then(|rest| rest.split_once('`')) {
            Some((key, rest)) => {
                // serde lists the known keys between backticks.
                let known: Vec<&str> = rest.split('`').skip(1).step_by(2).collect();
                Fault::unknown_name(format!("a rule file has no key `{key}` here"), key, known)
            }
            None => Fault::new(message),
        };
        self.fault(fault, error.span())
    }
}
