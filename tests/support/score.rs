//! A score as plain data, ready to be written down.
//!
//! Lengths on paper are in millimetres (`_mm` or said so), lengths inside a bar in tenths, the unit of the
//! format: a tenth is a fortieth of the staff height. Durations are in ticks, [`QUARTER`] of them a quarter.

pub use super::event::{Direction, Edge, Event, Head, Lyric, Pitch, QUARTER, Says, Stem, Value};

/// A whole score or part.
#[derive(Debug, Clone, Default)]
pub struct Score {
    /// Height of a staff of full size, mm; `None` writes no `scaling`.
    pub staff_mm: Option<f64>,
    /// Paper and margins for `defaults`.
    pub page: Option<Page>,
    /// `system-distance`, `top-system-distance`, `staff-distance` for `defaults`, mm.
    pub usual_gaps: Option<[f64; 3]>,
    /// Whether the file promises that every break is encoded (`supports`).
    pub promises_breaks: bool,
    /// Thickness of staff lines for `appearance`, tenths.
    pub staff_line_tenths: Option<f64>,
    /// Sizes of notes for `appearance`, percent of full size: `cue`, `grace`, `grace-cue`.
    pub note_sizes: Vec<(&'static str, f64)>,
    /// Size of syllables for `defaults`, points.
    pub lyric_points: Option<f64>,
    /// Whether `defaults` print (true) or keep from printing (false) dividers between systems.
    pub dividers: Option<bool>,
    /// Title of the work.
    pub title: String,
    /// An invented composer.
    pub composer: String,
    /// The line of rights.
    pub rights: String,
    /// Words on the pages.
    pub credits: Vec<Credit>,
    /// Braces and brackets at the left.
    pub groups: Vec<Group>,
    /// Parts from the top down.
    pub parts: Vec<Part>,
}

/// Paper and margins in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Page {
    /// Width of the paper.
    pub width: f64,
    /// Height of the paper.
    pub height: f64,
    /// Margins of right-hand pages.
    pub odd: Margins,
    /// Margins of left-hand pages.
    pub even: Margins,
}

/// Margins of one page in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margins {
    /// Left.
    pub left: f64,
    /// Right.
    pub right: f64,
    /// Top.
    pub top: f64,
    /// Bottom.
    pub bottom: f64,
}

impl Margins {
    /// Sides and top and bottom alike.
    pub fn of(sides: f64, ends: f64) -> Self {
        Self { left: sides, right: sides, top: ends, bottom: ends }
    }
}

impl Page {
    /// Paper with the same margins on both sides of the leaf.
    pub fn of(width: f64, height: f64, margins: Margins) -> Self {
        Self { width, height, odd: margins, even: margins }
    }

    /// Margins of the page with this printed number.
    pub fn margins(&self, number: u32) -> Margins {
        if number % 2 == 1 { self.odd } else { self.even }
    }
}

/// Words on a page that are no music.
#[derive(Debug, Clone)]
pub struct Credit {
    /// Position of the page in the file, from 1.
    pub page: u32,
    /// What it is, in the standard's words: `title`, `composer`, `page number`, `rights`, `part name` ...; empty where the
    /// file does not say.
    pub kind: &'static str,
    /// The words.
    pub words: String,
    /// From the left edge of the paper, mm.
    pub x_mm: f64,
    /// From the *top* edge of the paper, mm, to the edge of the words that `valign` names.
    pub y_mm: f64,
    /// `left`, `center` or `right`.
    pub justify: &'static str,
    /// `top` or `bottom`.
    pub valign: &'static str,
    /// Size in points.
    pub points: f64,
}

/// A brace or bracket around neighbouring parts.
#[derive(Debug, Clone)]
pub struct Group {
    /// Index of the first part.
    pub first: usize,
    /// Index of the last part.
    pub last: usize,
    /// Its name, if printed.
    pub name: &'static str,
    /// `bracket` or `brace`.
    pub symbol: &'static str,
}

