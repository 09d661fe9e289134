//! Judging: every rule about a subject, on every thing of it.

use super::book::RuleBook;
use super::evaluate::evaluate;
use super::field::{Facts, Unit, Unknowable};
use super::finding::{Excused, Finding, NotJudged, Where};
use super::fingerprint::Fingerprints;
use super::merge::{Key, Weight, words};
use super::rule::{Effect, Rule};
use super::scope::Scene;
use super::value::{MEASURE_PLACES, RATIO_PLACES, Value, rounded};
use super::verdict::{Hit, RoleBasis, Trust, verdict};
use crate::place::{Confidence, Place};
use std::collections::{BTreeMap, BTreeSet};

/// One thing to judge.
pub struct Thing<'a> {
    /// Its values.
    pub facts: &'a dyn Facts,
    /// Where it stands in the file.
    pub place: Option<Place>,
    /// Where it is in the music.
    pub on: Where,
    /// How sure its reckoning is.
    pub confidence: Confidence,
}

/// What is the same for all things judged together.
pub struct Context<'a> {
    /// The facts of the file; [`Unknowable`] where there is no one file.
    pub file: &'a dyn Facts,
    /// The facts of the reader. Not looked at if `role_basis` is unknown.
    pub role: &'a dyn Facts,
    /// The reader's role, for limits that differ by role.
    pub role_name: Option<&'a str>,
    /// How the reader is known.
    pub role_basis: RoleBasis,
    /// Whether a rule, by its id, is to be judged at all.
    pub enabled: &'a dyn Fn(&str) -> bool,
}

/// What judging came to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outcome {
    /// What was found, in the order of findings.
    pub findings: Vec<Finding>,
    /// What could not be judged: each rule and reason once, in their order.
    pub not_judged: Vec<NotJudged>,
    /// What a reason silenced, by rule and in the order of the things.
    pub excused: Vec<Excused>,
}

impl Outcome {
    /// Takes in another outcome of the same file, and keeps the order of both lists.
    pub fn append(&mut self, other: Self) {
        self.findings.extend(other.findings);
        self.findings.sort_by(Finding::order);
        self.not_judged.extend(other.not_judged);
        self.not_judged.sort();
        self.not_judged.dedup();
        self.excused.extend(other.excused);
    }
}

/// Judges all `things` of one subject by every enabled rule about it. The things come from one file, in
/// the order of its music; the outcome depends on nothing else.
pub fn judge(book: &RuleBook, subject: &str, things: &[Thing], context: &Context) -> Outcome {
    let mut outcome = Outcome::default();
    for rule in book.rules().filter(|rule| rule.about == subject && (context.enabled)(&rule.id)) {
        outcome.append(Judge { book, rule, context, things, limits: rule.limits_for(known_role(context)) }.run());
    }
    outcome
}

fn known_role<'a>(context: &Context<'a>) -> Option<&'a str> {
    context.role_name.filter(|_| context.role_basis != RoleBasis::Unknown)
}

/// A hit on a thing, before merging.
struct Raw<'a> {
    thing: &'a Thing<'a>,
    hit: Hit,
    weight: Weight,
}

struct Judge<'a> {
    book: &'a RuleBook,
    rule: &'a Rule,
    context: &'a Context<'a>,
    things: &'a [Thing<'a>],
    limits: Vec<f64>,
}

