//! `measure --report json`: the measured layout for machines (`docs/schema/measure.schema.json`).
//!
//! Millimetres are the file's own, from the top left corner of the sheet, rounded to a thousandth; ratios to a
//! ten-thousandth. Null is what does not apply or is not known; what is not known is told in `not_known`.

use super::json::PLACES;
use crate::measured::{Between, DocumentMeasure, Gap, Measured, Page, Spacing, Staff, System};
use crate::page::{Dialect, Side, Stating};
use crate::place::{Confidence, Known};
use crate::room::across::{State, Widths};
use crate::rule::value::rounded;
use crate::units::{Mm, Sp, Tenths};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeSet;

/// Name and version of the format.
const FORMAT: &str = "stavegauge-measure/1";
/// Decimal places of ratios in reports.
const RATIO_PLACES: i32 = 4;

/// The measured layout of some documents.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, title = "stavegauge measure")]
pub struct Measure {
    /// `stavegauge-measure/1`.
    format: &'static str,
    /// Version of the program.
    version: &'static str,
    /// Documents in the order of their paths.
    files: Vec<File>,
}

/// A page that must be turned, or a repeat or jump back over one.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Turn {
    /// Page that is turned, counted in the file from 1.
    page: u32,
    /// What sends the player back over it: `repeat`, `da capo`, `dal segno`; null for a turn forward.
    jump: Option<&'static str>,
    /// Last bar before the turn and first bar after it, counted in the file from 1.
    bar_index: [u32; 2],
    /// Seconds to turn; null where there is no limit or they are not known.
    seconds: Option<f64>,
    /// Silence before it.
    before_s: f64,
    /// Silence after it.
    after_s: f64,
    /// What other work of the hands takes of it.
    work_s: f64,
    /// A movement ends there: there is no limit.
    no_limit: bool,
}

impl Turn {
    fn of(turn: &crate::measured::Turn) -> Self {
        let [before, after, work] = turn.parts.map(|seconds| rounded(seconds, PLACES));
        let seconds = turn.seconds.value();
        Self {
            page: turn.page,
            jump: turn.jump.map(crate::turn::JumpKind::name),
            bar_index: [turn.bars.index.0, turn.bars.index.1],
            seconds: seconds.filter(|seconds| seconds.is_finite()).map(|seconds| rounded(seconds, PLACES)),
            before_s: before,
            after_s: after,
            work_s: work,
            no_limit: seconds.is_some_and(f64::is_infinite),
        }
    }
}

/// One document.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct File {
    /// Its path as it was named, with `/`; `-` for standard input.
    path: String,
    /// The member of a container.
    member: Option<String>,
    /// Why it could not be read; null where it could.
    damage: Option<String>,
    /// Millimetres of one tenth; null without a scaling.
    mm_per_tenth: Option<f64>,
    /// Height of the staves, of the size that most have.
    staff_height_mm: Option<f64>,
    /// How much of its layout the file states.
    layout: Option<Stating>,
    /// What of it the file leaves out.
    missing: Vec<String>,
    /// How the file hides staves.
    hides_staves: Option<Dialect>,
    /// Bars.
    bars: usize,
    /// First and last bar of each movement, counted from 1.
    movements: Vec<[u32; 2]>,
    /// Seconds of each bar at the tempi stated; null where they are not known.
    bar_seconds: Vec<Option<f64>>,
    /// Where pages must be turned, forward and back.
    turns: Vec<Turn>,
    /// Staves checked against the stated heights of their notes.
    heights_checked: usize,
    /// Those of them that agreed.
    heights_agreed: usize,
    /// Pages in order; empty where it is not known where systems begin.
    pages: Vec<PageOut>,
}

/// Margins of a page.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Margins {
    /// From the top edge.
    top: Option<f64>,
    /// From the bottom edge.
    bottom: Option<f64>,
    /// From the left edge.
    left: Option<f64>,
    /// From the right edge.
    right: Option<f64>,
}

