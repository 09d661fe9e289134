//! What judging hands on: findings, where they are, how grave they are and in which order they stand.

use crate::place::{Confidence, Place};
use crate::score::BarNumber;
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;
use std::fmt;
use std::sync::Arc;

/// How grave a finding is, in the words of SARIF 2.1.0 (`level`). For people: query, should change,
/// must change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// A query.
    Note,
    /// Should change.
    Warning,
    /// Must change.
    Error,
}

impl Level {
    /// One level lower; a note stays a note.
    #[must_use]
    pub fn lower(self) -> Self {
        match self {
            Self::Error => Self::Warning,
            Self::Warning | Self::Note => Self::Note,
        }
    }

    /// So many levels graver, or milder where negative; from note to error.
    #[must_use]
    pub fn shifted(self, steps: i32) -> Self {
        match (self as i32 + steps).clamp(Self::Note as i32, Self::Error as i32) {
            0 => Self::Note,
            1 => Self::Warning,
            _ => Self::Error,
        }
    }

    /// Its name in files and reports for machines.
    pub fn name(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Where on the music a thing is. What does not apply is `None`: a page has no bars of its own.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Where {
    /// Page, counted in the file from 1.
    pub page: Option<u32>,
    /// The number printed on that page, where it differs or has to be said.
    pub page_label: Option<Arc<str>>,
    /// System, counted on its page from 1.
    pub system: Option<u32>,
    /// Movement, counted in the file from 1.
    pub movement: Option<u32>,
    /// First and last bar, counted in the file from 1.
    pub bar_index: Option<(u32, u32)>,
    /// First and last bar as the file numbers them.
    pub bars: Option<[BarNumber; 2]>,
    /// Part, by its id in the file.
    pub part: Option<Arc<str>>,
    /// Part, by its name in the score.
    pub part_name: Option<Arc<str>>,
    /// Part, counted in the file from 1.
    pub part_index: Option<u32>,
    /// Staff, counted in its part from 1.
    pub staff: Option<u32>,
    /// The bars that stand on what it is about, where those are not named above: all bars of a page. Not said to people;
    /// by them a thing is known again in a later round, when other bars stand on that page.
    pub covers: Option<Covers>,
}

/// First and last bar, counted in the file from 1, and as the file numbers them.
type Bars<'a> = ((u32, u32), &'a [BarNumber; 2]);

/// A stretch of bars.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Covers {
    /// First and last, counted in the file from 1.
    pub index: (u32, u32),
    /// First and last as the file numbers them.
    pub numbers: [BarNumber; 2],
}

impl Covers {
    /// Makes it reach from the first bar of itself and another stretch to the last.
    fn widen(&mut self, index: (u32, u32), numbers: &[BarNumber; 2]) {
        if index.0 < self.index.0 {
            self.index.0 = index.0;
            self.numbers[0].clone_from(&numbers[0]);
        }
        if index.1 > self.index.1 {
            self.index.1 = index.1;
            self.numbers[1].clone_from(&numbers[1]);
        }
    }
}

/// How two stretches of bars lie to each other, by the numbers that the file gives them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overlap {
    /// Bars that both have.
    pub shared: f64,
    /// Bars of the one.
    pub one: f64,
    /// Bars of the other.
    pub other: f64,
}

impl Overlap {
    /// The overlap of two stretches, each first and last. Where a bar is called by no number, or one ends with a lower number than it
    /// begins with, as over a movement's end, they are the same or have nothing in common.
    pub fn of<A: AsRef<str>, B: AsRef<str>>(one: &[A; 2], other: &[B; 2]) -> Self {
        let number = |name: &str| name.trim().parse::<i64>().ok();
        let [a, b] = one.each_ref().map(|name| number(name.as_ref()));
        let [c, d] = other.each_ref().map(|name| number(name.as_ref()));
        let forward = |(first, last): &(i64, i64)| first <= last;
        let (Some(one), Some(other)) = (a.zip(b).filter(forward), c.zip(d).filter(forward)) else {
            let same = one.iter().map(AsRef::as_ref).eq(other.iter().map(AsRef::as_ref));
            return Self { shared: f64::from(u8::from(same)), one: 1.0, other: 1.0 };
        };
        #[expect(clippy::cast_precision_loss, reason = "numbers of bars")]
        let length = |first: i64, last: i64, least: i64| last.saturating_sub(first).saturating_add(1).max(least) as f64;
        Self { shared: length(one.0.max(other.0), one.1.min(other.1), 0), one: length(one.0, one.1, 1), other: length(other.0, other.1, 1) }
    }
}

