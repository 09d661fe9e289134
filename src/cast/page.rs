//! Pages: the best division of a whole piece into lines and pages together.

use super::cost;
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
    /// What is wrong with it.
    pub faults: Faults,
}

/// Why there is no division at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Impossible {
    /// There are no bars.
    NoBars,
    /// No line can begin with this bar.
    NoLine(usize),
    /// The system that begins with this bar does not fit on a page, by so much.
    TooHigh(usize, Mm),
    /// No division has as many pages as are wanted: the nearest number that one has.
    Pages(Option<usize>),
    /// So many bars cannot be divided into so many pages with the memory there is.
    TooMuch,
}

/// Some lines on one page: what is wrong with the best division of them, and where its last line begins.
#[derive(Debug, Clone, Copy)]
struct OnPage {
    faults: f64,
    need: Down,
    /// What the gap below its last line wants.
    below: Down,
    last_line: usize,
}

/// Where a page of a division came from.
#[derive(Debug, Clone, Copy)]
struct Step {
    faults: Faults,
    /// Its first bar.
    first: u32,
    /// Its systems.
    systems: u16,
    /// The row of the page before it.
    from: u16,
    blank: bool,
}

/// Most entries of the table of divisions.
const MOST_ENTRIES: usize = 20_000_000;

/// Which pages of a division are alike for all that follows, so that one row of the table serves for all of them: by their numbers, as far as
/// these matter.
#[derive(Debug, Clone, Copy)]
enum Rows {
    /// Every number has its own.
    Numbers(usize),
    /// Beyond the first page numbers that differ by so many are alike.
    Cycle(usize),
}

impl Rows {
    fn of(work: &Pages) -> Self {
        let cycle = work.in_view.unwrap_or(2).max(1);
        match work.wanted {
            PagesWanted::Any => Self::Cycle(cycle),
            PagesWanted::MultipleOf(multiple) => Self::Cycle(cycle * multiple.max(1)),
            PagesWanted::Exactly(wanted) => Self::Numbers(wanted),
        }
    }

    /// The row before any page is 0, that of the first page 1.
    fn count(self) -> usize {
        match self {
            Self::Numbers(most) => most + 1,
            Self::Cycle(cycle) => cycle + 2,
        }
    }

    /// The row of the page so many after that of a row; `None` where there are to be no more.
    fn after(self, row: usize, pages: usize) -> Option<usize> {
        match self {
            Self::Numbers(most) => Some(row + pages).filter(|number| *number <= most),
            // Rows from 2 on stand for the numbers 2, 3, ... and all that differ from them by the cycle.
            Self::Cycle(cycle) => Some(if row + pages < 2 { row + pages } else { 2 + (row + pages - 2) % cycle }),
        }
    }
}

/// The best division.
///
/// # Errors
/// [`Impossible`] where there is none.
pub fn cast_off(work: &Pages) -> Result<Casting, Impossible> {
    let bars = work.lines.len();
    if bars == 0 {
        return Err(Impossible::NoBars);
    }
    if let Some(first) = (0..bars).find(|bar| stuck(work, *bar)) {
        return Err(Impossible::NoLine(first));
    }
    let rows = Rows::of(work);
    if rows.count().saturating_mul(bars + 1) > MOST_ENTRIES {
        return Err(Impossible::TooMuch);
    }
    let firsts: &[Side] = match work.first {
        Some(Side::Recto) => &[Side::Recto],
        Some(Side::Verso) => &[Side::Verso],
        None => &[Side::Recto, Side::Verso],
    };
    let mut best: Option<(f64, Casting)> = None;
    for side in firsts {
        let begins = if work.first.is_none() && *side == Side::Verso { cost::BEGINS_VERSO } else { 0.0 };
        let table = table(work, rows, *side, begins);
        for (row, steps) in table.iter().enumerate().skip(1) {
            let Some(found) = steps[bars] else { continue };
            let blank = match work.wanted {
                PagesWanted::Any => 0.0,
                PagesWanted::Exactly(wanted) if row == wanted => 0.0,
                PagesWanted::Exactly(_) => continue,
                // What is missing to the multiple stays blank at the end. A cycle holds whole multiples, so a row tells what is missing.
                PagesWanted::MultipleOf(multiple) => {
                    let missing = row.next_multiple_of(multiple.max(1)) - row;
                    f64::from(u32::try_from(missing).unwrap_or(u32::MAX)) * cost::BLANK_PAGE
                }
            };
            let total = found.faults.total() + blank;
            if best.as_ref().is_none_or(|(least, _)| total < *least) {
                let mut casting = trace(work, &table, row, *side);
                casting.faults.pages += blank;
                best = Some((total, casting));
            }
        }
    }
    best.map(|(_, casting)| casting).ok_or_else(|| impossible(work))
}

