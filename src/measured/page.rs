//! Pages: how they are filled, and what would make room for one more system.

use super::printing::NO_SHEET;
use super::running_head::{self, RunningHead};
use super::{Bench, Between, Gap, OtherMargin, Spill, System, Whose, count, gap, last_page, margin, system};
use crate::house::{Binding, House, Paper, PaperMatch};
use crate::page::{self as layout, Side};
use crate::place::{Confidence, Known, Place};
use crate::room::across::is_silent;
use crate::room::down::{OneMore, PageNeed, SYSTEM_GAP_HEIGHTS};
use crate::units::{Mm, STAFF_TENTHS, Tenths};

/// One page.
#[derive(Debug)]
pub struct Page {
    /// Count in the file, from 1.
    pub ordinal: u32,
    /// Its printed number.
    pub label: String,
    /// Right-hand or left-hand.
    pub side: Side,
    /// Width of the sheet.
    pub width: Known<Mm>,
    /// Height of the sheet.
    pub height: Known<Mm>,
    /// Margins: left, right, top, bottom.
    pub margins: [Known<Mm>; 4],
    /// Edge at which the house binds copies, where it says so.
    pub binding: Option<Binding>,
    /// The same to the edges of the paper it is printed on.
    pub sheet_margins: [Known<Mm>; 4],
    /// Its margin that is furthest from the usual one.
    pub other_margin: Option<OtherMargin>,
    /// What it says of itself.
    pub running_head: RunningHead,
    /// Lower edge of its head from the top of the sheet; zero without one.
    pub head: Known<Mm>,
    /// Upper edge of its foot line from the bottom of the sheet; zero without one.
    pub foot: Known<Mm>,
    /// Height from where its head lets the first system start to its foot line or bottom margin.
    pub usable: Known<Mm>,
    /// Share of that height down to the last staff's bottom line.
    pub depth_used: Known<f64>,
    /// Share of the height of the sheet from its first staff's top line to its last staff's bottom line: large margins hide white.
    pub sheet_used: Known<f64>,
    /// White below the last staff, down to the foot line or bottom margin.
    pub white_at_foot: Known<Mm>,
    /// White between staves and systems beyond what they need.
    pub white_between: Known<Mm>,
    /// How far its gaps are from comfortable, together: 1 is generous, -1 close but clear; absent where it has none that tells.
    pub steps_from_comfortable: Known<f64>,
    /// How far the last staff reaches below the bottom margin; negative: stays above it.
    pub past_bottom: Known<Mm>,
    /// The same for the edge of the sheet.
    pub past_edge: Known<Mm>,
    /// How far its highest staff stands above the top margin; negative: below it.
    pub past_top: Known<Mm>,
    /// The same for the edge of the sheet.
    pub past_top_edge: Known<Mm>,
    /// Systems that would fit with the gaps they need.
    pub systems_that_fit: Known<u32>,
    /// Staff height and margins at which one system more than there are would fit.
    pub one_more: Option<OneMore>,
    /// Height of the staves, of the size that most have.
    pub staff_height: Known<Mm>,
    /// Its systems.
    pub systems: Vec<System>,
    /// The gaps between its staves and systems, from the top down.
    pub gaps: Vec<Gap>,
    /// A movement ends with it.
    pub ends_movement: bool,
    /// A movement begins on it.
    pub begins_movement: bool,
    /// It is the last page of the file.
    pub last: bool,
    /// Blank pages are announced after it.
    pub blank_after: bool,
    /// The next page opens with a heading: what follows wants a page of its own.
    pub next_has_heading: bool,
    /// What spills over onto it from the pages before; `None` where it is not the last page of a movement.
    pub spill: Option<Spill>,
    /// Right-hand, and every part rests in its last bar or the first bar overleaf: it may be short for the turn's sake.
    pub turns_at_rest: bool,
    /// Whether it is known that it begins where it does.
    pub begin_known: bool,
    /// All pages of the file lie open at once: one page, or two that face each other.
    pub lies_open: bool,
    /// Nothing sounds on it.
    pub tacet: bool,
    /// Place of what begins it.
    pub at: Option<Place>,
    /// How sure its reckoning is.
    pub confidence: Confidence,
}