/// Where the worst of several things is, as far as all of them are there: what they do not share is left out, but for the page of the
/// worst, where the reader begins to look.
#[derive(Debug)]
pub struct Common {
    on: Where,
    covers: Option<Covers>,
}

impl Common {
    /// Where the worst is.
    pub fn of(worst: Where) -> Self {
        let covers = worst.stretch();
        Self { on: worst, covers }
    }

    /// Takes in one more.
    pub fn add(&mut self, other: &Where) {
        let Self { on, covers } = self;
        if let Some((index, numbers)) = other.bars_about() {
            match covers {
                Some(covers) => covers.widen(index, numbers),
                None => *covers = Some(Covers { index, numbers: numbers.clone() }),
            }
        }
        if on.page != other.page || on.system != other.system {
            on.system = None;
        }
        if on.movement != other.movement {
            on.movement = None;
        }
        if on.bar_index != other.bar_index {
            on.bar_index = None;
            on.bars = None;
        }
        if on.part_index != other.part_index || on.part != other.part {
            on.part = None;
            on.part_name = None;
            on.part_index = None;
            on.staff = None;
        }
        if on.staff != other.staff {
            on.staff = None;
        }
    }

    /// Where they all are.
    pub fn place(self) -> Where {
        let Self { mut on, covers } = self;
        on.covers = covers.filter(|_| on.bars.is_none());
        on
    }
}

impl Where {
    /// The bars it is about: its own, else those it covers.
    pub fn stretch(&self) -> Option<Covers> {
        self.bars_about().map(|(index, numbers)| Covers { index, numbers: numbers.clone() })
    }

    /// The same, by their count and by their numbers.
    fn bars_about(&self) -> Option<Bars<'_>> {
        self.bar_index.zip(self.bars.as_ref()).or_else(|| self.covers.as_ref().map(|covers| (covers.index, &covers.numbers)))
    }

    /// The page as it is called: by its printed number, else by its count.
    pub fn page_name(&self) -> Option<String> {
        self.page_label.as_ref().map(ToString::to_string).or_else(|| self.page.map(|page| page.to_string()))
    }

    /// The bars as they are called: `12`, or `12-15`.
    pub fn bars_name(&self) -> Option<String> {
        let [first, last] = self.bars.as_ref()?;
        Some(if first == last { first.to_string() } else { format!("{first}-{last}") })
    }

    /// The part as it is called: by its name, else by its id.
    pub fn part_name_or_id(&self) -> Option<&str> {
        self.part_name.as_deref().filter(|name| !name.trim().is_empty()).or(self.part.as_deref())
    }

    /// The staff as it is called: the part, and the number where it has one.
    pub fn staff_name(&self) -> Option<String> {
        match (self.part_name_or_id(), self.staff) {
            (Some(part), Some(staff)) => Some(format!("{part} staff {staff}")),
            (Some(part), None) => Some(part.to_owned()),
            (None, Some(staff)) => Some(format!("staff {staff}")),
            (None, None) => None,
        }
    }

    /// In the order of the music: page, system, bar, part, staff; absent first.
    pub fn order(&self, other: &Self) -> Ordering {
        let key = |at: &Self| (at.page, at.system, at.bar_index, at.part_index);
        key(self).cmp(&key(other)).then_with(|| self.part.cmp(&other.part)).then_with(|| self.staff.cmp(&other.staff))
    }
}

