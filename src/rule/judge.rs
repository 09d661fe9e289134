//! Judging: every rule about a subject, on every thing of it.

use super::book::RuleBook;
use super::evaluate::evaluate;
use super::field::{Facts, Unit, Unknowable};
use super::finding::{Common, Excused, Finding, NotJudged, Where};
use super::fingerprint::Fingerprints;
use super::loaded::{Effect, Rule};
use super::merge::{Key, Told, Weight, words};
use super::scope::{Noted, Scene};
use super::value::{MEASURE_PLACES, RATIO_PLACES, Seen, rounded};
use super::verdict::{Trust, Verdict, verdict};
use crate::house::Basis;
use crate::place::{Confidence, Place};
use rayon::prelude::*;
use std::borrow::Cow;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

/// Fewer findings of a rule than twice as many are written by one thread.
const FEW: usize = 8;

/// One thing to judge.
pub struct Thing<'a> {
    /// Its values.
    pub facts: &'a dyn Facts,
    /// Where it stands in the file.
    pub place: Option<Place>,
    /// Where it is in the music.
    pub on: Cow<'a, Where>,
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
    pub role_basis: Basis,
    /// Whether a rule, by its id, is to be judged at all.
    pub enabled: &'a (dyn Fn(&str) -> bool + Sync),
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
    /// Notes for every enabled rule about a subject that it could not be judged.
    pub fn leave(&mut self, book: &RuleBook, subject: &str, why: &str, enabled: &dyn Fn(&str) -> bool) {
        let rules = book.rules().filter(|rule| rule.about == subject && enabled(&rule.id));
        self.not_judged.extend(rules.map(|rule| NotJudged { rule: rule.id.clone(), reason: why.to_owned() }));
        self.not_judged.sort();
        self.not_judged.dedup();
    }

    /// This and another outcome of the same file.
    #[must_use]
    pub fn with(mut self, other: Self) -> Self {
        self.append(other);
        self
    }

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

/// The things of one subject, in lots: a large score has more of them than are worth having all at once. They come from one file,
/// in the order of the file.
pub trait Things: Sync {
    /// How many lots there are.
    fn lots(&self) -> usize;

    /// Shows the things of a lot.
    fn show(&self, lot: usize, see: &mut dyn FnMut(&[Thing]));

    /// Shows one thing of a lot, by its place in it.
    fn show_one(&self, lot: usize, index: usize, see: &mut dyn FnMut(&Thing)) {
        self.show(lot, &mut |things| things.get(index).into_iter().for_each(&mut *see));
    }
}

impl Things for [Thing<'_>] {
    fn lots(&self) -> usize {
        1
    }

    fn show(&self, _lot: usize, see: &mut dyn FnMut(&[Thing])) {
        see(self);
    }
}

/// Judges all `things` of one subject by every enabled rule about it.
pub fn judge(book: &RuleBook, subject: &str, things: &(impl Things + ?Sized), context: &Context) -> Outcome {
    let rules: Vec<&Rule> = book.rules().filter(|rule| rule.about == subject && (context.enabled)(&rule.id)).collect();
    if rules.is_empty() {
        return Outcome::default();
    }
    let nobody = Unknowable("it is not known who reads this");
    let role = if context.role_basis == Basis::Unknown { &nobody } else { context.role };
    let around = Around { file: Noted::new(context.file), role: Noted::new(role) };
    let new = || rules.iter().map(|rule| Judge::new(book, rule, context, &around)).collect::<Vec<Judge>>();
    // Neighbouring lots by the same judges, on whatever cores have nothing else to do.
    let judges = (0..things.lots()).into_par_iter().fold(new, |mut judges, lot| {
        things.show(lot, &mut |shown| {
            for (index, thing) in shown.iter().enumerate() {
                let own = Noted::new(thing.facts);
                for judge in &mut judges {
                    judge.take_in(thing, &own, lot, index);
                }
            }
        });
        judges
    });
    let judges = judges.reduce_with(|mut judges, after| {
        for (judge, after) in judges.iter_mut().zip(after) {
            judge.follow_on(after, things);
        }
        judges
    });
    let closed: Vec<Outcome> = judges.unwrap_or_default().into_par_iter().map(|judge| judge.close(things)).collect();
    closed.into_iter().fold(Outcome::default(), Outcome::with)
}

fn known_role<'a>(context: &Context<'a>) -> Option<&'a str> {
    context.role_name.filter(|_| context.role_basis != Basis::Unknown)
}