/// One page.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Page")]
struct PageOut {
    /// Count in the file, from 1.
    number: u32,
    /// Its printed number.
    label: String,
    /// Right-hand (recto) or left-hand (verso).
    side: Side,
    /// Width of the sheet.
    width_mm: Option<f64>,
    /// Height of the sheet.
    height_mm: Option<f64>,
    /// Margins.
    margins_mm: Margins,
    /// Lower edge of its head (title, running head) from the top of the sheet; 0 without one.
    head_mm: Option<f64>,
    /// Upper edge of its foot line from the bottom of the sheet; 0 without one.
    foot_mm: Option<f64>,
    /// Height from where its head lets the first system start to its foot line or bottom margin.
    usable_mm: Option<f64>,
    /// Share of that height down to the last staff's bottom line.
    depth_used: Option<f64>,
    /// Share of the height of the sheet from its first staff's top line to its last staff's bottom line.
    sheet_used: Option<f64>,
    /// White between staves and systems beyond what they need.
    white_between_mm: Option<f64>,
    /// White below the last staff.
    white_at_foot_mm: Option<f64>,
    /// How far the gaps of the page are from comfortable, together: 0 is comfortable, 1 generous, -1 close but clear; null where no gap is
    /// known.
    down_strain: Option<f64>,
    /// Systems that would fit with the gaps they need.
    systems_that_fit: Option<u32>,
    /// Systems, top first.
    systems: Vec<SystemOut>,
    /// Why what is null here is not known.
    not_known: Vec<String>,
}

/// One system.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "System")]
struct SystemOut {
    /// Number on its page, from 1.
    number: u32,
    /// First and last bar as the file numbers them.
    bars: [String; 2],
    /// First and last bar, counted in the file from 1.
    bar_index: [u32; 2],
    /// Movement, from 1.
    movement: u32,
    /// Top line of its first printed staff.
    top_mm: Option<f64>,
    /// Bottom line of its last printed staff.
    bottom_mm: Option<f64>,
    /// Left end of its staves.
    left_mm: Option<f64>,
    /// Right end of its staves.
    right_mm: Option<f64>,
    /// White to the system above; null for the first of a page.
    gap_above_mm: Option<f64>,
    /// The same in heights of the larger of the two staves.
    gap_above_heights: Option<f64>,
    /// Clear white between the ink of both systems where it comes closest; negative where it overlaps.
    clearance_above_mm: Option<f64>,
    /// From the lowest note of the system above to the highest of this one, wherever they stand.
    note_distance_above_mm: Option<f64>,
    /// White that what hangs in from both sides wants comfortably.
    comfortable_above_mm: Option<f64>,
    /// How far its bars reach beyond its right end; negative where they stop short of it.
    overrun_mm: Option<f64>,
    /// How it is spaced across; null where that is not known.
    spacing: Option<SpacingOut>,
    /// How sure its reckoning is.
    confidence: Confidence,
    /// Its printed staves, top first. Hidden staves are absent.
    staves: Vec<StaffOut>,
    /// Its bars; where their widths are not known, without positions.
    bar_widths: Vec<BarOut>,
}

/// One printed staff.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Staff")]
struct StaffOut {
    /// Id of its part.
    part: String,
    /// Name of its part.
    part_name: String,
    /// Staff of the part, from 1.
    staff: u8,
    /// Its top line.
    top_mm: Option<f64>,
    /// Its bottom line.
    bottom_mm: Option<f64>,
    /// From top line to bottom line.
    height_mm: Option<f64>,
    /// White to the staff above in the system; null for the first.
    gap_above_mm: Option<f64>,
    /// The same in heights of the larger of the two staves.
    gap_above_heights: Option<f64>,
    /// Clear white between the ink of both staves where it comes closest; negative where it overlaps.
    clearance_above_mm: Option<f64>,
    /// From the lowest note of the staff above to the highest of this one, wherever they stand.
    note_distance_above_mm: Option<f64>,
    /// White that what hangs in from both sides wants comfortably.
    comfortable_above_mm: Option<f64>,
}

/// One bar.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Bar")]
struct BarOut {
    /// As the file numbers it.
    number: String,
    /// Counted in the file from 1.
    bar_index: u32,
    /// Its left end.
    left_mm: Option<f64>,
    /// Its width.
    width_mm: Option<f64>,
    /// Width where its signs all but touch, in staff spaces; 0 for a bar that a multi-bar rest has taken in.
    least: Option<f64>,
    /// Width as if every note were half as long, in staff spaces.
    short: Option<f64>,
    /// Natural width, in staff spaces.
    natural: Option<f64>,
    /// Width as if every note were twice as long, in staff spaces.
    stretched: Option<f64>,
}