/// A line would have to begin with a bar, and none can.
fn stuck(work: &Pages, bar: usize) -> bool {
    work.own_page[bar] && work.lines[bar].iter().all(Option::is_none)
}

/// Why no division was found: a system that is too high for any page, a bar that no line can begin with, else the number of pages.
fn impossible(work: &Pages) -> Impossible {
    for (first, lines) in work.lines.iter().enumerate() {
        let height = if first == 0 { work.sheet.first } else { work.sheet.height };
        let heights = lines.iter().flatten().map(|line| line.body.close);
        if let Some(least) = heights.reduce(Mm::min).filter(|least| *least > height) {
            return Impossible::TooHigh(first, least - height);
        }
    }
    if let PagesWanted::Exactly(wanted) = work.wanted {
        return Impossible::Pages(nearest(work, wanted));
    }
    Impossible::NoLine((0..work.lines.len()).find(|bar| work.lines[*bar].iter().all(Option::is_none)).unwrap_or(0))
}

/// The number of pages nearest to the wanted one that any division has.
fn nearest(work: &Pages, wanted: usize) -> Option<usize> {
    let bars = work.lines.len();
    // Every bar on a page of its own, and a blank page between any two, is the most there can be.
    let most = (bars * 2).min(MOST_ENTRIES / (bars + 1));
    let side = work.first.unwrap_or(Side::Recto);
    let table = table(work, Rows::Numbers(most), side, 0.0);
    (1..=most).filter(|number| table[*number][bars].is_some()).min_by_key(|number| number.abs_diff(wanted))
}

/// The best divisions of a page's bars, from one bar on: by systems (from one), by bars (from one).
fn on_page(work: &Pages, first: usize) -> Vec<Vec<Option<OnPage>>> {
    let bars = work.lines.len();
    let height = work.sheet.height.max(work.sheet.first);
    let mut by_systems: Vec<Vec<Option<OnPage>>> = Vec::new();
    loop {
        let before = by_systems.last();
        let mut these: Vec<Option<OnPage>> = Vec::new();
        let mut any = false;
        let starts: Vec<(usize, Option<OnPage>)> = match before {
            None => vec![(first, None)],
            Some(row) => {
                let held = row.iter().enumerate().filter_map(|(held, found)| Some((first + held + 1, Some((*found)?))));
                held.filter(|(start, _)| *start < bars && !work.own_page[*start]).collect()
            }
        };
        for (start, before) in starts {
            for (held, line) in work.lines[start].iter().enumerate() {
                let Some(line) = line else { continue };
                let gap = before.map_or(Down::default(), |before| before.below + line.above);
                let heading = if start == first { Mm::ZERO } else { work.heading[start] };
                let need = before.map_or(Down::default(), |before| before.need) + gap + line.body + Down::fixed(heading);
                if need.close > height {
                    continue;
                }
                any = true;
                let faults = before.map_or(0.0, |before| before.faults) + line.faults;
                let at = start + held - first;
                if these.len() <= at {
                    these.resize(at + 1, None);
                }
                if these[at].is_none_or(|found| faults < found.faults) {
                    these[at] = Some(OnPage { faults, need, below: line.below, last_line: start });
                }
            }
        }
        if !any {
            return by_systems;
        }
        by_systems.push(these);
    }
}

