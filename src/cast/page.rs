//! What is cast off: lines and sheets in, pages out.

use crate::page::Side;
use crate::units::Mm;
use std::ops::{Add, Range};

/// Heights, of three kinds: close but clear, natural, generous.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Down {
    /// Close but clear.
    pub close: Mm,
    /// Natural.
    pub natural: Mm,
    /// Generous.
    pub generous: Mm,
}

impl Add for Down {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { close: self.close + other.close, natural: self.natural + other.natural, generous: self.generous + other.generous }
    }
}

impl Down {
    /// The same, whatever the gaps.
    pub fn fixed(height: Mm) -> Self {
        Self { close: height, natural: height, generous: height }
    }
}

/// One possible line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// What is wrong with it across.
    pub faults: f64,
    /// From its first top line to its last bottom line.
    pub body: Down,
    /// What it wants of the gap above it, and of the gap below it; the two neighbours' wants add up to the gap.
    pub above: Down,
    /// See `above`.
    pub below: Down,
}

/// The sheets that pages are printed on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sheet {
    /// Height between the head and the foot of a page.
    pub height: Mm,
    /// The same of the first page, under the title block.
    pub first: Mm,
    /// A page may keep natural gaps and stay short.
    pub may_stay_short: bool,
}

/// How many pages there are to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PagesWanted {
    /// As many as are best.
    #[default]
    Any,
    /// Exactly so many, blank pages counted.
    Exactly(usize),
    /// A multiple of so many, blank pages at the end counted.
    MultipleOf(usize),
}

/// What is to be cast off.
#[derive(Debug)]
pub struct Pages<'a> {
    /// For every bar, the lines that could begin with it, by the bars they hold, from one.
    pub lines: &'a [Vec<Option<Line>>],
    /// For every bar and for the end: a page must begin with it.
    pub own_page: &'a [bool],
    /// For every bar: room that a heading above it wants beyond the gap.
    pub heading: &'a [Mm],
    /// For every bar: seconds to turn a page that ends before it; `None` where turns do not matter.
    pub turns: Option<&'a [f64]>,
    /// The sheets.
    pub sheet: Sheet,
    /// The side of the first page; `None` where either will do.
    pub first: Option<Side>,
    /// How many pages.
    pub wanted: PagesWanted,
    /// How much work may be done, in lines put on a page and pages put behind others; more is [`Impossible::TooMuch`].
    pub most_work: u64,
    /// Pages in view at once where that does not depend on the side: see the house.
    pub in_view: Option<usize>,
}

/// What a division is worth, by kind.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Faults {
    /// Lines.
    pub across: f64,
    /// Gaps and white.
    pub down: f64,
    /// Turns.
    pub turns: f64,
    /// Pages, blank ones among them.
    pub pages: f64,
}

impl Faults {
    /// All together.
    pub fn total(&self) -> f64 {
        self.across + self.down + self.turns + self.pages
    }
}

/// One page of a division.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Its systems, each by its bars.
    pub systems: Vec<Range<usize>>,
    /// Its side.
    pub side: Side,
    /// A blank page before it.
    pub blank_before: bool,
    /// How far its gaps are from natural, in steps; natural where it stays short.
    pub steps: f64,
    /// White at its foot, where it stays short.
    pub short: Option<Mm>,
    /// What its staves and gaps take naturally.
    pub natural: Mm,
}

/// A division of a piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Casting {
    /// Its pages.
    pub pages: Vec<Page>,
    /// Blank pages at its end, where a multiple is wanted.
    pub blank_after: usize,
    /// What is wrong with it.
    pub faults: Faults,
}

/// Why there is no division at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Impossible {
    /// There are no bars.
    NoBars,
    /// The margins leave no width for a line: it lacks so much.
    NoWidth(Mm),
    /// The margins, and what stands at head and foot, leave no height: it lacks so much.
    NoHeight(Mm),
    /// The exact time of this bar cannot be known.
    NoTime(usize),
    /// No line that begins with this bar holds all that may not be parted from it.
    NoLine(usize),
    /// The system that begins with this bar does not fit on a page, by so much.
    TooHigh(usize, Mm),
    /// No division has as many pages as are wanted: the nearest number that one has.
    Pages(Option<usize>),
    /// So many bars cannot be divided into so many pages with the memory there is.
    TooMuch,
}
