//! `audit --report json`: the whole result for machines. The format is a promise (`docs/schema/audit.schema.json`).

mod text;

pub use text::text;

use super::{AuditReport, Totals, Verdict, mended};
use crate::audit::mending::{self, Mending};
use crate::audit::set::Set;
use crate::audit::{DocumentAudit, Placed, Summary};
use crate::house::Basis;
use crate::musicxml::Spot;
use crate::page::Side;
use crate::place::{Confidence, Place};
use crate::rule::value::{RATIO_PLACES, rounded};
use crate::rule::{Level, Mends};
use crate::score::BarNumber;
use schemars::JsonSchema;
use serde::Serialize;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Name and version of the format.
const FORMAT: &str = "stavegauge-audit/1";
/// Decimal places of millimetres in reports.
pub(super) const PLACES: i32 = 3;

/// The result of an audit.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, title = "stavegauge audit")]
pub struct Audit<'a> {
    /// `stavegauge-audit/1`.
    format: &'static str,
    /// Version of the program.
    version: &'static str,
    /// The house style in force.
    house: House<'a>,
    /// Documents in the order of their paths: files, or scores within a container.
    files: Vec<File<'a>>,
    /// Deliveries among the documents: a score and the copies that hold its music, or copies of one piece.
    deliveries: Vec<Delivery<'a>>,
    /// Findings counted.
    totals: Totals,
    /// What it comes to at the gate.
    verdict: Verdict,
}

/// A house style.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct House<'a> {
    /// Its name.
    name: &'a str,
    /// Its file; null for the built-in style.
    file: Option<&'a str>,
    /// What is wrong with its own words: stets that have run out or match nothing.
    findings: Vec<Finding<'a>>,
}

/// A score and its copies.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Delivery<'a> {
    /// Path of the score; null where there is none.
    score: Option<&'a str>,
    /// Its copies.
    copies: Vec<DeliveredCopy<'a>>,
}

/// A copy of a score.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct DeliveredCopy<'a> {
    /// Its path.
    path: &'a str,
    /// The parts of the score whose music it holds, by name.
    plays: &'a [String],
}

/// One document.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct File<'a> {
    /// Its path as it was named, with `/`; `-` for standard input.
    path: &'a str,
    /// The member of a container.
    member: Option<&'a str>,
    /// Whom it was judged for.
    role: Role<'a>,
    /// Printed size against the file's own: 1 is as stated.
    printed_at: Option<f64>,
    /// What it is; null where it could not be read.
    summary: Option<Figures<'a>>,
    /// What was found.
    findings: Vec<Finding<'a>>,
    /// What could not be judged.
    not_judged: Vec<NotJudged<'a>>,
    /// What is right.
    good: Vec<Cow<'a, str>>,
    /// What was tried to mend it, the best first.
    repairs: Vec<Repair<'a>>,
    /// Why nothing was tried although a finding asks for it; null where something was, or nothing asks.
    no_repair_tried: Option<&'a str>,
    /// What this copy comes to at the gate.
    verdict: Verdict,
    /// The highest number given to a correction of this copy, in this round or an earlier one.
    last_number: u32,
}

/// A repair that was worked out, and judged by the same rules.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Repair<'a> {
    /// Of which kind it is.
    kind: Mends,
    /// What is done, in words.
    what: String,
    /// Height of the staves in the file's own millimetres.
    staff_height_mm: f64,
    /// Left, right, top and bottom margin in millimetres.
    margins_mm: [f64; 4],
    /// Side of the first page.
    first: Side,
    /// What came of it; null where there is no such casting off.
    result: Option<RepairResult<'a>>,
    /// Why there is none.
    impossible: Option<&'a str>,
    /// The command that casts the score off so.
    command: String,
}

/// What came of a repair.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct RepairResult<'a> {
    /// Whether less is wrong then: fewer of the grave faults; of as many, fewer of the less grave.
    better: bool,
    /// Pages with music.
    pages: usize,
    /// Systems.
    systems: usize,
    /// Findings now and then.
    error: [usize; 2],
    /// Findings now and then.
    warning: [usize; 2],
    /// Findings now and then.
    note: [usize; 2],
    /// Rules whose findings are fewer or more then, with how many now and then; merged ones count each.
    rules: BTreeMap<&'a str, [usize; 2]>,
}

/// What the best repair does to the findings of the same rule.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct MendedBy {
    /// The repair.
    kind: Mends,
    /// Findings of the rule now.
    before: usize,
    /// Findings of the rule then.
    after: usize,
}

/// A role and how it is known.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Role<'a> {
    /// Its name; null where nobody can tell.
    name: Option<&'a str>,
    /// How it is known.
    basis: Basis,
    /// The ground, in words; empty where there is none.
    because: &'a str,
}

