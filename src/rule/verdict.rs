//! What one rule says of one thing.

use super::evaluate::evaluate;
use super::finding::Level;
use super::loaded::{Effect, Rule};
use super::scope::Scene;
use super::value::Seen;
use crate::house::Basis;
use crate::place::Confidence;

/// The gravest a judgement may be that turns on a role known so, and why it is no graver: a guess never
/// fails a build.
fn cap(basis: Basis) -> Option<(Level, &'static str)> {
    match basis {
        Basis::Stated | Basis::House | Basis::Unknown => None,
        Basis::Inferred => Some((Level::Warning, "who reads it is inferred, not stated")),
        Basis::Assumed => Some((Level::Note, "who reads it is assumed, not stated")),
    }
}

/// How far the values can be trusted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Trust<'a> {
    /// The reader, where known.
    pub role: Option<&'a str>,
    /// How the reader is known.
    pub basis: Basis,
    /// How sure the reckoning of the thing is.
    pub confidence: Confidence,
}

/// A case that holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hit {
    pub case: usize,
    pub level: Level,
    /// Reasons of the rule that soften, by their index.
    pub softened_by: Vec<usize>,
    /// Further reasons for a lower level, in words.
    pub lowered: Vec<&'static str>,
}

/// What a rule says of a thing.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Verdict {
    /// The first case that holds, at the level it comes to.
    pub finding: Option<Hit>,
    /// The reason that silenced it, by its index.
    pub excused: Option<usize>,
    /// Why cases before it could not be judged.
    pub not_judged: Vec<String>,
}

/// Judges one thing by one rule. A case that cannot be judged does not stop the later ones: what they
/// find stands, and that the earlier, graver one was not judged is said beside it. A reason that cannot
/// be judged does not excuse.
pub(super) fn verdict(rule: &Rule, scene: &Scene, trust: Trust) -> Verdict {
    let mut verdict = Verdict::default();
    let mut found = None;
    for (index, case) in rule.cases.iter().enumerate() {
        match evaluate(&case.holds.node, scene, Seen::Absent) {
            Seen::Truth(true) => {
                found = Some((index, case));
                break;
            }
            Seen::Unknown(why) => verdict.not_judged.push(why.to_owned()),
            _ => {}
        }
    }
    if found.is_none() && verdict.not_judged.is_empty() {
        return verdict;
    }
    let holding = |effect| {
        let all = rule.reasons.iter().enumerate().filter(move |(_, reason)| reason.effect == effect);
        all.filter(|(_, reason)| evaluate(&reason.holds.node, scene, Seen::Absent) == Seen::Truth(true)).map(|(index, _)| index)
    };
    if let Some(silent) = holding(Effect::Silent).next() {
        // Whatever the unknown cases would say, it would be excused.
        verdict.not_judged.clear();
        verdict.excused = found.map(|_| silent);
        return verdict;
    }
    verdict.finding = found.map(|(index, case)| {
        let softened_by: Vec<usize> = holding(Effect::Softer).collect();
        let mut level = if softened_by.is_empty() { case.level } else { case.level.lower() };
        let mut lowered = Vec::new();
        if trust.confidence == Confidence::Low {
            level = level.lower();
            lowered.push("the reckoning is not sure: something had to be filled in");
        }
        if let Some((most, why)) = cap(trust.basis).filter(|(most, _)| level > *most && case.turns_on_role(&rule.limits, trust.role)) {
            level = most;
            lowered.push(why);
        }
        Hit { case: index, level, softened_by, lowered }
    });
    verdict
}
