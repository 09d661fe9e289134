//! The shape of a rule file, as TOML has it: every text that is checked later keeps its place.

use super::book::Examples;
use super::error::{Fault, RuleFileError};
use crate::house::Source;
use crate::packed::Packed;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;

/// A text with its place in the file.
pub(super) type Text = Spanned<String>;

/// A rule file.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RuleFile {
    /// Small letters and digits, words joined by hyphens; never used again for another rule.
    pub id: Text,
    /// Names it had.
    #[serde(default)]
    pub aliases: Vec<Text>,
    /// What is wrong, in a few words.
    pub title: String,
    /// The group it is listed in.
    pub family: String,
    /// Its place when findings are ordered by harm: the smaller, the worse.
    pub harm: u32,
    /// The subject whose things are judged.
    pub about: Text,
    pub why: String,
    #[serde(default)]
    pub sources: Vec<Spanned<Source>>,
    /// What it leaves alone, in words.
    #[serde(default)]
    pub exemptions: Vec<String>,
    /// `file`, `part`, `page` or `none` (the default): which findings become one.
    pub merge: Option<Text>,
    /// Repairs that may mend what it finds: `casting-off`, `first-side`, `staff-height`, `one-more-system`. Where it finds something they are
    /// worked out and judged.
    #[serde(default)]
    pub mended_by: Vec<Text>,
    /// The field whose place in the file is the finding's; without it, or where that value was written
    /// nowhere, the place of the thing.
    pub points_at: Option<Text>,
    /// In order: the first that holds gives the finding.
    #[serde(default)]
    pub case: Vec<CaseFile>,
    #[serde(default)]
    pub reason: Vec<ReasonFile>,
    #[serde(default)]
    pub limits: BTreeMap<Text, LimitFile>,
    #[serde(default)]
    pub example: Vec<ExampleFile>,
}

/// A `[[case]]`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CaseFile {
    /// `error`, `warning` or `note`.
    pub level: Text,
    /// A condition.
    pub when: Text,
    /// A name or a formula that gives a number.
    pub measured: Option<Text>,
    /// What that is held against: a name or a formula.
    pub against: Option<Text>,
    /// Of both; without it, that of `measured` or else of `against` where they are bare names.
    pub unit: Option<Text>,
    pub message: Text,
    pub advice: Text,
}

/// A `[[reason]]`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReasonFile {
    /// A condition, asked only where a case holds.
    pub when: Text,
    /// The reason, in words: a template.
    pub says: Text,
    /// `silent` or `softer`.
    pub effect: Text,
}

/// A `[limits.NAME]`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LimitFile {
    pub value: Spanned<f64>,
    pub what: String,
    pub source: String,
    pub unit: Option<Text>,
    /// Numbers of single roles, by role.
    #[serde(default)]
    pub role: BTreeMap<Text, Spanned<f64>>,
}

/// An `[[example]]`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ExampleFile {
    pub name: Text,
    /// The level of the finding; without it, the example keeps the rule.
    pub breaks: Option<Text>,
    pub role: Option<Text>,
    /// A value for every name that a condition reads, and for those of the message if there is one.
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
        toml::from_str(self.text).map_err(|error| self.toml_fault(&error))
    }

    /// The same of a file that comes with the program; without its examples, where they are passed over. Where it does not fit, the
    /// text says why.
    pub fn read_packed(self, packed: Packed<'static>, examples: Examples) -> Result<RuleFile, RuleFileError> {
        let read = match examples {
            Examples::Read => packed.read(),
            Examples::PassedOver => packed.read_without("example"),
        };
        read.or_else(|_| self.read())
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

    fn toml_fault(self, error: &toml::de::Error) -> RuleFileError {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::packed::RULES;

    #[test]
    fn a_packed_file_is_what_its_text_says() {
        for file in RULES {
            let text = format!("{:?}", Origin { file: file.name, text: file.text }.read().expect("sound"));
            assert_eq!(file.read::<RuleFile>().map(|packed| format!("{packed:?}")), Ok(text), "{}", file.name);
            let without: RuleFile = file.read_without("example").expect("sound");
            assert!(without.example.is_empty() && !without.case.is_empty(), "{}", file.name);
        }
    }
}
