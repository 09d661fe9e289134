//! Deliveries among the documents of one run: which score each copy belongs to, and what each has otherwise than it should.

use super::alone::{page_numbers, without_score};
use super::copy::{Copy, PartMusic};
use super::look::{self, Other};
use super::mark::{Kind, MarkHere};
use super::marks::{self, Expected, MarkFact};
use super::matching::{self, Match, Score};
use super::music::{self, MusicFact};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// A score and its copies, or copies of one piece without a score.
#[derive(Debug)]
pub struct Delivery {
    /// The score, by its index among the documents.
    pub score: Option<usize>,
    /// Its copies, by their index, in the order of the documents.
    pub copies: Vec<usize>,
    /// What is to be said of documents of it.
    pub facts: Vec<CopyFact>,
    /// What is to be said of the parts of the score.
    pub players: Vec<PlayerFact>,
}

/// Who else holds the same music.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Partner {
    /// Path of the other file.
    pub path: String,
}

/// What is to be said of one document as part of its delivery.
#[derive(Debug, Clone, Default)]
pub struct CopyFact {
    /// Index of the document.
    pub document: usize,
    /// It is the score.
    pub is_score: bool,
    /// There is a score, and its music is in it; unknown where there is none.
    pub matched: Option<bool>,
    /// What it holds of the score: names of the score's parts.
    pub plays: Vec<String>,
    /// Share of its notes that the score has.
    pub found: Option<f64>,
    /// An earlier file of the run that is the same copy.
    pub twin: Option<Partner>,
    /// Marks it has otherwise.
    pub marks: Vec<MarkFact>,
    /// Music it has otherwise.
    pub music: Vec<MusicFact>,
    /// What of its look is otherwise than in most copies for its reader.
    pub other: Other,
    /// Its title and the one it should have.
    pub title: Option<(String, String)>,
    /// The number of its first page and the one it should bear, after the movement before.
    pub first_page: Option<(i64, i64)>,
    /// Parts that sound elsewhere than in the score: index, and semitones by which they must be raised.
    pub off: Vec<(usize, i32)>,
    /// Marks are held against the score, not against most copies.
    pub against_score: bool,
}

/// What is to be said of a part of the score.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlayerFact {
    /// Its index in the score.
    pub part: usize,
    /// Files that play it.
    pub played_by: Vec<String>,
    /// It sounds somewhere.
    pub sounds: bool,
    /// It is read from the score itself.
    pub from_score: bool,
    /// Parts of the score that sound, and how many of them some copy plays.
    pub of: (usize, usize),
}

/// The deliveries among some documents; a document that belongs to none is in none.
pub fn deliveries(copies: &[Copy]) -> Vec<Delivery> {
    if copies.len() < 2 {
        return Vec::new();
    }
    let comes_in = |copy: &Copy| copy.mapping.as_ref().is_none_or(|mapping| !mapping.apart);
    let mut scores: Vec<(usize, Score)> = Vec::new();
    let mut held: BTreeMap<usize, (usize, Match)> = BTreeMap::new();
    // The fullest first: a vocal score is a copy of the full score, not the other way round.
    let mut order: Vec<usize> = (0..copies.len()).filter(|index| comes_in(&copies[*index])).collect();
    order.sort_by_key(|index| {
        let copy = &copies[*index];
        // A house that maps a file without saying what it plays means the score.
        let said = copy.mapping.as_ref().is_some_and(|mapping| mapping.plays.is_none() && copy.reader.score);
        (std::cmp::Reverse(said), std::cmp::Reverse(copy.parts.len()), *index)
    });
    let mut no_scores = Vec::new();
    for index in order {
        let copy = &copies[index];
        if !may_be_score(copy) {
            no_scores.push((index, scores.len()));
        } else if let Some(found) = score_of(copy, &scores) {
            held.insert(index, found);
        } else {
            scores.push((index, Score::of(copy)));
        }
    }
    // No other copy waits for these: all can be held against the scores that come before them at once.
    let found = no_scores.par_iter().filter_map(|(index, before)| Some((*index, score_of(&copies[*index], &scores[..*before])?)));
    held.par_extend(found);
    let mut found: Vec<Delivery> = scores
        .par_iter()
        .filter_map(|(at, score)| {
            let own: Vec<(usize, &Match)> = held.iter().filter(|(_, (of, _))| of == at).map(|(index, (_, held))| (*index, held)).collect();
            (!own.is_empty()).then(|| with_score(copies, *at, score, &own))
        })
        .collect();
    let taken: BTreeSet<usize> = found.iter().flat_map(|one| one.copies.iter().copied().chain(one.score)).collect();
    let left: Vec<usize> = (0..copies.len()).filter(|index| comes_in(&copies[*index]) && !taken.contains(index)).collect();
    unmatched(copies, &mut found, &left);
    let taken: BTreeSet<usize> = found.iter().flat_map(|one| one.copies.iter().copied().chain(one.score)).collect();
    found.extend(without_score(copies, left.into_iter().filter(|index| !taken.contains(index))));
    page_numbers(copies, &mut found);
    found.sort_by_key(|delivery| delivery.score.or_else(|| delivery.copies.first().copied()));
    found
}