/// What the gaps and the white of a page are worth: faults, steps from natural, white at the foot where it stays short.
fn down(need: &Down, systems: usize, height: Mm, sheet: &Sheet, last: bool) -> Option<(f64, f64, Option<Mm>)> {
    if need.close > height {
        return None;
    }
    let white = (height - need.natural).max(Mm::ZERO);
    if systems == 1 || need.generous <= need.natural {
        // A single system without gaps cannot be spread.
        let faults = if last { cost::vertical(0.0, true) } else { cost::short_page(white / height) };
        return Some((faults, 0.0, Some(white)));
    }
    let over = height - need.natural;
    let steps = over / if over >= Mm::ZERO { need.generous - need.natural } else { need.natural - need.close };
    let spread = cost::vertical(steps, last);
    if last && steps > 0.0 {
        return Some((spread, 0.0, Some(white)));
    }
    let short = cost::short_page(white / height);
    if sheet.may_stay_short && steps > 0.0 && short < spread {
        return Some((short, 0.0, Some(white)));
    }
    Some((spread, steps.min(3.0), None))
}

/// Whether a page is turned, by its side, whether a blank page follows, and its number from 1.
fn is_turned(work: &Pages, side: Side, blank_follows: bool, number: usize) -> bool {
    match work.in_view {
        Some(in_view) => number.is_multiple_of(in_view),
        None => side == Side::Recto || blank_follows,
    }
}

fn side_of(first: Side, number: usize) -> Side {
    let odd = !number.is_multiple_of(2);
    if odd == (first == Side::Recto) { Side::Recto } else { Side::Verso }
}

/// The best division of the bars up to each bar, by the row of its last page. Every page ends after it begins, so that by the time a page
/// begins with a bar, all divisions that end there are known.
fn table(work: &Pages, rows: Rows, first: Side, begins: f64) -> Vec<Vec<Option<Step>>> {
    let bars = work.lines.len();
    let mut table: Vec<Vec<Option<Step>>> = vec![vec![None; bars + 1]; rows.count()];
    let begun = Faults { pages: begins, ..Faults::default() };
    table[0][0] = Some(Step { faults: begun, first: 0, systems: 0, from: 0, blank: false });
    for start in 0..bars {
        if table.iter().all(|row| row[start].is_none()) {
            continue;
        }
        let runs = on_page(work, start);
        for from in 0..table.len() {
            let Some(before) = table[from][start] else { continue };
            for blank in [false, true] {
                let pages = 1 + usize::from(blank);
                let Some(row) = rows.after(from, pages).filter(|_| !blank || from > 0) else { continue };
                let mut faults = before.faults;
                if from > 0 {
                    let seconds = work.turns.map_or(f64::INFINITY, |turns| turns[start]);
                    if is_turned(work, side_of(first, from), blank, from) {
                        faults.turns += cost::turn(seconds);
                    }
                }
                faults.pages += cost::PAGE + if blank { cost::BLANK_PAGE } else { 0.0 };
                extend(work, &runs, &mut table[row], &Begun { start, from, blank, faults });
            }
        }
    }
    table
}

/// A page about to be filled.
struct Begun {
    start: usize,
    from: usize,
    blank: bool,
    faults: Faults,
}

impl Begun {
    fn height(&self, work: &Pages) -> Mm {
        if self.from == 0 { work.sheet.first } else { work.sheet.height }
    }
}

fn extend(work: &Pages, runs: &[Vec<Option<OnPage>>], row: &mut [Option<Step>], page: &Begun) {
    let bars = work.lines.len();
    let height = page.height(work);
    for (systems, by_bars) in runs.iter().enumerate() {
        for (held, found) in by_bars.iter().enumerate() {
            let Some(found) = found else { continue };
            let end = page.start + held + 1;
            let last = end == bars;
            let Some((down, ..)) = down(&found.need, systems + 1, height, &work.sheet, last) else { continue };
            let mut faults = page.faults;
            faults.across += found.faults;
            faults.down += down;
            if last && page.from > 0 {
                faults.down += cost::fill(found.need.natural / height);
            }
            if row[end].is_none_or(|best| faults.total() < best.faults.total()) {
                let (first, systems) = (u32::try_from(page.start).unwrap_or(u32::MAX), u16::try_from(systems + 1).unwrap_or(u16::MAX));
                row[end] = Some(Step { faults, first, systems, from: u16::try_from(page.from).unwrap_or(u16::MAX), blank: page.blank });
            }
        }
    }
}

