//! `audit --report terminal`: the correction list for people.
//!
//! By document: what it is and whom it was read for; what is wrong, the gravest first and then by the harm it does, each with its place in a
//! reader's words, number against number, what to do, and the value underlined in the file; what could not be judged; what
//! is right. At the end how many copies can go.

use super::excerpt::excerpt;
use super::plain::plain;
use super::{AuditReport, Gate, excuses, level_words, mended, verdicts};
use crate::audit::{DocumentAudit, Placed, RoleTaken, Summary};
use crate::house::Basis;
use crate::place::Confidence;
use crate::rule::Level;
use std::fmt::{self, Write};
use unicode_width::UnicodeWidthStr;

/// How a report for people looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// With colour.
    pub color: bool,
    /// Columns to keep to.
    pub width: usize,
    /// Only what stands at or above the gate.
    pub quiet: bool,
}

impl Look {
    /// Text in one of the few colours, which never say anything alone.
    pub(super) fn paint(self, paint: Paint, text: &str) -> String {
        if !self.color {
            return text.to_owned();
        }
        let code = match paint {
            Paint::Name => "1",
            Paint::Must => "1;31",
            Paint::Should => "33",
            Paint::Query => "36",
            Paint::Quiet => "2",
        };
        format!("\u{1b}[{code}m{text}\u{1b}[0m")
    }
}

/// What a colour is for.
#[derive(Debug, Clone, Copy)]
pub(super) enum Paint {
    Name,
    Must,
    Should,
    Query,
    Quiet,
}

/// Columns before a finding's text.
const INDENT: &str = "    ";

/// Writes the report.
///
/// # Errors
/// Those of `out`.
pub fn write(report: &AuditReport, look: Look, out: &mut dyn Write) -> fmt::Result {
    let mut left_out = 0;
    for document in report.documents {
        let mut findings: Vec<&Placed> = document.findings.iter().collect();
        // What may stand comes last.
        findings.sort_by_key(|placed| (!placed.counts(), std::cmp::Reverse(placed.finding.level), placed.harm));
        if look.quiet {
            let all = findings.iter().filter(|placed| placed.counts()).count();
            findings.retain(|placed| placed.counts() && report.gate.stops(placed.finding.level));
            left_out += all - findings.len();
            if findings.is_empty() {
                continue;
            }
        }
        heading(document, look, out)?;
        for alike in findings.chunk_by(|a, b| alike(a, b)) {
            self::findings(report, alike, &name(document), look, out)?;
        }
        if !look.quiet {
            repairs(report, document, look, out)?;
            not_judged(report, document, look, out)?;
            right(report, document, look, out)?;
        }
        writeln!(out)?;
    }
    let shown = |placed: &&Placed| !look.quiet || report.gate.stops(placed.finding.level);
    let of_house: Vec<&Placed> = report.house_findings.iter().filter(shown).collect();
    if let (Some(file), false) = (&report.house.file, of_house.is_empty()) {
        let file = plain(file);
        writeln!(out, "{}", look.paint(Paint::Name, &file))?;
        wrapped(&format!("house style: {}", plain(&report.house.name)), "  ", "  ", look.width, out)?;
        of_house.iter().try_for_each(|placed| self::findings(report, std::slice::from_ref(placed), &file, look, out))?;
        writeln!(out)?;
    }
    if !look.quiet {
        deliveries(report, look, out)?;
    }
    totals(report, left_out, look, out)
}

/// Which copies belong to which score.
fn deliveries(report: &AuditReport, look: Look, out: &mut dyn Write) -> fmt::Result {
    let file = |index: usize| report.documents.get(index).map(name).unwrap_or_default();
    for set in report.sets {
        let copies = if set.copies.len() == 1 { "1 copy".to_owned() } else { format!("{} copies", set.copies.len()) };
        let told = match set.score {
            Some(score) => format!("{} and {copies} of its music were held against each other.", file(score)),
            None => format!(
                "{copies} of one piece were held against each other: {}.",
                set.copies.iter().map(|copy| file(*copy)).collect::<Vec<_>>().join(", ")
            ),
        };
        wrapped(&told, "", "", look.width, out)?;
    }
    if report.sets.is_empty() { Ok(()) } else { writeln!(out) }
}

