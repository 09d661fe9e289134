//! Whose music a copy holds: its parts against those of a score.

use super::align::Alignment;
use super::copy::{Copy, PartMusic, moved};
use std::borrow::Cow;

/// How a copy matches a score.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Match {
    /// How their bars lie on each other.
    pub bars: Alignment,
    /// For each part of the copy, the parts of the score whose music it holds, the one that gives most first.
    pub parts: Vec<Vec<usize>>,
    /// For each part of the copy, by how many semitones it must be raised to sound as in the score; 0 where it does, or is silent.
    pub off: Vec<i32>,
    /// Share of the copy's heads that the score has.
    pub found: f64,
}

impl Match {
    /// What is said of a copy whose music is not found.
    pub fn said(copy: &Copy, score: &Copy, parts: Vec<Vec<usize>>) -> Self {
        let shift = isize::try_from(score.bars.len()).unwrap_or(0) - isize::try_from(copy.bars.len()).unwrap_or(0);
        let bars = Alignment { from: copy.bars.len().min(score.bars.len()), shift };
        Self { bars, parts, off: vec![0; copy.parts.len()], found: 0.0 }
    }
}

/// Share of a copy's heads that must be in a score for the copy to be one of it: chance gives up to a half (measured on open
/// scores; see DEVELOPERS.md).
const BELONGS: f64 = 0.6;
/// The same where there is little to tell by: a copy of few heads, or another score of the same parts, which may be another
/// setting of the same tune.
const BELONGS_SURELY: f64 = 0.9;
/// Heads below which a copy tells little.
const FEW_HEADS: usize = 24;
/// The same for music that is tried in sixteen other keys, so that chance has sixteen tries more.
const BELONGS_MOVED: f64 = 0.85;
/// Share of what a part of a copy still lacks that one more part of the score must give to count as played from it.
const WORTH: f64 = 0.05;
/// Heads that it must give at least.
const FEWEST: usize = 3;
/// Bars by which two may differ and still be the same piece: a tenth, or so many.
const MORE_BARS: usize = 2;

/// Heads of two bars, each in order, that are the same.
fn shared(one: &[u64], other: &[u64]) -> usize {
    let (mut a, mut b, mut same) = (0, 0, 0);
    while let (Some(left), Some(right)) = (one.get(a), other.get(b)) {
        match left.cmp(right) {
            std::cmp::Ordering::Less => a += 1,
            std::cmp::Ordering::Greater => b += 1,
            std::cmp::Ordering::Equal => {
                same += 1;
                a += 1;
                b += 1;
            }
        }
    }
    same
}

/// Heads of one bar that are not among others; both in order.
pub(super) fn without(heads: &[u64], others: &[u64]) -> Vec<u64> {
    let mut others = others.iter().peekable();
    let left = heads.iter().filter(|head| {
        while others.next_if(|other| *other < head).is_some() {}
        others.peek() != Some(head)
    });
    left.copied().collect()
}

/// All heads of a bar of some parts, those that are held over too, in order, each once.
pub(super) fn together<'a>(parts: impl Iterator<Item = &'a PartMusic>, bar: usize) -> Vec<u64> {
    let mut all: Vec<u64> = parts.flat_map(|part| part.bar(bar).iter().copied().chain(part.held_in(bar))).collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// Holds a copy against a score; nothing where it is another piece.
pub(super) fn hold(copy: &Copy, score: &Score<'_>) -> Option<Match> {
    let (own, theirs) = (copy.bars.len(), score.copy.bars.len());
    let all = copy.heads();
    let few = all < FEW_HEADS;
    let may_differ = if few { 0 } else { (theirs / 10).max(MORE_BARS) };
    if own.abs_diff(theirs) > may_differ {
        return None;
    }
    let shift = isize::try_from(theirs).ok()? - isize::try_from(own).ok()?;
    let found = |bar: usize, there: Option<usize>, off: &[i32]| -> usize {
        let Some(all) = there.and_then(|there| score.heads.get(there)) else { return 0 };
        copy.parts.iter().zip(off).map(|(part, off)| shared(&raised(part.bar(bar), *off), all)).sum()
    };
    let off = vec![0; copy.parts.len()];
    let align = |off: &[i32]| {
        let here: Vec<usize> = (0..own).map(|bar| found(bar, Some(bar), off)).collect();
        if shift == 0 {
            return (Alignment::best(&here, &[], 0), here.iter().sum::<usize>());
        }
        let there: Vec<usize> = (0..own).map(|bar| found(bar, bar.checked_add_signed(shift), off)).collect();
        let bars = Alignment::best(&here, &there, shift);
        let sum = (0..own).map(|bar| if bar < bars.from { here[bar] } else { there[bar] }).sum();
        (bars, sum)
    };
    if all == 0 {
        return silent(copy, score, shift);
    }
    let (mut bars, mut sum) = align(&off);
    let mut off = off;
    if share(sum, all) < BELONGS && !copy.reader.score && !few && shift == 0 {
        // It may be the same music in another key: written as for an instrument that the file does not name.
        off = copy.parts.iter().map(|part| interval(part, score, bars)).collect();
        (bars, sum) = align(&off);
    }
    let found = share(sum, all);
    let another_score = copy.reader.score && copy.parts.len() * 2 > score.copy.parts.len();
    let belongs = match off.iter().any(|off| *off != 0) {
        true => BELONGS_MOVED,
        false if few || another_score => BELONGS_SURELY,
        false => BELONGS,
    };
    if found < belongs {
        return None;
    }
    let parts = copy.parts.iter().zip(&off).map(|(part, off)| sources(part, *off, score, bars)).collect();
    Some(Match { bars, parts, off, found })
}

#[expect(clippy::cast_precision_loss, reason = "numbers of heads")]
fn share(found: usize, all: usize) -> f64 {
    found as f64 / all.max(1) as f64
}

/// A score with the heads of all its parts together, bar by bar.
pub(super) struct Score<'a> {
    pub copy: &'a Copy,
    pub heads: Vec<Vec<u64>>,
}

