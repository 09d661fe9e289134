//! Silence around a bar line: how long a player's hands are free there.

use super::jump::first_ending;
use super::play::{has_rest_beside_small, plays};
use super::tempo::{Tempi, Told};
use crate::score::{MarkKind, Note, Score, Traits};
use crate::units::Time;
use rayon::prelude::*;
use std::ops::Range;

/// Quarters in a whole note.
const QUARTERS: f64 = 4.0;
/// A held rest lasts twice as long, and at least so many seconds longer (our own; the study of turns, spacing).
const LEAST_HOLD: f64 = 2.0;
/// Seconds that putting a mute on or off, changing sticks or retuning takes (from memory).
const HAND_WORK: f64 = 2.0;
/// Seconds that changing the instrument takes (from memory).
const CHANGE_OF_INSTRUMENT: f64 = 5.0;
/// Bars before a page's end in which a warning to turn at once is looked for (common practice, no source).
const WARNED_WITHIN: usize = 2;

/// Seconds a turn takes: a hand needs one and a half (our own), and the eye reads on ahead for one more (Furneaux & Land, "The effects of
/// skill on the eye-hand span during musical sight-reading", 1999, from memory).
pub const NEED: f64 = 2.5;
/// Seconds from which a turn is easy (trade: four seconds).
pub const EASY: f64 = 4.0;

/// Why it is not known how long a turn takes.
const NO_TEMPO: &str = "no tempo is stated, so it is not known how many seconds there are to turn";
/// The same.
const NO_TIME: &str = "the exact time of a bar at the turn cannot be known";

/// A staff that the player who turns reads from and plays: part and staff.
pub type Lane = (usize, u8);

/// Whose hands turn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hands {
    /// The staves they play.
    pub lanes: Vec<Lane>,
    /// The two staves of a keyboard, one a hand: while one rests, half of the time counts.
    pub keyboard: Option<[Lane; 2]>,
}

/// A moment: a bar, and quarters from its beginning.
type Moment = (usize, f64);

/// What a player does in one bar: first beginning and last end of what sounds, in quarters.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sounding {
    first: f64,
    last: f64,
}

/// One row of music: of all staves, or of one hand.
#[derive(Debug)]
struct Row {
    sounding: Vec<Option<Sounding>>,
    /// For each bar, the last bar up to and with it in which something sounds.
    previous: Vec<Option<usize>>,
    /// For each bar, the first bar from it on.
    next: Vec<Option<usize>>,
}

impl Row {
    fn of(score: &Score, lanes: &[Lane]) -> Self {
        let bars = score.bar_count();
        let by_part = lanes.par_chunk_by(|one, other| one.0 == other.0).map(|lanes| sounding(score, lanes));
        let sounding = by_part.reduce(
            || vec![None; bars],
            |mut all, part| {
                all.iter_mut().zip(part).for_each(|(all, part)| *all = together(*all, part));
                all
            },
        );
        let mut previous = vec![None; bars];
        let mut next = vec![None; bars];
        for bar in 0..bars {
            previous[bar] = if sounding[bar].is_some() { Some(bar) } else { bar.checked_sub(1).and_then(|before| previous[before]) };
        }
        for bar in (0..bars).rev() {
            next[bar] = if sounding[bar].is_some() { Some(bar) } else { next.get(bar + 1).copied().flatten() };
        }
        Self { sounding, previous, next }
    }

    /// Where what sounds before a bar ends; the beginning of the movement where nothing does, and then there is no limit.
    fn ends_before(&self, bar: usize, movement: &Range<usize>) -> (Moment, bool) {
        let found = bar.checked_sub(1).and_then(|before| self.previous[before]).filter(|found| *found >= movement.start);
        match found.and_then(|found| Some((found, self.sounding[found]?))) {
            Some((found, sounding)) => ((found, sounding.last), false),
            None => ((movement.start, 0.0), true),
        }
    }

    /// Where what sounds from a bar on begins; the end of the movement where nothing does, and then there is no limit.
    fn begins_after(&self, bar: usize, movement: &Range<usize>) -> (Moment, bool) {
        let found = self.next.get(bar).copied().flatten().filter(|found| *found < movement.end);
        match found.and_then(|found| Some((found, self.sounding[found]?))) {
            Some((found, sounding)) => ((found, sounding.first), false),
            None => ((movement.end, 0.0), true),
        }
    }
}

