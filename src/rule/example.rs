//! The examples of a rule file, tried against the rule when it is loaded.

use super::error::{Fault, RuleFileError};
use super::field::{Facts, Kind};
use super::finding::{Level, Where};
use super::load::{check_role, level};
use super::loaded::{Example, Rule};
use super::merge::words;
use super::rule_file::{ExampleFile, Origin, Text};
use super::scope::{Noted, Ref, Scene, Scope, Source};
use super::template::Templates;
use super::value::Value;
use super::verdict::{Trust, verdict};
use crate::house::Basis;
use crate::place::{Confidence, Place};
use std::collections::BTreeMap;

/// The values an example gives, of all sources.
#[derive(Debug, Clone, PartialEq)]
struct Given(BTreeMap<Ref, Value>);

/// An example that was tried.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Trial {
    given: Given,
    /// The rule's limits when it was tried.
    limits: Vec<f64>,
    /// The case that finds something.
    case: Option<usize>,
}

impl Trial {
    /// Message and advice of the finding, as they read on page 1, system 1, bars 1-4.
    pub fn words(&self, rule: &Rule, templates: &Templates) -> Option<(String, String)> {
        let case = rule.cases.get(self.case?)?;
        let on = somewhere();
        let sides = self.given.sides();
        let sides = sides.each_ref().map(|side| Noted::new(side));
        let scene = Scene { own: &sides[0], file: &sides[1], role: &sides[2], limits: &self.limits };
        let written = |template| templates.write(template, &scene, &words(&on, &[&on]));
        Some((written(&case.message), written(&case.advice)))
    }
}

impl Given {
    fn sides(&self) -> [Side<'_>; 3] {
        [Source::Own, Source::File, Source::Role].map(|source| Side(self, source))
    }
}

/// Those of one source.
struct Side<'a>(&'a Given, Source);

impl Facts for Side<'_> {
    fn columns(&self) -> usize {
        let own = self.0.0.keys().filter(|name| name.source == self.1);
        own.map(|name| name.index + 1).max().unwrap_or(0)
    }

    fn value(&self, column: usize) -> Value {
        self.0.0.get(&Ref { source: self.1, index: column }).cloned().unwrap_or(Value::Absent)
    }

    fn place(&self, _column: usize) -> Option<Place> {
        None
    }
}

/// Checks every example; at least one has to break the rule and one to keep it.
pub(super) fn try_all(
    origin: Origin,
    examples: &[ExampleFile],
    rule: &Rule,
    scope: &Scope,
    roles: &[&str],
) -> Result<Vec<Example>, RuleFileError> {
    let tried: Vec<Example> =
        examples.iter().map(|example| Tester { origin, rule, scope }.run(example, roles)).collect::<Result<_, _>>()?;
    let missing = match (tried.iter().any(|example| example.breaks.is_some()), tried.iter().any(|example| example.breaks.is_none())) {
        (false, _) => "this rule has no example that breaks it",
        (_, false) => "this rule has no example that keeps it",
        (true, true) => return Ok(tried),
    };
    Err(origin.fault(Fault::new(missing).help("write an `[[example]]`; `explain` shows it"), Some(0..0)))
}

struct Tester<'a> {
    origin: Origin<'a>,
    rule: &'a Rule,
    scope: &'a Scope<'a>,
}

