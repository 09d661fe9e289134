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
    first: usize,
    systems: usize,
    from: usize,
    blank: bool,
    steps: f64,
    short: Option<Mm>,
    natural: Mm,
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
    let most = most_pages(work)?;
    let runs: Vec<Vec<Vec<Option<OnPage>>>> = (0..bars).map(|first| on_page(work, first)).collect();
    let firsts: &[Side] = match work.first {
        Some(Side::Recto) => &[Side::Recto],
        Some(Side::Verso) => &[Side::Verso],
        None => &[Side::Recto, Side::Verso],
    };
    let mut best: Option<Casting> = None;
    let mut nearest: Option<usize> = None;
    for side in firsts {
        let begins = if work.first.is_none() && *side == Side::Verso { cost::BEGINS_VERSO } else { 0.0 };
        let table = table(work, &runs, most, *side, begins);
        for pages in 1..=most {
            let Some(found) = table[pages][bars] else { continue };
            let wanted = match work.wanted {
                // What is missing to a multiple stays blank at the end.
                PagesWanted::Any | PagesWanted::MultipleOf(_) => true,
                PagesWanted::Exactly(wanted) => {
                    let near = |pages: usize| pages.abs_diff(wanted);
                    nearest = nearest.filter(|nearest| near(*nearest) <= near(pages)).or(Some(pages));
                    pages == wanted
                }
            };
            let padding = match work.wanted {
                PagesWanted::MultipleOf(multiple) => pages.next_multiple_of(multiple.max(1)) - pages,
                _ => 0,
            };
            let blank = f64::from(u32::try_from(padding).unwrap_or(u32::MAX)) * cost::BLANK_PAGE;
            let total = found.faults.total() + blank;
            if wanted && best.as_ref().is_none_or(|best| total < best.faults.total()) {
                let mut casting = trace(&table, &runs, pages, bars, *side);
                casting.faults.pages += blank;
                best = Some(casting);
            }
        }
    }
    best.ok_or_else(|| impossible(work, nearest))
}

/// Why no division was found: a system that is too high for any page, else the number of pages.
fn impossible(work: &Pages, nearest: Option<usize>) -> Impossible {
    for (first, lines) in work.lines.iter().enumerate() {
        let height = if first == 0 { work.sheet.first } else { work.sheet.height };
        let heights = lines.iter().flatten().map(|line| line.body.close);
        if let Some(least) = heights.reduce(Mm::min).filter(|least| *least > height) {
            return Impossible::TooHigh(first, least - height);
        }
    }
    Impossible::Pages(nearest)
}

/// More pages than any sensible division has: each with one system only.
fn most_pages(work: &Pages) -> Result<usize, Impossible> {
    let mut pages = 0;
    let mut first = 0;
    let mut systems = 0;
    let most_systems = most_systems(work);
    while first < work.lines.len() {
        // The longest line that is one.
        let Some(longest) = work.lines[first].iter().rposition(Option::is_some) else { return Err(Impossible::NoLine(first)) };
        first += longest + 1;
        systems += 1;
        pages += usize::from(work.own_page.get(first).copied().unwrap_or(false));
    }
    let wanted = if let PagesWanted::Exactly(wanted) = work.wanted { wanted } else { 0 };
    // A third more lines than fit closely, at half as many a page, and blank pages.
    let lines = systems + systems / 3 + 2;
    Ok((lines * 2 / most_systems.max(1) + pages * 2 + 4).min(systems * 2 + pages * 2 + 4).max(wanted))
}

