//! `audit --report html`: the marked proof. Every page drawn to scale with what is wrong on it; one file, no network.
//!
//! All that is known is worked out here and handed to a template; marks on pages are [`overlay`]'s.

mod overlay;
mod plots;

use self::overlay::{Fault, Overlay};
use self::plots::Plot;
use super::plain::plain;
use super::terminal::{place, plural, short};
use super::{AuditReport, count, excuses, level_words, mended, outcome, verdict_sentence, verdict_words};
use crate::audit::drawn::Drawn;
use crate::audit::{DocumentAudit, Placed};
use crate::delivery::{self, Kind};
use crate::measured::{Measured, Page, Turn};
use crate::page::Side;
use crate::picture::{PagePicture, escaped};
use minijinja::value::Serde;
use minijinja::{Environment, UndefinedBehavior, Value, context};
use serde::Serialize;

const TEMPLATE: &str = include_str!("proof.html");

/// Side of the folded corner of a page that is turned, mm.
const CORNER: f64 = 9.0;

/// The rule that says which copies of a set are missing.
const MISSING: &str = "copy-missing";

/// A copy.
#[derive(Serialize)]
struct Copy {
    id: String,
    name: String,
    reader: String,
    figures: Vec<String>,
    verdict: &'static str,
    verdict_sentence: &'static str,
    must: usize,
    should: usize,
    query: usize,
    stet: usize,
    pages: Option<usize>,
    /// Leaves of one, and how many are printed.
    leaves: usize,
    desks: usize,
    staff: Option<String>,
    systems_a_page: Option<usize>,
    worst_turn: Option<String>,
    /// Pages of each movement.
    movements: Vec<String>,
    /// Its rehearsal marks along the music.
    ticks: Option<Shown>,
    findings: Vec<Row>,
    repairs: Vec<Told>,
    no_repair: Option<String>,
    not_judged: Vec<String>,
    right: Vec<String>,
    openings: Vec<Opening>,
    better: Option<Better>,
    plots: Vec<Shown>,
    staff_sample: Option<Shown>,
    sight: Option<String>,
}

/// A finding in the list.
#[derive(Serialize)]
struct Row {
    id: String,
    /// The mark on its page, where it has one.
    mark: Option<String>,
    number: u32,
    level: &'static str,
    words: &'static str,
    place: String,
    rule: String,
    message: String,
    advice: String,
    because: Option<String>,
    stet: Option<String>,
}

#[derive(Serialize)]
struct Told {
    what: String,
    changes: Vec<String>,
    command: String,
    better: bool,
}

/// What a repair makes of the copy.
#[derive(Serialize)]
struct Better {
    what: String,
    openings: Vec<Opening>,
}

/// Two pages that face each other, or one.
#[derive(Serialize)]
struct Opening {
    left: Option<Sheet>,
    right: Option<Sheet>,
    /// The turn after it.
    turn: Option<String>,
    /// The same in seconds alone.
    short_turn: Option<String>,
}

#[derive(Serialize)]
struct Sheet {
    id: String,
    label: String,
    title: String,
    /// Size of the picture.
    width: String,
    height: String,
    /// The paper it is printed on: its name in the style, and its size.
    paper: String,
    on_paper: (String, String),
    music: String,
    overlay: String,
    /// It is turned: its corner is shown folded, from these places.
    turned: bool,
    corner: (String, String),
}

#[derive(Serialize)]
struct Shown {
    title: String,
    svg: String,
}

impl From<Plot> for Shown {
    fn from(plot: Plot) -> Self {
        Self { title: plot.title, svg: plot.svg }
    }
}

/// Writes the proof.
///
/// # Errors
/// The template's, which is a fault of the program.
pub fn write(report: &AuditReport) -> Result<String, minijinja::Error> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    // A name that ends so has its values escaped.
    environment.add_template("proof.html", TEMPLATE)?;
    let copies: Vec<Copy> = report.documents.iter().enumerate().map(|(index, document)| copy(report, document, index + 1)).collect();
    let rows = in_score_order(report);
    let found = report.documents.iter().flat_map(|document| &document.findings);
    let missing: Vec<String> =
        found.filter(|placed| *placed.finding.rule == *MISSING).map(|placed| placed.finding.message.clone()).collect();
    let papers = papers(&copies);
    let pages: usize = copies.iter().filter_map(|copy| copy.pages).sum();
    // As often as each is printed; a folded sheet holds two leaves.
    let printed = |of: fn(usize) -> usize| copies.iter().map(|copy| of(copy.leaves) * copy.desks).sum::<usize>();
    let (leaves, sheets) = (printed(|leaves| leaves), printed(|leaves| leaves.div_ceil(2)));
    let all: usize = copies.iter().map(|copy| copy.desks).sum();
    let movements = copies.iter().map(|copy| copy.movements.len()).max().unwrap_or(0);
    let house = report.house.file.as_ref().map(|_| report.house.name.clone());
    environment.get_template("proof.html")?.render(context! {
        copies => Value::from(Serde(&copies)),
        rows,
        missing,
        papers => Value::from(Serde(&papers)),
        pages,
        leaves,
        sheets,
        all,
        movements,
        house,
        outcome => outcome(report)
    })
}

