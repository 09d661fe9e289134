//! How long music lasts: the tempi that a file states, by number or in words.

use crate::score::{MarkKind, Score, SignKind};
use crate::units::Time;

/// Quarters in a whole note.
const QUARTERS: f64 = 4.0;
/// Quarters a minute that are taken where a file says nothing of its tempo and something has to be reckoned: the pace of the
/// march from which the metronome's own scale is counted (common practice, no source).
const ASSUMED: f64 = 120.0;

/// Words with which a tempo begins, in Italian, German, French and English, small letters, with the beats a minute that are taken
/// for them where no number stands: towards the fast end of what they are used for, since a slow player has more time to turn
/// (from memory). None where the words change a tempo and do not say to what.
const TEMPI: [(&str, Option<f64>); 40] = [
    ("adagietto", Some(76.0)),
    ("adagio", Some(66.0)),
    ("allegretto", Some(116.0)),
    ("allegro", Some(144.0)),
    ("andante", Some(88.0)),
    ("andantino", Some(92.0)),
    ("grave", Some(44.0)),
    ("larghetto", Some(66.0)),
    ("largo", Some(54.0)),
    ("lento", Some(58.0)),
    ("moderato", Some(108.0)),
    ("presto", Some(188.0)),
    ("prestissimo", Some(208.0)),
    ("vivace", Some(168.0)),
    ("vivo", Some(168.0)),
    ("più mosso", None),
    ("piu mosso", None),
    ("meno mosso", None),
    ("a tempo", None),
    ("tempo", None),
    ("l'istesso tempo", None),
    ("doppio movimento", None),
    ("ritardando", None),
    ("rallentando", None),
    ("accelerando", None),
    ("stringendo", None),
    ("rit.", None),
    ("rall.", None),
    ("accel.", None),
    ("langsam", Some(58.0)),
    ("schnell", Some(160.0)),
    ("mäßig", Some(104.0)),
    ("lebhaft", Some(144.0)),
    ("bewegt", Some(132.0)),
    ("lent", Some(58.0)),
    ("vif", Some(160.0)),
    ("modéré", Some(104.0)),
    ("slow", Some(66.0)),
    ("fast", Some(160.0)),
    ("faster", None),
];

/// The entry of the table with which some words begin.
fn found(words: &str) -> Option<&'static (&'static str, Option<f64>)> {
    let words = words.trim().to_lowercase();
    let ends = |rest: &str| rest.chars().next().is_none_or(|letter| !letter.is_alphabetic());
    TEMPI.iter().find(|(tempo, _)| words.strip_prefix(tempo).is_some_and(ends))
}

/// Whether words to the player tell a tempo: they begin as one does.
pub fn is_tempo(words: &str) -> bool {
    found(words).is_some()
}

/// How a tempo is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Told {
    /// By a number.
    Numbers,
    /// By words, for which a usual number is taken.
    Words,
    /// Not at all: a usual number is taken.
    Assumed,
}

/// A tempo and where it begins.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Segment {
    bar: usize,
    /// Quarters from the beginning of the bar.
    at: f64,
    quarters_a_minute: f64,
    told: Told,
}

/// The tempi of a score and the length of its bars.
#[derive(Debug)]
pub struct Tempi {
    segments: Vec<Segment>,
    /// Quarters in each bar; `None` where its time cannot be known.
    quarters: Vec<Option<f64>>,
    /// Seconds from the beginning up to each bar, and to the end; bars of unknown length count nothing.
    begins: Vec<f64>,
    /// Bars of unknown length before each bar, and before the end.
    unknown: Vec<u32>,
    /// The least that is known of a tempo up to each bar: a run of bars is as sure as its least sure tempo.
    told: Vec<Told>,
}

impl Tempi {
    /// Reads the tempi of a score.
    pub fn of(score: &Score) -> Self {
        let bars = score.bar_count();
        let mut segments = vec![Segment { bar: 0, at: 0.0, quarters_a_minute: ASSUMED, told: Told::Assumed }];
        let mut quarters = Vec::with_capacity(bars);
        let longest = longest(score);
        let mut metre: Option<Time> = None;
        let mut beat = 1.0;
        for (bar, longest) in longest.into_iter().enumerate() {
            for sign in score.signs_at(bar) {
                if let SignKind::Time { bar, beats, beat_type, .. } = &sign.kind {
                    metre = *bar;
                    beat = beat_quarters(beats, beat_type);
                }
            }
            read_tempi(score, bar, beat, &mut segments);
            let length = longest.and_then(|longest| if longest > Time::ZERO { Some(longest) } else { metre });
            quarters.push(length.map(|length| length.whole_notes() * QUARTERS));
        }
        let mut tempi = Self { segments, quarters, begins: vec![0.0], unknown: vec![0], told: Vec::new() };
        for bar in 0..bars {
            let end = tempi.quarters[bar];
            let lasts = end.map_or(0.0, |end| tempi.within(bar, 0.0, end));
            tempi.begins.push(tempi.begins[bar] + lasts);
            tempi.unknown.push(tempi.unknown[bar] + u32::from(end.is_none()));
            tempi.told.push(tempi.in_force(bar, end.unwrap_or_default()).map_or(Told::Assumed, |segment| segment.told));
        }
        tempi
    }

    /// The tempo in force at a moment, or just before it.
    fn in_force(&self, bar: usize, at: f64) -> Option<&Segment> {
        let before =
            self.segments.partition_point(|segment| (segment.bar, segment.at) < (bar, at) || (segment.bar, segment.at) == (0, 0.0));
        self.segments.get(before.checked_sub(1)?)
    }