/// A hit on a thing, before merging. A rule may find something in every gap of a score: the thing itself is shown again when its
/// finding is written.
#[derive(Clone, Copy)]
struct Raw {
    lot: u32,
    index: u32,
    weight: Weight,
}

/// Hits that are one finding.
#[derive(Default)]
struct Group {
    hits: Vec<Raw>,
    /// Where the last of them is, and whether they came in another order than that of the music.
    last: Where,
    unordered: bool,
}

impl Group {
    /// Takes in the hits of the lots that follow.
    fn follow_on(&mut self, after: Self, things: &(impl Things + ?Sized)) {
        let first = after.hits.first().map(|hit| on(things, *hit)).unwrap_or_default();
        self.unordered |= after.unordered || self.last.order(&first).is_gt();
        self.last = after.last;
        self.hits.extend(after.hits);
    }
}

/// What rules read beside the things themselves.
struct Around<'a> {
    file: Noted<'a>,
    role: Noted<'a>,
}

/// One rule, and what it has found so far.
struct Judge<'a> {
    book: &'a RuleBook,
    rule: &'a Rule,
    context: &'a Context<'a>,
    around: &'a Around<'a>,
    limits: Vec<f64>,
    not_judged: BTreeSet<String>,
    excused: Vec<Excused>,
    /// One cause: what different cases find is not told in one breath.
    groups: BTreeMap<(Key, usize), Group>,
}

impl<'a> Judge<'a> {
    fn new(book: &'a RuleBook, rule: &'a Rule, context: &'a Context<'a>, around: &'a Around<'a>) -> Self {
        let limits = rule.limits_for(known_role(context));
        Self { book, rule, context, around, limits, not_judged: BTreeSet::new(), excused: Vec::new(), groups: BTreeMap::new() }
    }