/// The copies as a table has them: score after score with its copies in the order of its parts, then what belongs to none.
fn in_score_order(report: &AuditReport) -> Vec<usize> {
    let of_sets = report.sets.iter().flat_map(|set| {
        let score = set.score.and_then(|score| report.documents.get(score)?.copy.as_deref());
        let place = |plays: &[String]| {
            let parts = score.map(|score| &score.parts[..]).unwrap_or_default();
            let first = plays.iter().filter_map(|name| parts.iter().position(|part| *part.name == **name)).min();
            first.unwrap_or(usize::MAX)
        };
        let mut copies: Vec<(usize, usize)> = set.copies.iter().zip(&set.plays).map(|(copy, plays)| (place(plays), *copy)).collect();
        copies.sort_unstable();
        set.score.into_iter().chain(copies.into_iter().map(|(_, copy)| copy))
    });
    let mut rows: Vec<usize> = Vec::new();
    for row in of_sets.chain(0..report.documents.len()) {
        if row < report.documents.len() && !rows.contains(&row) {
            rows.push(row);
        }
    }
    rows
}

/// The sizes of paper there are, so that each page is printed on its own.
fn papers(copies: &[Copy]) -> Vec<(String, String, String)> {
    let all = |copy: &'_ Copy| -> Vec<(String, String, String)> {
        let better = copy.better.iter().flat_map(|better| &better.openings);
        let sheets = copy.openings.iter().chain(better).flat_map(|opening| opening.left.iter().chain(&opening.right));
        sheets.map(|sheet| (sheet.paper.clone(), sheet.on_paper.0.clone(), sheet.on_paper.1.clone())).collect()
    };
    let mut papers: Vec<_> = copies.iter().flat_map(all).collect();
    papers.sort();
    papers.dedup();
    papers
}

fn copy(report: &AuditReport, document: &DocumentAudit, number: usize) -> Copy {
    let id = format!("c{number}");
    let member = document.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
    let totals = count(document.findings.iter());
    let summary = document.summary.as_ref();
    let drawn = document.drawn.as_deref();
    let mut findings: Vec<&Placed> = document.findings.iter().collect();
    findings.sort_by_key(|placed| (!placed.counts(), std::cmp::Reverse(placed.finding.level), placed.harm, placed.number));
    let faults: Vec<Fault> = findings
        .iter()
        .map(|placed| Fault {
            placed,
            about: report.rules.find(&placed.finding.rule).map_or("", |rule| rule.about.as_str()),
            family: report.rules.find(&placed.finding.rule).map_or("", |rule| rule.family.as_str()),
            mark: format!("{id}-mark-{}", placed.number),
            row: format!("{id}-{}", placed.number),
        })
        .collect();
    let mut marked = Vec::new();
    let openings = drawn.map(|drawn| openings(drawn, &id, Some((&faults, &mut marked)))).unwrap_or_default();
    let repair = document.mending.tried.first().filter(|repair| repair.is_better());
    let better = document.mending.drawn.as_deref().zip(repair);
    let rows = findings.iter().zip(&faults).map(|(placed, fault)| row(report, placed, fault, marked.contains(&placed.number)));
    let height = drawn.and_then(|drawn| drawn.measured.staff_height.value());
    let sight = drawn.and_then(|drawn| drawn.sight);
    let mut plots: Vec<Shown> = Vec::new();
    plots.extend(drawn.and_then(plots::across).map(Shown::from));
    plots.extend(drawn.and_then(plots::depth).map(Shown::from));
    plots.extend(height.zip(sight).map(|(height, sight)| Shown::from(plots::staff(height, &sight))));
    Copy {
        name: plain(&format!("{}{member}", document.path)).into_owned(),
        reader: document.role.name.as_ref().map_or_else(|| "not known".to_owned(), |role| role.replace('-', " ")),
        figures: summary.map(super::terminal::figures).into_iter().collect(),
        verdict: verdict_words(report, document),
        verdict_sentence: verdict_sentence(report, document),
        must: totals.error,
        should: totals.warning,
        query: totals.note,
        stet: totals.stet,
        pages: summary.and_then(|summary| summary.pages),
        leaves: drawn.map_or(0, |drawn| leaves(&drawn.pages)),
        desks: document.copy.as_deref().and_then(|copy| copy.mapping.as_ref()?.desks).map_or(1, |desks| usize::from(desks.get())),
        staff: summary.and_then(|summary| summary.staff_height).map(|height| short(height.0)),
        systems_a_page: drawn.and_then(|drawn| drawn.measured.pages.iter().map(|page| page.systems.len()).max()),
        worst_turn: drawn.filter(|drawn| drawn.sight.is_none_or(|sight| sight.turns)).and_then(|drawn| worst_turn(&drawn.measured.turns)),
        movements: drawn.map(|drawn| movements(&drawn.measured)).unwrap_or_default(),
        ticks: document.copy.as_deref().and_then(ticks),
        findings: rows.collect(),
        repairs: document
            .mending
            .tried
            .iter()
            .map(|repair| Told {
                what: report.house.say(&mended::told(&document.mending, repair)).into_owned(),
                changes: repair.outcome.iter().flat_map(mended::changes).collect(),
                command: plain(&mended::command(report, document, repair)).into_owned(),
                better: repair.is_better(),
            })
            .collect(),
        no_repair: document.mending.not_tried.clone(),
        not_judged: document.not_judged.iter().map(|one| format!("{}: {}", one.rule, report.house.say(&one.reason))).collect(),
        right: document
            .good
            .iter()
            .cloned()
            .chain(excuses(&document.excused).into_iter().map(|one| format!("with a reason: {one}")))
            .map(|one| report.house.say(&one).into_owned())
            .collect(),
        openings,
        better: better.map(|(drawn, repair)| Better { what: repair.words(), openings: self::openings(drawn, &format!("{id}-then"), None) }),
        plots,
        staff_sample: height.map(|height| sample(height.0)),
        sight: height.zip(sight.and_then(|sight| sight.distance)).map(|(height, [near, far])| seen(height.0, near, far)),
        id,
    }
}