    /// Seconds from one moment of a bar to another, in quarters from its beginning.
    pub fn within(&self, bar: usize, from: f64, to: f64) -> f64 {
        let first = self.segments.partition_point(|segment| (segment.bar, segment.at) <= (bar, from)).saturating_sub(1);
        let mut seconds = 0.0;
        let mut begin = from;
        for (index, segment) in self.segments.iter().enumerate().skip(first) {
            let next = self.segments.get(index + 1).filter(|next| next.bar == bar && next.at < to);
            let end = next.map_or(to, |next| next.at);
            seconds += (end - begin).max(0.0) * 60.0 / segment.quarters_a_minute;
            begin = begin.max(end);
            if next.is_none() {
                break;
            }
        }
        seconds
    }

    /// Quarters in a bar; `None` where its time cannot be known.
    pub fn quarters(&self, bar: usize) -> Option<f64> {
        self.quarters.get(bar).copied().flatten()
    }

    /// Seconds of a bar; `None` where its time cannot be known or nothing tells the tempo in it.
    pub fn seconds(&self, bar: usize) -> Option<f64> {
        let told = *self.told.get(bar)?;
        (self.quarters(bar).is_some() && told != Told::Assumed).then(|| self.begins[bar + 1] - self.begins[bar])
    }

    /// Seconds from one moment to a later one, each a bar and the quarters from its beginning; `None` where the time of a bar on the
    /// way cannot be known.
    pub fn between(&self, from: (usize, f64), to: (usize, f64)) -> Option<f64> {
        if from.0 == to.0 {
            return Some(self.within(from.0, from.1, to.1));
        }
        let first = self.quarters(from.0)?;
        let whole = from.0 + 1..to.0;
        if self.unknown.get(to.0)? != self.unknown.get(from.0 + 1)? {
            return None;
        }
        let tail = if to.1 > 0.0 { self.within(to.0, 0.0, to.1) } else { 0.0 };
        Some(self.within(from.0, from.1, first) + (self.begins[whole.end] - self.begins[whole.start]) + tail)
    }

    /// How the tempi between two moments are known: as the least sure of them.
    pub fn told(&self, from: (usize, f64), to: (usize, f64)) -> Told {
        let first = self.segments.partition_point(|segment| (segment.bar, segment.at) <= from).saturating_sub(1);
        let on_the_way =
            self.segments[first..].iter().take_while(|segment| (segment.bar, segment.at) < to || (segment.bar, segment.at) <= from);
        on_the_way.map(|segment| segment.told).max().unwrap_or(Told::Assumed)
    }
}

/// How far the music of each bar reaches in the part in which it reaches farthest. A bar whose time was lost in one part is not known in any.
fn longest(score: &Score) -> Vec<Option<Time>> {
    let mut longest = vec![Some(Time::ZERO); score.bar_count()];
    for part in &score.parts {
        for (longest, bar) in longest.iter_mut().zip(&part.bars) {
            *longest = longest.zip(bar.length).map(|(longest, length)| longest.max(length));
        }
    }
    longest
}

/// Quarters of a beat by the time signature: three eighths where the eighths go in threes.
fn beat_quarters(beats: &str, beat_type: &str) -> f64 {
    let (beats, kind) = (beats.trim().parse::<u32>().unwrap_or(4), beat_type.trim().parse::<f64>().unwrap_or(4.0));
    let part = if kind > 0.0 { QUARTERS / kind } else { 1.0 };
    if kind >= 8.0 && beats > 3 && beats.is_multiple_of(3) { part * 3.0 } else { part }
}

/// Adds the tempi that begin in a bar, in their order.
fn read_tempi(score: &Score, bar: usize, beat: f64, segments: &mut Vec<Segment>) {
    // At one moment a metronome mark, which the player sees, comes before a number for playback, and that before words.
    let mut found: Vec<(Time, Told, u8, f64)> = Vec::new();
    let mut again: Vec<Time> = Vec::new();
    for mark in score.marks_at(bar) {
        match &mark.kind {
            // Of a range the faster: it leaves the least time.
            MarkKind::Metronome { beat, from, to } => {
                let quarters = f64::from(from.max(*to)) * beat.whole_notes() * QUARTERS;
                found.push((mark.onset, Told::Numbers, 0, quarters));
            }
            MarkKind::Tempo(quarters) => found.push((mark.onset, Told::Numbers, 1, f64::from(*quarters))),
            MarkKind::Words(words) => match self::found(words) {
                Some((_, Some(beats))) => found.push((mark.onset, Told::Words, 2, beats * beat)),
                Some(("a tempo" | "tempo", None)) => again.push(mark.onset),
                _ => {}
            },
            _ => {}
        }
    }
    found.retain(|(.., quarters)| quarters.is_finite() && *quarters > 0.0);
    // Back to the tempo of the beginning; what was only words there stays words.
    if let Some(onset) = again.into_iter().find(|onset| found.iter().all(|one| one.0 != *onset)) {
        let first = segments.iter().rev().find(|segment| segment.told == Told::Numbers).or(segments.last()).copied();
        if let Some(first) = first.filter(|first| first.told != Told::Assumed) {
            found.push((onset, first.told, 3, first.quarters_a_minute));
        }
    }
    found.sort_by(|one, other| (one.0, one.2).cmp(&(other.0, other.2)).then(other.3.total_cmp(&one.3)));
    found.dedup_by_key(|one| one.0);
    for (onset, told, _, quarters_a_minute) in found {
        let segment = Segment { bar, at: onset.whole_notes() * QUARTERS, quarters_a_minute, told };
        match segments.last_mut().filter(|last| (last.bar, last.at) == (segment.bar, segment.at)) {
            Some(last) => *last = segment,
            None => segments.push(segment),
        }
    }
}