/// A document in figures.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Figures<'a> {
    /// Pages with music; null where it is not stated where pages begin.
    pages: Option<usize>,
    /// Systems; null where it is not stated where they begin.
    systems: Option<usize>,
    /// Bars.
    bars: usize,
    /// Movements.
    movements: usize,
    /// Height of the staves on paper in millimetres, of the size that most have; null without a scaling.
    staff_height_mm: Option<f64>,
    /// The same in the file's own millimetres, before it is printed smaller or larger.
    file_staff_height_mm: Option<f64>,
    /// The paper that most pages are on; null where no size is stated.
    paper: Option<Paper<'a>>,
}

/// A paper.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Paper<'a> {
    /// Width of the sheet in millimetres.
    width_mm: Option<f64>,
    /// Height of the sheet in millimetres.
    height_mm: Option<f64>,
    /// Its name; null where it has none.
    name: Option<&'a str>,
}

/// One finding.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Finding<'a> {
    /// The rule.
    rule: &'a str,
    /// How grave, in the words of SARIF.
    level: Level,
    /// What is wrong, in words.
    message: &'a str,
    /// What to do.
    advice: &'a str,
    /// Page, counted in the file from 1.
    page: Option<u32>,
    /// The number printed on that page.
    page_label: Option<&'a str>,
    /// System on its page, from 1.
    system: Option<u32>,
    /// Movement, counted in the file from 1.
    movement: Option<u32>,
    /// First and last bar as the file numbers them.
    bars: Option<[&'a str; 2]>,
    /// First and last bar, counted in the file from 1.
    bar_index: Option<[u32; 2]>,
    /// Where it is about no bars of its own, as a page: first and last bar that stand there, as the file numbers them.
    covers: Option<[&'a str; 2]>,
    /// Id of the part.
    part: Option<&'a str>,
    /// Name of the part.
    part_name: Option<&'a str>,
    /// Staff of the part, from 1.
    staff: Option<u32>,
    /// The number that was measured.
    measured: Option<f64>,
    /// The number it was judged against.
    limit: Option<f64>,
    /// What both are in.
    unit: Option<&'a str>,
    /// How sure the reckoning is.
    confidence: Confidence,
    /// Why the level is lower than the rule's.
    because: Option<&'a str>,
    /// How many findings of one cause this one stands for.
    count: usize,
    /// Its place in the file; null where it has none.
    at: Option<At>,
    /// A second place: where an inherited value is used.
    also: Option<At>,
    /// What it is about, in one word that outlives a new export.
    fingerprint: &'a str,
    /// The repair that leaves fewest findings of all and fewer of this rule; null where none does or none was tried.
    mended_by: Option<MendedBy>,
    /// Its number in the correction list of its copy, from 1; the same in later rounds.
    number: u32,
    /// Who lets it stand and why; null where nobody does.
    stet: Option<Stet<'a>>,
}

/// A finding that may stand.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Stet<'a> {
    /// Why.
    reason: &'a str,
    /// Who says so.
    by: Option<&'a str>,
    /// The last day on which it may.
    until: Option<String>,
}

/// A place in the decoded text.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct At {
    /// Line, from 1.
    line: u64,
    /// Column in characters, from 1.
    column: u64,
    /// Bytes of UTF-8 before it.
    offset: u32,
    /// Bytes it takes.
    length: u32,
}

/// A judgement that could not be made.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct NotJudged<'a> {
    /// The rule.
    rule: &'a str,
    /// Why.
    reason: &'a str,
}

/// The report as data.
pub fn audit<'a>(report: &'a AuditReport) -> Audit<'a> {
    with_files(files(report.documents, report), report)
}

fn files<'a>(documents: &'a [DocumentAudit], report: &'a AuditReport) -> Vec<File<'a>> {
    documents.iter().map(|document| file(document, report)).collect()
}

fn with_files<'a>(files: Vec<File<'a>>, report: &'a AuditReport) -> Audit<'a> {
    Audit {
        format: FORMAT,
        version: env!("CARGO_PKG_VERSION"),
        house: House {
            name: &report.house.name,
            file: report.house.file.as_deref(),
            findings: report.house_findings.iter().map(|placed| finding(placed, None)).collect(),
        },
        files,
        deliveries: report.sets.iter().map(|set| delivery(set, report)).collect(),
        totals: report.totals(),
        verdict: report.verdict(),
    }
}