fn row(report: &AuditReport, placed: &Placed, fault: &Fault, marked: bool) -> Row {
    let found = &placed.finding;
    Row {
        id: fault.row.clone(),
        mark: marked.then(|| fault.mark.clone()),
        number: placed.number,
        level: if placed.counts() { found.level.name() } else { "stet" },
        words: if placed.counts() { level_words(found.level) } else { "stet" },
        place: place(report, placed),
        rule: found.rule.to_string(),
        message: found.message.clone(),
        advice: found.advice.clone(),
        because: found.because.clone(),
        stet: placed.stet.as_ref().map(|stet| stet.reason.clone()),
    }
}

/// Faults to be marked, and the numbers of those that found a place.
type Marking<'a, 'b> = (&'a [Fault<'a>], &'b mut Vec<u32>);

/// The pages of a document as they lie open.
fn openings(drawn: &Drawn, id: &str, mut marking: Option<Marking>) -> Vec<Opening> {
    let measured = &drawn.measured;
    let printed_at = measured.printed_at.value().unwrap_or(1.0);
    let mut all: Vec<Opening> = Vec::new();
    for (page, picture) in measured.pages.iter().zip(&drawn.pages) {
        let mut overlay = Overlay::of(page, printed_at);
        if let Some((faults, marked)) = &mut marking {
            // What is about no page is shown on the first.
            let here = |fault: &&Fault| fault.placed.finding.on.page.unwrap_or(1) == page.ordinal;
            for fault in faults.iter().filter(here).filter(|fault| fault.placed.counts()) {
                if overlay.draw(fault, &measured.turns) {
                    marked.push(fault.placed.number);
                }
            }
        }
        let (width, height) = (short(picture.width.0), short(picture.height.0));
        let on_paper = (short(picture.width.0 * printed_at), short(picture.height.0 * printed_at));
        let sheet = Sheet {
            id: format!("{id}-p{}", picture.ordinal),
            label: picture.label.clone(),
            title: format!("page {}, {}", picture.label, if picture.side == Side::Recto { "recto" } else { "verso" }),
            paper: format!("w{}h{}", on_paper.0, on_paper.1).replace('.', "_"),
            on_paper,
            width,
            height,
            music: picture.music.clone(),
            overlay: overlay.finish(),
            turned: measured.turns.iter().any(|turn| turn.page == page.ordinal && turn.jump.is_none()),
            corner: (short(picture.width.0 - CORNER), short(picture.height.0 - CORNER)),
        };
        let turned = measured.turns.iter().find(|turn| turn.page == page.ordinal && turn.jump.is_none());
        let (turn, short_turn) = (
            turned.map(turn),
            turned
                .and_then(|turn| turn.seconds.value())
                .map(|seconds| if seconds.is_finite() { format!("| {seconds:.1} s |") } else { "| no limit |".to_owned() }),
        );
        match all.last_mut() {
            Some(opening) if page.side == Side::Recto && opening.left.is_some() && opening.right.is_none() => {
                opening.right = Some(sheet);
                (opening.turn, opening.short_turn) = (turn, short_turn);
            }
            _ if page.side == Side::Verso => all.push(Opening { left: Some(sheet), right: None, turn, short_turn }),
            _ => all.push(Opening { left: None, right: Some(sheet), turn, short_turn }),
        }
    }
    all
}