impl Page {
    /// The gaps above and within a system, by its number on the page.
    pub fn gaps_of(&self, system: u32) -> &[Gap] {
        let from = self.gaps.partition_point(|gap| gap.system < system);
        let to = self.gaps.partition_point(|gap| gap.system <= system);
        &self.gaps[from..to]
    }

    /// Staves of the reader's own in its largest system: a cue staff above one line makes no score of a part.
    pub fn staves_a_system(&self) -> usize {
        let own = |system: &System| system.staves.iter().filter(|staff| staff.whose == Whose::Own).count().max(1);
        self.systems.iter().map(own).max().unwrap_or(0)
    }
}

pub(super) fn measure(bench: &Bench, index: usize, page: &layout::Page) -> Page {
    let pages = &bench.layout.pages;
    let next = pages.get(index + 1);
    let gaps = gap::of_page(bench, page);
    let margins = [page.margins.left, page.margins.right, page.margins.top, page.margins.bottom].map(|margin| bench.mm(margin));
    let mut measured = Page {
        ordinal: count(index + 1),
        label: page.label.clone(),
        side: page.side,
        width: bench.mm(page.width),
        height: bench.mm(page.height),
        binding: None,
        margins,
        sheet_margins: sheet_margins(bench, page, margins),
        other_margin: None,
        running_head: bench.writing.of_page(count(index + 1), &page.label),
        head: bench.mm(Known::Derived(page.head)),
        foot: bench.mm(Known::Derived(page.foot)),
        usable: Known::Unknown("the page size or a margin is not stated"),
        depth_used: Known::Unknown("the page size or a margin is not stated"),
        sheet_used: Known::Unknown("the page size is not stated"),
        white_at_foot: Known::Unknown("the page size or a margin is not stated"),
        white_between: white_between(&gaps),
        steps_from_comfortable: steps_from_comfortable(&gaps),
        past_bottom: Known::Unknown("the page size or a margin is not stated"),
        past_edge: Known::Unknown("the page height, or where its staves stand, is not stated"),
        past_top: Known::Unknown("the top margin or the first system's distance from it is not stated"),
        past_top_edge: Known::Unknown("the top margin or the first system's distance from it is not stated"),
        systems_that_fit: Known::Unknown("the page size or a margin is not stated"),
        one_more: None,
        staff_height: bench.mm(Known::Derived(Tenths(STAFF_TENTHS * bench.main_size / 100.0))),
        systems: page.systems.iter().enumerate().map(|(number, one)| system::measure(bench, number, one)).collect(),
        gaps,
        ends_movement: page.systems.last().is_some_and(|last| last.ends_movement),
        begins_movement: page.systems.iter().any(|one| one.begins_movement),
        last: next.is_none(),
        blank_after: next.is_some_and(|next| next.blank_before > 0),
        next_has_heading: next.is_some_and(|next| has_heading(bench, index + 1, next)),
        spill: None,
        turns_at_rest: page.side == Side::Recto && turns_at_rest(bench, page),
        begin_known: bench.layout.pages_known,
        lies_open: bench.layout.pages_known && (pages.len() == 1 || pages.len() == 2 && pages[0].side == Side::Verso),
        tacet: page.systems.iter().flat_map(|one| one.bars.clone()).all(|bar| bench.score.parts.iter().all(|part| is_silent(part, bar))),
        at: page.systems.first().and_then(|first| first.at),
        confidence: page.systems.iter().map(|one| one.confidence).min().unwrap_or(Confidence::High),
    };
    for system in &mut measured.systems {
        system.hold_against(&measured.width);
    }
    if let Some(last) = measured.systems.last_mut() {
        last.reaches_for_turn = measured.turns_at_rest;
    }
    fill(bench, &mut measured, page);
    measured
}

/// Margins to the edges of the paper that a page is printed on.
fn sheet_margins(bench: &Bench, page: &layout::Page, margins: [Known<Mm>; 4]) -> [Known<Mm>; 4] {
    let (Some(width), Some(height)) = (bench.mm(page.width).value(), bench.mm(page.height).value()) else { return margins };
    let (across, down) = bench.printing.slack((width, height));
    let [left, right, top, bottom] = margins;
    [
        left.map(|margin| margin + across),
        right.map(|margin| margin + across),
        top.map(|margin| margin + down),
        bottom.map(|margin| margin + down),
    ]
}