/// Its file, and the member of a container.
fn name(document: &DocumentAudit) -> String {
    let member = document.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
    plain(&format!("{}{member}", document.path)).into_owned()
}

fn heading(document: &DocumentAudit, look: Look, out: &mut dyn Write) -> fmt::Result {
    writeln!(out, "{}", look.paint(Paint::Name, &name(document)))?;
    let Some(summary) = &document.summary else { return Ok(()) };
    let line = format!("{}; {}", figures(summary), role(&document.role));
    wrapped(&line, "  ", "  ", look.width, out)
}

pub(super) fn figures(summary: &Summary) -> String {
    let paper = summary.paper.as_ref().map(|paper| match (&paper.name, paper.width.value(), paper.height.value()) {
        (Some(name), ..) => format!(" {name}"),
        (None, Some(width), Some(height)) => format!(" of {} x {} mm", short(width.0), short(height.0)),
        _ => String::new(),
    });
    let mut all = Vec::new();
    if let Some(pages) = summary.pages {
        all.push(format!("{}{}", plural(pages, "page"), paper.unwrap_or_default()));
    }
    all.extend(summary.systems.map(|systems| plural(systems, "system")));
    all.push(plural(summary.bars, "bar"));
    if summary.movements > 1 {
        all.push(plural(summary.movements, "movement"));
    }
    all.extend(summary.staff_height.map(|height| format!("staves of {} mm", short(height.0))));
    if let (Some(share), Some(own)) = (summary.resized(), summary.file_staff_height()) {
        all.push(format!("printed at {} % ({} mm in the file)", short(share * 100.0), short(own.0)));
    }
    all.join(", ")
}

fn role(role: &RoleTaken) -> String {
    let Some(name) = &role.name else { return format!("nobody can tell whom it is for ({})", plain(&role.because)) };
    let name = name.replace('-', " ");
    match role.basis {
        Basis::Stated => format!("read as {name}, as you say"),
        Basis::House => format!("read as {name}, as the house style says"),
        Basis::Inferred => format!("read as {name}: inferred, {}", plain(&role.because)),
        Basis::Assumed | Basis::Unknown => format!("read as {name}: assumed, {}", plain(&role.because)),
    }
}

/// The colour of a level.
fn paint_of(level: Level) -> Paint {
    match level {
        Level::Error => Paint::Must,
        Level::Warning => Paint::Should,
        Level::Note => Paint::Query,
    }
}

