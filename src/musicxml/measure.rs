//! Bars: the cursor that moves through one, and the signs and layout that stand in it.

use super::damage::Damage;
use super::element::Element;
use super::number;
use super::reader::{MOST_BARS, Reader};
use crate::place::Place;
use crate::score::instructions::{BarNumbering, Print, PrintLayout, StaffDetails, StaffKind, StaffLayout};
use crate::score::sign::{Clef, ClefShape};
use crate::score::{Bar, BarNumber, Sign, SignKind};
use crate::units::{Tenths, Time};
use std::ops::RangeInclusive;

/// Staves a part may have, lines a staff, bars a multi-bar rest, blank pages in a row: more than any music has (from memory).
const STAVES: RangeInclusive<u32> = 1..=16;
const LINES: RangeInclusive<u32> = 0..=16;
const REST_BARS: RangeInclusive<u32> = 1..=1_000;
const BLANKS: RangeInclusive<u32> = 0..=16;
/// Tenths: a bar wider than this is on no paper.
const MOST_WIDTH: f64 = 100_000.0;

/// What the start tag of a measure says.
#[derive(Clone)]
pub(super) struct BarHead {
    pub number: BarNumber,
    pub at: Place,
    width: Option<Tenths>,
    implicit: bool,
}

impl Reader {
    /// Reads the start tag of the measure now open; `part` is for the message.
    pub(super) fn bar_head(&mut self, part: usize) -> Result<BarHead, Damage> {
        let at = self.pull.tag_place();
        if self.score.parts.get(part).is_some_and(|part| part.bars.len() >= MOST_BARS) {
            let what = format!("more than {MOST_BARS} bars in one part");
            return Err(Damage::new(what, "No piece has so many; export the file again.").at(at));
        }
        let number = self.bar_number(part);
        let width = match self.pull.attribute("width") {
            Some((text, place)) => match number::decimal(text.trim()) {
                Some(width) if (0.0..=MOST_WIDTH).contains(&width) => Some(Tenths(width)),
                _ => {
                    let shown = super::reader::shortened(&text);
                    let what = format!("the width of bar {number} is \"{shown}\"");
                    self.flaw(what, "A width is a number of tenths, 0 or more; export the file again.", place, true);
                    None
                }
            },
            None => None,
        };
        Ok(BarHead { number, at, width, implicit: self.attribute_yes("implicit") == Some(true) })
    }

    fn begin_bar(&mut self, part: usize, head: &BarHead) {
        self.pull.keep::<(Bar, Option<Tenths>)>();
        self.score.instructions.widths[part].push(head.width.into());
        let part = &mut self.score.parts[part];
        let count = |length: usize| u32::try_from(length).unwrap_or(u32::MAX);
        part.bars.push(Bar {
            number: head.number.clone(),
            at: head.at,
            first_note: count(part.notes.len()),
            first_mark: count(part.marks.len()),
            first_sign: count(part.signs.len()),
            first_lyric: count(part.lyrics.len()),
            length: Some(Time::ZERO),
            implicit: head.implicit,
            rest_bars: 0,
        });
    }

    /// A bar that a part leaves out of a `score-timewise`.
    pub(super) fn empty_bar(&mut self, part: usize, head: &BarHead) {
        self.begin_bar(part, &BarHead { width: None, ..head.clone() });
    }

