//! Where the music lands: pages, systems, staves and bars, in tenths of the file.
//!
//! This room decides which stated value holds where (`MusicXML` 4.0, `print` and `defaults`): nothing that
//! a `print` says carries over to the next page or system. Everything vertical is reckoned over printed
//! staves only. Coordinates run from the page's top left corner, x right, y down. What cannot be known is
//! [`Known::Unknown`] with its reason, and the reckoning of that page stops there.

mod breaks;
mod credits;
mod heights;
mod hidden;
mod horizontal;
mod lookup;
mod movement;
mod sheets;
mod vertical;

pub use breaks::Disagreement;
pub use heights::Heights;
pub use hidden::{Dialect, HiddenMusic};
pub use movement::Movement;

use crate::place::{Confidence, Known, Place};
use crate::score::instructions::StaffKind;
use crate::score::{Instructions, Score};
use crate::units::{STAFF_TENTHS, Tenths};
use rayon::prelude::*;
use serde::Serialize;
use std::ops::Range;

/// How much of its layout a file states.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Stating {
    /// Scaling, page size, margins, breaks (or the promise that all are encoded) and every width.
    Stated,
    /// Some of it.
    Partly,
    /// Neither breaks nor widths nor page size.
    None,
}

/// The whole layout of a score.
#[derive(Debug)]
pub struct Layout {
    /// How much of it the file states.
    pub stating: Stating,
    /// What of it the file leaves out, in words.
    pub missing: Vec<&'static str>,
    /// Whether it is known where systems begin.
    pub systems_known: bool,
    /// Whether it is known where pages begin.
    pub pages_known: bool,
    /// The pages in order. Empty where it is not known where systems begin.
    pub pages: Vec<Page>,
    /// The movements in order, over all bars.
    pub movements: Vec<Movement>,
    /// Bars at which parts disagree about a break.
    pub disagreements: Vec<Disagreement>,
    /// Staves that are hidden although they sound.
    pub hidden_music: Vec<HiddenMusic>,
    /// How the file hides staves.
    pub dialect: Dialect,
    /// Staves whose place could be checked against the stated heights of their notes, and how many agreed.
    pub heights_checked: Agreement,
    /// Where its notes stand on their staves.
    pub heights: Heights,
}

/// How many of a number of checks agreed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Agreement {
    /// Checks made.
    pub checked: usize,
    /// Checks that agreed.
    pub agreed: usize,
}

impl Agreement {
    /// Both together.
    fn and(self, other: Self) -> Self {
        Self { checked: self.checked + other.checked, agreed: self.agreed + other.agreed }
    }
}

/// Right-hand or left-hand page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// Right-hand, odd.
    Recto,
    /// Left-hand, even.
    Verso,
}

/// The margins in force on a page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PageMargins {
    /// From the left edge.
    pub left: Known<Tenths>,
    /// From the right edge.
    pub right: Known<Tenths>,
    /// From the top edge.
    pub top: Known<Tenths>,
    /// From the bottom edge.
    pub bottom: Known<Tenths>,
}

/// One printed page with music.
#[derive(Debug)]
pub struct Page {
    /// Its printed number: a token, `iv` or `12`.
    pub label: String,
    /// Right-hand or left-hand.
    pub side: Side,
    /// Blank pages announced before it.
    pub blank_before: u32,
    /// Width of the sheet.
    pub width: Known<Tenths>,
    /// Height of the sheet.
    pub height: Known<Tenths>,
    /// Margins.
    pub margins: PageMargins,
    /// Lower edge of its head (title, running head) from the top of the sheet; zero without one.
    pub head: Tenths,
    /// Upper edge of its foot line from the bottom of the sheet; zero without one.
    pub foot: Tenths,
    /// Its systems, top first.
    pub systems: Vec<System>,
}

