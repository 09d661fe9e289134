//! Music that a copy and its score do not have alike: bars more or fewer, notes that only one of them has.

use super::copy::{Copy, moved};
use super::matching::{Match, Score, without};
use std::ops::Range;

/// In which of the two something is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// In the score.
    Score,
    /// In the copy.
    Copy,
}

/// What differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// The number of bars.
    Count {
        /// Bars of the copy.
        here: usize,
        /// Bars of the score, or of most copies.
        there: usize,
    },
    /// Bars whose notes the other has not; which document has them.
    Bars(Side),
}

/// Something that differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MusicFact {
    /// What.
    pub what: What,
    /// The part, by its index in the document the fact is told of.
    pub part: Option<usize>,
    /// Bars of that document by their place, from 0, in runs.
    pub bars: Vec<Range<usize>>,
}

/// Bars in a row become one run.
fn runs(bars: impl Iterator<Item = usize>) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for bar in bars {
        match runs.last_mut() {
            Some(run) if run.end == bar => run.end += 1,
            _ => runs.push(bar..bar + 1),
        }
    }
    runs
}

/// What a copy has otherwise than its score: told of the copy.
pub(super) fn of_copy(copy: &Copy, score: &Score, held: &Match) -> Vec<MusicFact> {
    let mut facts = Vec::new();
    let (here, there) = (copy.bars.len(), score.copy.bars.len());
    if here != there {
        let from = held.bars.from.min(here.saturating_sub(1));
        facts.push(MusicFact { what: What::Count { here, there }, part: None, bars: runs(std::iter::once(from)) });
    }
    for (index, part) in copy.parts.iter().enumerate() {
        let off = held.off.get(index).copied().unwrap_or(0);
        let missing = (0..here).filter(|bar| {
            let heads: Vec<u64> = part.bar(*bar).iter().map(|head| moved(*head, off)).collect();
            let theirs = held.bars.to_score(*bar).and_then(|bar| score.heads.get(bar)).map(Vec::as_slice).unwrap_or_default();
            !heads.is_empty() && !without(&heads, theirs).is_empty()
        });
        let bars = runs(missing);
        if !bars.is_empty() {
            facts.push(MusicFact { what: What::Bars(Side::Copy), part: Some(index), bars });
        }
    }
    facts
}

/// Bars of each part of a score that no copy plays, of parts that some copy plays: told of the score. `players` are the copies
/// that somebody plays from.
pub(super) fn of_score(score: &Score, players: &[(&Copy, &Match)]) -> Vec<MusicFact> {
    let all: Vec<Vec<u64>> = (0..score.copy.bars.len())
        .map(|bar| {
            let mut heads: Vec<u64> = Vec::new();
            for (copy, held) in players {
                let Some(own) = held.bars.to_copy(bar) else { continue };
                for (part, off) in copy.parts.iter().zip(&held.off) {
                    heads.extend(part.bar(own).iter().copied().chain(part.held_in(own)).map(|head| moved(head, *off)));
                }
            }
            heads.sort_unstable();
            heads
        })
        .collect();
    let played = |part: usize| players.iter().any(|(_, held)| held.parts.iter().any(|parts| parts.contains(&part)));
    let parts = score.copy.parts.iter().enumerate().filter(|(index, _)| played(*index));
    parts
        .filter_map(|(index, part)| {
            let unplayed = (0..score.copy.bars.len()).filter(|bar| !without(part.bar(*bar), &all[*bar]).is_empty());
            let bars = runs(unplayed);
            (!bars.is_empty()).then_some(MusicFact { what: What::Bars(Side::Score), part: Some(index), bars })
        })
        .collect()
}