/// What sounds in each bar on some lanes of one part.
fn sounding(score: &Score, lanes: &[Lane]) -> Vec<Option<Sounding>> {
    let part = lanes.first().and_then(|(part, _)| score.parts.get(*part));
    let in_bar = |bar: usize| {
        let notes = part.map_or(&[][..], |part| part.notes_of(bar));
        let small_are_others = score.may_hold(bar, Traits::SMALL) && has_rest_beside_small(notes);
        let own = |note: &&Note| plays(note, small_are_others) && lanes.iter().any(|(_, staff)| *staff == note.staff);
        notes.iter().filter(own).fold(None, |found, note| {
            let first = note.onset.whole_notes() * QUARTERS;
            together(found, Some(Sounding { first, last: first + note.duration.whole_notes() * QUARTERS }))
        })
    };
    (0..score.bar_count()).map(in_bar).collect()
}

fn together(one: Option<Sounding>, other: Option<Sounding>) -> Option<Sounding> {
    let Some((one, other)) = one.zip(other) else { return one.or(other) };
    Some(Sounding { first: one.first.min(other.first), last: one.last.max(other.last) })
}

/// A turn at the beginning of a bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Seconds of silence before it.
    pub before: f64,
    /// Seconds of silence after it.
    pub after: f64,
    /// Seconds that other work of the hands in that silence takes.
    pub work: f64,
    /// A movement ends in that silence, or has not begun: there is no limit.
    pub unlimited: bool,
    /// One hand plays on for part of the time, which counts half.
    pub one_hand: bool,
    /// How its tempi are known.
    pub told: Told,
    /// First and last bar of the silence that a player counts: those that rest from one bar line to the other.
    pub rests: Option<(usize, usize)>,
}

impl Turn {
    /// Seconds to turn; infinite where there is no limit.
    pub fn seconds(&self) -> f64 {
        if self.unlimited { f64::INFINITY } else { (self.before + self.after - self.work).max(0.0) }
    }

    /// Seconds to turn, where the file tells enough to know them: with no silence at all no tempo is needed.
    pub fn known(&self) -> Result<f64, &'static str> {
        if self.told == Told::Assumed && !self.unlimited && self.before + self.after > 0.0 { Err(NO_TEMPO) } else { Ok(self.seconds()) }
    }
}

/// What is needed to reckon the turns of a score.
#[derive(Debug)]
pub struct Turning<'a> {
    score: &'a Score,
    tempi: Tempi,
    movements: Vec<Range<usize>>,
    all: Row,
    hands: Option<[Row; 2]>,
    /// Seconds that a held rest lasts longer, by moment.
    holds: Vec<(Moment, f64)>,
    /// What else hands have to do, by moment: a change of instrument or not.
    work: Vec<(Moment, bool)>,
    /// From a bar on the players of a desk have different notes, or the same again.
    divided: Vec<(usize, bool)>,
    /// Bars in which the player is warned to turn at once.
    warned: Vec<usize>,
}

impl<'a> Turning<'a> {
    /// Reads what turns depend on.
    pub fn of(score: &'a Score, movements: Vec<Range<usize>>, hands: Hands) -> Self {
        let Hands { mut lanes, keyboard } = hands;
        lanes.sort_unstable();
        let tempi = Tempi::of(score);
        let mut holds = Vec::new();
        let (mut work, mut divided, mut warned) = (Vec::new(), Vec::new(), Vec::new());
        let mut parts: Vec<usize> = lanes.iter().map(|lane| lane.0).collect();
        parts.dedup();
        for bar in 0..score.bar_count() {
            held(score, &parts, &tempi, bar, &mut holds);
            said(score, &lanes, bar, |onset, says| match says {
                Says::Work => work.push(((bar, onset), false)),
                Says::Change => work.push(((bar, onset), true)),
                Says::Divided(divides) => divided.push((bar, divides)),
                Says::Turn => warned.push(bar),
            });
        }
        let all = Row::of(score, &lanes);
        let hands = keyboard.map(|hands| hands.map(|hand| Row::of(score, &[hand])));
        Self { score, tempi, movements, all, hands, holds, work, divided, warned }
    }

    /// The tempi of the score.
    pub fn tempi(&self) -> &Tempi {
        &self.tempi
    }

