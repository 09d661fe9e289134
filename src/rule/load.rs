//! From a rule file to a rule: every name resolved, every condition and template checked, every example
//! tried. What is wrong comes out as an error that points into the file.

use super::book::Examples;
use super::condition::Condition;
use super::error::{Fault, RuleFileError};
use super::example;
use super::field::{FILE, Kind, ROLE, Unit, Vocabulary};
use super::finding::Level;
use super::loaded::{Case, Effect, Limit, Mends, Merge, Reason, Rule};
use super::rule_file::{CaseFile, LimitFile, Origin, ReasonFile, RuleFile, Text};
use super::scope::{LIMIT, Scope, Source};
use super::template::{Template, Templates};
use crate::house;
use std::collections::BTreeMap;

/// Checks one rule file.
pub(super) fn load(
    origin: Origin,
    file: RuleFile,
    vocabulary: &Vocabulary,
    roles: &[&str],
    examples: Examples,
    templates: &mut Templates,
) -> Result<Rule, RuleFileError> {
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
    let sources = file.sources.into_iter().map(|source| loader.source(source)).collect::<Result<_, _>>()?;
    let merge = file.merge.as_ref().map_or(Ok(Merge::None), |name| loader.one_of(name, "merge", &MERGES))?;
    let mended_by = file.mended_by.iter().map(|name| loader.one_of(name, "repair", &REPAIRS)).collect::<Result<_, _>>()?;
    let mut rule = Rule {
        id: file.id.get_ref().as_str().into(),
        aliases: file.aliases.into_iter().map(Text::into_inner).collect(),
        title: file.title,
        family: file.family,
        harm: file.harm,
        about: file.about.into_inner(),
        why: file.why,
        sources,
        exemptions: file.exemptions,
        merge,
        mended_by,
        cases,
        reasons,
        limits: limits.clone(),
        examples: Vec::new(),
        file: origin.file.to_owned(),
        house: None,
        points_at,
    };
    if examples == Examples::Read {
        rule.examples = example::try_all(origin, &file.example, &rule, &scope, roles)?;
    }
    Ok(rule)
}