/// The division that led to an entry of the table.
fn trace(work: &Pages, table: &[Vec<Option<Step>>], row: usize, side: Side) -> Casting {
    let bars = work.lines.len();
    let mut made = Vec::new();
    let faults = table[row][bars].map(|step| step.faults).unwrap_or_default();
    let (mut row, mut end) = (row, bars);
    while row > 0 {
        let Some(step) = table[row][end] else { break };
        let first = step.first as usize;
        let runs = on_page(work, first);
        let mut systems = Vec::with_capacity(usize::from(step.systems));
        let mut line_end = end;
        let whole = runs.get(usize::from(step.systems) - 1).and_then(|by_bars| by_bars.get(end - first - 1).copied().flatten());
        for systems_before in (0..usize::from(step.systems)).rev() {
            let Some(found) = runs[systems_before][line_end - first - 1] else { break };
            systems.push(found.last_line..line_end);
            line_end = found.last_line;
        }
        systems.reverse();
        let height = if step.from == 0 { work.sheet.first } else { work.sheet.height };
        let natural = whole.map_or(Mm::ZERO, |found| found.need.natural);
        let (steps, short) = whole
            .and_then(|found| down(&found.need, systems.len(), height, &work.sheet, end == bars))
            .map_or((0.0, None), |(_, steps, short)| (steps, short));
        made.push(Page { systems, side: Side::Recto, blank_before: step.blank, steps, short, natural });
        (row, end) = (usize::from(step.from), first);
    }
    made.reverse();
    let mut number = 0;
    for page in &mut made {
        number += 1 + usize::from(page.blank_before);
        page.side = side_of(side, number);
    }
    Casting { pages: made, faults }
}

/// A page that stands already: its side, whether a blank page stands before it, its systems.
pub type Standing<'a> = (Side, bool, &'a [Range<usize>]);

/// What is wrong with a division that stands already, in the same currency. A line that cannot be, or a page that is too full, counts as a
/// line that cannot hold its one bar.
pub fn weigh(work: &Pages, pages: &[Standing]) -> Faults {
    let mut faults = Faults::default();
    for (index, (side, blank, systems)) in pages.iter().enumerate() {
        faults.pages += cost::PAGE + if *blank { cost::BLANK_PAGE } else { 0.0 };
        let mut need = Down::default();
        let mut below: Option<Down> = None;
        for system in *systems {
            let line = work.lines.get(system.start).and_then(|row| *row.get(system.len().checked_sub(1)?)?);
            let Some(line) = line else {
                faults.across += cost::OVERFULL;
                continue;
            };
            faults.across += line.faults;
            need = need + below.map_or(Down::default(), |below| below + line.above) + line.body;
            if below.is_some() {
                need = need + Down::fixed(work.heading[system.start]);
            }
            below = Some(line.below);
        }
        let last = index + 1 == pages.len();
        let height = if index == 0 { work.sheet.first } else { work.sheet.height };
        match down(&need, systems.len(), height, &work.sheet, last) {
            Some((down, ..)) => faults.down += down,
            None => faults.down += cost::OVERFULL,
        }
        if last && index > 0 {
            faults.down += cost::fill(need.natural / height);
        }
        let turned = pages.get(index + 1).is_some_and(|next| is_turned(work, *side, next.1, index + 1));
        if let (true, Some(end), Some(turns)) = (turned, systems.last().map(|last| last.end), work.turns) {
            faults.turns += cost::turn(turns[end]);
        }
    }
    faults
}