/// The score that a copy belongs to, by its index among the documents, and how it matches.
fn score_of(copy: &Copy, scores: &[(usize, Score)]) -> Option<(usize, Match)> {
    let fits = |score: &Score| copy.movement.is_none() || score.copy.movement.is_none() || copy.movement == score.copy.movement;
    let best = scores
        .par_iter()
        .with_min_len(WORTH_SHARING)
        .filter(|(_, score)| fits(score))
        .filter_map(|(at, score)| Some((*at, matching::hold(copy, score)?)))
        .max_by(|(a, one), (b, other)| one.found.total_cmp(&other.found).then_with(|| b.cmp(a)));
    // What is said goes before what is heard: the house, then the score.
    let said = scores.iter().filter(|(_, score)| fits(score)).find_map(|(at, score)| Some((*at, score, said_parts(copy, score.copy)?)));
    match (said, best) {
        (Some((at, _, parts)), Some((score, found))) if at == score => Some((at, Match { parts, ..found })),
        (Some((at, score, parts)), _) => Some((at, Match::said(copy, score.copy, parts))),
        (None, best) => best,
    }
}

/// So many scores are worth a thread: most are seen to be of another piece by their length.
const WORTH_SHARING: usize = 16;

/// Bars below which a score tells nothing: an exercise, a test of a program.
const FEWEST_BARS: usize = 4;

/// Whether a document may have copies.
fn may_be_score(copy: &Copy) -> bool {
    copy.reader.score && copy.parts.len() > 1 && copy.heads() > 0 && copy.bars.len() >= FEWEST_BARS
}

/// Which parts of a score a copy holds, part by part, where the house says so, or the score names the copy's file.
fn said_parts(copy: &Copy, score: &Copy) -> Option<Vec<Vec<usize>>> {
    let named = |names: &[String]| -> Vec<usize> {
        names.iter().filter_map(|name| score.parts.iter().position(|part| *part.name == **name)).collect()
    };
    let by_house = copy.mapping.as_ref().and_then(|mapping| mapping.plays.as_deref()).map(named).filter(|parts| !parts.is_empty());
    let linked = || -> Vec<usize> {
        let parts = score.parts.iter().enumerate();
        parts.filter(|(_, part)| part.link.as_ref() == Some(&copy.below)).map(|(index, _)| index).collect()
    };
    let parts = by_house.or_else(|| Some(linked()).filter(|parts| !parts.is_empty()))?;
    // A copy that shows them on staves of their own holds one each, in their order.
    match copy.parts.len() {
        1 => Some(vec![parts]),
        own if own == parts.len() => Some(parts.into_iter().map(|part| vec![part]).collect()),
        own => Some(vec![parts; own]),
    }
}

pub(super) fn folder(copy: &Copy) -> &str {
    copy.below.rsplit_once('/').map_or("", |(folder, _)| folder)
}

