//! Which copy of one round is which of another, and which finding.

use super::{Round, RoundCopy, RoundFinding};
use crate::rule::Overlap;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Pairs of copies, by their index in the older and the newer round.
pub(super) fn copies(old: &Round, new: &Round) -> Vec<(usize, usize)> {
    let (old_names, new_names) = (names(old), names(new));
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    // The same path first, then the same below what all have in common; then the same name in another folder or with another ending, where
    // no two have it.
    for name in [as_written as fn(&Name) -> String, whole, in_folder, stem] {
        let left = |names: &[Name], taken: &dyn Fn(usize) -> bool| {
            let mut by_name: BTreeMap<String, Vec<usize>> = BTreeMap::new();
            for (index, one) in names.iter().enumerate().filter(|(index, _)| !taken(*index)) {
                by_name.entry(name(one)).or_default().push(index);
            }
            by_name
        };
        let (olds, news): (BTreeSet<usize>, BTreeSet<usize>) = pairs.iter().copied().unzip();
        let of_old = left(&old_names, &|index| olds.contains(&index));
        let of_new = left(&new_names, &|index| news.contains(&index));
        let found = of_old.iter().filter_map(|(name, old)| match (old.as_slice(), of_new.get(name)?.as_slice()) {
            ([old], [new]) => Some((*old, *new)),
            _ => None,
        });
        let found: Vec<(usize, usize)> = found.collect();
        pairs.extend(found);
    }
    pairs.sort_unstable();
    pairs
}

/// The name of a copy: folders below what all copies of the round have in common, the file, the member.
struct Name {
    path: String,
    folders: Vec<String>,
    file: String,
    member: Option<String>,
}

fn names(round: &Round) -> Vec<Name> {
    let split = |copy: &RoundCopy| -> Vec<String> { copy.path.split('/').map(str::to_owned).collect() };
    let paths: Vec<Vec<String>> = round.copies.iter().map(split).collect();
    let shared = paths.iter().map(|path| path.len().saturating_sub(1)).min().unwrap_or(0);
    let common = (0..shared).take_while(|at| paths.iter().all(|path| path[*at] == paths[0][*at])).count();
    let name = |(path, copy): (Vec<String>, &RoundCopy)| {
        let file = path.last().cloned().unwrap_or_default();
        let folders = path.get(common..path.len().saturating_sub(1)).unwrap_or_default().to_vec();
        Name { path: copy.path.clone(), folders, file, member: copy.member.clone() }
    };
    paths.into_iter().zip(&round.copies).map(name).collect()
}

fn as_written(name: &Name) -> String {
    format!("{}\n{}", name.path, name.member.as_deref().unwrap_or_default())
}

fn whole(name: &Name) -> String {
    format!("{}/{}\n{}", name.folders.join("/"), name.file, name.member.as_deref().unwrap_or_default())
}

fn in_folder(name: &Name) -> String {
    format!("{}\n{}", name.file, name.member.as_deref().unwrap_or_default())
}

/// The file's name without its ending; a container that holds one score is that score.
fn stem(name: &Name) -> String {
    name.file.rsplit_once('.').map_or(name.file.as_str(), |(stem, _)| stem).to_owned()
}

/// Pairs of findings of two rounds of one copy that are the same: those of the same bars first, in their order; of what is left as many as
/// there can be, of several ways to pair them one with the most bars in common. Of very many of one rule and staff that are left, each is
/// held against those near it alone, the most alike first.
pub(super) fn findings(old: &[RoundFinding], new: &[RoundFinding]) -> Vec<(usize, usize)> {
    let mut groups: BTreeMap<Kin, [Vec<usize>; 2]> = BTreeMap::new();
    for (side, findings) in [old, new].into_iter().enumerate() {
        for (index, finding) in findings.iter().enumerate() {
            groups.entry(kin(finding)).or_default()[side].push(index);
        }
    }
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for [mut olds, mut news] in groups.into_values() {
        pairs.extend(same_bars(old, new, &mut olds, &mut news));
        let left = if is_many(&olds, &news) { most_alike(old, new, &olds, &news) } else { most(old, new, &olds, &news) };
        pairs.extend(left);
    }
    pairs.sort_unstable();
    pairs
}