/// `p. 3, system 2, bars 12-15, Violin I`; empty for the file as a whole.
impl fmt::Display for Where {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bars = self.bars.as_ref().map(|[first, last]| if first == last { "bar" } else { "bars" });
        let words = [
            self.page_name().map(|page| format!("p. {page}")),
            self.system.map(|system| format!("system {system}")),
            bars.zip(self.bars_name()).map(|(word, bars)| format!("{word} {bars}")),
            self.staff_name(),
        ];
        f.write_str(&words.into_iter().flatten().collect::<Vec<_>>().join(", "))
    }
}

/// One judgement: a rule does not hold at a place.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The rule, by its id.
    pub rule: Arc<str>,
    /// Which of the rule's cases, from 0.
    pub case: usize,
    /// How grave.
    pub level: Level,
    /// Where, what the eye sees, number against number.
    pub message: String,
    /// What to do.
    pub advice: String,
    /// Where in the music.
    pub on: Where,
    /// What was measured.
    pub measured: Option<f64>,
    /// What it was held against.
    pub limit: Option<f64>,
    /// What both are measured in ([`super::field::Unit::name`]).
    pub unit: Option<&'static str>,
    /// How sure the reckoning is.
    pub confidence: Confidence,
    /// Why it is less grave than its case says, if it is.
    pub because: Option<String>,
    /// Where in the file: the primary place.
    pub at: Option<Place>,
    /// A second place: the thing itself, where the primary place is that of an inherited value.
    pub also: Option<Place>,
    /// How many findings of the rule were merged into this one, itself included.
    pub count: usize,
    /// Names what the finding is about, not where it stands in the file: the same from one round of a
    /// delivery to the next. 16 hexadecimal digits.
    pub fingerprint: String,
}

impl Finding {
    /// The order of findings within a file: page, system, bar, part, staff, rule, case, offset; absent first.
    pub fn order(&self, other: &Self) -> Ordering {
        self.on
            .order(&other.on)
            .then_with(|| self.rule.cmp(&other.rule))
            .then_with(|| self.case.cmp(&other.case))
            .then_with(|| self.at.cmp(&other.at))
            .then_with(|| self.fingerprint.cmp(&other.fingerprint))
    }
}

/// A judgement that could not be made.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct NotJudged {
    /// The rule, by its id.
    pub rule: Arc<str>,
    /// Why not.
    pub reason: String,
}

/// A finding that a reason of its rule silenced.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Excused {
    /// The rule, by its id.
    pub rule: Arc<str>,
    /// The reason, in words.
    pub says: String,
    /// Where in the music.
    pub on: Where,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(page: u32, system: u32, bars: (u32, u32), part: &str) -> Where {
        Where {
            page: Some(page),
            system: Some(system),
            movement: Some(1),
            bar_index: Some(bars),
            bars: Some([bars.0, bars.1].map(|bar| bar.to_string().into())),
            part: Some(part.into()),
            part_name: Some("Oboe".into()),
            staff: Some(1),
            ..Where::default()
        }
    }

    #[test]
    fn several_places_become_what_they_share() {
        let worst = at(2, 1, (9, 12), "P1");
        let common = |others: &[Where]| {
            let mut common = Common::of(worst.clone());
            for other in others {
                common.add(other);
            }
            common.place()
        };
        assert_eq!(common(std::slice::from_ref(&worst)), worst);
        let others = [at(2, 2, (13, 16), "P1"), at(1, 1, (3, 4), "P1"), at(2, 2, (5, 6), "P1")];
        let shared = common(&others);
        assert_eq!((shared.page, shared.system, shared.bars.clone(), shared.staff), (Some(2), None, None, Some(1)));
        assert_eq!(shared.covers, Some(Covers { index: (3, 16), numbers: ["3".into(), "16".into()] }), "from the first bar to the last");
        assert_eq!(common(&[at(2, 2, (9, 12), "P1")]).system, None, "another system of the page");
        let two = common(&[at(2, 1, (9, 12), "P2")]);
        assert_eq!((two.part, two.part_name, two.staff, two.system), (None, None, None, Some(1)), "parts of one name are two");
    }
}
