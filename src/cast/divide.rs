//! The best division of a whole piece into lines and pages together.

use super::cost;
use super::page::{Casting, Down, Faults, Impossible, Page, Pages, PagesWanted};
use super::spacing::{EVENNESSES, Evenness, Spacing, is_turned, number_of, side_of, spacings, unevenness};
use crate::page::Side;
use crate::units::Mm;

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
    for (side, table) in firsts.iter().zip(tables(work, rows, firsts).ok_or(Impossible::TooMuch)?) {
        for (entry, found) in table[bars].iter().enumerate() {
            let row = usize::from(found.row);
            let missing = match work.wanted {
                PagesWanted::Any => 0,
                PagesWanted::Exactly(wanted) if row == wanted => 0,
                PagesWanted::Exactly(_) => continue,
                // What is missing to the multiple stays blank at the end. A cycle holds whole multiples, so a row tells what is missing.
                PagesWanted::MultipleOf(multiple) => row.next_multiple_of(multiple.max(1)) - row,
            };
            let blank = f64::from(u32::try_from(missing).unwrap_or(u32::MAX)) * cost::BLANK_PAGE;
            let total = found.faults.total() + blank;
            if best.as_ref().is_none_or(|(least, _)| total < *least) {
                let mut casting = trace(work, &table, entry, *side);
                casting.faults.pages += blank;
                casting.blank_after = missing;
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

/// The number of pages nearest to the wanted one that any division has, of two the smaller; `None` where it would take too much to know.
fn nearest(work: &Pages, wanted: usize) -> Option<usize> {
    let bars = work.lines.len();
    // Every bar on a page of its own, and a blank page between any two, is the most there can be.
    let most = (bars * 2).min(MOST_PAGES);
    // For every bar, and the end, the numbers of pages that there can be before it, a bit for each.
    let mut before = vec![vec![0_u64; most / 64 + 1]; bars + 1];
    before[0][0] = 1;
    let mut left = work.most_work;
    let (mut runs, mut ways) = (Runs::default(), Vec::new());
    for start in 0..bars {
        if before[start].iter().all(|bits| *bits == 0) {
            continue;
        }
        let mut with_page = before[start].clone();
        one_more(&mut with_page);
        if start > 0 {
            let mut with_blank = with_page.clone();
            one_more(&mut with_blank);
            with_page.iter_mut().zip(with_blank).for_each(|(bits, more)| *bits |= more);
        }
        runs.fill(work, start, &mut left);
        ways_of(work, start, &runs, &mut ways);
        for way in &ways {
            before[way.end].iter_mut().zip(&with_page).for_each(|(bits, more)| *bits |= more);
        }
        if left == 0 {
            return None;
        }
    }
    let ends = |number: &usize| before[bars][number / 64] >> (number % 64) & 1 == 1;
    (0..=most).filter(ends).min_by_key(|number| number.abs_diff(wanted))
}

/// Numbers as bits: each one greater.
fn one_more(numbers: &mut [u64]) {
    let mut carried = 0;
    for bits in numbers {
        (*bits, carried) = (*bits << 1 | carried, *bits >> 63);
    }
}

/// The best divisions of a page's bars, from one bar on: by systems (from one), by bars (from one).
#[derive(Default)]
struct Runs {
    /// One row for each number of systems, one after the other.
    found: Vec<Option<OnPage>>,
    /// Where each row ends.
    ends: Vec<usize>,
}

impl Runs {
    /// Finds those that begin with a bar.
    ///
    /// `left` is the work that may still be done, in lines put on a page; none is left where there was too much.
    fn fill(&mut self, work: &Pages, first: usize, left: &mut u64) {
        self.found.clear();
        self.ends.clear();
        self.put(work, first, first, None, left);
        let mut row = 0;
        while self.found.len() > row && *left > 0 {
            let end = self.found.len();
            self.ends.push(end);
            for (start, at) in (first + 1..work.lines.len()).zip(row..end) {
                if let Some(above) = self.found[at].filter(|_| !work.own_page[start]) {
                    self.put(work, first, start, Some(above), left);
                }
            }
            row = end;
        }
    }

    /// Puts each line that begins with a bar into the row that is being filled, below the best lines above it if it is not the first.
    fn put(&mut self, work: &Pages, first: usize, start: usize, above: Option<OnPage>, left: &mut u64) {
        let lines = &work.lines[start];
        *left = left.saturating_sub(lines.len() as u64);
        if *left == 0 {
            return;
        }
        let row = self.ends.last().copied().unwrap_or(0);
        let height = work.sheet.height.max(work.sheet.first);
        let heading = Down::fixed(if start == first { Mm::ZERO } else { work.heading[start] });
        for (at, line) in (row + start - first..).zip(lines) {
            let Some(line) = line else { continue };
            let gap = above.map_or(Down::default(), |above| above.below + line.above);
            let need = above.map_or(Down::default(), |above| above.need) + gap + line.body + heading;
            if need.close > height {
                continue;
            }
            let faults = above.map_or(0.0, |above| above.faults) + line.faults;
            if self.found.len() <= at {
                self.found.resize(at + 1, None);
            }
            if self.found[at].is_none_or(|found| faults < found.faults) {
                self.found[at] = Some(OnPage { faults, need, below: line.below, last_line: start });
            }
        }
    }

    /// The rows, that of one system first.
    fn rows(&self) -> impl Iterator<Item = &[Option<OnPage>]> {
        let begins = std::iter::once(0).chain(self.ends.iter().copied());
        begins.zip(&self.ends).map(|(begin, end)| &self.found[begin..*end])
    }

    /// The best of so many systems and bars (at least one of each) before the last; `None` where there is none.
    fn get(&self, systems_before: usize, bars_before: usize) -> Option<OnPage> {
        self.rows().nth(systems_before)?.get(bars_before).copied()?
    }
}

/// The best divisions of the bars up to each bar, in order: one for every row that its last page may be in, and for every evenness of that
/// page that the next may mind. Every page ends after it begins, so that by the time a page begins with a bar, all divisions that end there
/// are known.
type Table = Vec<Vec<Step>>;

/// A table for each side that the first page may be on; the ways to fill a page are the same for all. `None` where there is more than the
/// memory holds.
fn tables(work: &Pages, rows: Rows, firsts: &[Side]) -> Option<Vec<Table>> {
    let bars = work.lines.len();
    let begin = |side: &Side| {
        let pages = if work.first.is_none() && *side == Side::Verso { cost::BEGINS_VERSO } else { 0.0 };
        let faults = Faults { pages, ..Faults::default() };
        let mut table = vec![Vec::new(); bars + 1];
        table[0].push(Step { faults, first: 0, from: 0, systems: 0, row: 0, evenness: None, blank: false, short: false });
        table
    };
    let mut tables: Vec<Table> = firsts.iter().map(begin).collect();
    let mut entries = 0;
    let mut left = work.most_work;
    let (mut runs, mut ways, mut onwards) = (Runs::default(), Vec::new(), Vec::new());
    for start in 0..bars {
        if tables.iter().all(|table| table[start].is_empty()) {
            continue;
        }
        runs.fill(work, start, &mut left);
        ways_of(work, start, &runs, &mut ways);
        for (table, first) in tables.iter_mut().zip(firsts) {
            onwards.clear();
            for from in worth_following(&table[start]) {
                let before = Before { step: table[start][from], entry: u32::try_from(from).ok()?, bar: start };
                onwards.extend([false, true].into_iter().filter_map(|blank| Onward::of(work, rows, *first, before, blank)));
            }
            onwards.sort_by_key(|onward| onward.step.row);
            for onwards in onwards.chunk_by(|one, other| one.step.row == other.step.row) {
                left = left.saturating_sub(ways.len() as u64);
                entries += follow(onwards, &ways, table);
            }
        }
        if entries > MOST_ENTRIES || left == 0 {
            return None;
        }
    }
    Some(tables)
}

/// A division up to a bar.
#[derive(Clone, Copy)]
struct Before {
    step: Step,
    /// Its place among those up to that bar.
    entry: u32,
    /// The bar behind its last.
    bar: usize,
}

/// What is known of a page before it is filled, from the one before it.
struct Onward {
    step: Step,
    /// How the page that it faces is spaced.
    facing: Evenness,
    /// The next page minds how this one is spaced.
    minded: bool,
}

impl Onward {
    /// The page after a division, or after that and a blank one; `None` where there are to be no more.
    fn of(work: &Pages, rows: Rows, first: Side, Before { step, entry, bar }: Before, blank: bool) -> Option<Self> {
        let number = usize::from(step.row);
        let row = rows.after(number, 1 + usize::from(blank)).filter(|_| !blank || number > 0)?;
        let mut faults = step.faults;
        let turned = number > 0 && is_turned(work, side_of(first, number), blank, number);
        if turned {
            faults.turns += cost::turn(work.turns.map_or(f64::INFINITY, |turns| turns[bar]));
        }
        faults.pages += cost::PAGE + if blank { cost::BLANK_PAGE } else { 0.0 };
        let facing = step.evenness.filter(|_| !turned && !blank);
        let (first_bar, row_here) = (u32::try_from(bar).ok()?, u16::try_from(row).ok()?);
        let step = Step { faults, first: first_bar, from: entry, systems: 0, row: row_here, evenness: None, blank, short: false };
        // The next page minds how this one is spaced where it faces it.
        Some(Self { step, facing, minded: !is_turned(work, side_of(first, row), false, row) })
    }
}

/// Enters the page filled in each of the ways behind the best of these, all of one row, where nothing better is known; how many entries are
/// new.
fn follow(onwards: &[Onward], ways: &[Way], table: &mut Table) -> usize {
    // Which is the best depends on nothing of a way but how even it is, and of that there are few.
    let mut best: [Option<&Onward>; EVENNESSES] = [None; EVENNESSES];
    let mut new = 0;
    for way in ways {
        let beside = |onward: &Onward| unevenness(onward.facing, way.evenness);
        let total = |onward: &Onward| onward.step.faults.total() + beside(onward);
        let found = &mut best[number_of(way.evenness)];
        if found.is_none() {
            *found = onwards.iter().min_by(|one, other| total(one).total_cmp(&total(other)));
        }
        let Some(onward) = *found else { continue };
        let mut faults = onward.step.faults;
        faults.across += way.across;
        faults.down += way.spacing.faults + way.fill + beside(onward);
        let evenness = way.evenness.filter(|_| onward.minded);
        let step = Step { faults, systems: way.systems, evenness, short: way.spacing.short.is_some(), ..onward.step };
        let ending = &mut table[way.end];
        match ending.binary_search_by_key(&(step.row, step.evenness), |other| (other.row, other.evenness)) {
            Ok(at) if ending[at].faults.total() <= step.faults.total() => {}
            Ok(at) => ending[at] = step,
            Err(at) => {
                ending.insert(at, step);
                new += 1;
            }
        }
    }
    new
}

/// The entries that can still be the best of their row, whatever page faces them.
fn worth_following(entries: &[Step]) -> Vec<usize> {
    let rows = entries.iter().map(|entry| usize::from(entry.row) + 1).max().unwrap_or(0);
    let mut best = vec![f64::INFINITY; rows];
    for entry in entries {
        let best = &mut best[usize::from(entry.row)];
        *best = best.min(entry.faults.total());
    }
    (0..entries.len())
        .filter(|index| entries[*index].faults.total() <= best[usize::from(entries[*index].row)] + cost::MOST_UNEVEN)
        .collect()
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

/// The ways to fill a page that begins with a bar.
fn ways_of(work: &Pages, start: usize, runs: &Runs, ways: &mut Vec<Way>) {
    let bars = work.lines.len();
    let height = if start == 0 { work.sheet.first } else { work.sheet.height };
    ways.clear();
    for (systems, by_bars) in runs.rows().enumerate() {
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
}

/// The division that led to an entry of the table.
fn trace(work: &Pages, table: &[Vec<Step>], entry: usize, side: Side) -> Casting {
    let bars = work.lines.len();
    let mut made = Vec::new();
    let faults = table[bars].get(entry).map(|step| step.faults).unwrap_or_default();
    let (mut entry, mut end) = (entry, bars);
    let mut runs = Runs::default();
    while end > 0 {
        let Some(step) = table[end].get(entry) else { break };
        let first = step.first as usize;
        let mut unlimited = u64::MAX;
        runs.fill(work, first, &mut unlimited);
        let mut systems = Vec::with_capacity(usize::from(step.systems));
        let mut line_end = end;
        let whole = runs.get(usize::from(step.systems) - 1, end - first - 1);
        for systems_before in (0..usize::from(step.systems)).rev() {
            let Some(found) = runs.get(systems_before, line_end - first - 1) else { break };
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
    Casting { pages: made, blank_after: 0, faults }
}