    /// Reads the bar of `part` whose element is now open.
    pub(super) fn bar(&mut self, part: usize, head: &BarHead) -> Result<(), Damage> {
        self.begin_bar(part, head);
        let state = &mut self.states[part];
        state.cursor = Some(Time::ZERO);
        state.reach = Some(Time::ZERO);
        state.onset = Some(Time::ZERO);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Note => self.note(part)?,
                Element::Backup => self.shift(part, -1)?,
                Element::Forward => self.shift(part, 1)?,
                Element::Attributes => self.attributes(part)?,
                Element::Direction => self.direction(part)?,
                Element::Harmony => self.chord_symbol(part)?,
                Element::FiguredBass => self.figured_bass(part)?,
                Element::Barline => self.barline(part)?,
                Element::Sound => self.sound(part)?,
                Element::Print => self.print(part)?,
                _ => self.pull.skip()?,
            }
        }
        let length = self.states[part].reach;
        if let Some(bar) = self.score.parts[part].bars.last_mut() {
            bar.length = length;
        }
        Ok(())
    }

    /// Number of the bar being read in `part`, from 0.
    pub(super) fn bar_index(&self, part: usize) -> usize {
        self.score.parts[part].bars.len().saturating_sub(1)
    }

    /// Where the cursor of `part` stands; the beginning of the bar once the exact time is lost.
    pub(super) fn now(&self, part: usize) -> Time {
        self.states[part].cursor.unwrap_or_default()
    }

    /// Moves the cursor of `part` by a time that a note takes or a shift states.
    pub(super) fn advance(&mut self, part: usize, time: Option<Time>, sign: i32) {
        let state = &mut self.states[part];
        state.cursor = match (state.cursor, time.and_then(|time| time.times(sign))) {
            (Some(cursor), Some(step)) => cursor.plus(step),
            _ => None,
        };
        // Real files back up by a rounding error past the bar line.
        state.cursor = state.cursor.map(|cursor| cursor.max(Time::ZERO));
        state.reach = match (state.reach, state.cursor) {
            (Some(reach), Some(cursor)) => Some(reach.max(cursor)),
            _ => None,
        };
    }

    /// `duration` in the element now open as time; `None` with a flaw where it cannot be known.
    pub(super) fn duration(&mut self, part: usize) -> Result<Option<Time>, Damage> {
        let (text, at) = self.pull.text()?;
        let duration = number::fraction(text).filter(|(numer, _)| *numer >= 0);
        // A file that states none counts in quarters; real old files do.
        let divisions = self.states[part].divisions.unwrap_or((1, 1));
        let time = duration.and_then(|duration| number::time(duration, divisions));
        if time.is_none() {
            let shown = super::reader::shortened(text);
            self.flaw(format!("the duration \"{shown}\" is no exact time"), "Export the file again; durations count divisions.", at, false);
        }
        Ok(time)
    }

    fn shift(&mut self, part: usize, sign: i32) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Duration => {
                    let time = self.duration(part)?;
                    self.advance(part, time, sign);
                }
                _ => self.pull.skip()?,
            }
        }
        self.states[part].onset = self.states[part].cursor;
        Ok(())
    }

    fn attributes(&mut self, part: usize) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            let at = self.pull.tag_place();
            let staff = self.attribute_whole::<u8>("number");
            let printed = self.attribute_yes("print-object") != Some(false);
            let kind = match element {
                Element::Divisions => {
                    self.divisions(part)?;
                    None
                }
                Element::Key => Some(self.key()?),
                Element::Time => Some(self.time_signature()?),
                Element::Staves => self.staves(part)?,
                Element::Clef => Some(SignKind::Clef(self.clef()?)),
                Element::StaffDetails => {
                    self.staff_details(part, staff, at)?;
                    None
                }
                Element::Transpose => Some(self.transpose()?),
                Element::MeasureStyle => self.measure_style(part)?,
                _ => {
                    self.pull.skip()?;
                    None
                }
            };
            if let Some(kind) = kind {
                // A clef without a number is that of staff 1; a key or time without one is that of all.
                let staff = if matches!(kind, SignKind::Clef(_)) { Some(staff.unwrap_or(1)) } else { staff };
                let onset = self.now(part);
                self.pull.keep::<Sign>();
                self.score.parts[part].signs.push(Sign { onset, at, staff, printed, kind });
            }
        }
        Ok(())
    }

    fn divisions(&mut self, part: usize) -> Result<(), Damage> {
        let (text, at) = self.pull.text()?;
        if let Some(divisions) = number::fraction(text).filter(|(numer, _)| *numer > 0) {
            self.states[part].divisions = Some(divisions);
        } else {
            let shown = super::reader::shortened(text);
            let what = format!("a quarter has \"{shown}\" divisions");
            self.flaw(what, "Divisions are a number above 0; export the file again.", at, false);
            self.states[part].cursor = None;
        }
        Ok(())
    }

    fn staves(&mut self, part: usize) -> Result<Option<SignKind>, Damage> {
        let Some(staves) = self.count("the number of staves", &STAVES)?.and_then(|staves| u8::try_from(staves).ok()) else {
            return Ok(None);
        };
        let part = &mut self.score.parts[part];
        part.staves = part.staves.max(staves);
        Ok(Some(SignKind::Staves(staves)))
    }

    fn key(&mut self) -> Result<SignKind, Damage> {
        let (mut fifths, mut unusual, mut cancel) = (0, 0, 0);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Fifths => fifths = self.whole()?.unwrap_or(0),
                Element::Cancel => cancel = self.whole()?.unwrap_or(0),
                Element::KeyStep => {
                    unusual += 1;
                    self.pull.skip()?;
                }
                _ => self.pull.skip()?,
            }
        }
        Ok(SignKind::Key { fifths, unusual, cancel })
    }

    fn time_signature(&mut self) -> Result<SignKind, Damage> {
        let symbol = self.pull.value("symbol").is_some_and(|symbol| matches!(&*symbol, "common" | "cut"));
        let (mut all_beats, mut beat_types) = (String::new(), String::new());
        let mut bar = Some(Time::ZERO);
        let mut metre = true;
        let mut beats: Option<i64> = None;
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Beats => {
                    let text = self.line()?;
                    beats = text.split('+').map(|one| one.trim().parse::<i64>().ok()).sum();
                    join(&mut all_beats, &text);
                }
                Element::BeatType => {
                    let text = self.line()?;
                    let one = beats.zip(text.parse().ok()).and_then(|(beats, beat_type)| Time::new(beats, beat_type));
                    bar = bar.zip(one).and_then(|(sum, one)| sum.plus(one));
                    join(&mut beat_types, &text);
                }
                Element::SenzaMisura => {
                    metre = false;
                    self.pull.skip()?;
                }
                _ => self.pull.skip()?,
            }
        }
        let bar = bar.filter(|bar| metre && *bar > Time::ZERO);
        Ok(SignKind::Time { bar, beats: all_beats, beat_type: beat_types, symbol })
    }

    fn clef(&mut self) -> Result<Clef, Damage> {
        let (mut shape, mut line, mut octaves) = (ClefShape::G, None, 0);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Sign => {
                    shape = match self.pull.text()?.0 {
                        "F" => ClefShape::F,
                        "C" => ClefShape::C,
                        "percussion" => ClefShape::Percussion,
                        "TAB" => ClefShape::Tablature,
                        "jianpu" => ClefShape::Numbers,
                        "none" => ClefShape::None,
                        _ => ClefShape::G,
                    }
                }
                Element::Line => line = self.whole()?,
                Element::ClefOctaveChange => octaves = self.whole()?.unwrap_or(0),
                _ => self.pull.skip()?,
            }
        }
        // The standard's usual lines: G 2, F 4, C 3.
        let usual = match shape {
            ClefShape::F => 4,
            ClefShape::C => 3,
            _ => 2,
        };
        Ok(Clef { shape, line: line.unwrap_or(usual), octaves })
    }

    fn transpose(&mut self) -> Result<SignKind, Damage> {
        let (mut diatonic, mut chromatic_halves, mut octaves, mut double) = (0, 0, 0, false);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Diatonic => diatonic = self.whole()?.unwrap_or(0),
                Element::Chromatic => chromatic_halves = super::note::halves(self.pull.text()?.0).unwrap_or(0),
                Element::OctaveChange => octaves = self.whole()?.unwrap_or(0),
                Element::Double => {
                    double = true;
                    self.pull.skip()?;
                }
                _ => self.pull.skip()?,
            }
        }
        Ok(SignKind::Transpose { diatonic, chromatic_halves, octaves, double })
    }

    fn measure_style(&mut self, part: usize) -> Result<Option<SignKind>, Damage> {
        let mut kind = None;
        while let Some(element) = self.pull.child()? {
            let starts = self.attribute_is("type", "start");
            match element {
                Element::MultipleRest => {
                    let bars = self.count("the length of a multi-bar rest", &REST_BARS)?;
                    if let (Some(bar), Some(bars)) = (self.score.parts[part].bars.last_mut(), bars) {
                        bar.rest_bars = u16::try_from(bars).unwrap_or(u16::MAX);
                    }
                }
                Element::MeasureRepeat => {
                    kind = Some(SignKind::BarRepeat(starts));
                    self.pull.skip()?;
                }
                Element::Slash | Element::BeatRepeat => {
                    kind = Some(SignKind::Slashes(starts));
                    self.pull.skip()?;
                }
                _ => self.pull.skip()?,
            }
        }
        Ok(kind)
    }

    fn staff_details(&mut self, part: usize, staff: Option<u8>, at: Place) -> Result<(), Damage> {
        let mut details = StaffDetails {
            part,
            bar: self.bar_index(part),
            staff,
            at,
            printed: self.attribute_yes("print-object"),
            keeps_room: self.attribute_yes("print-spacing") == Some(true),
            lines: None,
            size_percent: None,
            size_scaling: None,
            kind: None,
        };
        while let Some(element) = self.pull.child()? {
            match element {
                Element::StaffLines => {
                    details.lines = self.count("the number of staff lines", &LINES)?.and_then(|lines| u8::try_from(lines).ok());
                }
                Element::StaffSize => {
                    details.size_scaling = self.attribute_decimal("scaling");
                    details.size_percent = self.decimal("a staff size")?;
                }
                Element::StaffType => {
                    details.kind = match self.pull.text()?.0 {
                        "regular" => Some(StaffKind::Regular),
                        "ossia" => Some(StaffKind::Ossia),
                        "editorial" => Some(StaffKind::Editorial),
                        "cue" => Some(StaffKind::Cue),
                        "alternate" => Some(StaffKind::Alternate),
                        _ => None,
                    }
                }
                _ => self.pull.skip()?,
            }
        }
        self.pull.keep::<StaffDetails>();
        self.score.instructions.staff_details.push(details);
        Ok(())
    }

    fn print(&mut self, part: usize) -> Result<(), Damage> {
        let bar = self.bar_index(part);
        let mut print = Print { part, bar, at: self.pull.tag_place(), ..Print::default() };
        print.new_system = self.attribute_yes("new-system");
        print.new_page = self.attribute_yes("new-page");
        print.blank_pages = self.attribute_count("blank-page", "the number of blank pages", &BLANKS).unwrap_or(0);
        let page_number = self.attribute_text("page-number").filter(|number| !number.is_empty());
        let mut more = PrintLayout { page_number, ..PrintLayout::default() };
        if let Some((text, at)) = self.pull.attribute("staff-spacing") {
            more.staff_spacing = number::decimal(text.trim()).map(|value| crate::place::Stated::new(Tenths(value), at));
        }
        while let Some(element) = self.pull.child()? {
            match element {
                Element::PageLayout => more.page = Some(self.page_layout()?),
                Element::SystemLayout => more.system = self.system_layout()?,
                Element::StaffLayout => {
                    let layout = self.staff_layout()?;
                    self.pull.keep::<StaffLayout>();
                    more.staff_layouts.push(layout);
                }
                Element::MeasureLayout => {
                    while let Some(element) = self.pull.child()? {
                        match element {
                            Element::MeasureDistance => more.measure_distance = self.tenths("the measure distance")?,
                            _ => self.pull.skip()?,
                        }
                    }
                }
                Element::MeasureNumbering => {
                    let numbering = match self.pull.text()?.0 {
                        "none" => Some(BarNumbering::None),
                        "measure" => Some(BarNumbering::Measure),
                        "system" => Some(BarNumbering::System),
                        _ => None,
                    };
                    self.score.instructions.bar_numbering.extend(numbering.map(|numbering| (part, bar, numbering)));
                }
                _ => self.pull.skip()?,
            }
        }
        if more != PrintLayout::default() {
            self.pull.keep::<PrintLayout>();
            print.more = Some(Box::new(more));
        }
        self.pull.keep::<Print>();
        self.score.instructions.prints.push(print);
        Ok(())
    }
}

/// Appends with a plus sign between, as compound time signatures are read.
fn join(all: &mut String, one: &str) {
    if !all.is_empty() {
        all.push('+');
    }
    all.push_str(one);
}
