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
    /// What is wrong with it.
    pub faults: Faults,
}

/// Why there is no division at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Impossible {
    /// There are no bars.
    NoBars,
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
    /// The entry of the page before it, among those that end before its first bar.
    from: u32,
    /// Its systems.
    systems: u16,
    /// Its row: which pages are alike for what follows.
    row: u16,
    /// How far its gaps are from natural, as far as the page that faces it minds.
    evenness: Evenness,
    blank: bool,
    /// It stays short.
    short: bool,
}

/// How far the gaps of a page are from natural, in quarters of a step; nothing where no page beside it minds.
type Evenness = Option<i8>;

/// One way to space a page down.
#[derive(Debug, Clone, Copy)]
struct Spacing {
    faults: f64,
    /// How far its gaps are from natural, in steps.
    steps: f64,
    /// White at its foot, where it stays short.
    short: Option<Mm>,
    /// It has gaps that can be compared.
    has_gaps: bool,
}

impl Spacing {
    #[expect(clippy::cast_possible_truncation, reason = "steps lie between -1 and 3")]
    fn evenness(&self) -> Evenness {
        self.has_gaps.then(|| (self.steps * cost::EVENNESS_PARTS).round().clamp(-127.0, 127.0) as i8)
    }
}

/// What is wrong with two pages in one view.
fn unevenness(one: Evenness, other: Evenness) -> f64 {
    match (one, other) {
        (Some(one), Some(other)) => cost::uneven(f64::from(one.abs_diff(other)) / cost::EVENNESS_PARTS),
        _ => 0.0,
    }
}

