//! `castoff --report json` (`docs/schema/castoff.schema.json`) and `--report csv`: the casting-off sheet for machines.
//!
//! Lengths are millimetres to a thousandth, times seconds. Null is what does not apply or is not known.

use super::casting::DocumentCasting;
use super::json::PLACES;
use crate::page::Side;
use crate::repair::{CastingSheet, Figures, SheetPage};
use crate::rule::value::rounded;
use crate::turn::Told;
use schemars::JsonSchema;
use serde::Serialize;

/// Name and version of the format.
const FORMAT: &str = "stavegauge-castoff/1";
/// Decimal places of ratios in reports.
const RATIO_PLACES: i32 = 4;

/// New castings off of some documents.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, title = "stavegauge castoff")]
pub struct CastOffs {
    /// `stavegauge-castoff/1`.
    format: &'static str,
    /// Version of the program.
    version: &'static str,
    /// Documents in the order of their paths.
    files: Vec<File>,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct File {
    /// Its path as it was named, with `/`; `-` for standard input.
    path: String,
    /// The member of a container.
    member: Option<String>,
    /// Why it cannot be cast off; null where it can.
    impossible: Option<String>,
    /// What to do about that.
    advice: Option<String>,
    /// How many of it are printed, as the house says; else one.
    desks: u32,
    /// Sheets of paper for one of it: two leaves a folded sheet, or one page a loose one.
    sheets_of_paper: usize,
    /// The casting off.
    sheet: Option<SheetOut>,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct SheetOut {
    /// Width and height of the paper.
    paper_mm: [f64; 2],
    /// Left, right, top and bottom margin.
    margins_mm: [f64; 4],
    /// Height of the staves.
    staff_height_mm: f64,
    /// What had to be assumed.
    assumed: Vec<String>,
    /// The present casting off in figures; null where it is not known where pages begin.
    now: Option<FiguresOut>,
    /// The new one.
    then: FiguresOut,
    /// Blank pages at its end.
    blank_after: usize,
    /// Its pages.
    pages: Vec<PageOut>,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct FiguresOut {
    /// Pages, blank ones among them.
    pages: usize,
    /// Leaves.
    leaves: usize,
    /// Systems.
    systems: usize,
    /// Turns with four seconds and more.
    easy_turns: usize,
    /// Turns with less that are not quick.
    turns_with_time: usize,
    /// Quick turns, as the rule of page turns has it.
    quick_turns: usize,
    /// Turns with no time.
    no_time_to_turn: usize,
    /// Repeats and jumps back over a turn.
    turns_back: usize,
    /// What is wrong, in one currency: lines.
    faults_of_lines: f64,
    /// Gaps, white and pages.
    faults_of_pages: f64,
    /// Turns.
    faults_of_turns: f64,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct PageOut {
    /// Its number, blank pages counted.
    number: usize,
    /// Its side.
    side: Side,
    /// A blank page stands before it.
    blank_before: bool,
    /// Top line of its first system from the upper edge of the paper.
    first_top_mm: f64,
    /// How far its gaps are from natural, in steps.
    down_strain: f64,
    /// White at its foot, where its gaps stay natural.
    white_at_foot_mm: Option<f64>,
    /// Its systems.
    systems: Vec<SystemOut>,
    /// It must be turned.
    turned: bool,
    /// Seconds to turn; null where it is not turned or there is no limit.
    turn_s: Option<f64>,
    /// How the tempi there are known.
    tempo: Option<&'static str>,
    /// V.S. is to be printed.
    warn: bool,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct SystemOut {
    /// First and last bar, as the file numbers them.
    bars: [String; 2],
    /// The same, counted in the file from 1.
    bar_index: [usize; 2],
    /// Room against natural.
    of_natural: f64,
    /// Its one bar needs so much more room than it has.
    overfull_mm: Option<f64>,
    /// It ends elsewhere than a system ends now; null where that is not known.
    moved: Option<bool>,
}

/// The report as data.
pub fn cast_offs(documents: &[DocumentCasting]) -> CastOffs {
    CastOffs { format: FORMAT, version: env!("CARGO_PKG_VERSION"), files: documents.iter().map(file).collect() }
}

fn file(document: &DocumentCasting) -> File {
    let (impossible, advice) = document.sheet.as_ref().err().cloned().unzip();
    File {
        path: document.path.clone(),
        member: document.member.clone(),
        impossible,
        advice,
        desks: document.desks,
        sheets_of_paper: document.sheets,
        sheet: document.sheet.as_ref().ok().map(sheet),
    }
}

fn mm(length: crate::units::Mm) -> f64 {
    rounded(length.0, PLACES)
}

fn sheet(sheet: &CastingSheet) -> SheetOut {
    let plan = &sheet.plan;
    SheetOut {
        paper_mm: [mm(plan.page.width), mm(plan.page.height)],
        margins_mm: plan.page.margins.map(mm),
        staff_height_mm: mm(plan.staff),
        assumed: sheet.assumed.clone(),
        now: sheet.now.as_ref().map(figures),
        then: figures(&sheet.then),
        blank_after: sheet.blank_after,
        pages: sheet.pages.iter().map(page).collect(),
    }
}

fn figures(figures: &Figures) -> FiguresOut {
    let [easy_turns, turns_with_time, quick_turns, no_time_to_turn] = figures.turns;
    FiguresOut {
        pages: figures.pages,
        leaves: figures.leaves,
        systems: figures.systems,
        easy_turns,
        turns_with_time,
        quick_turns,
        no_time_to_turn,
        turns_back: figures.turns_back,
        faults_of_lines: rounded(figures.faults.across, 1),
        faults_of_pages: rounded(figures.faults.down + figures.faults.pages, 1),
        faults_of_turns: rounded(figures.faults.turns, 1),
    }
}

/// How tempi are known, in data.
fn told(told: Told) -> &'static str {
    match told {
        Told::Numbers => "numbers",
        Told::Words => "words",
        Told::Assumed => "assumed",
    }
}

fn page(page: &SheetPage) -> PageOut {
    let system = |system: &crate::repair::SheetSystem| SystemOut {
        bars: [system.bars[0].to_string(), system.bars[1].to_string()],
        bar_index: [system.range.start + 1, system.range.end],
        of_natural: rounded(system.of_natural, RATIO_PLACES),
        overfull_mm: system.overfull.map(mm),
        moved: system.moved,
    };
    PageOut {
        number: page.number,
        side: page.side,
        blank_before: page.blank_before,
        first_top_mm: mm(page.first_top),
        down_strain: rounded(page.steps, RATIO_PLACES),
        white_at_foot_mm: page.short.map(mm),
        systems: page.systems.iter().map(system).collect(),
        turned: page.turn.is_some(),
        turn_s: page.turn.map(|turn| turn.seconds).filter(|seconds| seconds.is_finite()).map(|seconds| rounded(seconds, PLACES)),
        tempo: page.turn.map(|turn| told(turn.told)),
        warn: page.turn.is_some_and(|turn| turn.warn),
    }
}

const HEADER: [&str; 16] = [
    "path",
    "member",
    "page",
    "side",
    "blank_before",
    "first_top_mm",
    "system",
    "first_bar",
    "last_bar",
    "percent_of_natural",
    "moved",
    "staff_height_mm",
    "white_at_foot_mm",
    "turn_s",
    "warn",
    "impossible",
];

/// A row for each system. A text that a spreadsheet would take for a formula gets an apostrophe before it.
///
/// # Errors
/// None in practice: rows go to memory.
pub fn csv(documents: &[DocumentCasting]) -> Result<String, csv::Error> {
    let mut rows = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
    rows.write_record(HEADER)?;
    for document in documents {
        let path = super::measure_csv::text(&document.path);
        let member = super::measure_csv::text(document.member.as_deref().unwrap_or_default());
        let sheet = match &document.sheet {
            Ok(sheet) => sheet,
            Err((what, _)) => {
                let mut row = vec![String::new(); HEADER.len()];
                (row[0], row[1], row[HEADER.len() - 1]) = (path, member, super::measure_csv::text(what));
                rows.write_record(row)?;
                continue;
            }
        };
        for page in sheet.pages.iter().map(page) {
            let systems = page.systems.len();
            for (index, system) in page.systems.iter().enumerate() {
                let last = index + 1 == systems;
                let at_end = |text: Option<f64>| text.filter(|_| last).map(|number| number.to_string()).unwrap_or_default();
                rows.write_record([
                    path.clone(),
                    member.clone(),
                    page.number.to_string(),
                    if page.side == Side::Recto { "recto" } else { "verso" }.to_owned(),
                    (page.blank_before && index == 0).to_string(),
                    if index == 0 { page.first_top_mm.to_string() } else { String::new() },
                    (index + 1).to_string(),
                    super::measure_csv::text(&system.bars[0]),
                    super::measure_csv::text(&system.bars[1]),
                    format!("{:.0}", system.of_natural * 100.0),
                    system.moved.map(|moved| moved.to_string()).unwrap_or_default(),
                    mm(sheet.plan.staff).to_string(),
                    at_end(page.white_at_foot_mm),
                    at_end(page.turn_s),
                    (page.warn && last).to_string(),
                    String::new(),
                ])?;
            }
        }
    }
    let bytes = rows.into_inner().map_err(csv::IntoInnerError::into_error)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