impl<'a> Judge<'a> {
    fn scene(&self, thing: &'a Thing) -> Scene<'_> {
        let role =
            if self.context.role_basis == RoleBasis::Unknown { &Unknowable("it is not known who reads this") } else { self.context.role };
        Scene { own: thing.facts, file: self.context.file, role, limits: &self.limits }
    }

    fn run(&self) -> Outcome {
        let mut outcome = Outcome::default();
        let mut not_judged = BTreeSet::new();
        let mut groups: BTreeMap<Key, Vec<Raw>> = BTreeMap::new();
        for (index, thing) in self.things.iter().enumerate() {
            let scene = self.scene(thing);
            let trust = Trust { role: known_role(self.context), basis: self.context.role_basis, confidence: thing.confidence };
            let verdict = verdict(self.rule, &scene, trust);
            not_judged.extend(verdict.not_judged);
            if let Some(reason) = verdict.excused.and_then(|index| self.rule.reasons.get(index)) {
                let says = self.book.templates().write(&reason.says, &scene, &words(&[&thing.on]));
                outcome.excused.push(Excused { rule: self.rule.id.clone(), says, on: thing.on.clone() });
            }
            if let Some(hit) = verdict.finding {
                let weight = self.weight(&hit, &scene);
                groups.entry(Key::of(self.rule.merge, &thing.on, index)).or_default().push(Raw { thing, hit, weight });
            }
        }
        outcome.not_judged = not_judged.into_iter().map(|reason| NotJudged { rule: self.rule.id.clone(), reason }).collect();
        let mut groups: Vec<Vec<Raw>> = groups.into_values().collect();
        for group in &mut groups {
            group.sort_by(|a, b| a.thing.on.order(&b.thing.on));
        }
        groups.sort_by(|a, b| match (a.first(), b.first()) {
            (Some(a), Some(b)) => a.thing.on.order(&b.thing.on),
            (a, b) => a.is_some().cmp(&b.is_some()),
        });
        let mut fingerprints = Fingerprints::default();
        outcome.findings = groups.iter().filter_map(|group| self.finding(group, &mut fingerprints)).collect();
        outcome.findings.sort_by(Finding::order);
        outcome
    }

    fn weight(&self, hit: &Hit, scene: &Scene) -> Weight {
        let case = self.rule.cases.get(hit.case);
        let places = if case.is_some_and(|case| case.unit == Unit::Ratio) { RATIO_PLACES } else { MEASURE_PLACES };
        let number = |formula: Option<&super::condition::Condition>| match evaluate(&formula?.node, scene, None) {
            Value::Number(number) => Some(rounded(number, places)),
            _ => None,
        };
        Weight {
            level: hit.level,
            measured: number(case.and_then(|case| case.measured.as_ref())),
            limit: number(case.and_then(|case| case.against.as_ref())),
        }
    }

    /// One finding of a group; its worst member, the first of equals, speaks for all.
    fn finding(&self, group: &[Raw<'a>], fingerprints: &mut Fingerprints) -> Option<Finding> {
        let worst = group.iter().min_by(|a, b| a.weight.worse_first(&b.weight))?;
        let case = self.rule.cases.get(worst.hit.case)?;
        let scene = self.scene(worst.thing);
        let templates = self.book.templates();
        let spoken = words(&group.iter().map(|raw| &raw.thing.on).collect::<Vec<_>>());
        let softened = worst.hit.softened_by.iter().filter_map(|index| self.rule.reasons.get(*index));
        let softened =
            softened.filter(|reason| reason.effect == Effect::Softer).map(|reason| templates.write(&reason.says, &scene, &spoken));
        let because: Vec<String> = softened.chain(worst.hit.lowered.iter().map(ToString::to_string)).collect();
        let pointed = self.rule.points_at.and_then(|name| scene.place(name));
        Some(Finding {
            rule: self.rule.id.clone(),
            case: worst.hit.case,
            level: worst.hit.level,
            message: templates.write(&case.message, &scene, &spoken),
            advice: templates.write(&case.advice, &scene, &spoken),
            on: worst.thing.on.clone(),
            measured: worst.weight.measured,
            limit: worst.weight.limit,
            unit: case.unit.name(),
            confidence: worst.thing.confidence,
            because: if because.is_empty() { None } else { Some(because.join("; ")) },
            at: pointed.or(worst.thing.place),
            also: pointed.and(worst.thing.place).filter(|place| Some(*place) != pointed),
            count: group.len(),
            fingerprint: fingerprints.next(&self.rule.id, self.rule.merge, &worst.thing.on),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::field::Row;
    use super::super::finding::Level;
    use super::super::testing::{FILE, File, GAP, Gap, ROLE, Role, book, context, file, on, thing};
    use super::*;
    use crate::place::Known;
    use crate::units::Mm;

    const SEVEN: Known<Mm> = Known::Derived(Mm(7.0));

    fn small_staff(height: Known<Mm>, basis: RoleBasis) -> Outcome {
        let file = file(height);
        let facts = FILE.of(&file);
        judge(&book(), "file", &[thing(&facts, Where::default())], &context(&facts, &ROLE.of(&Role { least: 7.0 }), None, basis))
    }

    fn gaps(gaps: &[(Gap, Where)], file: &File, role: Option<&str>, basis: RoleBasis) -> Outcome {
        let rows: Vec<(Row<Gap>, &Where)> = gaps.iter().map(|(gap, on)| (GAP.of(gap), on)).collect();
        let things: Vec<Thing> = rows.iter().map(|(row, on)| thing(row, (*on).clone())).collect();
        judge(&book(), "gap", &things, &context(&FILE.of(file), &ROLE.of(&Role { least: 7.0 }), role, basis))
    }

    fn wide(heights: f64) -> Gap {
        Gap { heights: Value::Number(heights), white: Known::Derived(Mm(heights * 7.0)), ..Gap::default() }
    }

    #[test]
    fn a_finding_says_where_what_and_against_what() {
        let outcome = small_staff(Known::Inherited(Mm(6.0), Place::new(312, 28)), RoleBasis::Stated);
        let [finding] = outcome.findings.as_slice() else { panic!("{outcome:?}") };
        assert_eq!(finding.message, "The staff is 6 mm high, 7 mm is the least.");
        assert_eq!((finding.measured, finding.limit, finding.unit), (Some(6.0), Some(7.0), Some("mm")));
        assert_eq!((finding.at, finding.also), (Some(Place::new(312, 28)), Some(Place::new(900, 9))));
        assert_eq!((finding.level, finding.because.as_deref(), finding.count), (Level::Error, None, 1));
    }

    /// The honest gate: a guess never makes an error.
    #[test]
    fn a_judgement_is_no_graver_than_the_role_is_sure() {
        let level = |basis| small_staff(Known::Derived(Mm(6.0)), basis).findings.first().map(|finding| finding.level);
        assert_eq!(level(RoleBasis::Stated), Some(Level::Error));
        assert_eq!(level(RoleBasis::House), Some(Level::Error));
        assert_eq!(level(RoleBasis::Inferred), Some(Level::Warning));
        assert_eq!(level(RoleBasis::Assumed), Some(Level::Note));
        let unknown = small_staff(Known::Derived(Mm(6.0)), RoleBasis::Unknown);
        assert!(unknown.findings.is_empty());
        assert_eq!(unknown.not_judged, [NotJudged { rule: "small-staff".into(), reason: "it is not known who reads this".to_owned() }]);
    }

    #[test]
    fn absent_is_silent_and_unknown_is_not_judged() {
        assert_eq!(small_staff(Known::Absent, RoleBasis::Stated), Outcome::default());
        let unknown = small_staff(Known::Unknown("no scaling"), RoleBasis::Stated);
        assert_eq!(unknown.not_judged, [NotJudged { rule: "small-staff".into(), reason: "no scaling".to_owned() }]);
    }

    #[test]
    fn one_cause_on_one_page_is_one_finding_and_the_worst_speaks() {
        let things = [(wide(4.0), on(2, 1)), (wide(5.0), on(1, 4)), (wide(5.5), on(1, 2)), (wide(5.5), on(1, 9)), (wide(2.0), on(1, 1))];
        let outcome = gaps(&things, &file(SEVEN), None, RoleBasis::Unknown);
        let [first, second] = outcome.findings.as_slice() else { panic!("{outcome:#?}") };
        assert_eq!((first.count, first.on.page, first.on.system), (3, Some(1), Some(2)));
        assert_eq!(first.message, "p. 1: 5.5 staff heights of white, 3 staff heights is the most, 3 gaps in systems 2, 4 and 9");
        assert_eq!((second.count, second.message.as_str()), (1, "p. 2: 4 staff heights of white, 3 staff heights is the most"));
        assert_ne!(first.fingerprint, second.fingerprint);
    }

    #[test]
    fn the_order_of_the_things_changes_nothing() {
        let make = || vec![(wide(4.0), on(2, 1)), (wide(5.5), on(1, 4)), (wide(5.5), on(1, 2)), (wide(9.0), on(3, 1))];
        let mut turned = make();
        turned.reverse();
        let (one, two) = [make(), turned].map(|things| gaps(&things, &file(SEVEN), None, RoleBasis::Unknown)).into();
        assert_eq!(one, two);
    }

    #[test]
    fn a_limit_of_the_role_counts_and_caps() {
        let levels = |basis, heights| {
            let outcome = gaps(&[(wide(heights), on(1, 1))], &file(SEVEN), Some("chorus-score"), basis);
            outcome.findings.first().map(|finding| (finding.level, finding.limit, finding.because.is_some()))
        };
        assert_eq!(levels(RoleBasis::Stated, 3.5), None);
        assert_eq!(levels(RoleBasis::Stated, 4.5), Some((Level::Warning, Some(4.0), false)));
        assert_eq!(levels(RoleBasis::Assumed, 4.5), Some((Level::Note, Some(4.0), true)));
        assert_eq!(levels(RoleBasis::Unknown, 3.5), Some((Level::Warning, Some(3.0), false)));
    }

    #[test]
    fn reasons_silence_and_soften() {
        let facing = File { layout: "facing", staff_height: SEVEN };
        let outcome = gaps(&[(wide(4.0), on(1, 1))], &facing, None, RoleBasis::Unknown);
        assert!(outcome.findings.is_empty());
        assert_eq!(outcome.excused.first().map(|excused| excused.says.as_str()), Some("the piece is laid out on facing pages"));
        let border = Gap { family_border: true, ..wide(4.0) };
        let outcome = gaps(&[(border, on(1, 1))], &file(SEVEN), None, RoleBasis::Unknown);
        let found = outcome.findings.first().map(|finding| (finding.level, finding.because.as_deref()));
        assert_eq!(found, Some((Level::Note, Some("two families meet here"))));
    }
}