/// Most entries of the table of divisions.
const MOST_ENTRIES: usize = 12_000_000;
/// Most pages among which the number nearest to the wanted one is looked for.
const MOST_PAGES: usize = 5_000;

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

    /// The row of the page so many after that of a row, where no page is 0 and the first page 1; `None` where there are to be no more.
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
    let firsts: &[Side] = match work.first {
        Some(Side::Recto) => &[Side::Recto],
        Some(Side::Verso) => &[Side::Verso],
        None => &[Side::Recto, Side::Verso],
    };
    let mut best: Option<(f64, Casting)> = None;
    for side in firsts {
        let begins = if work.first.is_none() && *side == Side::Verso { cost::BEGINS_VERSO } else { 0.0 };
        let table = table(work, rows, *side, begins).ok_or(Impossible::TooMuch)?;
        for (entry, found) in table[bars].iter().enumerate() {
            let row = usize::from(found.row);
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
                let mut casting = trace(work, &table, entry, *side);
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
    let most = (bars * 2).min(MOST_PAGES);
    let side = work.first.unwrap_or(Side::Recto);
    let table = table(work, Rows::Numbers(most), side, 0.0)?;
    table[bars].iter().map(|found| usize::from(found.row)).min_by_key(|number| number.abs_diff(wanted))
}

/// The best divisions of a page's bars, from one bar on: by systems (from one), by bars (from one).
///
/// `left` is the work that may still be done, in lines put on a page; none is left where there was too much.
fn on_page(work: &Pages, first: usize, left: &mut u64) -> Vec<Vec<Option<OnPage>>> {
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
            *left = left.saturating_sub(work.lines[start].len() as u64);
            if *left == 0 {
                return by_systems;
            }
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

/// The ways to space a page down: none where it is too full, two where it may fill its page or stay short.
fn spacings(need: &Down, systems: usize, height: Mm, sheet: &Sheet, last: bool) -> [Option<Spacing>; 2] {
    if need.close > height {
        return [None, None];
    }
    let white = (height - need.natural).max(Mm::ZERO);
    let over = height - need.natural;
    let has_gaps = need.generous > need.natural;
    let natural = |faults: f64| Some(Spacing { faults, steps: 0.0, short: Some(white), has_gaps });
    if !has_gaps || systems == 1 && over >= Mm::ZERO {
        // What has no gaps cannot be spread; the gaps of a single system stay natural.
        return [natural(if last { cost::vertical(0.0, true) } else { cost::short_page(white / height) }), None];
    }
    let steps = over / if over >= Mm::ZERO { need.generous - need.natural } else { need.natural - need.close };
    let faults = cost::vertical(steps, last);
    if last && steps > 0.0 {
        return [natural(faults), None];
    }
    let spread = Some(Spacing { faults, steps: steps.min(cost::FURTHEST), short: None, has_gaps });
    let may_stay_short = sheet.may_stay_short && steps > 0.0;
    [spread, natural(cost::short_page(white / height)).filter(|_| may_stay_short)]
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

/// The best divisions of the bars up to each bar: one for every row that its last page may be in, and for every evenness of that page that
/// the next may mind. Every page ends after it begins, so that by the time a page begins with a bar, all divisions that end there are known.
/// `None` where there are more than the memory holds.
fn table(work: &Pages, rows: Rows, first: Side, begins: f64) -> Option<Vec<Vec<Step>>> {
    let bars = work.lines.len();
    let mut table: Vec<Vec<Step>> = vec![Vec::new(); bars + 1];
    let mut entries = 0;
    let mut left = work.most_work;
    let begun = Faults { pages: begins, ..Faults::default() };
    table[0].push(Step { faults: begun, first: 0, from: 0, systems: 0, row: 0, evenness: None, blank: false, short: false });
    for start in 0..bars {
        if table[start].is_empty() {
            continue;
        }
        let ways = ways(work, start, &mut left);
        for from in worth_following(&table[start]) {
            let before = table[start][from];
            for blank in [false, true] {
                let pages = 1 + usize::from(blank);
                let number = usize::from(before.row);
                let Some(row) = rows.after(number, pages).filter(|_| !blank || number > 0) else { continue };
                let mut faults = before.faults;
                let turned = number > 0 && is_turned(work, side_of(first, number), blank, number);
                if turned {
                    faults.turns += cost::turn(work.turns.map_or(f64::INFINITY, |turns| turns[start]));
                }
                faults.pages += cost::PAGE + if blank { cost::BLANK_PAGE } else { 0.0 };
                let facing = before.evenness.filter(|_| !turned && !blank);
                // The next page minds how this one is spaced where it faces it.
                let minded = !is_turned(work, side_of(first, row), false, row);
                let step = Step {
                    faults,
                    first: u32::try_from(start).ok()?,
                    from: u32::try_from(from).ok()?,
                    systems: 0,
                    row: u16::try_from(row).ok()?,
                    evenness: None,
                    blank,
                    short: false,
                };
                left = left.saturating_sub(ways.len() as u64);
                for way in &ways {
                    let mut faults = step.faults;
                    faults.across += way.across;
                    faults.down += way.spacing.faults + way.fill + unevenness(facing, way.evenness);
                    let evenness = way.evenness.filter(|_| minded);
                    let step = Step { faults, systems: way.systems, evenness, short: way.spacing.short.is_some(), ..step };
                    let ending = &mut table[way.end];
                    match ending.iter_mut().find(|other| (other.row, other.evenness) == (step.row, step.evenness)) {
                        Some(other) if other.faults.total() <= step.faults.total() => {}
                        Some(other) => *other = step,
                        None => {
                            ending.push(step);
                            entries += 1;
                        }
                    }
                }
            }
        }
        if entries > MOST_ENTRIES || left == 0 {
            return None;
        }
    }
    Some(table)
}

/// The entries that can still be the best of their row, whatever page faces them.
fn worth_following(entries: &[Step]) -> Vec<usize> {
    let best = |row: u16| entries.iter().filter(|entry| entry.row == row).map(|entry| entry.faults.total()).fold(f64::INFINITY, f64::min);
    (0..entries.len()).filter(|index| entries[*index].faults.total() <= best(entries[*index].row) + cost::MOST_UNEVEN).collect()
}

/// One way to fill a page that begins with a bar.
struct Way {
    /// The bar behind its last.
    end: usize,
    systems: u16,
    /// What is wrong with its lines.
    across: f64,
    /// What is wrong with a last page that is all but empty.
    fill: f64,
    spacing: Spacing,
    /// What the page beside it may mind; nothing where a movement ends with the page.
    evenness: Evenness,
}

fn ways(work: &Pages, start: usize, left: &mut u64) -> Vec<Way> {
    let bars = work.lines.len();
    let height = if start == 0 { work.sheet.first } else { work.sheet.height };
    let mut ways = Vec::new();
    for (systems, by_bars) in on_page(work, start, left).iter().enumerate() {
        for (held, found) in by_bars.iter().enumerate() {
            let Some(found) = found else { continue };
            let end = start + held + 1;
            let last = end == bars;
            let fill = if last && start > 0 { cost::fill(found.need.natural / height) } else { 0.0 };
            let systems_here = u16::try_from(systems + 1).unwrap_or(u16::MAX);
            for spacing in spacings(&found.need, systems + 1, height, &work.sheet, last).into_iter().flatten() {
                let evenness = spacing.evenness().filter(|_| !last && !work.own_page[end]);
                ways.push(Way { end, systems: systems_here, across: found.faults, fill, spacing, evenness });
            }
        }
    }
    ways
}

/// The division that led to an entry of the table.
fn trace(work: &Pages, table: &[Vec<Step>], entry: usize, side: Side) -> Casting {
    let bars = work.lines.len();
    let mut made = Vec::new();
    let faults = table[bars].get(entry).map(|step| step.faults).unwrap_or_default();
    let (mut entry, mut end) = (entry, bars);
    while end > 0 {
        let Some(step) = table[end].get(entry) else { break };
        let first = step.first as usize;
        let mut unlimited = u64::MAX;
        let runs = on_page(work, first, &mut unlimited);
        let mut systems = Vec::with_capacity(usize::from(step.systems));
        let mut line_end = end;
        let whole = runs.get(usize::from(step.systems) - 1).and_then(|by_bars| by_bars.get(end - first - 1).copied().flatten());
        for systems_before in (0..usize::from(step.systems)).rev() {
            let Some(found) = runs[systems_before][line_end - first - 1] else { break };
            systems.push(found.last_line..line_end);
            line_end = found.last_line;
        }
        systems.reverse();
        let height = if first == 0 { work.sheet.first } else { work.sheet.height };
        let natural = whole.map_or(Mm::ZERO, |found| found.need.natural);
        let mut ways = whole.into_iter().flat_map(|found| spacings(&found.need, systems.len(), height, &work.sheet, end == bars)).flatten();
        let (steps, short) = ways.find(|way| way.short.is_some() == step.short).map_or((0.0, None), |way| (way.steps, way.short));
        made.push(Page { systems, side: Side::Recto, blank_before: step.blank, steps, short, natural });
        (entry, end) = (step.from as usize, first);
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
    let mut facing: Evenness = None;
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
        // How it is spaced now is not held against it: of the ways there are it has the best beside the page it faces.
        let ends = last || systems.last().is_some_and(|system| work.own_page.get(system.end) == Some(&true));
        let weighed = |way: &Spacing| way.faults + unevenness(facing, way.evenness().filter(|_| !ends));
        let ways = spacings(&need, systems.len(), height, &work.sheet, last).into_iter().flatten();
        let best = ways.min_by(|one, other| weighed(one).total_cmp(&weighed(other)));
        faults.down += best.as_ref().map_or(cost::OVERFULL, weighed);
        if last && index > 0 {
            faults.down += cost::fill(need.natural / height);
        }
        let blank_follows = pages.get(index + 1).is_some_and(|next| next.1);
        let turned = index + 1 < pages.len() && is_turned(work, *side, blank_follows, index + 1);
        facing = best.and_then(|way| way.evenness()).filter(|_| !turned && !ends && !blank_follows);
        if let (true, Some(end), Some(turns)) = (turned, systems.last().map(|last| last.end), work.turns) {
            faults.turns += cost::turn(turns[end]);
        }
    }
    faults
}