fn with_score(copies: &[Copy], at: usize, score: &Score, own: &[(usize, &Match)]) -> Delivery {
    let expected = |held: &Match, copy: &Copy| expected_of(score.copy, held, copy);
    let players: Vec<(&Copy, &Match)> =
        own.iter().map(|(index, held)| (&copies[*index], *held)).filter(|(copy, _)| !copy.reader.only_read).collect();
    let mut facts: Vec<CopyFact> = own
        .par_iter()
        .map(|(index, held)| {
            let copy = &copies[*index];
            let silent = |bar: usize| copy.parts.iter().all(|part| part.bar(bar).is_empty());
            let mut marks = marks::hold(copy, &expected(held, copy), silent);
            marks.extend(keys(copy, score.copy, held));
            marks.sort_by_key(|fact| (fact.bar, fact.kind));
            let plays: BTreeSet<usize> = held.parts.iter().flatten().copied().collect();
            CopyFact {
                document: *index,
                matched: Some(true),
                plays: plays.into_iter().map(|part| score.copy.parts[part].name.to_string()).collect(),
                found: Some(held.found),
                marks,
                music: music::of_copy(copy, score, held),
                title: title(copy, score.copy),
                off: held.off.iter().copied().enumerate().filter(|(_, off)| *off != 0).collect(),
                against_score: true,
                ..CopyFact::default()
            }
        })
        .collect();
    facts.push(CopyFact {
        document: at,
        is_score: true,
        matched: Some(true),
        music: music::of_score(score, &players),
        against_score: true,
        ..CopyFact::default()
    });
    facts.sort_by_key(|fact| fact.document);
    twins(copies, &mut facts);
    looks(copies, &mut facts);
    let mut delivery = Delivery { score: Some(at), copies: own.iter().map(|(index, _)| *index).collect(), facts, players: Vec::new() };
    delivery.players = self::players(score.copy, &players);
    delivery
}

/// Which parts of a score somebody plays.
fn players(score: &Copy, players: &[(&Copy, &Match)]) -> Vec<PlayerFact> {
    let by = |part: usize| -> Vec<String> {
        let plays = players.iter().filter(|(_, held)| held.parts.iter().any(|parts| parts.contains(&part)));
        plays.map(|(copy, _)| copy.path.clone()).collect()
    };
    let parts: Vec<(usize, &PartMusic, Vec<String>)> =
        score.parts.iter().enumerate().map(|(index, part)| (index, part, by(index))).collect();
    let sounding = parts.iter().filter(|(_, part, _)| !part.tacet());
    let of = (sounding.clone().count(), sounding.filter(|(.., by)| !by.is_empty()).count());
    let from_score = |part: &PartMusic| part.keyboard && !score.reader.only_read;
    parts
        .into_iter()
        .map(|(index, part, played_by)| PlayerFact { part: index, played_by, sounds: !part.tacet(), from_score: from_score(part), of })
        .collect()
}

/// The marks and bar numbers of a score as a copy must have them: at the copy's bars.
fn expected_of(score: &Copy, held: &Match, copy: &Copy) -> Expected {
    let marks = score.marks.iter().filter_map(|mark| Some(MarkHere { bar: held.bars.to_copy(mark.bar)?, ..mark.clone() }));
    let marks = marks.filter(|mark| mark.bar < copy.bars.len()).collect();
    let number = |bar: usize| score.bars.get(held.bars.to_score(bar)?).filter(|bar| !bar.implicit).map(|bar| bar.number.clone());
    // Where bars are missing or more, their numbers follow from that.
    let numbers = if held.bars.shift == 0 { (0..copy.bars.len()).map(number).collect() } else { Vec::new() };
    Expected { marks, numbers }
}

/// Keys of a copy's parts against those of the parts they hold, as they sound.
fn keys(copy: &Copy, score: &Copy, held: &Match) -> Vec<MarkFact> {
    let mut facts = Vec::new();
    for (index, part) in copy.parts.iter().enumerate() {
        let off = held.off.get(index).copied().unwrap_or(0);
        let [source] = held.parts.get(index).map(Vec::as_slice).unwrap_or_default() else { continue };
        let theirs = &score.parts[*source];
        // A part written without key signatures is so by custom (horns, drums), or its key has none: nothing can be said.
        if !part.keyed || !theirs.keyed || off != 0 {
            continue;
        }
        let there: Vec<(usize, i32)> = theirs.keys.iter().filter_map(|(bar, key)| Some((held.bars.to_copy(*bar)?, *key))).collect();
        let in_force = |keys: &[(usize, i32)], bar: usize| keys.iter().rev().find(|(from, _)| *from <= bar).map(|(_, key)| *key);
        let changes: BTreeSet<usize> = there.iter().chain(&part.keys).map(|(bar, _)| *bar).collect();
        let differs = changes.into_iter().find(|bar| in_force(&part.keys, *bar) != in_force(&there, *bar));
        facts.extend(differs.filter(|bar| *bar < copy.bars.len()).map(|bar| MarkFact {
            status: marks::Status::Otherwise,
            kind: Kind::Key,
            text: key_words(in_force(&there, bar)),
            here: Some(key_words(in_force(&part.keys, bar))),
            bar,
            stands_at: None,
            count: 1,
            at: None,
        }));
    }
    facts
}

