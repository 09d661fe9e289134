//! Two rounds of one delivery held against each other, with what the rounds before them tell.

use super::{Round, RoundFinding, matching};
use crate::rule::Level;
use std::collections::{BTreeMap, BTreeSet};

/// What has become of a delivery.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What each round is called, the first first.
    pub rounds: Vec<String>,
    /// Its copies: those of the newest round in their order, then those that are gone.
    pub copies: Vec<CopyChanges>,
}

/// What has become of one copy.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CopyChanges {
    /// Its path in the newest round that has it.
    pub path: String,
    /// The member of a container.
    pub member: Option<String>,
    /// It was not in the round before.
    pub added: bool,
    /// It is not in the newest round.
    pub gone: bool,
    /// What was found before and is found no more.
    pub mended: Vec<RoundFinding>,
    /// What is found for the first time.
    pub new: Vec<RoundFinding>,
    /// What was mended, or was let stand, and counts again.
    pub reopened: Vec<RoundFinding>,
    /// What is still there.
    pub remaining: Vec<Changed>,
    /// What the house lets stand now.
    pub stet: Vec<RoundFinding>,
}

/// A finding that is still there.
#[derive(Debug, Clone, PartialEq)]
pub struct Changed {
    /// As it is now.
    pub now: RoundFinding,
    /// How grave it was.
    pub was: Level,
}

impl Comparison {
    /// Whether something new, or open again, is of such a level.
    pub fn worse(&self, stops: impl Fn(Level) -> bool) -> bool {
        let fresh = self.copies.iter().flat_map(|copy| copy.new.iter().chain(&copy.reopened));
        fresh.into_iter().any(|finding| stops(finding.level))
    }
}

/// What rounds are called: first proof, revise, final. Of two, the second is a revise.
fn called(rounds: usize) -> Vec<String> {
    let name = |index: usize| match (index, rounds) {
        (0, _) => "first proof".to_owned(),
        (index, rounds) if rounds > 2 && index + 1 == rounds => "final".to_owned(),
        (1, 2 | 3) => "revise".to_owned(),
        (index, _) => format!("revise {index}"),
    };
    (0..rounds).map(name).collect()
}

/// Holds the last round against the one before it; those before tell what is open again. `rounds` are in their order, at
/// least two.
pub fn compare(rounds: &[Round]) -> Comparison {
    let mut copies = Vec::new();
    if let [earlier @ .., old, new] = rounds {
        let pairs = matching::copies(old, new);
        let old_of: BTreeMap<usize, usize> = pairs.iter().map(|(old, new)| (*new, *old)).collect();
        let earlier: Vec<(&Round, BTreeMap<usize, usize>)> = earlier.iter().map(|round| (round, of_newest(round, new))).collect();
        for (index, copy) in new.copies.iter().enumerate() {
            let before = old_of.get(&index).and_then(|at| old.copies.get(*at)).map(|copy| copy.findings.as_slice());
            let past: Vec<&[RoundFinding]> =
                earlier.iter().filter_map(|(round, there)| Some(round.copies.get(*there.get(&index)?)?.findings.as_slice())).collect();
            let mut changes = changes(before.unwrap_or_default(), &copy.findings, &past);
            (changes.path, changes.member, changes.added) = (copy.path.clone(), copy.member.clone(), before.is_none());
            copies.push(changes);
        }
        let kept: BTreeSet<usize> = pairs.iter().map(|(old, _)| *old).collect();
        for (index, copy) in old.copies.iter().enumerate() {
            if !kept.contains(&index) {
                copies.push(CopyChanges { path: copy.path.clone(), member: copy.member.clone(), gone: true, ..CopyChanges::default() });
            }
        }
    }
    Comparison { rounds: called(rounds.len()), copies }
}

/// Copies of an earlier round, by the index that each has in the newest.
fn of_newest(round: &Round, new: &Round) -> BTreeMap<usize, usize> {
    matching::copies(round, new).into_iter().map(|(there, new)| (new, there)).collect()
}

fn changes(old: &[RoundFinding], new: &[RoundFinding], past: &[&[RoundFinding]]) -> CopyChanges {
    let old_of: BTreeMap<usize, usize> = matching::findings(old, new).into_iter().map(|(old, new)| (new, old)).collect();
    let mut changes = CopyChanges::default();
    let known_before: BTreeSet<usize> = past.iter().flat_map(|earlier| matching::findings(earlier, new)).map(|(_, new)| new).collect();
    for (index, finding) in new.iter().enumerate() {
        let before = old_of.get(&index).and_then(|at| old.get(*at));
        let known = known_before.contains(&index);
        match before {
            _ if finding.stet => changes.stet.push(finding.clone()),
            Some(before) if before.stet => changes.reopened.push(finding.clone()),
            Some(before) => changes.remaining.push(Changed { now: finding.clone(), was: before.level }),
            None if known => changes.reopened.push(finding.clone()),
            None => changes.new.push(finding.clone()),
        }
    }
    let kept: BTreeSet<usize> = old_of.into_values().collect();
    let left = |index: &usize| !kept.contains(index);
    changes.mended = (0..old.len()).filter(left).filter_map(|index| old.get(index)).filter(|finding| !finding.stet).cloned().collect();
    changes
}
