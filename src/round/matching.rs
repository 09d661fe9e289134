//! Which copy of one round is which of another, and which finding.

use super::{Round, RoundCopy, RoundFinding};
use crate::rule::Overlap;
use std::collections::BTreeMap;

/// Pairs of copies, by their index in the older and the newer round.
pub(super) fn copies(old: &Round, new: &Round) -> Vec<(usize, usize)> {
    let (old_names, new_names) = (names(old), names(new));
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    // The same path first; then the same name in another folder or with another ending, where no two have it.
    for name in [whole as fn(&Name) -> String, in_folder, stem] {
        let left = |names: &[Name], taken: &dyn Fn(usize) -> bool| {
            let mut by_name: BTreeMap<String, Vec<usize>> = BTreeMap::new();
            for (index, one) in names.iter().enumerate().filter(|(index, _)| !taken(*index)) {
                by_name.entry(name(one)).or_default().push(index);
            }
            by_name
        };
        let of_old = left(&old_names, &|index| pairs.iter().any(|(old, _)| *old == index));
        let of_new = left(&new_names, &|index| pairs.iter().any(|(_, new)| *new == index));
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
        Name { folders, file, member: copy.member.clone() }
    };
    paths.into_iter().zip(&round.copies).map(name).collect()
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

/// Pairs of findings of two rounds of one copy that are the same, as many as there can be; of several ways to pair them one
/// with the most bars in common.
pub(super) fn findings(old: &[RoundFinding], new: &[RoundFinding]) -> Vec<(usize, usize)> {
    let like = |one: &RoundFinding| -> Vec<usize> {
        let mut shares: Vec<(usize, f64)> =
            old.iter().enumerate().map(|(index, other)| (index, likeness(other, one))).filter(|(_, share)| *share >= HALF).collect();
        shares.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        shares.into_iter().map(|(index, _)| index).collect()
    };
    let candidates: Vec<Vec<usize>> = new.iter().map(like).collect();
    let mut taken: Vec<Option<usize>> = vec![None; old.len()];
    // The surest first; who comes later may move them to another that fits as well.
    let mut order: Vec<usize> = (0..new.len()).collect();
    let surest = |index: usize| candidates[index].first().map_or(0.0, |first| likeness(&old[*first], &new[index]));
    order.sort_by(|a, b| surest(*b).total_cmp(&surest(*a)).then(a.cmp(b)));
    for index in order {
        let mut seen = vec![false; old.len()];
        place(index, &candidates, &mut taken, &mut seen);
    }
    let mut pairs: Vec<(usize, usize)> = taken.iter().enumerate().filter_map(|(old, new)| Some((old, (*new)?))).collect();
    pairs.sort_unstable();
    pairs
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

/// How much two findings are about the same: nothing unless rule, part, movement and staff agree; then the share of the
/// shorter one's bars that lie in the other.
fn likeness(one: &RoundFinding, other: &RoundFinding) -> f64 {
    let agree = |a: Option<u32>, b: Option<u32>| a.is_none() || b.is_none() || a == b;
    if one.rule != other.rule || one.part != other.part || !agree(one.movement, other.movement) || one.staff != other.staff {
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