/// One system.
#[derive(Debug)]
pub struct System {
    /// Its bars, by index.
    pub bars: Range<usize>,
    /// Place of the print or measure that begins it.
    pub at: Option<Place>,
    /// From the bottom line of the system above (the top margin for the first on a page) to its top line.
    pub distance: Known<Tenths>,
    /// Left end of its staves.
    pub left: Known<Tenths>,
    /// Right end of its staves.
    pub right: Known<Tenths>,
    /// Its printed staves, top first.
    pub staves: Vec<Staff>,
    /// Its bars across, one for each of `bars`; empty where a width is not stated.
    pub boxes: Vec<BarBox>,
    /// Why `boxes` is empty, where it is.
    pub boxes_missing: Option<&'static str>,
    /// Whether it is the last of its movement.
    pub ends_movement: bool,
    /// Whether it begins a movement.
    pub begins_movement: bool,
    /// A heading stands between the system above and this one.
    pub heading_above: bool,
    /// How sure its reckoning is.
    pub confidence: Confidence,
}

impl System {
    /// Top line of its first printed staff, from the top of the sheet.
    pub fn top(&self) -> Known<Tenths> {
        self.staves.first().map_or(Known::Unknown(NO_STAFF), Staff::top)
    }

    /// Bottom line of its last printed staff, from the top of the sheet.
    pub fn bottom(&self) -> Known<Tenths> {
        self.staves.last().map_or(Known::Unknown(NO_STAFF), Staff::bottom)
    }

    /// How far the widths of its bars reach beyond its right end; negative where they stop short of it.
    pub fn overrun(&self) -> Option<Tenths> {
        let last = self.boxes.last()?;
        Some(last.left + last.width - self.right.value()?)
    }
}

/// Why a system has no top or bottom.
const NO_STAFF: &str = "no staff of the system is printed";

/// One printed staff of one system.
#[derive(Debug, Clone)]
pub struct Staff {
    /// Index of its part.
    pub part: usize,
    /// Which of the part's staves, from 1.
    pub staff: u8,
    /// Upper edge of the room it takes, from the top of the sheet: its top line, unless it has but one.
    pub room_top: Known<Tenths>,
    /// Height of the room it takes: from its top line to its bottom line; a staff of one line (or none) takes the room of five.
    pub room: Tenths,
    /// Number of lines.
    pub lines: u8,
    /// Size in percent of the usual.
    pub size_percent: f64,
    /// What it is for, where stated.
    pub kind: Option<StaffKind>,
    /// White between the room of the staff above and its own; absent for the first of a system.
    pub gap_above: Known<Tenths>,
    /// What hidden staves keep between it and the staff above, where there are any.
    pub kept: Option<Box<Kept>>,
    /// Where the size was stated, if it was.
    pub size_at: Option<Place>,
    /// By how much its size scales its own distances.
    pub distance_factor: f64,
}

/// Room of staves that are hidden but keep it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Kept {
    /// How many they are.
    pub staves: u32,
    /// Their room, without the gaps around them.
    pub room: Tenths,
}

impl Staff {
    /// From its top line to its bottom line; zero for a single line.
    pub fn height(&self) -> Tenths {
        if self.lines > 1 { self.room } else { Tenths::ZERO }
    }

    /// Its top line from the top of the sheet. A single line stands in the middle of its room.
    pub fn top(&self) -> Known<Tenths> {
        let above = (self.room - self.height()) * 0.5;
        self.room_top.map(|top| top + above)
    }

    /// Its bottom line from the top of the sheet.
    pub fn bottom(&self) -> Known<Tenths> {
        self.top().map(|top| top + self.height())
    }

    /// Height by which it is judged: that of five lines at its size, whatever lines it has.
    pub fn five_line_height(&self) -> Tenths {
        Tenths(STAFF_TENTHS * self.size_percent / 100.0)
    }
}

/// One bar across.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BarBox {
    /// Its left end from the left of the sheet.
    pub left: Tenths,
    /// Its width.
    pub width: Tenths,
    /// It is silent bars after the first of a multi-bar rest, or that first bar.
    pub in_multi_rest: bool,
}

/// Staves that stand where a reading of the file puts them.
struct Stood {
    hiding: hidden::Hiding,
    pages: Vec<Page>,
    heights: Heights,
    heights_checked: Agreement,
}

