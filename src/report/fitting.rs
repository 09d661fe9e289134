//! `fit`: what fits, for people, for machines (`docs/schema/fit.schema.json`) and for spreadsheets.

use super::fitting_set;
use super::json::PLACES;
use super::measure_csv::text as cell;
use super::plain::{padded, plain};
use super::terminal::{Look, Paint, plural, short, wrapped};
use crate::cast::Impossible;
use crate::repair::{Choice, Fit, Fitted};
use crate::rule::value::rounded;
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt::{self, Write};
use unicode_width::UnicodeWidthStr;

/// Name and version of the format.
const FORMAT: &str = "stavegauge-fit/1";
/// What the columns mean.
const LEGEND: &str = "Gaps stay natural, or all but: what only fits squeezed does not fit. Of natural: the tightest and the median line, and the height of full \
     pages. Turns: easy, with time enough, quick, with no time. Shown are the choices that no other beats on every count; all of them stand in the JSON and \
     CSV. This is advice; the house and the librarian decide.";

/// One document with what fits.
#[derive(Debug)]
pub struct DocumentFit {
    /// The file as it was named; `-` for standard input.
    pub path: String,
    /// The member of a container.
    pub member: Option<String>,
    /// Whom it is for, in words; `None` where nobody can tell.
    pub reader: Option<String>,
    /// It is the music of one player, desk or voice.
    pub is_part: bool,
    /// How many of it are printed.
    pub desks: u32,
    /// It is gravely damaged, though it can be cast off.
    pub damaged: bool,
    /// What had to be assumed, in words.
    pub assumed: Vec<String>,
    /// What was tried; or why nothing could be, and what to do.
    pub fit: Result<Fit, (String, String)>,
}

impl DocumentFit {
    /// A file that could not be opened.
    pub fn damaged(path: String, what: String, help: String) -> Self {
        Self { path, member: None, reader: None, is_part: false, desks: 1, damaged: true, assumed: Vec::new(), fit: Err((what, help)) }
    }
}

const COLUMNS: [&str; 10] = ["paper", "staves", "margins", "systems", "pages", "leaves", "across", "down", "turns", "suits"];

/// Writes the tables.
///
/// # Errors
/// Those of `out`.
pub fn write(documents: &[DocumentFit], look: Look, out: &mut dyn Write) -> fmt::Result {
    for (index, document) in documents.iter().enumerate() {
        if index > 0 {
            writeln!(out)?;
        }
        let member = document.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
        writeln!(out, "{}", look.paint(Paint::Name, &plain(&format!("{}{member}", document.path))))?;
        if let Some(reader) = &document.reader {
            writeln!(out, "  {}", plain(&format!("read as {reader}")))?;
        }
        for assumed in &document.assumed {
            wrapped(&plain(assumed), "  - ", "    ", look.width, out)?;
        }
        match &document.fit {
            Ok(fit) => self::fit(fit, look, out)?,
            Err((what, help)) => wrapped(&plain(&format!("cannot be tried: {what}. {help}")), "  ", "  ", look.width, out)?,
        }
    }
    if let Some(set) = fitting_set::of(documents) {
        fitting_set::write(&set, look, out)?;
    }
    if documents.iter().any(|document| document.fit.is_ok()) {
        writeln!(out)?;
        wrapped(LEGEND, "", "", look.width, out)?;
    }
    Ok(())
}

fn fit(fit: &Fit, look: Look, out: &mut dyn Write) -> fmt::Result {
    let shown = fit.choices.iter().enumerate().filter(|(index, choice)| choice.unbeaten || fit.best == Some(*index));
    let rows: Vec<(bool, [String; COLUMNS.len()])> = shown
        .filter_map(|(index, choice)| Some((fit.best == Some(index), row(choice, choice.fitted.as_ref().ok()?, fit.turns_matter))))
        .collect();
    writeln!(out)?;
    let widths: Vec<usize> = (0..COLUMNS.len())
        .map(|column| rows.iter().map(|(_, row)| row[column].width()).chain([COLUMNS[column].width()]).max().unwrap_or(0) + 2)
        .collect();
    let line = |mark: &str, cells: &[&str]| {
        let cells: String = cells.iter().zip(&widths).map(|(cell, width)| padded(cell, *width)).collect();
        format!("{mark} {}", cells.trim_end())
    };
    if !rows.is_empty() {
        writeln!(out, "{}", line("  ", &COLUMNS))?;
    }
    for (best, row) in &rows {
        let cells: Vec<&str> = row.iter().map(String::as_str).collect();
        let text = plain(&line(if *best { " >" } else { "  " }, &cells)).into_owned();
        writeln!(out, "{}", if *best { look.paint(Paint::Name, &text) } else { text })?;
    }
    writeln!(out)?;
    let refused = fit.choices.iter().filter(|choice| choice.fitted.is_err()).count();
    if refused > 0 {
        let what = format!("{} of {} not be cast off at all", plural(refused, "choice"), fit.choices.len());
        wrapped(&what.replace(" not be", " could not be"), "  ", "  ", look.width, out)?;
    }
    wrapped(&plain(&format!("{}.", best(fit))), "  ", "  ", look.width, out)
}