    /// The turn of a page that ends before a bar.
    ///
    /// # Errors
    /// Where the exact time of a bar around it cannot be known.
    pub fn at(&self, bar: usize) -> Result<Turn, &'static str> {
        // The last time through a repeat nobody plays its first ending.
        let comes_from = first_ending(self.score, bar).unwrap_or(bar);
        self.over(comes_from, bar)
    }

    /// The time to turn while the music goes from the end of the bar before `left` to the beginning of `entered`.
    ///
    /// # Errors
    /// As [`Self::at`].
    pub fn over(&self, left: usize, entered: usize) -> Result<Turn, &'static str> {
        let movement_of = |bar: usize| self.movements.iter().find(|movement| movement.contains(&bar)).cloned();
        let (Some(before), Some(after)) = (left.checked_sub(1).and_then(movement_of), movement_of(entered)) else {
            return Ok(Turn { before: 0.0, after: 0.0, work: 0.0, unlimited: true, one_hand: false, told: Told::Numbers, rests: None });
        };
        let apart = before != after;
        let (from, begun) = self.all.ends_before(left, &before);
        let (to, ended) = self.all.begins_after(entered, &after);
        let (mut silent_before, mut silent_after) = (self.silence(from, (left, 0.0))?, self.silence((entered, 0.0), to)?);
        let mut one_hand = false;
        for hand in self.hands.iter().flatten() {
            let alone_before = self.silence(hand.ends_before(left, &before).0, (left, 0.0))?;
            let alone_after = self.silence((entered, 0.0), hand.begins_after(entered, &after).0)?;
            let (all_before, all_after) = (self.silence(from, (left, 0.0))?, self.silence((entered, 0.0), to)?);
            let half = |alone: f64, all: f64| f64::midpoint(all, alone.max(all));
            let (with_before, with_after) = (half(alone_before, all_before), half(alone_after, all_after));
            if with_before + with_after > silent_before + silent_after {
                (silent_before, silent_after, one_hand) = (with_before, with_after, true);
            }
        }
        let told = self.tempi.told(from, (left, 0.0)).max(self.tempi.told((entered, 0.0), to));
        Ok(Turn {
            before: silent_before,
            after: silent_after,
            work: if left == entered { self.work_in(from, to) } else { self.work_in(from, (left, 0.0)) + self.work_in((entered, 0.0), to) },
            unlimited: apart || begun || ended,
            one_hand,
            told,
            rests: Self::rests(from, left, entered, to),
        })
    }

    /// Seconds of silence from one moment to another, held rests counted as long as they are held.
    fn silence(&self, from: Moment, to: Moment) -> Result<f64, &'static str> {
        let length = |moment: Moment| self.tempi.quarters(moment.0).map(|quarters| (moment.0, moment.1.min(quarters)));
        let from = if from.0 < self.score.bar_count() { length(from).ok_or(NO_TIME)? } else { from };
        if from >= to {
            return Ok(0.0);
        }
        let first = self.holds.partition_point(|(at, _)| *at < from);
        let held: f64 = self.holds[first..].iter().take_while(|(at, _)| *at < to).map(|(_, longer)| longer).sum();
        Ok(self.tempi.between(from, to).ok_or(NO_TIME)? + held)
    }

    /// Seconds that other work of the hands takes between two moments, both counted in: what is asked for at an entry is done before it.
    fn work_in(&self, from: Moment, to: Moment) -> f64 {
        let first = self.work.partition_point(|(at, _)| *at < from);
        let within = || self.work[first..].iter().take_while(|(at, _)| *at <= to);
        // A sign and the words for it are one thing to do.
        let once = |change: bool, seconds: f64| if within().any(|(_, is)| *is == change) { seconds } else { 0.0 };
        once(true, CHANGE_OF_INSTRUMENT) + once(false, HAND_WORK)
    }

    /// The bars around a turn in which the player rests throughout.
    fn rests(from: Moment, left: usize, entered: usize, to: Moment) -> Option<(usize, usize)> {
        let first = if from.1 > 0.0 { from.0 + 1 } else { from.0 };
        let (first, end) = if left == entered { (first, to.0) } else { (entered, to.0) };
        (first < end).then(|| (first, end - 1))
    }

    /// The players of a desk have different notes where a page ends before a bar: nobody can turn for both.
    pub fn divided_at(&self, bar: usize) -> bool {
        let before = self.divided.partition_point(|(from, _)| *from < bar);
        before.checked_sub(1).is_some_and(|last| self.divided[last].1)
    }

    /// The player is warned on the page that ends before a bar.
    pub fn warned_at(&self, bar: usize) -> bool {
        self.warned.iter().any(|warned| (bar.saturating_sub(WARNED_WITHIN)..bar).contains(warned))
    }
}