/// Sounding keys by their fifths, modulo 12; the key of six signs has two names.
const KEY_WORDS: [&str; 12] = ["C", "G", "D", "A", "E", "B", "F sharp / G flat", "D flat", "A flat", "E flat", "B flat", "F"];

fn key_words(fifths: Option<i32>) -> String {
    let Some(fifths) = fifths else { return "no key".to_owned() };
    let name = usize::try_from(fifths.rem_euclid(12)).ok().and_then(|fifths| KEY_WORDS.get(fifths)).copied().unwrap_or_default();
    format!("the signs of {name} major, as it sounds")
}

fn title(copy: &Copy, score: &Copy) -> Option<(String, String)> {
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let pairs = [(&copy.look.title, &score.look.title), (&copy.look.movement_title, &score.look.movement_title)];
    let differs = |(here, there): (&Option<String>, &Option<String>)| {
        let (here, there) = (here.as_ref()?, there.as_ref()?);
        (plain(here) != plain(there)).then(|| (here.clone(), there.clone()))
    };
    pairs.into_iter().find_map(differs)
}

/// The same copy twice: the same notes of parts of the same names.
pub(super) fn twins(copies: &[Copy], facts: &mut [CopyFact]) {
    let same = |one: &Copy, other: &Copy| {
        one.parts.len() == other.parts.len()
            && one.heads() > 0
            && one.reader == other.reader
            && one.parts.iter().zip(&other.parts).all(|(a, b)| a.name == b.name && a.heads == b.heads)
    };
    for index in 1..facts.len() {
        let (before, rest) = facts.split_at_mut(index);
        let Some(fact) = rest.first_mut() else { continue };
        let copy = &copies[fact.document];
        let twin = before.iter().find(|earlier| same(&copies[earlier.document], copy));
        fact.twin = twin.map(|twin| Partner { path: copies[twin.document].path.clone() });
    }
}

/// Holds the looks of copies for the same reader against each other.
pub(super) fn looks(copies: &[Copy], facts: &mut [CopyFact]) {
    let mut by_role: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (at, fact) in facts.iter().enumerate() {
        if let Some(role) = &copies[fact.document].reader.role {
            by_role.entry(role).or_default().push(at);
        }
    }
    for group in by_role.values() {
        let looks: Vec<_> = group.iter().map(|at| &copies[facts[*at].document].look).collect();
        for (at, other) in group.iter().zip(look::others(&looks)) {
            facts[*at].other = other;
        }
    }
}

/// A copy in the folder of a delivery whose music is not in its score. A few files that stand among many others are not a
/// delivery, so nothing is said unless most of what stands there belongs to it.
fn unmatched(copies: &[Copy], found: &mut [Delivery], left: &[usize]) {
    // Among hundreds of copies their folders are compared tens of thousands of times.
    let folders: Vec<&str> = copies.iter().map(folder).collect();
    for index in left {
        let near = |other: &&usize| folders[**other] == folders[*index];
        let home = found.iter_mut().find(|delivery| {
            let here = delivery.copies.iter().filter(near).count();
            here >= 2 && here > left.iter().filter(near).count()
        });
        if let Some(home) = home {
            home.copies.push(*index);
            home.copies.sort_unstable();
            home.facts.push(CopyFact { document: *index, matched: Some(false), against_score: true, ..CopyFact::default() });
            home.facts.sort_by_key(|fact| fact.document);
        }
    }
}
