//! Any small score: pages of all sorts with music that varies, for properties that hold of every score.

use super::musicxml::{write, write_timewise};
use super::plain::{A4, B4, B5, Sheet};
use super::score::{Bar, BarLine, Direction, Event, Lyric, Margins, Pitch, Says, Score, Value};
use proptest::prelude::*;

/// A page as it is planned: mm above each of its systems, bars, indent, whether it is left ragged, whether a staff is hidden.
pub type System = (u32, usize, u32, bool, bool);

/// What a score is made from; small numbers, so that a failing case can be read.
#[derive(Debug, Clone)]
pub struct Any {
    /// 0 an oboe, 1 a piano, more: so many winds.
    pub players: usize,
    /// Height of the staves in quarters of a millimetre.
    pub quarters: u32,
    pub paper: (f64, f64),
    /// Left, right, top and bottom margins of right-hand pages; left-hand pages have them mirrored or the same.
    pub margins: [u32; 4],
    pub mirrored: bool,
    /// Printed number of the first page.
    pub first: u32,
    /// White between the staves of a system, mm.
    pub inner: u32,
    pub pages: Vec<Vec<System>>,
    /// What is changed in the music: the bar (as a share of all), the part, what.
    changes: Vec<(u32, usize, Change)>,
}

#[derive(Debug, Clone)]
enum Change {
    Key(i8),
    Line(BarLine),
    Ends,
    Rest,
    Words(&'static str),
    Mark(&'static str),
    Loud(&'static str),
    Chord(i32),
    Sung(&'static str),
    Held,
}

fn change() -> impl Strategy<Value = Change> {
    prop_oneof![
        (-6_i8..=6).prop_map(Change::Key),
        prop_oneof![Just(BarLine::Double), Just(BarLine::RepeatBack)].prop_map(Change::Line),
        Just(Change::Ends),
        Just(Change::Rest),
        prop_oneof![Just("poco rit."), Just("dolce & <sotto>"), Just("\u{e9}teint"), Just("con sord.")].prop_map(Change::Words),
        prop_oneof![Just("A"), Just("B"), Just("27")].prop_map(Change::Mark),
        prop_oneof![Just("p"), Just("ff")].prop_map(Change::Loud),
        (-9..9).prop_map(Change::Chord),
        prop_oneof![Just("la"), Just("Schlum-")].prop_map(Change::Sung),
        Just(Change::Held),
    ]
}

/// Any score of one to three pages.
pub fn any() -> impl Strategy<Value = Any> {
    let system = (9_u32..45, 2_usize..6, 0_u32..15, any_bool(4), any_bool(3));
    let paper = prop_oneof![Just(A4), Just(B4), Just(B5)];
    let look = (0_usize..5, 12_u32..38, paper, prop::array::uniform4(4_u32..26), any_bool(2), 1_u32..4, 4_u32..22);
    let pages = prop::collection::vec(prop::collection::vec(system, 1..5), 1..4);
    let changes = prop::collection::vec((0_u32..1000, 0_usize..9, change()), 0..9);
    (look, pages, changes).prop_map(|((players, quarters, paper, margins, mirrored, first, inner), pages, changes)| Any {
        players,
        quarters,
        paper,
        margins,
        mirrored,
        first,
        inner,
        pages,
        changes,
    })
}

/// True once in so many times.
fn any_bool(times: u32) -> impl Strategy<Value = bool> {
    (0..times).prop_map(|number| number == 0)
}

impl Any {
    /// The score itself.
    pub fn score(&self) -> Score {
        let staff_mm = f64::from(self.quarters) / 4.0;
        let sheet = match self.players {
            0 => Sheet::oboe(staff_mm, self.paper, 10.0),
            1 => Sheet::piano(staff_mm, self.paper, 10.0),
            winds => Sheet::winds(winds, staff_mm, self.paper, 10.0),
        };
        let mut sheet = sheet.changed(|sheet| {
            let [left, right, top, bottom] = self.margins.map(f64::from);
            sheet.paper.odd = Margins { left, right, top, bottom };
            sheet.paper.even = if self.mirrored { Margins { left: right, right: left, top, bottom } } else { sheet.paper.odd };
            sheet.first_number = self.first;
            sheet.inner_mm.fill(f64::from(self.inner));
        });
        for page in &self.pages {
            sheet = sheet.page(page.len(), 0.0);
            let plan = sheet.pages.last_mut().expect("just added");
            for (system, (above, bars, indent, ragged, hides)) in plan.systems.iter_mut().zip(page) {
                system.above_mm = f64::from(*above);
                system.bars = *bars;
                system.indents_mm.0 = f64::from(*indent);
                system.ragged = *ragged;
                // A hidden staff of a piano is music that cannot be seen: the winds alone hide one.
                if *hides && self.players > 2 {
                    system.hidden = vec![1];
                    system.gaps_mm.pop();
                }
            }
        }
        sheet.score_with(|score| {
            for (share, part, change) in &self.changes {
                let (parts, bars) = (score.parts.len(), score.bar_count());
                let bar = *share as usize * bars / 1000;
                let part = &mut score.parts[part % parts];
                let clef = part.clefs[0];
                change.put(&mut part.bars[bar], clef.top_line());
            }
        })
    }

    /// Its text, part by part.
    pub fn text(&self) -> String {
        write(&self.score())
    }

    /// Its text, bar by bar.
    pub fn timewise(&self) -> String {
        write_timewise(&self.score())
    }
}

impl Change {
    fn put(&self, bar: &mut Bar, top_line: i32) {
        let says = |says: Says| Direction { above: true, says: vec![says], tempo: None };
        let first = &mut bar.voices[0].events[0];
        match self {
            Self::Key(fifths) => bar.key = Some(*fifths),
            Self::Line(line) => bar.right = Some(*line),
            Self::Ends => bar.right = Some(BarLine::Final),
            Self::Rest => {
                let ticks = bar.voices[0].events.iter().map(|event| event.ticks).sum();
                bar.voices[0].events = vec![Event::bar_rest(ticks)];
            }
            Self::Words(words) => first.directions.push(says(Says::Words((*words).to_owned(), false))),
            Self::Mark(mark) => first.directions.push(says(Says::Rehearsal((*mark).to_owned()))),
            Self::Loud(mark) => first.directions.push(Direction { above: false, ..says(Says::Dynamic(mark)) }),
            Self::Chord(from_top) => {
                let place = |step: i32| Pitch { place: top_line - from_top - step, alter: 0 };
                let ticks = bar.voices[0].events.iter().map(|event| event.ticks).sum::<u32>();
                let chord = Event::note(Value::Whole, false, &[place(0), place(2), place(4)]);
                if chord.ticks == ticks {
                    bar.voices[0].events = vec![chord];
                }
            }
            Self::Sung(text) if !first.is_rest() => first.lyric = Some(Lyric { text: (*text).to_owned(), syllabic: "single" }),
            Self::Held => first.marks.push("fermata"),
            Self::Sung(_) => {}
        }
    }
}