/// Findings that differ but in their place: each place, then what they all say. Of what must change each is shown in
/// the file, of the rest the first.
fn findings(report: &AuditReport, alike: &[&Placed], file: &str, look: Look, out: &mut dyn Write) -> fmt::Result {
    let Some(first) = alike.first() else { return Ok(()) };
    let found = &first.finding;
    let (words, paint) = match &first.stet {
        Some(_) => ("stet", Paint::Quiet),
        None => (level_words(found.level), paint_of(found.level)),
    };
    writeln!(out)?;
    for placed in alike {
        let mut head = vec![look.paint(paint, words)];
        head.extend(Some(place(report, placed)).filter(|place| !place.is_empty()));
        let line = placed.spot.as_ref().filter(|_| alike.len() > 1).map(|spot| format!("(line {})", spot.line));
        head.extend(line);
        head.push(look.paint(Paint::Quiet, &format!("[{}]", found.rule)));
        writeln!(out, "  {}", head.join("  "))?;
    }
    wrapped(&plain(&found.message), INDENT, INDENT, look.width, out)?;
    if !found.advice.is_empty() {
        wrapped(&plain(&found.advice), &format!("{INDENT}To do: "), &format!("{INDENT}       "), look.width, out)?;
    }
    if let Some(because) = &found.because {
        wrapped(&format!("Taken lightly: {}.", plain(because)), INDENT, INDENT, look.width, out)?;
    }
    if let Some(stet) = &first.stet {
        let by = stet.by.as_ref().map(|by| format!(", {by}")).unwrap_or_default();
        let until = stet.until.map(|day| format!(", until {day}")).unwrap_or_default();
        let told = format!("It may stand: {}{by}{until}.", stet.reason.trim_end_matches('.'));
        return wrapped(&plain(&told), INDENT, INDENT, look.width, out);
    }
    if found.confidence == Confidence::Low {
        writeln!(out, "{INDENT}Low confidence.")?;
    }
    let shown = if found.level == Level::Error { alike.len() } else { 1 };
    for spot in alike.iter().take(shown).filter_map(|placed| placed.spot.as_ref()) {
        for line in excerpt(spot, file, look.color).lines() {
            writeln!(out, "{INDENT}{line}")?;
        }
    }
    Ok(())
}

/// Whether two findings differ but in their place.
fn alike(a: &Placed, b: &Placed) -> bool {
    let stet = a.stet == b.stet;
    let (a, b) = (&a.finding, &b.finding);
    (&a.rule, a.level, a.confidence) == (&b.rule, b.level, b.confidence)
        && (&a.message, &a.advice, &a.because) == (&b.message, &b.advice, &b.because)
        && stet
}

/// Where a finding is, in a reader's words.
pub(super) fn place(report: &AuditReport, placed: &Placed) -> String {
    let on = &placed.finding.on;
    let mut words = Vec::new();
    words.extend(on.page_name().map(|page| format!("p. {page}")));
    words.extend(on.system.map(|system| format!("system {system}")));
    words.extend(on.bars_name().map(|bars| if bars.contains('-') { format!("bars {bars}") } else { format!("bar {bars}") }));
    words.extend(on.part_name_or_id().map(str::to_owned));
    plain(&report.house.say(&words.join(", "))).into_owned()
}

/// What was tried to mend it. The command is one line, so that it can be copied.
fn repairs(report: &AuditReport, document: &DocumentAudit, look: Look, out: &mut dyn Write) -> fmt::Result {
    let mending = &document.mending;
    if let Some(why) = &mending.not_tried {
        writeln!(out)?;
        wrapped(&plain(why), "  no repair tried: ", "                   ", look.width, out)?;
    }
    for (place, repair) in mending.tried.iter().enumerate() {
        if place == 0 {
            writeln!(out)?;
        }
        let first = if repair.is_better() { "  repair: " } else { "  tried: " };
        let others = " ".repeat(first.len());
        wrapped(&plain(&format!("{}.", report.house.say(&mended::told(mending, repair)))), first, &others, look.width, out)?;
        let Some(judged) = repair.outcome.as_ref().ok().filter(|judged| judged.better) else { continue };
        for change in mended::changes(judged) {
            wrapped(&change, &others, &others, look.width, out)?;
        }
        writeln!(out, "{others}{}", plain(&mended::command(report, document, repair)))?;
    }
    Ok(())
}

/// What could not be judged, the rules of each reason together.
fn not_judged(report: &AuditReport, document: &DocumentAudit, look: Look, out: &mut dyn Write) -> fmt::Result {
    let mut reasons: Vec<(&str, Vec<&str>)> = Vec::new();
    for one in &document.not_judged {
        match reasons.iter_mut().find(|(reason, _)| *reason == one.reason) {
            Some((_, rules)) => rules.push(&one.rule),
            None => reasons.push((&one.reason, vec![&one.rule])),
        }
    }
    if !reasons.is_empty() {
        writeln!(out)?;
    }
    for (reason, rules) in reasons {
        let told = format!("{} ({})", plain(&report.house.say(reason)), rules.join(", "));
        wrapped(&told, "  not judged: ", "              ", look.width, out)?;
    }
    let must: Vec<&str> = report.must_have_judged(document).map(|one| &*one.rule).collect();
    if !must.is_empty() && !report.comes_back(document) {
        let told = format!("the house must have {} judged", must.join(", "));
        wrapped(&told, "  undecided: ", "             ", look.width, out)?;
    }
    Ok(())
}