/// The best in words, or that nothing fits.
pub(super) fn best(fit: &Fit) -> String {
    let best = fit.best.map(|index| &fit.choices[index]);
    match best {
        Some(choice) => format!(
            "best: {} with staves of {} mm and margins of {}, because {}",
            choice.paper,
            short(choice.plan.staff.0),
            margins(choice),
            fit.because
        ),
        None => fit.because.clone(),
    }
}

/// Margins in words: one where all are alike.
fn margins(choice: &Choice) -> String {
    let all = choice.plan.page.margins.map(|margin| short(margin.0));
    if all.iter().all(|one| *one == all[0]) { format!("{} mm", all[0]) } else { format!("{} mm", all.join("/")) }
}

fn row(choice: &Choice, fitted: &Fitted, turns_matter: bool) -> [String; COLUMNS.len()] {
    let percent = |share: f64| format!("{:.0}", share * 100.0);
    let [easy, enough, quick, none] = fitted.figures.turns;
    [
        choice.paper.clone(),
        format!("{} mm", short(choice.plan.staff.0)),
        margins(choice),
        format!("{} a page", fitted.systems_a_page),
        fitted.figures.pages.to_string(),
        fitted.figures.leaves.to_string(),
        format!("{}/{} %", percent(fitted.across[0]), percent(fitted.across[1])),
        fitted.down.map_or_else(|| "-".to_owned(), |down| format!("{} %", percent(down))),
        if turns_matter { format!("{easy}/{enough}/{quick}/{none}") } else { "-".to_owned() },
        if choice.refused { format!("{}, paper refused", choice.suits.name()) } else { choice.suits.name().to_owned() },
    ]
}

/// What fits, of some documents.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, title = "stavegauge fit")]
pub struct Fits {
    /// `stavegauge-fit/1`.
    format: &'static str,
    /// Version of the program.
    version: &'static str,
    /// Documents in the order of their paths.
    files: Vec<File>,
    /// Their parts on one paper; null for fewer than two.
    set: Option<fitting_set::SetFit>,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct File {
    /// Its path as it was named, with `/`; `-` for standard input.
    path: String,
    /// The member of a container.
    member: Option<String>,
    /// Why nothing could be tried; null where it could.
    impossible: Option<String>,
    /// What had to be assumed.
    assumed: Vec<String>,
    /// The best choice, by its place in `choices` from 0; null where nothing fits.
    best: Option<usize>,
    /// Why it is the best; or that nothing fits, and what would have to give.
    because: Option<String>,
    /// Every choice that was tried.
    choices: Vec<ChoiceOut>,
}

#[derive(Debug, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct ChoiceOut {
    /// Name of the paper.
    paper: String,
    /// Its width and height.
    paper_mm: [f64; 2],
    /// Height of the staves.
    staff_height_mm: f64,
    /// Left, right, top and bottom margin.
    margins_mm: [f64; 4],
    /// Whether the staff height suits the reader: good, larger than needed, not known, at risk, too small.
    suits: &'static str,
    /// Somebody refuses the paper for the reader.
    paper_refused: bool,
    /// No other choice is as good on every count and better on one.
    unbeaten: bool,
    /// Why it cannot be cast off; null where it can.
    impossible: Option<&'static str>,
    /// Most systems on a page.
    systems_a_page: Option<usize>,
    /// Pages.
    pages: Option<usize>,
    /// Leaves.
    leaves: Option<usize>,
    /// Room of the tightest line against natural.
    tightest_of_natural: Option<f64>,
    /// Room of the median line against natural.
    median_of_natural: Option<f64>,
    /// Height of the pages against what their music naturally takes, without the last; null for one page.
    down_of_natural: Option<f64>,
    /// Turns with four seconds and more.
    easy_turns: Option<usize>,
    /// Turns with less that are not quick.
    turns_with_time: Option<usize>,
    /// Quick turns, as the rule of page turns has it.
    quick_turns: Option<usize>,
    /// Turns with no time.
    no_time_to_turn: Option<usize>,
    /// Repeats and jumps back over a turn.
    turns_back: Option<usize>,
    /// Bars that no line can hold.
    overfull_bars: Option<usize>,
}

/// The report as data.
pub fn fits(documents: &[DocumentFit]) -> Fits {
    let file = |document: &DocumentFit| {
        let fit = document.fit.as_ref();
        File {
            path: document.path.clone(),
            member: document.member.clone(),
            impossible: fit.err().map(|(what, _)| what.clone()),
            assumed: document.assumed.clone(),
            best: fit.ok().and_then(|fit| fit.best),
            because: fit.ok().map(|fit| fit.because.clone()),
            choices: fit.map(|fit| fit.choices.iter().map(choice).collect()).unwrap_or_default(),
        }
    };
    Fits {
        format: FORMAT,
        version: env!("CARGO_PKG_VERSION"),
        files: documents.iter().map(file).collect(),
        set: fitting_set::of(documents),
    }
}