/// Most systems that any page could hold.
fn most_systems(work: &Pages) -> usize {
    let least = |line: &Line| line.body.close + line.above.close + line.below.close;
    let lowest = work.lines.iter().flatten().flatten().map(least).reduce(Mm::min).unwrap_or(Mm(1.0)).max(Mm(1.0));
    let height = work.sheet.height.max(work.sheet.first);
    let gap = work.lines.iter().flatten().flatten().map(|line| line.above.close + line.below.close).reduce(Mm::max).unwrap_or_default();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and a few hundred")]
    let most = ((height + gap) / lowest).floor().clamp(1.0, 200.0) as usize;
    most
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

/// The best division of the bars up to each bar into each number of pages.
fn table(work: &Pages, runs: &[Vec<Vec<Option<OnPage>>>], most: usize, first: Side, begins: f64) -> Vec<Vec<Option<Step>>> {
    let bars = work.lines.len();
    let mut table: Vec<Vec<Option<Step>>> = vec![vec![None; bars + 1]; most + 1];
    let begun = Faults { pages: begins, ..Faults::default() };
    table[0][0] = Some(Step { faults: begun, first: 0, systems: 0, from: 0, blank: false, steps: 0.0, short: None, natural: Mm::ZERO });
    for number in 1..=most {
        for start in 0..bars {
            // The page before this one, or the one before a blank page.
            for blank in [false, true] {
                let Some(from) = number.checked_sub(if blank { 2 } else { 1 }) else { continue };
                if blank && from == 0 {
                    continue;
                }
                let Some(before) = table[from][start] else { continue };
                let mut faults = before.faults;
                if from > 0 {
                    let seconds = work.turns.map_or(f64::INFINITY, |turns| turns[start]);
                    if is_turned(work, side_of(first, from), blank, from) {
                        faults.turns += cost::turn(seconds);
                    }
                }
                faults.pages += cost::PAGE + if blank { cost::BLANK_PAGE } else { 0.0 };
                let height = if number == 1 { work.sheet.first } else { work.sheet.height };
                extend(work, &runs[start], &mut table[number], &Page0 { start, from, blank, faults, height, number });
            }
        }
    }
    table
}

/// A page about to be filled.
struct Page0 {
    start: usize,
    from: usize,
    blank: bool,
    faults: Faults,
    height: Mm,
    number: usize,
}

fn extend(work: &Pages, runs: &[Vec<Option<OnPage>>], row: &mut [Option<Step>], page: &Page0) {
    let bars = work.lines.len();
    for (systems, by_bars) in runs.iter().enumerate() {
        for (held, found) in by_bars.iter().enumerate() {
            let Some(found) = found else { continue };
            let end = page.start + held + 1;
            let last = end == bars;
            let Some((down, steps, short)) = down(&found.need, systems + 1, page.height, &work.sheet, last) else { continue };
            let mut faults = page.faults;
            faults.across += found.faults;
            faults.down += down;
            if last && page.number > 1 {
                faults.down += cost::fill(found.need.natural / page.height);
            }
            if row[end].is_none_or(|best| faults.total() < best.faults.total()) {
                row[end] = Some(Step {
                    faults,
                    first: page.start,
                    systems: systems + 1,
                    from: page.from,
                    blank: page.blank,
                    steps,
                    short,
                    natural: found.need.natural,
                });
            }
        }
    }
}

/// The division that led to an entry of the table.
fn trace(table: &[Vec<Option<Step>>], runs: &[Vec<Vec<Option<OnPage>>>], pages: usize, bars: usize, first: Side) -> Casting {
    let mut made = Vec::new();
    let mut faults = Faults::default();
    let (mut number, mut end) = (pages, bars);
    while number > 0 {
        let Some(step) = table[number][end] else { break };
        if end == bars {
            faults = step.faults;
        }
        let mut systems = Vec::with_capacity(step.systems);
        let mut line_end = end;
        for systems_before in (0..step.systems).rev() {
            let Some(found) = runs[step.first][systems_before][line_end - step.first - 1] else { break };
            systems.push(found.last_line..line_end);
            line_end = found.last_line;
        }
        systems.reverse();
        made.push(Page {
            systems,
            side: side_of(first, number),
            blank_before: step.blank,
            steps: step.steps,
            short: step.short,
            natural: step.natural,
        });
        (number, end) = (step.from, step.first);
    }
    made.reverse();
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