/// Findings of other kin are never the same.
type Kin<'a> = (&'a str, Option<&'a str>, Option<u32>);

fn kin(finding: &RoundFinding) -> Kin<'_> {
    (&finding.rule, finding.part.as_deref(), finding.staff)
}

/// So many possible pairs are weighed against each other; the time grows faster than their number.
const MOST_PAIRS: usize = 250_000;

fn is_many(old: &[usize], new: &[usize]) -> bool {
    old.len().saturating_mul(new.len()) > MOST_PAIRS
}

/// Pairs of findings of one movement and the same bars, in order; they are struck from both.
fn same_bars(old: &[RoundFinding], new: &[RoundFinding], olds: &mut Vec<usize>, news: &mut Vec<usize>) -> Vec<(usize, usize)> {
    let whole = |finding: &RoundFinding| (finding.movement, finding.bars.clone());
    let mut waiting: BTreeMap<_, VecDeque<usize>> = BTreeMap::new();
    for index in &*olds {
        waiting.entry(whole(&old[*index])).or_default().push_back(*index);
    }
    let mut pairs = Vec::new();
    news.retain(|index| match waiting.get_mut(&whole(&new[*index])).and_then(VecDeque::pop_front) {
        Some(other) => {
            pairs.push((other, *index));
            false
        }
        None => true,
    });
    let paired: BTreeSet<usize> = pairs.iter().map(|(old, _)| *old).collect();
    olds.retain(|index| !paired.contains(index));
    pairs
}

/// Of very many a finding is held against so many on either side, in the order of their bars.
const NEAR: usize = 32;

/// Pairs of findings of one kin that lie near each other, the most alike first.
fn most_alike(old: &[RoundFinding], new: &[RoundFinding], olds: &[usize], news: &[usize]) -> Vec<(usize, usize)> {
    let begins = |finding: &RoundFinding| finding.bars.as_ref().and_then(|[first, _]| first.trim().parse::<i64>().ok());
    let mut by_bar: Vec<(Option<i64>, usize)> = olds.iter().map(|index| (begins(&old[*index]), *index)).collect();
    by_bar.sort_unstable();
    let mut alike: Vec<(f64, usize, usize)> = Vec::new();
    for index in news {
        let at = by_bar.partition_point(|(bar, _)| *bar < begins(&new[*index]));
        let near = by_bar.get(at.saturating_sub(NEAR)..by_bar.len().min(at + NEAR)).unwrap_or_default();
        let shares = near.iter().map(|(_, other)| (likeness(&old[*other], &new[*index]), *other, *index));
        alike.extend(shares.filter(|(share, ..)| *share >= HALF));
    }
    alike.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let (mut of_old, mut of_new) = (BTreeSet::new(), BTreeSet::new());
    let mut free =
        |one: usize, other: usize| !of_old.contains(&one) && !of_new.contains(&other) && of_old.insert(one) && of_new.insert(other);
    alike.into_iter().filter(|(_, one, other)| free(*one, *other)).map(|(_, one, other)| (one, other)).collect()
}

/// As many pairs of findings of one kin as there can be.
fn most(old: &[RoundFinding], new: &[RoundFinding], olds: &[usize], news: &[usize]) -> Vec<(usize, usize)> {
    let like = |one: &RoundFinding| -> Vec<usize> {
        let shares = olds.iter().enumerate().map(|(at, index)| (at, likeness(&old[*index], one)));
        let mut shares: Vec<(usize, f64)> = shares.filter(|(_, share)| *share >= HALF).collect();
        shares.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        shares.into_iter().map(|(at, _)| at).collect()
    };
    let candidates: Vec<Vec<usize>> = news.iter().map(|index| like(&new[*index])).collect();
    let mut taken: Vec<Option<usize>> = vec![None; olds.len()];
    // The surest first; who comes later may move them to another that fits as well.
    let mut order: Vec<usize> = (0..news.len()).collect();
    let surest = |at: usize| candidates[at].first().map_or(0.0, |first| likeness(&old[olds[*first]], &new[news[at]]));
    order.sort_by(|a, b| surest(*b).total_cmp(&surest(*a)).then(a.cmp(b)));
    for at in order {
        let mut seen = vec![false; olds.len()];
        place(at, &candidates, &mut taken, &mut seen);
    }
    taken.iter().enumerate().filter_map(|(at, holder)| Some((olds[at], news[(*holder)?]))).collect()
}

