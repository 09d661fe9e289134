//! Copies without a score, and what a book of several files has in common.

use super::copy::Copy;
use super::mark::{Kind, MarkHere};
use super::marks::{self, Expected};
use super::music::{self, MusicFact};
use super::set::{CopyFact, Delivery, folder, looks, twins};
use std::collections::BTreeMap;

/// Copies that tell what most have, where there is no score.
const ENOUGH_COPIES: usize = 3;

/// Copies of single parts of one piece: those of one folder and one title, if they are enough. What more than half of them
/// have is what all should have.
pub(super) fn without_score(copies: &[Copy], left: impl Iterator<Item = usize>) -> Vec<Delivery> {
    let mut groups: BTreeMap<(&str, String, Option<usize>), Vec<usize>> = BTreeMap::new();
    for index in left {
        let copy = &copies[index];
        let title = [&copy.look.title, &copy.look.movement_title].into_iter().flatten().map(|title| title.to_lowercase());
        let title = title.collect::<Vec<_>>().join(" / ");
        if !title.is_empty() && !copy.reader.score {
            groups.entry((folder(copy), title, copy.movement)).or_default().push(index);
        }
    }
    groups.into_values().filter(|group| group.len() >= ENOUGH_COPIES).map(|group| among(copies, group)).collect()
}

fn among(copies: &[Copy], group: Vec<usize>) -> Delivery {
    let most = |count: usize| count * 2 > group.len();
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for index in &group {
        *counts.entry(copies[*index].bars.len()).or_default() += 1;
    }
    let usual = counts.into_iter().find(|(_, count)| most(*count)).map(|(bars, _)| bars);
    let alike: Vec<usize> = group.iter().copied().filter(|index| Some(copies[*index].bars.len()) == usual).collect();
    let mut tally: BTreeMap<(usize, Kind, String), (usize, MarkHere)> = BTreeMap::new();
    for mark in alike.iter().flat_map(|index| &copies[*index].marks).filter(|mark| !matches!(mark.kind, Kind::Fermata)) {
        tally.entry((mark.bar, mark.kind, mark.says())).or_insert_with(|| (0, mark.clone())).0 += 1;
    }
    let marks: Vec<MarkHere> = tally.into_values().filter(|(count, _)| count * 2 > alike.len()).map(|(_, mark)| mark).collect();
    let fact = |index: usize| {
        let copy = &copies[index];
        let mut fact = CopyFact { document: index, ..CopyFact::default() };
        match usual {
            Some(bars) if bars == copy.bars.len() => {
                let expected = Expected { marks: marks.clone(), numbers: Vec::new() };
                fact.marks = marks::hold(copy, &expected, |_| false);
            }
            Some(there) => {
                let what = music::What::Count { here: copy.bars.len(), there };
                fact.music = vec![MusicFact { what, part: None, bars: Vec::new() }];
            }
            None => {}
        }
        fact
    };
    let mut facts: Vec<CopyFact> = group.iter().copied().map(fact).collect();
    twins(copies, &mut facts);
    looks(copies, &mut facts);
    Delivery { score: None, copies: group, facts, players: Vec::new() }
}

/// Movements that are files of their own: the page numbers of a copy run on from one to the next. A copy is known by the name
/// the house gives it, else by the parts it shows.
pub(super) fn page_numbers(copies: &[Copy], found: &mut [Delivery]) {
    let name = |copy: &Copy| {
        let parts = || copy.parts.iter().map(|part| part.name.to_string()).collect::<Vec<_>>().join(" / ");
        copy.mapping.as_ref().and_then(|mapping| mapping.name.clone()).unwrap_or_else(parts)
    };
    let mut books: BTreeMap<String, Vec<(usize, usize)>> = BTreeMap::new();
    for (index, copy) in copies.iter().enumerate() {
        if let Some(movement) = copy.movement {
            books.entry(name(copy)).or_default().push((movement, index));
        }
    }
    let mut wrong: BTreeMap<usize, (i64, i64)> = BTreeMap::new();
    for book in books.values_mut() {
        book.sort_unstable();
        for pair in book.windows(2) {
            let [(before, first), (after, second)] = pair else { continue };
            let numbers = copies[*first].look.page_numbers.zip(copies[*second].look.page_numbers);
            if let Some(((_, last), (here, _))) = numbers.filter(|((_, last), (here, _))| before + 1 == *after && *here != last + 1) {
                wrong.insert(*second, (here, last + 1));
            }
        }
    }
    for fact in found.iter_mut().flat_map(|delivery| &mut delivery.facts) {
        fact.first_page = wrong.get(&fact.document).copied();
    }
}
