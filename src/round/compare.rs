//! Two rounds of one delivery held against each other, with what the rounds before them tell.

use super::{Round, RoundFinding, matching};
use crate::rule::Level;

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
        for (index, copy) in new.copies.iter().enumerate() {
            let before =
                pairs.iter().find(|(_, new)| *new == index).and_then(|(at, _)| old.copies.get(*at)).map(|copy| copy.findings.as_slice());
            let past: Vec<&[RoundFinding]> = earlier.iter().filter_map(|round| findings_of(round, new, index)).collect();
            let mut changes = changes(before.unwrap_or_default(), &copy.findings, &past);
            (changes.path, changes.member, changes.added) = (copy.path.clone(), copy.member.clone(), before.is_none());
            copies.push(changes);
        }
        for (index, copy) in old.copies.iter().enumerate() {
            if pairs.iter().all(|(old, _)| *old != index) {
                copies.push(CopyChanges { path: copy.path.clone(), member: copy.member.clone(), gone: true, ..CopyChanges::default() });
            }
        }
    }
    Comparison { rounds: called(rounds.len()), copies }
}

fn findings_of<'a>(round: &'a Round, new: &Round, index: usize) -> Option<&'a [RoundFinding]> {
    let pairs = matching::copies(round, new);
    let (there, _) = pairs.into_iter().find(|(_, new)| *new == index)?;
    round.copies.get(there).map(|copy| copy.findings.as_slice())
}

fn changes(old: &[RoundFinding], new: &[RoundFinding], past: &[&[RoundFinding]]) -> CopyChanges {
    let pairs = matching::findings(old, new);
    let mut changes = CopyChanges::default();
    let known_before: Vec<Vec<usize>> =
        past.iter().map(|earlier| matching::findings(earlier, new).into_iter().map(|(_, new)| new).collect()).collect();
    for (index, finding) in new.iter().enumerate() {
        let before = pairs.iter().find(|(_, new)| *new == index).and_then(|(old_index, _)| old.get(*old_index));
        let known = known_before.iter().any(|known| known.contains(&index));
        match before {
            _ if finding.stet => changes.stet.push(finding.clone()),
            Some(before) if before.stet => changes.reopened.push(finding.clone()),
            Some(before) => changes.remaining.push(Changed { now: finding.clone(), was: before.level }),
            None if known => changes.reopened.push(finding.clone()),
            None => changes.new.push(finding.clone()),
        }
    }
    let left = |index: &usize| pairs.iter().all(|(old, _)| old != index);
    changes.mended = (0..old.len()).filter(left).filter_map(|index| old.get(index)).filter(|finding| !finding.stet).cloned().collect();
    changes
}