/// Finds a partner for one, moving others aside where they have another (augmenting paths).
fn place(new: usize, candidates: &[Vec<usize>], taken: &mut [Option<usize>], seen: &mut [bool]) -> bool {
    for old in &candidates[new] {
        if std::mem::replace(&mut seen[*old], true) {
            continue;
        }
        let free = match taken[*old] {
            None => true,
            Some(holder) => place(holder, candidates, taken, seen),
        };
        if free {
            taken[*old] = Some(new);
            return true;
        }
    }
    false
}

/// The share of bars that two findings must have in common (the contract).
const HALF: f64 = 0.5;

/// How much two findings of one kin are about the same: nothing unless their movements agree; then the share of the shorter
/// one's bars that lie in the other.
fn likeness(one: &RoundFinding, other: &RoundFinding) -> f64 {
    let agree = |a: Option<u32>, b: Option<u32>| a.is_none() || b.is_none() || a == b;
    if !agree(one.movement, other.movement) {
        return 0.0;
    }
    match (&one.bars, &other.bars) {
        (Some(one), Some(other)) => {
            let Overlap { shared, one, other } = Overlap::of(one, other);
            shared / one.min(other)
        }
        (None, None) => 1.0,
        // One of the two says less than the other.
        _ => HALF,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rule::Level;

    fn finding(rule: &str, first: usize) -> RoundFinding {
        RoundFinding {
            rule: rule.to_owned(),
            level: Level::Note,
            message: String::new(),
            advice: String::new(),
            place: String::new(),
            part: None,
            movement: None,
            staff: None,
            bars: Some([first, first + 1].map(|bar| bar.to_string())),
            number: 0,
            stet: false,
        }
    }

    /// A report of a stranger may hold tens of thousands of findings of one rule: each is weighed against few others.
    #[test]
    fn very_many_of_one_kin_are_paired_by_their_bars() {
        let many = |rule: &str, from: usize| (0..20_000).map(|index| finding(rule, from + index / 2)).collect::<Vec<_>>();
        let old = many("small-staff", 1);
        let all: Vec<(usize, usize)> = (0..old.len()).map(|index| (index, index)).collect();
        assert_eq!(findings(&old, &old), all);
        assert_eq!(findings(&old, &many("large-staff", 1)), [], "another rule");
        // One bar later: those of the same bars, and of the first two and the last two nothing.
        let shifted: Vec<(usize, usize)> = (2..old.len()).map(|index| (index, index - 2)).collect();
        let found = findings(&old, &many("small-staff", 2));
        assert_eq!(found.iter().filter(|pair| shifted.contains(pair)).count(), 19_998);
    }

    /// Every line is broken one bar later.
    #[test]
    fn very_many_that_have_moved_a_little_are_found_again() {
        let lines = |shift: usize| -> Vec<RoundFinding> {
            let line = |index: usize| [index * 10 + shift + 1, index * 10 + shift + 10].map(|bar| bar.to_string());
            (0..2_000).map(|index| RoundFinding { bars: Some(line(index)), ..finding("short-system", 1) }).collect()
        };
        let all: Vec<(usize, usize)> = (0..2_000).map(|index| (index, index)).collect();
        assert_eq!(findings(&lines(0), &lines(1)), all);
    }

    #[test]
    fn what_only_its_order_tells_apart_keeps_its_order() {
        let alike = [const { None }; 3].map(|bars| RoundFinding { bars, ..finding("damaged-file", 1) });
        assert_eq!(findings(&alike, &alike), [(0, 0), (1, 1), (2, 2)]);
    }

    #[test]
    fn few_beside_many_are_still_weighed() {
        let mut old: Vec<_> = (0..600).map(|_| finding("small-staff", 1)).collect();
        let mut new = old.clone();
        old.push(finding("small-staff", 10));
        // Half of its bars are those of the one before.
        new.push(finding("small-staff", 11));
        let found = findings(&old, &new);
        assert_eq!(found.len(), 601, "the same bars first, then what is left");
        assert!(found.contains(&(600, 600)));
    }
}