impl Tester<'_> {
    fn run(&self, example: &ExampleFile, roles: &[&str]) -> Result<Example, RuleFileError> {
        let here = example.name.span();
        if let Some(role) = &example.role {
            check_role(self.origin, role, roles)?;
        }
        let expected = example.breaks.as_ref().map(|name| level(self.origin, name)).transpose()?;
        let given = self.given(example)?;
        let wrong =
            |what: String| Err(self.origin.fault(Fault::new(format!("example `{}`: {what}", example.name.get_ref())), Some(here.clone())));
        let read = self.rule.cases.iter().flat_map(super::loaded::Case::reads);
        let read = read.chain(self.rule.reasons.iter().flat_map(|reason| reason.holds.reads.iter().copied()));
        if let Some(name) = self.first_missing(read, &given) {
            return wrong(format!("a condition reads `{name}`; give it in `values` or name it in `absent`"));
        }
        let role = example.role.as_ref().map(|role| role.get_ref().as_str());
        let limits = self.rule.limits_for(role);
        let sides = given.sides();
        let sides = sides.each_ref().map(|side| Noted::new(side));
        let scene = Scene { own: &sides[0], file: &sides[1], role: &sides[2], limits: &limits };
        let verdict = verdict(self.rule, &scene, Trust { role, basis: Basis::Stated, confidence: Confidence::High });
        let found = verdict.finding.as_ref().map(|finding| finding.level);
        if let Some(why) = verdict.not_judged.first() {
            return wrong(format!("it cannot be judged: {why}"));
        }
        if found != expected {
            return wrong(format!("it says {}, the rule says {}", said(expected), said(found)));
        }
        let case = verdict.finding.map(|finding| finding.case);
        let words_of = case.and_then(|case| self.rule.cases.get(case));
        if let Some(name) = words_of.and_then(|case| self.first_missing(case.message.reads().chain(case.advice.reads()), &given)) {
            return wrong(format!("the message reads `{name}`; give it in `values` or name it in `absent`"));
        }
        Ok(Example {
            name: example.name.get_ref().clone(),
            breaks: expected,
            role: role.map(str::to_owned),
            values: example.values.iter().map(|(name, value)| (name.get_ref().clone(), value.get_ref().to_string())).collect(),
            absent: example.absent.iter().map(|name| name.get_ref().clone()).collect(),
            trial: Trial { given, limits, case },
        })
    }

    fn first_missing(&self, mut names: impl Iterator<Item = Ref>, given: &Given) -> Option<String> {
        names.find(|name| name.source != Source::Limit && !given.0.contains_key(name)).map(|name| self.scope.dotted(name))
    }

    fn given(&self, example: &ExampleFile) -> Result<Given, RuleFileError> {
        let mut given = BTreeMap::new();
        for (name, value) in &example.values {
            let found = self.name(name)?;
            let kind = self.scope.kind(found);
            let value = read(value.get_ref(), kind)
                .ok_or_else(|| self.origin.fault(Fault::new(format!("`{}` is {}", name.get_ref(), kind.words())), Some(value.span())))?;
            given.insert(found, value);
        }
        for name in &example.absent {
            given.insert(self.name(name)?, Value::Absent);
        }
        Ok(Given(given))
    }

    fn name(&self, name: &Text) -> Result<Ref, RuleFileError> {
        let found = self.scope.resolve_dotted(name.get_ref()).map_err(|fault| self.origin.fault(fault, Some(name.span())))?;
        if found.source == Source::Limit {
            let fault = Fault::new("an example cannot set a limit").help("name a `role` that has the limit");
            return Err(self.origin.fault(fault, Some(name.span())));
        }
        Ok(found)
    }
}

/// Where the thing of an example is: anywhere, so that its message reads like one.
fn somewhere() -> Where {
    let bars = ["1", "4"].map(Into::into);
    Where { page: Some(1), system: Some(1), bars: Some(bars), part_name: Some("Oboe".into()), ..Where::default() }
}

fn said(level: Option<Level>) -> &'static str {
    level.map_or("nothing", Level::name)
}

/// A TOML value as a value of that kind. A number must be finite; a whole one is a double here.
fn read(value: &toml::Value, kind: Kind) -> Option<Value> {
    let number = |value: &toml::Value| match value {
        toml::Value::Integer(whole) => i32::try_from(*whole).ok().map(f64::from),
        toml::Value::Float(number) => Some(*number).filter(|number| number.is_finite()),
        _ => None,
    };
    match kind {
        Kind::Number => number(value).map(Value::Number),
        Kind::Text => value.as_str().map(Value::text),
        Kind::Truth => value.as_bool().map(Value::Truth),
        Kind::Texts => value.as_array()?.iter().map(toml::Value::as_str).collect::<Option<Vec<_>>>().map(Value::texts),
        Kind::Numbers => value.as_array()?.iter().map(number).collect::<Option<Vec<_>>>().map(Value::numbers),
    }
}