/// Places all staves. Where a file hides staves without ever showing one again, both readings are tried, and the stated heights
/// of its notes settle which is right; where they say nothing, hiding holds for its system, as in most such files.
fn stand(score: &Score, instructions: &Instructions, breaks: &breaks::Breaks) -> Stood {
    let read_as = |dialect: Dialect| {
        let hiding = hidden::Hiding::read(score, instructions, &breaks.systems, dialect);
        let mut pages = sheets::read(score, instructions, breaks, &hiding);
        let heights = Heights::read(score, &pages);
        let heights_checked =
            pages.par_iter_mut().map(|page| vertical::place(page, score, &heights)).reduce(Agreement::default, Agreement::and);
        Stood { hiding, pages, heights, heights_checked }
    };
    let dialect = hidden::Hiding::suggested(instructions);
    let first = read_as(dialect);
    if dialect != Dialect::PerSystem || first.heights_checked.agreed == first.heights_checked.checked {
        return first;
    }
    let other = read_as(Dialect::Toggle);
    let disagreed = |stood: &Stood| stood.heights_checked.checked - stood.heights_checked.agreed;
    let fewer = disagreed(&other) < disagreed(&first) && other.heights_checked.agreed >= first.heights_checked.agreed;
    if fewer { other } else { first }
}

/// Lays a score out as its instructions say.
pub fn lay_out(score: &Score, instructions: &Instructions) -> Layout {
    let breaks = breaks::read(score, instructions);
    let stood = stand(score, instructions, &breaks);
    let Stood { hiding, mut pages, heights, heights_checked } = stood;
    let movements = movement::read(score, instructions, &breaks);
    let begins: Vec<usize> = movements.iter().map(|movement| movement.bars.start).collect();
    pages.par_iter_mut().for_each(|page| {
        for system in &mut page.systems {
            horizontal::ends(page.width, &page.margins, system);
            horizontal::place(system, score, instructions);
            system.begins_movement = movements.iter().any(|movement| movement.bars.start == system.bars.start);
            system.ends_movement = movements.iter().any(|movement| movement.bars.end == system.bars.end);
        }
    });
    credits::place(&mut pages, score, instructions);
    let pages_known = breaks.pages_known || (breaks.systems_known && pages.len() == 1 && fits(&pages[0]));
    let (stating, missing) = stating(score, instructions, &breaks, pages_known);
    Layout {
        stating,
        missing,
        systems_known: breaks.systems_known,
        pages_known,
        pages,
        movements,
        disagreements: breaks.disagreements,
        hidden_music: hiding.hidden_music(score, &begins),
        dialect: hiding.dialect,
        heights_checked,
        heights,
    }
}

/// Whether all that is on a page lies above its bottom margin: then no page break can be missing.
fn fits(page: &Page) -> bool {
    let bottom = page.systems.last().and_then(|system| system.bottom().value());
    let limit = page.height.value().zip(page.margins.bottom.value()).map(|(height, margin)| height - margin);
    bottom.zip(limit).is_some_and(|(bottom, limit)| bottom <= limit + Tenths(1.0))
}

/// How much is stated, and what is not.
fn stating(score: &Score, instructions: &Instructions, breaks: &breaks::Breaks, pages_known: bool) -> (Stating, Vec<&'static str>) {
    let widths = &instructions.widths;
    let any_width = widths.iter().flatten().any(|width| width.get().is_some());
    let every_width = (0..score.bar_count()).all(|bar| widths.iter().any(|part| part.get(bar).is_some_and(|width| width.get().is_some())));
    let page = &instructions.page;
    let own_page = |print: &crate::score::instructions::Print| print.page().is_some_and(|page| page.width.is_some());
    let any_size = page.width.is_some() || page.height.is_some() || instructions.prints.iter().any(own_page);
    let size = page.width.is_some() && page.height.is_some();
    let mut missing = Vec::new();
    let mut note = |known: bool, what| {
        if !known {
            missing.push(what);
        }
    };
    note(instructions.scaling_stated, "the scaling");
    note(size || any_size, "the page size");
    note(!page.margins.is_empty() || instructions.prints.iter().any(own_page), "the margins");
    note(breaks.systems_known, "where systems begin");
    note(pages_known, "where pages begin");
    note(every_width, "the widths of the bars");
    if missing.is_empty() {
        (Stating::Stated, missing)
    } else if !any_width && !any_size && !breaks.any_stated {
        (Stating::None, missing)
    } else {
        (Stating::Partly, missing)
    }
}