fn delivery<'a>(set: &'a Set, report: &'a AuditReport) -> Delivery<'a> {
    let path = |index: usize| report.documents.get(index).map(|document| document.path.as_str());
    let copies = set.copies.iter().zip(&set.plays);
    Delivery {
        score: set.score.and_then(path),
        copies: copies.filter_map(|(index, plays)| Some(DeliveredCopy { path: path(*index)?, plays })).collect(),
    }
}

fn file<'a>(document: &'a DocumentAudit, report: &'a AuditReport) -> File<'a> {
    File {
        path: &document.path,
        member: document.member.as_deref(),
        role: Role { name: document.role.name.as_deref(), basis: document.role.basis, because: &document.role.because },
        printed_at: document.summary.as_ref().and_then(|summary| summary.printed_at).map(|share| rounded(share, RATIO_PLACES)),
        summary: document.summary.as_ref().map(figures),
        findings: document.findings.iter().map(|placed| finding(placed, Some(&document.mending))).collect(),
        not_judged: document.not_judged.iter().map(|one| NotJudged { rule: &one.rule, reason: &one.reason }).collect(),
        good: document.good.iter().map(Cow::from).chain(super::excuses(&document.excused).into_iter().map(Cow::from)).collect(),
        repairs: document.mending.tried.iter().map(|one| repair(one, document, report)).collect(),
        no_repair_tried: document.mending.not_tried.as_deref(),
        verdict: report.verdict_on(document),
        last_number: document.last_number,
    }
}

fn repair<'a>(repair: &'a mending::Repair, document: &'a DocumentAudit, report: &AuditReport) -> Repair<'a> {
    let mm = |length: crate::units::Mm| rounded(length.0, PLACES);
    let result = repair.outcome.as_ref().ok().map(|judged| {
        let [error, warning, note] = [0, 1, 2].map(|level: usize| [document.mending.now[level], judged.levels[level]]);
        let rules = judged.rules.iter().map(|(rule, counts)| (&**rule, *counts)).collect();
        RepairResult { better: judged.better, pages: judged.pages, systems: judged.systems, error, warning, note, rules }
    });
    Repair {
        kind: repair.mends,
        what: repair.words(),
        staff_height_mm: mm(repair.staff),
        margins_mm: repair.margins.map(mm),
        first: repair.first,
        result,
        impossible: repair.outcome.as_ref().err().map(String::as_str),
        command: mended::command(report, document, repair),
    }
}

fn figures(summary: &Summary) -> Figures<'_> {
    let mm = |length: crate::units::Mm| rounded(length.0, PLACES);
    Figures {
        pages: summary.pages,
        systems: summary.systems,
        bars: summary.bars,
        movements: summary.movements,
        staff_height_mm: summary.staff_height.map(mm),
        file_staff_height_mm: summary.file_staff_height().map(mm),
        paper: summary.paper.as_ref().map(|paper| Paper {
            width_mm: paper.width.value().map(mm),
            height_mm: paper.height.value().map(mm),
            name: paper.name.as_deref(),
        }),
    }
}

fn finding<'a>(placed: &'a Placed, mending: Option<&Mending>) -> Finding<'a> {
    let found = &placed.finding;
    let on = &found.on;
    Finding {
        rule: &found.rule,
        level: found.level,
        message: &found.message,
        advice: &found.advice,
        page: on.page,
        page_label: on.page_label.as_deref(),
        system: on.system,
        movement: on.movement,
        bars: on.bars.as_ref().map(both),
        bar_index: on.bar_index.map(|(first, last)| [first, last]),
        covers: on.covers.as_ref().map(|covers| both(&covers.numbers)),
        part: on.part.as_deref(),
        part_name: on.part_name.as_deref(),
        staff: on.staff,
        measured: found.measured,
        limit: found.limit,
        unit: found.unit,
        confidence: found.confidence,
        because: found.because.as_deref(),
        count: found.count,
        at: at(found.at, placed.spot.as_ref()),
        also: at(found.also, placed.also.as_ref()),
        fingerprint: &found.fingerprint,
        mended_by: mending.and_then(|mending| mending.of_rule(&found.rule)).map(|mended| MendedBy {
            kind: mended.by,
            before: mended.before,
            after: mended.after,
        }),
        number: placed.number,
        stet: placed.stet.as_ref().map(|stet| Stet {
            reason: &stet.reason,
            by: stet.by.as_deref(),
            until: stet.until.map(|day| day.to_string()),
        }),
    }
}

/// First and last.
fn both(numbers: &[BarNumber; 2]) -> [&str; 2] {
    numbers.each_ref().map(|number| &**number)
}

fn at(place: Option<Place>, spot: Option<&Spot>) -> Option<At> {
    let (place, spot) = place.zip(spot)?;
    Some(At { line: spot.line, column: spot.column, offset: place.offset, length: place.length })
}