/// Whether a page, by its index, opens with a heading above its music.
fn has_heading(bench: &Bench, index: usize, page: &layout::Page) -> bool {
    let Some(first) = page.systems.first() else { return false };
    // Credits count from the foot of the page up.
    let music_from = page.height.value().zip(first.top().value()).map(|(height, top)| height - top);
    running_head::opens_with_heading(bench, count(index + 1), first.bars.start, music_from)
}

/// What can be said of a page only when all are measured.
pub(super) fn compare(pages: &mut [Page]) {
    let others = margin::others(pages);
    let spills = last_page::spills(pages);
    for ((page, other), spill) in pages.iter_mut().zip(others).zip(spills) {
        page.other_margin = other;
        page.spill = spill;
    }
}

/// Every part rests in the last bar of a page or the first bar overleaf.
fn turns_at_rest(bench: &Bench, page: &layout::Page) -> bool {
    let Some(end) = page.systems.last().map(|last| last.bars.end) else { return false };
    let rests = |bar: usize| bench.score.parts.iter().all(|part| is_silent(part, bar));
    end < bench.score.bar_count() && (rests(end) || end.checked_sub(1).is_some_and(rests))
}

fn white_between(gaps: &[Gap]) -> Known<Mm> {
    let mut sum = Mm::ZERO;
    for gap in gaps {
        match (gap.white, gap.excess()) {
            (Known::Unknown(why), _) => return Known::Unknown(why),
            // A heading's room is not white.
            (_, Some(excess)) if !gap.heading => sum += excess,
            _ => {}
        }
    }
    Known::Derived(sum)
}

/// All gaps of a page against what they need close but clear, comfortably and generously; headings and cutaway staves left out.
fn steps_from_comfortable(gaps: &[Gap]) -> Known<f64> {
    let mut sums = [Mm::ZERO; 4];
    for gap in gaps.iter().filter(|gap| !gap.heading && !gap.cutaway) {
        let [close, comfortable, generous] = gap.steps();
        for (sum, part) in sums.iter_mut().zip([gap.white, close, comfortable, generous]) {
            match part {
                Known::Unknown(why) => return Known::Unknown(why),
                known => *sum += known.value().unwrap_or_default(),
            }
        }
    }
    let [white, close, comfortable, generous] = sums;
    let over = white - comfortable;
    let step = if over >= Mm::ZERO { generous - comfortable } else { comfortable - close };
    if step > Mm::ZERO { Known::Derived(over / step) } else { Known::Absent }
}

/// How the page is filled, as far as its size, margins and staves are known.
fn fill(bench: &Bench, page: &mut Page, laid: &layout::Page) {
    let [.., top, bottom] = page.margins;
    // Systems may stand upwards of each other in a broken file: the highest counts.
    if let Some(highest) = page.systems.iter().filter_map(|system| system.top.value()).reduce(Mm::min) {
        page.past_top = top.map(|margin| margin - highest);
        page.past_top_edge = Known::Derived(-highest);
    }
    let last = page.systems.last().map_or(Known::Unknown("the page holds no system"), |last| last.bottom);
    if let (Some(height), Some(last)) = (page.height.value(), last.value()) {
        if let Some(first) = page.systems.first().and_then(|first| first.top.value()).filter(|_| height > Mm::ZERO) {
            page.sheet_used = Known::Derived((last - first) / height);
        }
        page.past_edge = Known::Derived(last - height);
    }
    let (Some(height), Some(top), Some(bottom)) = (page.height.value(), top.value(), bottom.value()) else { return };
    let (Some(head), Some(foot), Some(main_height)) = (page.head.value(), page.foot.value(), page.staff_height.value()) else { return };
    // The first staff keeps a staff height clear of the title; the margin it may touch.
    let from = if head > top { head + main_height } else { top };
    let first = page.systems.first().and_then(|first| first.top.value());
    // A system that stands higher than that shows that it could.
    let from = first.map_or(from, |first| from.min(first.max(top)));
    let to = height - bottom.max(foot);
    let usable = to - from;
    if usable <= Mm::ZERO {
        return;
    }
    page.usable = Known::Derived(usable);
    if let Known::Unknown(why) = last {
        page.depth_used = Known::Unknown(why);
        page.white_at_foot = Known::Unknown(why);
        page.past_bottom = Known::Unknown(why);
        page.systems_that_fit = Known::Unknown(why);
        return;
    }
    let last = last.value().unwrap_or_default();
    page.depth_used = Known::Derived((last - from) / usable);
    page.white_at_foot = Known::Derived(to - last);
    page.past_bottom = Known::Derived(last - (height - bottom));
    let Some(need) = need(page, laid, bench, usable, main_height, (top, bottom)) else {
        page.systems_that_fit = Known::Unknown("the distance between staves is not stated");
        return;
    };
    page.systems_that_fit = Known::Derived(need.systems_that_fit());
    page.one_more = need.one_more();
}