const LEVELS: [(&str, Level); 3] = [("error", Level::Error), ("warning", Level::Warning), ("note", Level::Note)];
const MERGES: [(&str, Merge); 4] = [("file", Merge::File), ("part", Merge::Part), ("page", Merge::Page), ("none", Merge::None)];
const EFFECTS: [(&str, Effect); 2] = [("silent", Effect::Silent), ("softer", Effect::Softer)];
const REPAIRS: [(&str, Mends); 4] = [
    (Mends::CastingOff.name(), Mends::CastingOff),
    (Mends::FirstSide.name(), Mends::FirstSide),
    (Mends::StaffHeight.name(), Mends::StaffHeight),
    (Mends::OneMoreSystem.name(), Mends::OneMoreSystem),
];

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

    fn source(&self, source: toml::Spanned<house::Source>) -> Result<house::Source, RuleFileError> {
        let unnamed = source.get_ref().title == house::NO_SOURCE;
        if unnamed == (source.get_ref().mark == house::Mark::C) {
            return Ok(source.into_inner());
        }
        let fault = Fault::new(format!("mark C goes with the title `{}`, and with no other", house::NO_SOURCE));
        Err(self.origin.fault(fault, Some(source.span())))
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

#[cfg(test)]
mod tests {
    use super::super::RuleBook;
    use super::super::finding::Level;
    use super::super::testing::{ROLES, SMALL_STAFF, WIDE_STAFF_GAP, book, vocabulary};
    use super::Rule;
    use crate::house::{LimitSetting, Named, RuleLevel, RuleSetting};
    use crate::place::Place;

    const EXAMPLE: &str = "\"four staff heights in a part\"";

    /// Each a change to a sound rule file: what is replaced, by what, the piece of the file that the error
    /// then points at, and words of the error.
    const WRONG: [(&str, &str, &str, &str); 35] = [
        ("gap.white_heights >= limit", "gap.white_height >= limit", "gap.white_height", "did you mean `white_heights`?"),
        ("limit.heights\n&& gap", "limit.height\n&& gap", "limit.height", "did you mean `heights`?"),
        (">= limit.heights\n", ">= system.depth\n", "system.depth", "there is no `system` here"),
        ("measured = \"gap.white_heights\"", "measured = \"gap.above\"", "\"gap.above\"", "this gives a text, not a number"),
        ("against = \"limit.heights\"", "against = \"limit.depth\"", "limit.depth", "no limit `depth`"),
        ("&& gap.white_mm", "& gap.white_mm", "&", "this is no condition"),
        ("&& gap.white_mm >", "&& gap.above >", "gap.above", "a text cannot be compared so"),
        ("1.5 * file.staff", "1.5 % file.staff", "%", "`%` cannot stand in a condition"),
        ("about = \"gap\"", "about = \"gab\"", "\"gab\"", "did you mean `gap`?"),
        ("about = \"gap\"", "about = \"role\"", "\"role\"", "no rule can be about `role`"),
        ("level = \"warning\"", "level = \"warn\"", "\"warn\"", "there is no level `warn`"),
        ("merge = \"page\"", "merge = \"pages\"", "\"pages\"", "did you mean `page`?"),
        ("merge = \"page\"", "points_at = \"gap.white\"", "\"gap.white\"", "no field `white`"),
        ("merge = \"page\"", "points_at = \"limit.heights\"", "\"limit.heights\"", "stands nowhere in a score"),
        ("effect = \"silent\"", "effect = \"quiet\"", "\"quiet\"", "there is no effect `quiet`"),
        ("unit = \"staff heights\"", "unit = \"staff height\"", "\"staff height\"", "did you mean `staff heights`?"),
        ("exemptions =", "exemption =", "exemption", "did you mean `exemptions`?"),
        ("advice = ", "advise = ", "advise", "did you mean `advice`?"),
        ("mark = \"C\"", "mark = \"X\"", "\"X\"", "unknown variant `X`"),
        (
            "mark = \"C\"",
            "mark = \"R\"",
            "{ title = \"common practice, no source\", says = \"three staff heights at most\", mark = \"R\" }",
            "mark C goes with",
        ),
        ("harm = 50", "harm = \"much\"", "\"much\"", "invalid type"),
        ("value = 3", "value = nan", "nan", "a limit must be a finite number"),
        ("\"chorus-score\" = 4", "\"choir-score\" = 4", "\"choir-score\"", "did you mean `chorus-score`?"),
        ("role = \"chorus-score\"", "role = \"choir\"", "\"choir\"", "there is no role `choir`"),
        (
            "[limits.heights]\n",
            "[limits.unused]\nvalue = 1\nwhat = \"\"\nsource = \"\"\n[limits.heights]\n",
            "unused",
            "nothing reads the limit `unused`",
        ),
        ("id = \"wide-staff-gap\"", "id = \"Wide gap\"", "\"Wide gap\"", "is no name for a rule"),
        ("id = \"wide-staff-gap\"", "id = \"tiny-staff\"", "\"tiny-staff\"", "there is a rule `tiny-staff` already"),
        ("gap.needed_mm | mm }}.", "gap.need_mm | mm }}.", "gap.need_mm", "did you mean `needed_mm`?"),
        ("gap.needed_mm | mm }}.", "gap.needed_mm | cm }}.", "cm", "there is no filter `cm`"),
        ("gap.needed_mm | mm }}.", "gap.needed_mm | mm }.", "\"Close it to {{ gap.needed_mm | mm }.\"", "this message cannot be read"),
        ("{{ pages }}", "{{ page }}", "page", "did you mean `pages`?"),
        ("breaks = \"warning\"", "breaks = \"error\"", EXAMPLE, "it says error, the rule says warning"),
        ("\"gap.white_mm\" = 28.0, ", "", EXAMPLE, "a condition reads `gap.white_mm`"),
        ("\"gap.white_mm\" = 28.0", "\"gap.white_mm\" = \"much\"", "\"much\"", "`gap.white_mm` is a number"),
        ("\"gap.white_mm\" = 28.0", "\"limit.heights\" = 28.0", "\"limit.heights\"", "an example cannot set a limit"),
    ];

    #[test]
    fn what_is_wrong_is_pointed_at() {
        for (sound, wrong, piece, words) in WRONG {
            assert!(WIDE_STAFF_GAP.contains(sound), "{sound}");
            let text = WIDE_STAFF_GAP.replacen(sound, wrong, 1);
            let mut book = RuleBook::empty();
            book.add("small-staff.toml", SMALL_STAFF, &vocabulary(), &ROLES).expect("sound");
            let error = book.add("x.toml", &text, &vocabulary(), &ROLES).expect_err(wrong);
            let said = error.to_string();
            assert!(said.contains(words), "{wrong}: {said}");
            let span = error.span.clone().unwrap_or_else(|| panic!("{wrong}: no place: {said}"));
            let found = text.get(span.clone()).unwrap_or_default();
            assert_eq!(found, piece, "{wrong}: {said}");
            let line = text.get(..span.start).map_or(0, |before| before.matches('\n').count() + 1);
            assert!(said.starts_with(&format!("x.toml:{line}:")), "{wrong}: {said}");
            assert_eq!(book.rules().count(), 1, "{wrong}");
        }
    }

    #[test]
    fn a_rule_has_examples_of_both_sorts() {
        let cut = SMALL_STAFF.rfind("[[example]]").and_then(|at| SMALL_STAFF.get(..at)).expect("has one");
        let error = RuleBook::empty().add("x.toml", cut, &vocabulary(), &ROLES).expect_err("none that keeps");
        assert_eq!(error.what, "this rule has no example that keeps it");
    }

    #[test]
    fn what_explain_shows() {
        let mut book = book();
        let rule = book.find("wide-staff-gap").expect("there");
        assert!(rule.depends_on_role());
        let [breaks, keeps] = rule.examples.as_slice() else { panic!("two") };
        assert_eq!((breaks.breaks, keeps.breaks), (Some(Level::Warning), None));
        let said = book.said_of(rule, breaks).map(|(message, _)| message);
        assert_eq!(said.as_deref(), Some("p. 1: 4 staff heights of white, 3 staff heights is the most"));
        assert_eq!(book.said_of(rule, keeps), None);
        assert_eq!(book.find("tiny-staff").map(|rule| &*rule.id), Some("small-staff"));
        assert_eq!(book.nearest("small-staf"), Some("small-staff"));
        let set = |rule: &str, limit: &str| {
            let named = |name: &str| Named { name: name.to_owned(), at: Place::new(3, 2) };
            let limits = vec![LimitSetting { limit: named(limit), reader: None, value: 3.5 }];
            RuleSetting { rule: named(rule), level: Some(RuleLevel::Note), reason: None, limits }
        };
        assert_eq!(book.follow(&set("wide-staff-gap", "heights"), "house.toml"), Ok(()));
        let unknown = book.follow(&set("wide-staff-gap", "height"), "house.toml");
        assert_eq!(unknown, Err((Place::new(3, 2), "there is no limit of `wide-staff-gap` `height`; did you mean `heights`?".to_owned())));
        assert!(book.follow(&set("wide-staf-gap", "heights"), "house.toml").is_err_and(|(_, why)| why.contains("`wide-staff-gap`")));
        assert_eq!(book.find("wide-staff-gap").map(Rule::gravest), Some(Level::Note));
        let limit = book.find("wide-staff-gap").and_then(|rule| rule.limits.first()).expect("there");
        assert_eq!((limit.for_role(None), limit.for_role(Some("chorus-score"))), (3.5, 4.0));
        assert_eq!(limit.changed_by.as_deref(), Some("house.toml"));
    }
}