impl<'a> Score<'a> {
    pub fn of(copy: &'a Copy) -> Self {
        let heads = (0..copy.bars.len()).map(|bar| together(copy.parts.iter(), bar)).collect();
        Self { copy, heads }
    }
}

fn raised(heads: &[u64], semitones: i32) -> Cow<'_, [u64]> {
    if semitones == 0 { heads.into() } else { heads.iter().map(|head| moved(*head, semitones)).collect::<Vec<_>>().into() }
}

/// Intervals by which music of instruments is written away from how it sounds, in semitones; the likeliest first.
const INTERVALS: [i32; 16] = [-2, -3, -7, 3, -9, 2, -12, 12, -14, -21, 5, -5, 7, 9, -15, -24];

/// By how many semitones a part must be raised for most of its heads to be in the score; 0 where no interval does.
fn interval(part: &PartMusic, score: &Score, bars: Alignment) -> i32 {
    let found = |semitones: i32| -> usize {
        let one = |bar: usize| {
            let all = score.heads.get(bars.to_score(bar)?)?;
            Some(shared(&raised(part.bar(bar), semitones), all))
        };
        (0..part.starts.len().saturating_sub(1)).filter_map(one).sum()
    };
    let best = INTERVALS.iter().map(|semitones| (found(*semitones), *semitones)).rev().max_by_key(|(found, _)| *found);
    best.filter(|(found, _)| share(*found, part.heads.len()) >= BELONGS_MOVED).map_or(0, |(_, semitones)| semitones)
}

/// The parts of a score whose music a part holds: the one that gives most, then what gives most of the rest.
fn sources(part: &PartMusic, off: i32, score: &Score, bars: Alignment) -> Vec<usize> {
    let mut left: Vec<(usize, Cow<[u64]>)> = (0..part.starts.len().saturating_sub(1))
        .filter_map(|bar| Some((bars.to_score(bar)?, raised(part.bar(bar), off))))
        .filter(|(_, heads)| !heads.is_empty())
        .collect();
    let mut found = Vec::new();
    loop {
        let lacking: usize = left.iter().map(|(_, heads)| heads.len()).sum();
        let gives = |theirs: &PartMusic| left.iter().map(|(bar, heads)| shared(heads, theirs.bar(*bar))).sum::<usize>();
        let others = score.copy.parts.iter().enumerate().filter(|(index, _)| !found.contains(index));
        // Of those that give as much, the one of the same name, then the one highest in the score.
        let best = others
            .map(|(index, theirs)| (gives(theirs), theirs.name == part.name, std::cmp::Reverse(index)))
            .max()
            .map(|(gives, _, std::cmp::Reverse(index))| (gives, index));
        let Some((gives, index)) = best.filter(|(gives, _)| *gives >= FEWEST.min(lacking.max(1)) && share(*gives, lacking) >= WORTH) else {
            return found;
        };
        if gives == 0 {
            return found;
        }
        found.push(index);
        for (bar, heads) in &mut left {
            *heads = without(heads, score.copy.parts[index].bar(*bar)).into();
        }
    }
}

/// A copy without a note: a tacet leaf, known by the name of its part.
fn silent(copy: &Copy, score: &Score, shift: isize) -> Option<Match> {
    let same = |part: &PartMusic| score.copy.parts.iter().position(|theirs| !theirs.name.is_empty() && theirs.name == part.name);
    let parts: Vec<Vec<usize>> = copy.parts.iter().map(|part| same(part).into_iter().collect()).collect();
    let bars = Alignment { from: copy.bars.len().min(score.copy.bars.len()), shift };
    let off = vec![0; copy.parts.len()];
    parts.iter().any(|parts| !parts.is_empty()).then_some(Match { bars, parts, off, found: 1.0 })
}