/// How a system is spaced across: the room it has against what its notes need. Lengths are staff spaces of a staff of full size.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, rename = "Spacing")]
struct SpacingOut {
    /// Room before its first note: clef, key, time.
    beginning: f64,
    /// Room for its bars.
    available: f64,
    /// What its bars need where signs all but touch.
    least: f64,
    /// What they take as if every note were half as long.
    short: f64,
    /// What they take naturally.
    natural: f64,
    /// What they take as if every note were twice as long.
    stretched: f64,
    /// Room for its bars in percent of the natural one.
    percent_of_natural: f64,
    /// How far its room is from natural: 0 is natural, 1 as if every note were twice as long, -1 half as long.
    strain: f64,
    /// Pull under which its bars just fill it: 0 where only signs hold notes apart, 1 natural, above in proportion.
    tension: f64,
    /// Share of the way from the least room to the natural one.
    ease: f64,
    /// How far its pull is from the median of its movement's systems without the last, in the steps of `strain`; null where there is none.
    relative: Option<f64>,
    /// Usual room of its movement in percent of the natural one; null where too few systems tell.
    usual_percent: Option<f64>,
    /// What to call it.
    state: State,
    /// Whether its bars reach its right end.
    full: bool,
    /// Its widest gaps from note to note against its narrowest, evenly spaced ones being equal; null where too few notes state their place.
    unevenness: Option<f64>,
    /// Places where heads or accidentals lie on each other, as far as notes state their place.
    collisions: usize,
    /// Why the durations of one of its bars do not tell its room (a cadenza, an unmeasured bar, ...); null where they do.
    irregular: Option<&'static str>,
}

/// The report as data.
pub fn measure(documents: &[DocumentMeasure]) -> Measure {
    Measure { format: FORMAT, version: env!("CARGO_PKG_VERSION"), files: documents.iter().map(file).collect() }
}

fn file(document: &DocumentMeasure) -> File {
    let mut out = File {
        path: document.path.clone(),
        member: document.member.clone(),
        damage: None,
        mm_per_tenth: None,
        staff_height_mm: None,
        layout: None,
        missing: Vec::new(),
        hides_staves: None,
        bars: 0,
        movements: Vec::new(),
        bar_seconds: Vec::new(),
        turns: Vec::new(),
        heights_checked: 0,
        heights_agreed: 0,
        pages: Vec::new(),
    };
    match &document.measured {
        Err(damage) => out.damage = Some(damage.what.clone()),
        Ok(measured) => fill(&mut out, measured),
    }
    out
}

fn fill(out: &mut File, measured: &Measured) {
    out.mm_per_tenth = measured.scale.map(|scale| rounded(scale.mm(Tenths(1.0)).0, 9));
    out.staff_height_mm = mm(&measured.staff_height);
    out.layout = Some(measured.stating);
    out.missing = measured.missing.iter().map(ToString::to_string).collect();
    out.hides_staves = Some(measured.dialect);
    out.bars = measured.bars.len();
    out.movements = measured.movements.iter().map(|(first, last)| [*first, *last]).collect();
    out.bar_seconds = measured.bar_seconds.iter().map(|seconds| seconds.map(|seconds| rounded(seconds, PLACES))).collect();
    out.turns = measured.turns.iter().map(Turn::of).collect();
    out.heights_checked = measured.heights_checked.checked;
    out.heights_agreed = measured.heights_checked.agreed;
    out.pages = measured.pages.iter().map(|one| page(one, measured)).collect();
}

fn mm(length: &Known<Mm>) -> Option<f64> {
    length.value().map(|length| rounded(length.0, PLACES))
}

fn ratio(ratio: &Known<f64>) -> Option<f64> {
    ratio.value().map(|ratio| rounded(ratio, RATIO_PLACES))
}

fn page(page: &Page, measured: &Measured) -> PageOut {
    let [left, right, top, bottom] = &page.margins;
    PageOut {
        number: page.ordinal,
        label: page.label.clone(),
        side: page.side,
        width_mm: mm(&page.width),
        height_mm: mm(&page.height),
        margins_mm: Margins { top: mm(top), bottom: mm(bottom), left: mm(left), right: mm(right) },
        head_mm: mm(&page.head),
        foot_mm: mm(&page.foot),
        usable_mm: mm(&page.usable),
        depth_used: ratio(&page.depth_used),
        sheet_used: ratio(&page.sheet_used),
        white_between_mm: mm(&page.white_between),
        white_at_foot_mm: mm(&page.white_at_foot),
        down_strain: ratio(&page.steps_from_comfortable),
        systems_that_fit: page.systems_that_fit.value(),
        systems: page.systems.iter().map(|one| system(one, page, measured)).collect(),
        not_known: not_known(page, measured),
    }
}

/// The reasons for what is not known of a page, each once.
fn not_known(page: &Page, measured: &Measured) -> Vec<String> {
    fn reason<T>(known: &Known<T>) -> Option<&'static str> {
        if let Known::Unknown(why) = known { Some(why) } else { None }
    }
    let of_page = [&page.width, &page.height, &page.usable, &page.white_between, &page.white_at_foot].into_iter().filter_map(reason);
    let of_fit = reason(&page.systems_that_fit);
    let of_systems = page.systems.iter().flat_map(|one| [&one.top, &one.bottom, &one.left, &one.right, &one.overrun]).filter_map(reason);
    let of_gaps = page.gaps.iter().filter_map(|gap| reason(&gap.white));
    let of_spacing = page.systems.iter().filter_map(|one| one.spacing.as_ref().err().copied());
    let begin = (!measured.pages_known).then_some("it is not stated where pages begin");
    let all: BTreeSet<&str> = of_page.chain(of_fit).chain(of_systems).chain(of_gaps).chain(of_spacing).chain(begin).collect();
    all.into_iter().map(str::to_owned).collect()
}

