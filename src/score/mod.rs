//! What a file says: parts, bars, notes, marks, and the layout instructions as plain data. No millimetres.
//!
//! A [`Score`] is one document (a plain file or one member of a `.mxl`). Everything that a finding may
//! point at keeps its [`Place`]. Arrays are flat, so that memory grows with bars and notes, not with the
//! bytes of the file.

mod by_bar;
pub mod instructions;
pub mod mark;
pub mod note;
pub mod part;
pub mod sign;

pub use by_bar::ByBar;
pub use instructions::Instructions;
pub use mark::{Mark, MarkKind};
pub use note::{Lyric, Note, NoteBody, Tone, Traits};
pub use part::{Bar, BarNumber, Part, PartGroup};
pub use sign::{Sign, SignKind};

use crate::place::{Lines, Place, Stated};
use crate::units::Tenths;

/// How the file nests parts and measures; both mean the same music.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Form {
    /// `score-partwise`: measures within parts.
    #[default]
    Partwise,
    /// `score-timewise`: parts within measures.
    Timewise,
}

/// What a file says of one kind of break with `<supports element="print">`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Promise {
    /// It says nothing.
    #[default]
    Unsaid,
    /// All breaks are encoded (`type="yes" value="yes"`).
    All,
    /// None is encoded (`type="no"`).
    None,
}

/// One document.
#[derive(Debug, Default)]
pub struct Score {
    /// Version the root states, as written.
    pub version: Option<String>,
    /// Place of the root's start tag.
    pub root: Place,
    /// How it nests parts and measures.
    pub form: Form,
    /// Title of the work, if stated.
    pub work_title: Option<String>,
    /// Number of the work (opus), if stated.
    pub work_number: Option<String>,
    /// Title of the movement, if stated.
    pub movement_title: Option<String>,
    /// Number of the movement, if stated.
    pub movement_number: Option<String>,
    /// Whether all system breaks are encoded.
    pub system_breaks: Promise,
    /// Whether all page breaks are encoded.
    pub page_breaks: Promise,
    /// Page, system and staff layout as stated.
    pub instructions: Instructions,
    /// Text placed on pages: titles, names, foot lines.
    pub credits: Vec<Credit>,
    /// The parts in the order of the part list, top of the score first.
    pub parts: Vec<Part>,
    /// What stands at each bar in whatever part.
    pub by_bar: ByBar,
    /// Groups of parts, outermost first.
    pub groups: Vec<PartGroup>,
    /// What is wrong in the file but did not stop the reading.
    pub flaws: Vec<Flaw>,
    /// Lines of its text.
    pub lines: Lines,
}

impl Score {
    /// Number of bars: of the part that has most.
    pub fn bar_count(&self) -> usize {
        self.parts.iter().map(|part| part.bars.len()).max().unwrap_or(0)
    }

    /// The bar's number as the first part that has it writes it; empty where none does.
    pub fn bar_number(&self, bar: usize) -> BarNumber {
        self.parts.iter().find_map(|part| part.bars.get(bar)).map(|bar| bar.number.clone()).unwrap_or_default()
    }

    /// Bars of a multi-bar rest that begins at a bar, where every part that has the bar rests so.
    pub fn multi_rest(&self, bar: usize) -> Option<usize> {
        let mut least: Option<u16> = None;
        for bar in self.parts.iter().filter_map(|part| part.bars.get(bar)) {
            // The first part that plays settles it: asked of every bar, this must not look at all parts.
            if bar.rest_bars == 0 {
                return None;
            }
            least = Some(least.map_or(bar.rest_bars, |least| least.min(bar.rest_bars)));
        }
        least.map(usize::from)
    }

    /// Place of the bar's start tag in the first part that has it.
    pub fn bar_place(&self, bar: usize) -> Option<Place> {
        self.parts.iter().find_map(|part| part.bars.get(bar)).map(|bar| bar.at)
    }
}

/// Something wrong in a well-formed file: a value that is no number, a part that no list names.
#[derive(Debug, Clone, PartialEq)]
pub struct Flaw {
    /// What is wrong, in words for the reader of the report.
    pub what: String,
    /// What to do about it.
    pub help: String,
    /// Where.
    pub at: Place,
    /// Whether the layout cannot be trusted because of it.
    pub grave: bool,
    /// How often: like faults that are not grave are told once, at the first.
    pub times: u32,
}

/// Where a text's stated position lies on it, up and down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Valign {
    /// At the top of the first line.
    Top,
    /// In the middle.
    Middle,
    /// At the bottom of the last line.
    Bottom,
    /// On the baseline of the first line (the default of the standard is up to the program; most mean this).
    #[default]
    Baseline,
}

/// Where a text's stated position lies on it, from left to right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Justify {
    /// At its left end.
    #[default]
    Left,
    /// At its middle.
    Center,
    /// At its right end.
    Right,
}

/// A text on a page that belongs to no bar (`credit`).
#[derive(Debug, Clone, PartialEq)]
pub struct Credit {
    /// Ordinal page it stands on, from 1 (not the printed number).
    pub page: u32,
    /// What it is for, as far as the file says (`title`, `composer`, `page number`, ...).
    pub kinds: Vec<String>,
    /// Its texts, each with its own position or following the one before.
    pub words: Vec<CreditWords>,
    /// Place of the `credit` tag.
    pub at: Place,
}

/// One `credit-words`.
#[derive(Debug, Clone, PartialEq)]
pub struct CreditWords {
    /// The text; lines end at LF.
    pub text: String,
    /// From the page's left edge.
    pub x: Option<Tenths>,
    /// From the page's **bottom** edge, up.
    pub y: Option<Tenths>,
    /// Size in points where stated.
    pub points: Option<f64>,
    /// Which end of the text `y` means.
    pub valign: Valign,
    /// Which end of the text `x` means.
    pub justify: Justify,
    /// Place of the text.
    pub at: Place,
}

/// The text's size in points where neither it nor the file states one (common practice, no source).
pub const USUAL_TEXT_POINTS: f64 = 12.0;

/// Text of at least this many points at the head of a page, or over its first bar, is a heading (common practice, no source).
pub const HEADING_POINTS: f64 = 16.0;

/// A number the file states, with its place; what a reader gets for an optional value.
pub type Given<T> = Option<Stated<T>>;