fn need(page: &Page, laid: &layout::Page, bench: &Bench, usable: Mm, main_height: Mm, margins: (Mm, Mm)) -> Option<PageNeed> {
    let systems = count(page.systems.len());
    let staves: Mm = laid.systems.iter().flat_map(|one| &one.staves).filter_map(|staff| bench.mm(Known::Derived(staff.room)).value()).sum();
    let mut inside = Mm::ZERO;
    let mut between = None;
    for gap in &page.gaps {
        let needed = gap.needed().value()?;
        match gap.between {
            Between::Staves => inside += needed,
            Between::Systems if gap.heading => {}
            Between::Systems => between = Some(between.map_or(needed, |least: Mm| least.min(needed))),
        }
    }
    let single = page.staves_a_system() == 1;
    let usual = if single { crate::room::down::LINE_GAP_HEIGHTS } else { SYSTEM_GAP_HEIGHTS };
    let system = (staves + inside) * (1.0 / f64::from(systems.max(1)));
    let between = between.unwrap_or(main_height * usual);
    // The room of a heading in mid-page is spoken for.
    let headed = page.gaps.iter().filter(|gap| gap.between == Between::Systems && gap.heading);
    let reserved: Mm = headed.filter_map(|gap| gap.white.value()).map(|white| (white - between).max(Mm::ZERO)).sum();
    let usable = usable - reserved;
    Some(PageNeed { usable, system, between, systems, staff_height: main_height, margins })
}

/// A paper and the pages on it.
#[derive(Debug, Clone, PartialEq)]
pub struct PaperUse {
    /// Width of the sheet.
    pub width: Known<Mm>,
    /// Height of the sheet.
    pub height: Known<Mm>,
    /// Its name, where it has one.
    pub name: Option<String>,
    /// Why it is not known which paper it is.
    pub not_known: Option<&'static str>,
    /// The format it is, where it is a known one.
    pub format: Option<Paper>,
    /// Names of the papers that the house prints on; empty where it does not say.
    pub wanted: Vec<String>,
    /// Pages on it, by their count in the file.
    pub pages: Vec<u32>,
}

/// Sizes closer than this are the same paper: exporters round.
const SAME_SIZE: Mm = Mm(0.5);

pub(super) fn papers(bench: &Bench, pages: &[Page], house: &House) -> Vec<PaperUse> {
    let mut found: Vec<PaperUse> = Vec::new();
    for page in pages {
        let (Some(page_width), Some(page_height)) = (page.width.value(), page.height.value()) else { continue };
        let (across, down) = bench.printing.slack((page_width, page_height));
        let (width, height) = (page_width + across * 2.0, page_height + down * 2.0);
        let same = found.iter_mut().find(|paper| {
            let near = |one: &Known<Mm>, other: Mm| one.value().is_some_and(|one| (one - other).abs() < SAME_SIZE);
            near(&paper.width, width) && near(&paper.height, height)
        });
        if let Some(paper) = same {
            paper.pages.push(page.ordinal);
            continue;
        }
        let not_known = bench.printing.sheet_unknown().then_some(NO_SHEET);
        let format = house.papers.name_of(width, height).filter(|_| not_known.is_none());
        found.push(PaperUse {
            width: page.width.map(|_| width),
            height: page.height.map(|_| height),
            name: format.as_ref().map(PaperMatch::name),
            not_known,
            format: format.map(|format| format.paper.clone()),
            wanted: house.wanted_papers.clone(),
            pages: vec![page.ordinal],
        });
    }
    found
}