/// Adds the rests that are held in a bar: under a fermata, or in a general pause.
fn held(score: &Score, parts: &[usize], tempi: &Tempi, bar: usize, holds: &mut Vec<(Moment, f64)>) {
    let mut found: Vec<(f64, f64)> = Vec::new();
    let mut hold = |onset: f64, seconds: f64| found.push((onset, seconds.max(LEAST_HOLD)));
    let asked: &[usize] = if score.may_hold(bar, Traits::FERMATA) { parts } else { &[] };
    for part in asked.iter().filter_map(|part| score.parts.get(*part)) {
        let resting = |note: &&Note| note.is_rest() && note.traits.contains(Traits::FERMATA);
        for rest in part.notes_of(bar).iter().filter(resting) {
            let onset = rest.onset.whole_notes() * QUARTERS;
            hold(onset, tempi.within(bar, onset, onset + rest.duration.whole_notes() * QUARTERS));
        }
    }
    for mark in score.marks_by_part(bar).filter(|(part, _)| parts.binary_search(part).is_ok()).flat_map(|(_, marks)| marks) {
        match &mark.kind {
            MarkKind::Words(words) if is_general_pause(words) => hold(0.0, tempi.seconds(bar).unwrap_or_default()),
            MarkKind::Barline { fermata: true, .. } => hold(mark.onset.whole_notes() * QUARTERS, 0.0),
            _ => {}
        }
    }
    // Of several at one moment the longest.
    found.sort_by(|one, other| one.0.total_cmp(&other.0).then(other.1.total_cmp(&one.1)));
    found.dedup_by(|one, other| one.0.total_cmp(&other.0).is_eq());
    holds.extend(found.into_iter().map(|(onset, longer)| ((bar, onset), longer)));
}

fn is_general_pause(words: &str) -> bool {
    let plain: String = words.to_lowercase().chars().filter(|letter| !letter.is_whitespace() && *letter != '.').collect();
    matches!(&*plain, "gp" | "generalpause" | "grandpause")
}

/// What words and signs ask of the hands.
enum Says {
    /// A mute, other sticks, retuning.
    Work,
    /// Another instrument.
    Change,
    /// The players of a desk divide, or come together again.
    Divided(bool),
    /// Turn at once.
    Turn,
}

/// Words that ask for a mute, other sticks or retuning; for another instrument (from memory; small letters).
const WORK: [&str; 9] = ["con sord", "senza sord", "mit dämpfer", "ohne dämpfer", "mute", "sourdine", "scordatura", "sticks", "mallets"];
/// The same for another instrument.
const CHANGE: [&str; 8] = ["muta in", "change to", "changes to", "take ", "nimmt", "prend", "wechselt", "to picc"];

fn said(score: &Score, lanes: &[Lane], bar: usize, mut say: impl FnMut(f64, Says)) {
    let mut found: Vec<(Time, Says)> = Vec::new();
    for (part, marks) in score.marks_by_part(bar) {
        for mark in marks.iter().filter(|mark| lanes.binary_search(&(part, mark.staff)).is_ok()) {
            let says = match &mark.kind {
                MarkKind::Mute | MarkKind::HandWork => Some(Says::Work),
                MarkKind::Words(words) => in_words(words),
                _ => None,
            };
            found.extend(says.map(|says| (mark.onset, says)));
        }
    }
    found.sort_by_key(|(onset, _)| *onset);
    for (onset, says) in found {
        say(onset.whole_notes() * QUARTERS, says);
    }
}

fn in_words(words: &str) -> Option<Says> {
    let words = words.trim().to_lowercase();
    let plain: String = words.chars().filter(|letter| !letter.is_whitespace() && *letter != '.').collect();
    if matches!(&*plain, "vs" | "voltisubito" | "volti") {
        return Some(Says::Turn);
    }
    let begins = |with: &str| words.starts_with(with);
    if begins("div") {
        return Some(Says::Divided(true));
    }
    if begins("unis") || begins("tutti") {
        return Some(Says::Divided(false));
    }
    if CHANGE.iter().any(|change| begins(change)) {
        return Some(Says::Change);
    }
    WORK.iter().any(|work| words.contains(work)).then_some(Says::Work)
}
