//! What `attributes` hold: divisions, keys, times, clefs, staves, transpositions.

use super::damage::Damage;
use super::element::Element;
use super::number;
use super::reader::Reader;
use crate::place::Place;
use crate::score::instructions::{StaffDetails, StaffKind};
use crate::score::sign::{Clef, ClefShape};
use crate::score::{Sign, SignKind};
use crate::units::Time;
use std::ops::RangeInclusive;

/// Staves a part may have, lines a staff, bars a multi-bar rest: more than any music has (from memory).
const STAVES: RangeInclusive<u32> = 1..=16;
const LINES: RangeInclusive<u32> = 0..=16;
const REST_BARS: RangeInclusive<u32> = 1..=1_000;

impl Reader {
    /// Reads the `attributes` now open: what holds from there on in `part`.
    pub(super) fn attributes(&mut self, part: usize) -> Result<(), Damage> {
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
            let shown = super::values::shortened(text);
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
}

/// Appends with a plus sign between, as compound time signatures are read.
fn join(all: &mut String, one: &str) {
    if !all.is_empty() {
        all.push('+');
    }
    all.push_str(one);
}