/// What is right, and what a reason excuses.
fn right(report: &AuditReport, document: &DocumentAudit, look: Look, out: &mut dyn Write) -> fmt::Result {
    let excused = excuses(&document.excused);
    if !document.good.is_empty() || !excused.is_empty() {
        writeln!(out)?;
    }
    for good in &document.good {
        wrapped(&plain(&report.house.say(good)), "  right: ", "         ", look.width, out)?;
    }
    for one in excused {
        wrapped(&plain(&report.house.say(&one)), "  with a reason: ", "         ", look.width, out)?;
    }
    Ok(())
}

fn totals(report: &AuditReport, left_out: usize, look: Look, out: &mut dyn Write) -> fmt::Result {
    let totals = report.totals();
    let count = |number: usize, words: &str| (number > 0).then(|| format!("{number} {words}"));
    let levels = [
        count(totals.error, "must change"),
        count(totals.warning, "should change"),
        count(totals.note, if totals.note == 1 { "query" } else { "queries" }),
        count(totals.stet, "may stand"),
    ];
    let levels: Vec<String> = levels.into_iter().flatten().collect();
    let levels = if levels.is_empty() { "nothing to change".to_owned() } else { levels.join(", ") };
    let copies = if totals.files == 1 { "1 copy" } else { &format!("{} copies", totals.files) };
    let [go, back, open] = verdicts(report);
    let open_words = (open > 0).then(|| format!("{open} not judged"));
    let verdict = match (go, back, open) {
        _ if report.gate == Gate::Never => std::iter::once("no gate".to_owned()).chain(open_words).collect::<Vec<_>>().join(", "),
        (1, 0, 0) => "it can go".to_owned(),
        (_, 0, 0) => "all can go".to_owned(),
        (0, 1, 0) => "it comes back".to_owned(),
        (0, 0, 1) => "it is not judged".to_owned(),
        _ => {
            let back = (back > 0).then(|| format!("{back} {} back", if back == 1 { "comes" } else { "come" }));
            [Some(format!("{go} can go")), back, open_words].into_iter().flatten().collect::<Vec<_>>().join(", ")
        }
    };
    writeln!(out, "{}", look.paint(Paint::Name, &format!("{copies}: {verdict} ({levels})")))?;
    if left_out > 0 {
        let below = if report.gate == Gate::Never { "" } else { " below the gate" };
        writeln!(out, "{left_out}{below} not shown.")?;
    }
    let house =
        report.house.file.as_ref().map(|file| format!(" Judged by the house style in {} ({}).", plain(file), plain(&report.house.name)));
    writeln!(
        out,
        "{}",
        look.paint(Paint::Quiet, &format!("This is advice; the house and the librarian decide.{}", house.unwrap_or_default()))
    )
}

/// A text broken to the width, with what stands before its first line and before the others.
pub(super) fn wrapped(text: &str, first: &str, others: &str, width: usize, out: &mut dyn Write) -> fmt::Result {
    let width = width.max(first.width() + 20);
    let options = textwrap::Options::new(width).initial_indent(first).subsequent_indent(others).break_words(false);
    for line in textwrap::wrap(text, options) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

/// A number with at most two decimal places, no trailing zeros.
pub(super) fn short(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A number of things.
pub(super) fn plural(number: usize, word: &str) -> String {
    if number == 1 { format!("1 {word}") } else { format!("{number} {word}s") }
}
