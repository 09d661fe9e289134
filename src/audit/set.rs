//! The documents of one run seen together: what each has otherwise than the score, or than the other copies.

use super::{Bar, DocumentAudit, place, reader_of};
use crate::delivery::{Copy, CopyFact, Delivery, PlayerFact, deliveries};
use crate::musicxml::Source;
use crate::place::Lines;
use crate::rule::Finding;
use crate::rule::subject::{good_in_set, judge_in_set};
use rayon::prelude::*;
use std::path::Path;

/// A delivery among the documents of a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Set {
    /// The score, by its index among the documents.
    pub score: Option<usize>,
    /// Its copies, by their index.
    pub copies: Vec<usize>,
    /// For each copy, in the same order, names of the parts of the score that it holds.
    pub plays: Vec<Vec<String>>,
}

/// Judges documents as parts of their deliveries and adds what is found to each. Hands on which deliveries there are.
pub fn together(documents: &mut [DocumentAudit], bar: &Bar) -> Vec<Set> {
    let mut copies: Vec<Copy> = Vec::new();
    let mut owners: Vec<usize> = Vec::new();
    for (index, document) in documents.iter_mut().enumerate() {
        if let Some(copy) = document.copy.take() {
            copies.push(*copy);
            owners.push(index);
        }
    }
    let found = deliveries(&copies);
    let mut facts: Vec<(Option<&CopyFact>, &[PlayerFact])> = vec![(None, &[]); copies.len()];
    for delivery in &found {
        for fact in &delivery.facts {
            let players = if fact.is_score { delivery.players.as_slice() } else { &[] };
            facts[fact.document] = (Some(fact), players);
        }
    }
    let mut judged: Vec<Option<&mut DocumentAudit>> = documents.iter_mut().map(Some).collect();
    let mut work: Vec<_> = owners
        .iter()
        .zip(&copies)
        .zip(&facts)
        .filter_map(|((owner, copy), (fact, players))| Some((judged.get_mut(*owner)?.take()?, copy, *fact, *players)))
        .collect();
    work.par_iter_mut().for_each(|(document, copy, fact, players)| add(document, copy, *fact, players, bar));
    drop(work);
    let sets = found.iter().map(|delivery| shown(delivery, &owners)).collect();
    for (owner, copy) in owners.into_iter().zip(copies) {
        if let Some(document) = documents.get_mut(owner) {
            document.copy = Some(Box::new(copy));
        }
    }
    sets
}

fn shown(delivery: &Delivery, owners: &[usize]) -> Set {
    let plays = |copy: &usize| delivery.facts.iter().find(|fact| fact.document == *copy).map(|fact| fact.plays.clone()).unwrap_or_default();
    Set {
        score: delivery.score.map(|score| owners[score]),
        copies: delivery.copies.iter().map(|copy| owners[*copy]).collect(),
        plays: delivery.copies.iter().map(plays).collect(),
    }
}

fn add(document: &mut DocumentAudit, copy: &Copy, fact: Option<&CopyFact>, players: &[PlayerFact], bar: &Bar) {
    let reader = reader_of(&document.role, &copy.below, bar);
    let outcome = judge_in_set(bar.rules, copy, fact, players, &reader, bar.enabled);
    document.good.extend(fact.and_then(|fact| good_in_set(fact, &outcome, bar.enabled)));
    // The text is read once more only where there is something to point at.
    let any = outcome.findings.iter().any(|finding: &Finding| finding.at.is_some());
    let sources = if any { Source::open(Path::new(&document.path)).unwrap_or_default() } else { Vec::new() };
    let source = sources.iter().find(|source| source.member == document.member);
    document.findings.extend(place(source, &Lines::default(), outcome.findings, bar.rules));
    document.findings.sort_by(|one, other| one.finding.order(&other.finding));
    document.not_judged.extend(outcome.not_judged);
    document.not_judged.sort();
    document.not_judged.dedup();
    document.excused.extend(outcome.excused);
}