fn system(system: &System, page: &Page, measured: &Measured) -> SystemOut {
    let above = page.gaps_of(system.number).iter().find(|gap| gap.between == Between::Systems);
    let inside = |staff: &Staff| {
        page.gaps_of(system.number).iter().find(|gap| gap.between == Between::Staves && gap.pair()[1] == (staff.of.index, staff.staff))
    };
    let (first, last) = system.bars.index;
    let need =
        |index: u32, pick: fn(&Widths) -> Sp| system.needs.get((index - first) as usize).map(|widths| rounded(pick(widths).0, PLACES));
    let bars = (first..=last).map(|index| {
        let across = system.across.iter().find(|bar| bar.index == index);
        BarOut {
            number: measured.bars.get(index as usize - 1).map(|bar| bar.bars.numbers[0].to_string()).unwrap_or_default(),
            bar_index: index,
            left_mm: across.map(|bar| rounded(bar.left.0, PLACES)),
            width_mm: across.map(|bar| rounded(bar.width.0, PLACES)),
            least: need(index, |widths| widths.least),
            short: need(index, |widths| widths.short),
            natural: need(index, |widths| widths.natural),
            stretched: need(index, |widths| widths.stretched),
        }
    });
    SystemOut {
        number: system.number,
        bars: [system.bars.numbers[0].to_string(), system.bars.numbers[1].to_string()],
        bar_index: [first, last],
        movement: system.movement,
        top_mm: mm(&system.top),
        bottom_mm: mm(&system.bottom),
        left_mm: mm(&system.left),
        right_mm: mm(&system.right),
        gap_above_mm: above.and_then(|gap| mm(&gap.white)),
        gap_above_heights: above.and_then(|gap| ratio(&gap.white_heights())),
        clearance_above_mm: above.and_then(|gap| mm(&gap.clearance())),
        note_distance_above_mm: above.and_then(|gap| mm(&gap.note_distance())),
        comfortable_above_mm: above.and_then(|gap| mm(&gap.comfortable())),
        overrun_mm: mm(&system.overrun),
        spacing: system.spacing.as_ref().ok().map(spacing),
        confidence: system.confidence,
        staves: system.staves.iter().map(|one| staff(one, inside(one))).collect(),
        bar_widths: bars.collect(),
    }
}

fn spacing(spacing: &Spacing) -> SpacingOut {
    let sp = |length: Sp| rounded(length.0, PLACES);
    let widths = &spacing.widths;
    SpacingOut {
        beginning: sp(spacing.beginning),
        available: sp(spacing.available),
        least: sp(widths.least),
        short: sp(widths.short),
        natural: sp(widths.natural),
        stretched: sp(widths.stretched),
        percent_of_natural: rounded(spacing.of_natural * 100.0, 1),
        strain: rounded(spacing.steps, RATIO_PLACES),
        tension: rounded(spacing.force, RATIO_PLACES),
        ease: rounded(spacing.share_of_ease, RATIO_PLACES),
        relative: ratio(&spacing.relative),
        usual_percent: spacing.usual_of_natural.value().map(|usual| rounded(usual * 100.0, 1)),
        state: spacing.state,
        full: spacing.full,
        unevenness: spacing.evenness.map(|even| rounded(even.unevenness, RATIO_PLACES)),
        collisions: spacing.collisions.len(),
        irregular: spacing.irregular,
    }
}

fn staff(staff: &Staff, above: Option<&Gap>) -> StaffOut {
    StaffOut {
        part: staff.of.id.to_string(),
        part_name: staff.of.name.to_string(),
        staff: staff.staff,
        top_mm: mm(&staff.top),
        bottom_mm: mm(&staff.bottom()),
        height_mm: mm(&staff.height()),
        gap_above_mm: mm(&staff.gap_above),
        gap_above_heights: above.and_then(|gap| ratio(&gap.white_heights())),
        clearance_above_mm: above.and_then(|gap| mm(&gap.clearance())),
        note_distance_above_mm: above.and_then(|gap| mm(&gap.note_distance())),
        comfortable_above_mm: above.and_then(|gap| mm(&gap.comfortable())),
    }
}
