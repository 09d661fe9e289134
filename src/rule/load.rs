//! From a rule file to a rule: every name resolved, every condition and template checked, every example
//! tried. What is wrong comes out as an error that points into the file.

use super::condition::Condition;
use super::error::{Fault, RuleFileError};
use super::example;
use super::field::{FILE, Kind, ROLE, Unit, Vocabulary};
use super::finding::Level;
use super::rule::{Case, Effect, Limit, Merge, Reason, Rule};
use super::rule_file::{CaseFile, LimitFile, Origin, ReasonFile, RuleFile, Text};
use super::scope::{LIMIT, Scope, Source};
use super::template::{Template, Templates};
use std::collections::BTreeMap;

/// Reads and checks one rule file.
pub(super) fn load(origin: Origin, vocabulary: &Vocabulary, roles: &[&str], templates: &mut Templates) -> Result<Rule, RuleFileError> {
    let file = origin.read()?;
    let loader = Loader { origin, roles };
    for id in std::iter::once(&file.id).chain(&file.aliases) {
        loader.check_id(id)?;
    }
    let limits: Vec<Limit> = file.limits.iter().map(|(name, limit)| loader.limit(name, limit)).collect::<Result<_, _>>()?;
    let scope = loader.scope(&file, vocabulary, &limits)?;
    let mut cases = Vec::new();
    for (index, case) in file.case.iter().enumerate() {
        cases.push(loader.case(&format!("{}/case {index}", file.id.get_ref()), case, &scope, templates)?);
    }
    if cases.is_empty() {
        return Err(origin.fault(Fault::new("this rule has no case").help("write at least one `[[case]]`"), Some(file.id.span())));
    }
    let mut reasons = Vec::new();
    for (index, reason) in file.reason.iter().enumerate() {
        reasons.push(loader.reason(&format!("{}/reason {index}", file.id.get_ref()), reason, &scope, templates)?);
    }
    loader.check_limits_used(&file, &cases, &reasons)?;
    let points_at = file.points_at.as_ref().map(|name| loader.points_at(name, &scope)).transpose()?;
    let merge = file.merge.as_ref().map_or(Ok(Merge::None), |name| loader.one_of(name, "merge", &MERGES))?;
    let mut rule = Rule {
        id: file.id.get_ref().as_str().into(),
        aliases: file.aliases.into_iter().map(Text::into_inner).collect(),
        title: file.title,
        family: file.family,
        harm: file.harm,
        about: file.about.into_inner(),
        why: file.why,
        sources: file.sources,
        exemptions: file.exemptions,
        merge,
        cases,
        reasons,
        limits: limits.clone(),
        examples: Vec::new(),
        file: origin.file.to_owned(),
        points_at,
    };
    rule.examples = example::try_all(origin, &file.example, &rule, &scope, roles, templates)?;
    Ok(rule)
}

const LEVELS: [(&str, Level); 3] = [("error", Level::Error), ("warning", Level::Warning), ("note", Level::Note)];
const MERGES: [(&str, Merge); 4] = [("file", Merge::File), ("part", Merge::Part), ("page", Merge::Page), ("none", Merge::None)];
const EFFECTS: [(&str, Effect); 2] = [("silent", Effect::Silent), ("softer", Effect::Softer)];

/// The level a text names.
pub(super) fn level(origin: Origin, name: &Text) -> Result<Level, RuleFileError> {
    one_of(origin, name, "level", &LEVELS)
}

fn one_of<T: Copy>(origin: Origin, name: &Text, what: &str, known: &[(&str, T)]) -> Result<T, RuleFileError> {
    let found = known.iter().find(|(word, _)| word == name.get_ref());
    found.map(|(_, value)| *value).ok_or_else(|| {
        let words = known.iter().map(|(word, _)| *word);
        let fault = Fault::unknown_name(format!("there is no {what} `{}`", name.get_ref()), name.get_ref(), words);
        origin.fault(fault, Some(name.span()))
    })
}

struct Loader<'a> {
    origin: Origin<'a>,
    roles: &'a [&'a str],
}