/// Why a choice cannot be cast off, in a word.
fn why(impossible: &Impossible) -> &'static str {
    match impossible {
        Impossible::NoBars => "the score holds no bars",
        Impossible::NoWidth(_) => "the margins leave no width",
        Impossible::NoHeight(_) => "the margins leave no height",
        Impossible::NoLine(_) => "no line holds all that may not be parted",
        Impossible::NoTime(_) => "the exact time of a bar cannot be known",
        Impossible::TooMuch => "there are more bars than can be cast off at once",
        Impossible::TooHigh(..) => "a system is higher than a page",
        Impossible::Pages(_) => "no division has as many pages as are wanted",
    }
}

fn choice(choice: &Choice) -> ChoiceOut {
    let (plan, fitted) = (&choice.plan, choice.fitted.as_ref().ok());
    let mm = |length: crate::units::Mm| rounded(length.0, PLACES);
    let share = |share: f64| rounded(share, 4);
    let [easy, enough, quick, none] = [0, 1, 2, 3].map(|kind: usize| fitted.map(|fitted| fitted.figures.turns[kind]));
    ChoiceOut {
        paper: choice.paper.clone(),
        paper_mm: [mm(plan.page.width), mm(plan.page.height)],
        staff_height_mm: mm(plan.staff),
        margins_mm: plan.page.margins.map(mm),
        suits: choice.suits.name(),
        paper_refused: choice.refused,
        unbeaten: choice.unbeaten,
        impossible: choice.fitted.as_ref().err().map(why),
        systems_a_page: fitted.map(|fitted| fitted.systems_a_page),
        pages: fitted.map(|fitted| fitted.figures.pages),
        leaves: fitted.map(|fitted| fitted.figures.leaves),
        tightest_of_natural: fitted.map(|fitted| share(fitted.across[0])),
        median_of_natural: fitted.map(|fitted| share(fitted.across[1])),
        down_of_natural: fitted.and_then(|fitted| fitted.down).map(share),
        easy_turns: easy,
        turns_with_time: enough,
        quick_turns: quick,
        no_time_to_turn: none,
        turns_back: fitted.map(|fitted| fitted.figures.turns_back),
        overfull_bars: fitted.map(|fitted| fitted.overfull),
    }
}

/// A row for each choice. A text that a spreadsheet would take for a formula gets an apostrophe before it.
///
/// # Errors
/// None in practice: rows go to memory.
pub fn csv(documents: &[DocumentFit]) -> Result<String, csv::Error> {
    const HEADER: [&str; 18] = [
        "path",
        "member",
        "paper",
        "staff_height_mm",
        "margins_mm",
        "suits",
        "unbeaten",
        "best",
        "systems_a_page",
        "pages",
        "leaves",
        "tightest_percent",
        "median_percent",
        "down_percent",
        "easy_turns",
        "quick_turns",
        "no_time_to_turn",
        "impossible",
    ];
    let mut rows = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
    rows.write_record(HEADER)?;
    for document in documents {
        let place = || [cell(&document.path), document.member.as_deref().map(cell).unwrap_or_default()];
        let fit = match &document.fit {
            Ok(fit) => fit,
            Err((what, _)) => {
                let mut row: Vec<String> = place().into();
                row.resize(HEADER.len() - 1, String::new());
                row.push(cell(what));
                rows.write_record(row)?;
                continue;
            }
        };
        for (index, one) in fit.choices.iter().enumerate() {
            let out = choice(one);
            let number = |number: Option<usize>| number.map(|number| number.to_string()).unwrap_or_default();
            let percent = |share: Option<f64>| share.map(|share| format!("{:.0}", share * 100.0)).unwrap_or_default();
            let mut row: Vec<String> = place().into();
            row.extend([
                cell(&out.paper),
                out.staff_height_mm.to_string(),
                out.margins_mm.map(|margin| margin.to_string()).join("/"),
                out.suits.to_owned(),
                out.unbeaten.to_string(),
                (fit.best == Some(index)).to_string(),
                number(out.systems_a_page),
                number(out.pages),
                number(out.leaves),
                percent(out.tightest_of_natural),
                percent(out.median_of_natural),
                percent(out.down_of_natural),
                number(out.easy_turns),
                number(out.quick_turns),
                number(out.no_time_to_turn),
                out.impossible.unwrap_or_default().to_owned(),
            ]);
            rows.write_record(row)?;
        }
    }
    let bytes = rows.into_inner().map_err(csv::IntoInnerError::into_error)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
