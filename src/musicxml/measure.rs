//! Bars: the cursor that moves through one, and the layout that stands in it.

use super::damage::Damage;
use super::element::Element;
use super::number;
use super::reader::{MOST_BARS, Reader};
use crate::place::Place;
use crate::score::instructions::{BarNumbering, Print, PrintLayout, StaffLayout};
use crate::score::{Bar, BarNumber, Traits};
use crate::units::{Tenths, Time};
use std::ops::RangeInclusive;

/// Blank pages in a row: more than any music has (from memory).
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
        super::reader::check_length("the number of a bar", &number, at)?;
        let width = match self.pull.attribute("width") {
            Some((text, place)) => match number::decimal(text.trim()) {
                Some(width) if (0.0..=MOST_WIDTH).contains(&width) => Some(Tenths(width)),
                _ => {
                    let shown = super::values::shortened(&text);
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
                Element::Backup => self.shift(part, true)?,
                Element::Forward => self.shift(part, false)?,
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
        let index = self.bar_index(part);
        let own = &mut self.score.parts[part];
        if let Some(bar) = own.bars.last_mut() {
            bar.length = length;
        }
        let traits = own.notes_of(index).iter().fold(Traits::empty(), |all, note| all | note.traits);
        self.score.by_bar.hold(index, traits);
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

    /// Moves the cursor of `part` on by a time that a note takes or a shift states, or back.
    pub(super) fn shift_by(&mut self, part: usize, time: Option<Time>, back: bool) {
        let state = &mut self.states[part];
        let moved = state.cursor.zip(time).and_then(|(cursor, time)| if back { cursor.minus(time) } else { cursor.plus(time) });
        // Real files back up by a rounding error past the bar line.
        state.cursor = if back { moved.map(|cursor| cursor.max(Time::ZERO)) } else { moved };
        state.reach = state.reach.zip(state.cursor).map(|(reach, cursor)| if back { reach } else { reach.max(cursor) });
    }

    /// `duration` in the element now open as time; `None` with a flaw where it cannot be known.
    pub(super) fn duration(&mut self, part: usize) -> Result<Option<Time>, Damage> {
        let (text, at) = self.pull.text()?;
        let duration = number::fraction(text).filter(|(numer, _)| *numer >= 0);
        // A file that states none counts in quarters; real old files do.
        let divisions = self.states[part].divisions.unwrap_or((1, 1));
        let time = duration.and_then(|duration| number::time(duration, divisions));
        if time.is_none() {
            let shown = super::values::shortened(text);
            self.flaw(format!("the duration \"{shown}\" is no exact time"), "Export the file again; durations count divisions.", at, false);
        }
        Ok(time)
    }

    fn shift(&mut self, part: usize, back: bool) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Duration => {
                    let time = self.duration(part)?;
                    self.shift_by(part, time, back);
                }
                _ => self.pull.skip()?,
            }
        }
        self.states[part].onset = self.states[part].cursor;
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