impl Loader<'_> {
    fn one_of<T: Copy>(&self, name: &Text, what: &str, known: &[(&str, T)]) -> Result<T, RuleFileError> {
        one_of(self.origin, name, what, known)
    }

    fn check_id(&self, id: &Text) -> Result<(), RuleFileError> {
        let plain =
            id.get_ref().split('-').all(|word| !word.is_empty() && word.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit()));
        if plain {
            return Ok(());
        }
        let fault =
            Fault::new(format!("`{}` is no name for a rule", id.get_ref())).help("small letters and digits, words joined by hyphens");
        Err(self.origin.fault(fault, Some(id.span())))
    }

    fn unit(&self, name: Option<&Text>) -> Result<Option<Unit>, RuleFileError> {
        let known: Vec<(&str, Unit)> = Unit::ALL.iter().filter_map(|unit| unit.name().map(|name| (name, *unit))).collect();
        name.map(|name| self.one_of(name, "unit", &known)).transpose()
    }

    fn limit(&self, name: &Text, limit: &LimitFile) -> Result<Limit, RuleFileError> {
        let plain = name.get_ref().bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_');
        if !plain || !name.get_ref().starts_with(|c: char| c.is_ascii_lowercase()) {
            let fault = Fault::new(format!("`{}` is no name for a limit", name.get_ref())).help("small letters, digits and underscores");
            return Err(self.origin.fault(fault, Some(name.span())));
        }
        let mut by_role = BTreeMap::new();
        for (role, value) in &limit.role {
            self.check_role(role)?;
            by_role.insert(role.get_ref().clone(), self.finite(value)?);
        }
        Ok(Limit {
            name: name.get_ref().clone(),
            value: self.finite(&limit.value)?,
            what: limit.what.clone(),
            source: limit.source.clone(),
            unit: self.unit(limit.unit.as_ref())?.unwrap_or(Unit::None),
            by_role,
            changed_by: None,
        })
    }

    fn finite(&self, value: &toml::Spanned<f64>) -> Result<f64, RuleFileError> {
        let number = *value.get_ref();
        if number.is_finite() {
            return Ok(number);
        }
        Err(self.origin.fault(Fault::new("a limit must be a finite number"), Some(value.span())))
    }

    fn check_role(&self, role: &Text) -> Result<(), RuleFileError> {
        check_role(self.origin, role, self.roles)
    }

    fn scope<'a>(&self, file: &RuleFile, vocabulary: &'a Vocabulary, limits: &'a [Limit]) -> Result<Scope<'a>, RuleFileError> {
        let about = file.about.get_ref().as_str();
        let subjects = || vocabulary.subjects().filter(|entry| entry.name != ROLE);
        let Some(own) = subjects().find(|entry| entry.name == about) else {
            let fault = Fault::unknown_name(format!("no rule can be about `{about}`"), about, subjects().map(|entry| entry.name));
            return Err(self.origin.fault(fault, Some(file.about.span())));
        };
        Ok(Scope {
            own,
            file: vocabulary.subject(FILE).filter(|_| about != FILE),
            role: vocabulary.subject(ROLE),
            limits: limits.iter().map(|limit| (limit.name.as_str(), limit.unit)).collect(),
        })
    }

    fn condition(&self, text: &Text, kind: Kind, scope: &Scope) -> Result<Condition, RuleFileError> {
        Condition::new(text.get_ref(), kind, scope).map_err(|fault| self.origin.fault_in(text, fault))
    }

    fn template(&self, key: String, text: &Text, scope: &Scope, templates: &mut Templates) -> Result<Template, RuleFileError> {
        templates.add(key, text.get_ref(), scope).map_err(|fault| self.origin.fault_in(text, fault))
    }

    fn case(&self, key: &str, case: &CaseFile, scope: &Scope, templates: &mut Templates) -> Result<Case, RuleFileError> {
        let formula = |text: &Option<Text>| text.as_ref().map(|text| self.condition(text, Kind::Number, scope)).transpose();
        let measured = formula(&case.measured)?;
        let against = formula(&case.against)?;
        let unit = self.unit(case.unit.as_ref())?;
        let of = |formula: &Option<Condition>| formula.as_ref().map(|formula| formula.unit).filter(|unit| *unit != Unit::None);
        Ok(Case {
            level: level(self.origin, &case.level)?,
            when: case.when.get_ref().clone(),
            message: self.template(format!("{key}/message"), &case.message, scope, templates)?,
            advice: self.template(format!("{key}/advice"), &case.advice, scope, templates)?,
            unit: unit.or_else(|| of(&measured)).or_else(|| of(&against)).unwrap_or(Unit::None),
            holds: self.condition(&case.when, Kind::Truth, scope)?,
            measured,
            against,
        })
    }

    fn reason(&self, key: &str, reason: &ReasonFile, scope: &Scope, templates: &mut Templates) -> Result<Reason, RuleFileError> {
        Ok(Reason {
            when: reason.when.get_ref().clone(),
            says: self.template(format!("{key}/says"), &reason.says, scope, templates)?,
            effect: self.one_of(&reason.effect, "effect", &EFFECTS)?,
            holds: self.condition(&reason.when, Kind::Truth, scope)?,
        })
    }

    fn points_at(&self, name: &Text, scope: &Scope) -> Result<super::scope::Ref, RuleFileError> {
        let found = scope.resolve_dotted(name.get_ref()).map_err(|fault| self.origin.fault(fault, Some(name.span())))?;
        match found.source {
            Source::Own | Source::File => Ok(found),
            Source::Role | Source::Limit => {
                let fault =
                    Fault::new(format!("`{}` stands nowhere in a score", name.get_ref())).help("name a field of the thing or of its file");
                Err(self.origin.fault(fault, Some(name.span())))
            }
        }
    }

    /// A limit that nothing reads is a slip: the author meant to.
    fn check_limits_used(&self, file: &RuleFile, cases: &[Case], reasons: &[Reason]) -> Result<(), RuleFileError> {
        let in_cases = cases.iter().flat_map(|case| case.reads().chain(case.message.reads()).chain(case.advice.reads()));
        let in_reasons = reasons.iter().flat_map(|reason| reason.holds.reads.iter().copied().chain(reason.says.reads()));
        let used: Vec<usize> = in_cases.chain(in_reasons).filter(|name| name.source == Source::Limit).map(|name| name.index).collect();
        match file.limits.keys().enumerate().find(|(index, _)| !used.contains(index)) {
            None => Ok(()),
            Some((_, name)) => {
                let fault = Fault::new(format!("nothing reads the limit `{}`", name.get_ref()));
                Err(self.origin.fault(fault.help(format!("write `{LIMIT}.{}` in a condition", name.get_ref())), Some(name.span())))
            }
        }
    }
}

/// Refuses a role that is not in the list.
pub(super) fn check_role(origin: Origin, role: &Text, roles: &[&str]) -> Result<(), RuleFileError> {
    if roles.contains(&role.get_ref().as_str()) {
        return Ok(());
    }
    let fault = Fault::unknown_name(format!("there is no role `{}`", role.get_ref()), role.get_ref(), roles.iter().copied());
    Err(origin.fault(fault, Some(role.span())))
}