/// A turn in seconds.
fn turn(turn: &Turn) -> String {
    let Some(seconds) = turn.seconds.value() else { return format!("turn after p. {}: not judged", turn.labels[0]) };
    if seconds.is_infinite() {
        return format!("turn after p. {}: no limit", turn.labels[0]);
    }
    format!(
        "turn after p. {}: {} s (rest {} s | turn | rest {} s)",
        turn.labels[0],
        short(seconds),
        short(turn.parts[0]),
        short(turn.parts[1])
    )
}

fn worst_turn(turns: &[Turn]) -> Option<String> {
    let seconds = turns.iter().filter(|turn| turn.jump.is_none()).filter_map(|turn| turn.seconds.value());
    let worst = seconds.fold(f64::INFINITY, f64::min);
    worst.is_finite().then(|| format!("{} s", short(worst)))
}

/// Leaves of a copy: one that begins on the left has an empty first side.
fn leaves(pages: &[PagePicture]) -> usize {
    let begins_verso = pages.first().is_some_and(|page| page.side == Side::Verso);
    (pages.len() + usize::from(begins_verso)).div_ceil(2)
}

/// The pages on which each movement stands; tacet where nothing of it sounds on any.
fn movements(measured: &Measured) -> Vec<String> {
    let number = |movement: usize| u32::try_from(movement + 1).unwrap_or(u32::MAX);
    let pages = |movement: usize| {
        let on = |page: &&Page| page.systems.iter().any(|system| system.movement == number(movement));
        let pages: Vec<&Page> = measured.pages.iter().filter(on).collect();
        match (&pages[..], pages.iter().all(|page| page.tacet)) {
            ([], _) => "-".to_owned(),
            (_, true) => "tacet".to_owned(),
            ([one], _) => one.label.clone(),
            ([first, .., last], _) => format!("{}-{}", first.label, last.label),
        }
    };
    (0..measured.movements.len()).map(pages).collect()
}

/// Rehearsal marks as ticks along the music, so that a missing one shows among the rows of a set.
fn ticks(copy: &delivery::Copy) -> Option<Shown> {
    let marks: Vec<_> = copy.marks.iter().filter(|mark| mark.kind == Kind::Rehearsal).collect();
    let bars = f64::from(u32::try_from(copy.bars.len()).ok()?);
    if marks.is_empty() || bars < 1.0 {
        return None;
    }
    let names: Vec<&str> = marks.iter().map(|mark| mark.text.as_str()).collect();
    let title = format!("{}: {}", plural(marks.len(), "rehearsal mark"), names.join(" "));
    let at = |bar: usize| short(f64::from(u32::try_from(bar).unwrap_or(0)) / bars * 200.0);
    let path: String = marks.iter().map(|mark| format!("M{} 2V12", at(mark.bar))).collect::<Vec<_>>().concat();
    let svg = format!(
        "<svg class=\"ticks\" role=\"img\" viewBox=\"0 0 202 14\" width=\"202\" height=\"14\" aria-label=\"{}\"><path d=\"M0 7H200{path}\"/></svg>",
        escaped(&title)
    );
    Some(Shown { title, svg })
}

/// A staff in its true size.
fn sample(height: f64) -> Shown {
    let line = |line: u8| format!("M0 {}h60", short(0.5 + height * f64::from(line) / 4.0));
    let lines = [0, 1, 2, 3, 4].map(line).concat();
    let svg = format!(
        "<svg class=\"sample\" role=\"img\" width=\"60mm\" height=\"{h}mm\" viewBox=\"0 0 60 {h}\" aria-label=\"a staff of {} mm\"><path class=\"staff\" stroke-width=\"0.15\" d=\"{lines}\"/></svg>",
        short(height),
        h = short(height + 1.0)
    );
    Shown { title: format!("a staff of {} mm, in true size where 100 mm are 100 mm", short(height)), svg }
}

/// How large a staff looks from the stand.
fn seen(height: f64, near: f64, far: f64) -> String {
    let minutes = |metres: f64| (height / 1000.0 / metres).atan().to_degrees() * 60.0;
    format!("From the stand, {near} to {far} m away, a staff is {:.0} to {:.0} minutes of arc high.", minutes(far), minutes(near))
}