/// One `<part>`.
#[derive(Debug, Clone)]
pub struct Part {
    /// Printed name.
    pub name: String,
    /// Short form for later systems.
    pub short: String,
    /// Instruments: name and sound id of the standard's list.
    pub instruments: Vec<(String, &'static str)>,
    /// `transpose`: diatonic and chromatic steps from written to sounding.
    pub transpose: Option<(i32, i32)>,
    /// One clef a staff; their number is the number of staves.
    pub clefs: Vec<Clef>,
    /// `staff-size` in percent where it is not 100, for all staves of the part.
    pub staff_size: Option<f64>,
    /// Single staves of another kind.
    pub other_staves: Vec<OtherStaff>,
    /// The bars.
    pub bars: Vec<Bar>,
}

/// A staff of a part that is not the player's own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OtherStaff {
    /// Which of the part's staves, from 0.
    pub staff: usize,
    /// Its `staff-type` in the standard's words: `cue`, `ossia` ...
    pub kind: &'static str,
    /// Its `staff-size` in percent; distances stay those of full size.
    pub percent: f64,
}

impl Part {
    /// Height of a staff against one of full size.
    pub fn size_of(&self, staff: usize) -> f64 {
        let other = self.other_staves.iter().find(|other| other.staff == staff).map(|other| other.percent);
        other.or(self.staff_size).unwrap_or(100.0) / 100.0
    }
}

/// A clef.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clef {
    /// G on the second line.
    Treble,
    /// The same, sounding an octave lower: tenors.
    TrebleDown,
    /// F on the fourth line.
    Bass,
}

/// What `<print>` says.
#[derive(Debug, Clone, Default)]
pub struct Print {
    /// `new-page`.
    pub new_page: bool,
    /// `new-system`.
    pub new_system: bool,
    /// `page-number`.
    pub page_number: Option<String>,
    /// `blank-page`.
    pub blank_pages: Option<u32>,
    /// Paper and margins of this page only.
    pub page: Option<(Page, u32)>,
    /// `system-margins`, mm: left and right.
    pub system_margins: Option<(f64, f64)>,
    /// `system-distance`, mm.
    pub system_mm: Option<f64>,
    /// `top-system-distance`, mm.
    pub top_system_mm: Option<f64>,
    /// Whether dividers are printed above this system, where it says so.
    pub dividers: Option<bool>,
    /// `staff-distance` by number of the staff in the part, mm.
    pub staves_mm: Vec<(usize, f64)>,
    /// `measure-numbering`: `none`, `measure`, `system`.
    pub numbering: Option<&'static str>,
}

/// A bar line that is not the plain one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BarLine {
    /// Double bar at the end of a section.
    Double,
    /// The end.
    Final,
    /// Repeat from here on, at the left of the bar.
    RepeatFrom,
    /// Repeat back, at the right of the bar.
    RepeatBack,
}

/// One `<measure>`.
#[derive(Debug, Clone, Default)]
pub struct Bar {
    /// Its number as printed.
    pub number: String,
    /// Width in tenths.
    pub width: Option<f64>,
    /// Layout stated at this bar.
    pub print: Option<Print>,
    /// Key from here on, in fifths, as written.
    pub key: Option<i8>,
    /// Time from here on.
    pub time: Option<(u32, u32)>,
    /// Staves of the part shown (true) or hidden (false) from here on, with `print-spacing`.
    pub shown: Vec<(usize, bool, bool)>,
    /// Opens a multi-bar rest of so many bars.
    pub gathers: Option<u32>,
    /// The voices, in the order they are written.
    pub voices: Vec<Voice>,
    /// Bar line at the left.
    pub left: Option<BarLine>,
    /// Bar line at the right.
    pub right: Option<BarLine>,
    /// Top lines of the part's staves below the system's top line, mm, none where a staff takes no room; filled by the
    /// casting off.
    pub tops_mm: Vec<Option<f64>>,
}

/// One voice on one staff through one bar.
#[derive(Debug, Clone)]
pub struct Voice {
    /// Staff of the part, from 0.
    pub staff: usize,
    /// Stems forced up or down where two voices share a staff.
    pub stems: Option<Stem>,
    /// Its notes and rests, without gap from the start of the bar.
    pub events: Vec<Event>,
}

impl Bar {
    /// Whether nothing but a whole-bar rest stands in it.
    pub fn is_empty(&self) -> bool {
        self.voices.iter().flat_map(|voice| &voice.events).all(|event| event.whole_bar)
    }
}

impl Score {
    /// Height of a full-size staff in millimetres; 7 where the file states none.
    pub fn staff_height(&self) -> f64 {
        self.staff_mm.unwrap_or(7.0)
    }

    /// Number of bars.
    pub fn bar_count(&self) -> usize {
        self.parts.first().map_or(0, |part| part.bars.len())
    }
}