    fn scene<'s>(&'s self, own: &'s Noted<'s>) -> Scene<'s> {
        Scene { own, file: &self.around.file, role: &self.around.role, limits: &self.limits }
    }

    fn verdict(&self, thing: &Thing, scene: &Scene) -> Verdict {
        let trust = Trust { role: known_role(self.context), basis: self.context.role_basis, confidence: thing.confidence };
        verdict(self.rule, scene, trust)
    }

    /// Judges a thing of a lot.
    fn take_in(&mut self, thing: &Thing, own: &Noted, lot: usize, index: usize) {
        let scene = self.scene(own);
        let verdict = self.verdict(thing, &scene);
        let excused = verdict.excused.and_then(|index| self.rule.reasons.get(index)).map(|reason| {
            let says = self.book.templates().write(&reason.says, &scene, &words(&thing.on, &[&*thing.on]));
            Excused { rule: self.rule.id.clone(), says, on: thing.on.clone().into_owned() }
        });
        let hit = verdict.finding.map(|hit| {
            let (measured, limit) = self.numbers(hit.case, &scene);
            (hit.case, Weight::of(hit.level, measured, limit))
        });
        self.not_judged.extend(verdict.not_judged);
        self.excused.extend(excused);
        if let (Some((case, weight)), Ok(lot), Ok(index)) = (hit, u32::try_from(lot), u32::try_from(index)) {
            let group = self.groups.entry((Key::of(self.rule.merge, &thing.on, lot, index), case)).or_default();
            group.unordered |= !group.hits.is_empty() && group.last.order(&thing.on).is_gt();
            thing.on.as_ref().clone_into(&mut group.last);
            group.hits.push(Raw { lot, index, weight });
        }
    }

    /// Takes in what the same rule found in the lots that follow.
    fn follow_on(&mut self, after: Self, things: &(impl Things + ?Sized)) {
        self.not_judged.extend(after.not_judged);
        self.excused.extend(after.excused);
        for (key, after) in after.groups {
            match self.groups.entry(key) {
                Entry::Vacant(none) => {
                    none.insert(after);
                }
                Entry::Occupied(group) => group.into_mut().follow_on(after, things),
            }
        }
    }

    /// What was measured, and what it was held against.
    fn numbers(&self, case: usize, scene: &Scene) -> (Option<f64>, Option<f64>) {
        let case = self.rule.cases.get(case);
        let places = if case.is_some_and(|case| case.unit == Unit::Ratio) { RATIO_PLACES } else { MEASURE_PLACES };
        let number = |formula: Option<&super::condition::Condition>| match evaluate(&formula?.node, scene, Seen::Absent) {
            Seen::Number(number) => Some(rounded(number, places)),
            _ => None,
        };
        (number(case.and_then(|case| case.measured.as_ref())), number(case.and_then(|case| case.against.as_ref())))
    }

    /// All things are judged: what was found in them.
    fn close(mut self, things: &(impl Things + ?Sized)) -> Outcome {
        let mut groups: Vec<(Where, Vec<Raw>)> = Vec::with_capacity(self.groups.len());
        for group in std::mem::take(&mut self.groups).into_values() {
            let mut hits = group.hits;
            if group.unordered {
                let mut placed: Vec<(Where, Raw)> = hits.iter().map(|raw| (on(things, *raw), *raw)).collect();
                placed.sort_by(|(a, _), (b, _)| a.order(b));
                hits = placed.into_iter().map(|(_, raw)| raw).collect();
            }
            let first = hits.first().map(|raw| on(things, *raw)).unwrap_or_default();
            groups.push((first, hits));
        }
        groups.sort_by(|(a, _), (b, _)| a.order(b));
        let written: Vec<(Finding, Where)> =
            groups.par_iter().with_min_len(FEW).filter_map(|(_, hits)| self.finding(hits, things)).collect();
        let mut fingerprints = Fingerprints::default();
        let with_fingerprint = |(finding, worst): (Finding, Where)| {
            let fingerprint = fingerprints.next(&self.rule.id, self.rule.merge, &worst);
            Finding { fingerprint, ..finding }
        };
        let mut findings: Vec<Finding> = written.into_iter().map(with_fingerprint).collect();
        findings.sort_by(Finding::order);
        let not_judged = std::mem::take(&mut self.not_judged).into_iter();
        Outcome {
            findings,
            not_judged: not_judged.map(|reason| NotJudged { rule: self.rule.id.clone(), reason }).collect(),
            excused: std::mem::take(&mut self.excused),
        }
    }

    /// One finding of a group, without its fingerprint; its worst member, the first of equals, speaks for all. Hands on where that is, too.
    fn finding(&self, hits: &[Raw], things: &(impl Things + ?Sized)) -> Option<(Finding, Where)> {
        let worst = hits.iter().min_by(|a, b| a.weight.worse_first(&b.weight))?;
        let place = on(things, *worst);
        let mut told = Told::default();
        let mut common = Common::of(place.clone());
        for hit in hits {
            see(things, *hit, &mut |thing| {
                told.add(&thing.on);
                common.add(&thing.on);
            });
        }
        let common = common.place();
        let mut finding = None;
        see(things, *worst, &mut |thing| finding = self.written(thing, hits.len(), &told, &common));
        Some((finding?, place))
    }

    /// The finding that a thing speaks for, one of so many.
    fn written(&self, worst: &Thing, count: usize, told: &Told, common: &Where) -> Option<Finding> {
        let own = Noted::new(worst.facts);
        let scene = self.scene(&own);
        let hit = self.verdict(worst, &scene).finding?;
        let case = self.rule.cases.get(hit.case)?;
        let (measured, limit) = self.numbers(hit.case, &scene);
        let templates = self.book.templates();
        let spoken = told.words(&worst.on);
        let softened = hit.softened_by.iter().filter_map(|index| self.rule.reasons.get(*index));
        let softened =
            softened.filter(|reason| reason.effect == Effect::Softer).map(|reason| templates.write(&reason.says, &scene, &spoken));
        let because: Vec<String> = softened.chain(hit.lowered.iter().map(ToString::to_string)).collect();
        let pointed = self.rule.points_at.and_then(|name| scene.place(name));
        Some(Finding {
            rule: self.rule.id.clone(),
            case: hit.case,
            level: hit.level,
            message: templates.write(&case.message, &scene, &spoken),
            advice: templates.write(&case.advice, &scene, &spoken),
            on: common.clone(),
            measured,
            limit,
            unit: case.unit.name(),
            confidence: worst.confidence,
            because: if because.is_empty() { None } else { Some(because.join("; ")) },
            at: pointed.or(worst.place),
            also: pointed.and(worst.place).filter(|place| Some(*place) != pointed),
            count,
            fingerprint: String::new(),
        })
    }
}

/// Shows the thing of a hit.
fn see(things: &(impl Things + ?Sized), hit: Raw, see: &mut dyn FnMut(&Thing)) {
    things.show_one(hit.lot as usize, hit.index as usize, see);
}

/// Where the thing of a hit is.
fn on(things: &(impl Things + ?Sized), hit: Raw) -> Where {
    let mut on = Where::default();
    see(things, hit, &mut |thing| thing.on.as_ref().clone_into(&mut on));
    on
}

#[cfg(test)]
mod tests;
