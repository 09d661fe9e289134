//! `audit --report terminal`: the correction list for people.
//!
//! By document: what it is and whom it was read for; what is wrong, the gravest first and then by the harm it does, each with its place in a
//! reader's words, number against number, what to do, and the value underlined in the file; what could not be judged; what
//! is right. At the end how many copies can go.

use super::excerpt::excerpt;
use super::plain::plain;
use super::{AuditReport, Verdict, excuses};
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
        findings.sort_by_key(|placed| (std::cmp::Reverse(placed.finding.level), placed.harm));
        if look.quiet {
            let all = findings.len();
            findings.retain(|placed| report.gate.stops(placed.finding.level));
            left_out += all - findings.len();
            if findings.is_empty() {
                continue;
            }
        }
        heading(document, look, out)?;
        for alike in findings.chunk_by(|a, b| alike(a, b)) {
            self::findings(alike, document, look, out)?;
        }
        if !look.quiet {
            not_judged(document, look, out)?;
            right(document, look, out)?;
        }
        writeln!(out)?;
    }
    totals(report, left_out, look, out)
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

fn figures(summary: &Summary) -> String {
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

/// The words of practice for a level.
pub(super) fn level_words(level: Level) -> (&'static str, Paint) {
    match level {
        Level::Error => ("must change", Paint::Must),
        Level::Warning => ("should change", Paint::Should),
        Level::Note => ("query", Paint::Query),
    }
}

/// Findings that differ but in their place: each place, then what they all say. Of what must change each is shown in
/// the file, of the rest the first.
fn findings(alike: &[&Placed], document: &DocumentAudit, look: Look, out: &mut dyn Write) -> fmt::Result {
    let Some(first) = alike.first() else { return Ok(()) };
    let found = &first.finding;
    let (words, paint) = level_words(found.level);
    writeln!(out)?;
    for placed in alike {
        let mut head = vec![look.paint(paint, words)];
        head.extend(Some(place(placed)).filter(|place| !place.is_empty()));
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
    if found.confidence == Confidence::Low {
        writeln!(out, "{INDENT}Low confidence.")?;
    }
    let shown = if found.level == Level::Error { alike.len() } else { 1 };
    for spot in alike.iter().take(shown).filter_map(|placed| placed.spot.as_ref()) {
        for line in excerpt(spot, &name(document), look.color).lines() {
            writeln!(out, "{INDENT}{line}")?;
        }
    }
    Ok(())
}

/// Whether two findings differ but in their place.
fn alike(a: &Placed, b: &Placed) -> bool {
    let (a, b) = (&a.finding, &b.finding);
    (&a.rule, a.level, a.confidence) == (&b.rule, b.level, b.confidence)
        && (&a.message, &a.advice, &a.because) == (&b.message, &b.advice, &b.because)
}

/// Where a finding is, in a reader's words.
fn place(placed: &Placed) -> String {
    let on = &placed.finding.on;
    let mut words = Vec::new();
    words.extend(on.page_name().map(|page| format!("p. {page}")));
    words.extend(on.system.map(|system| format!("system {system}")));
    words.extend(on.bars_name().map(|bars| if bars.contains('-') { format!("bars {bars}") } else { format!("bar {bars}") }));
    words.extend(on.part_name_or_id().map(str::to_owned));
    plain(&words.join(", ")).into_owned()
}

/// What could not be judged, the rules of each reason together.
fn not_judged(document: &DocumentAudit, look: Look, out: &mut dyn Write) -> fmt::Result {
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
        wrapped(&format!("{} ({})", plain(reason), rules.join(", ")), "  not judged: ", "              ", look.width, out)?;
    }
    Ok(())
}

/// What is right, and what a reason excuses.
fn right(document: &DocumentAudit, look: Look, out: &mut dyn Write) -> fmt::Result {
    let excused = excuses(&document.excused);
    if !document.good.is_empty() || !excused.is_empty() {
        writeln!(out)?;
    }
    for good in &document.good {
        wrapped(&plain(good), "  right: ", "         ", look.width, out)?;
    }
    for one in excused {
        wrapped(&plain(&one), "  with a reason: ", "         ", look.width, out)?;
    }
    Ok(())
}

fn totals(report: &AuditReport, left_out: usize, look: Look, out: &mut dyn Write) -> fmt::Result {
    let totals = report.totals();
    let back = report.documents.iter().filter(|document| report.comes_back(document)).count();
    let crashed = report.documents.iter().filter(|document| document.crashed).count();
    let go = totals.files - back - crashed;
    let count = |number: usize, words: &str| (number > 0).then(|| format!("{number} {words}"));
    let levels = [
        count(totals.error, "must change"),
        count(totals.warning, "should change"),
        count(totals.note, if totals.note == 1 { "query" } else { "queries" }),
    ];
    let levels: Vec<String> = levels.into_iter().flatten().collect();
    let levels = if levels.is_empty() { "nothing to change".to_owned() } else { levels.join(", ") };
    let copies = if totals.files == 1 { "1 copy" } else { &format!("{} copies", totals.files) };
    let verdict = match (report.verdict(), back) {
        (Verdict::Pass, _) if totals.files == 1 => "it can go".to_owned(),
        (Verdict::Pass, _) => "all can go".to_owned(),
        (Verdict::Fail, _) if totals.files == 1 => "it comes back".to_owned(),
        (_, back) => {
            let back = (back > 0).then(|| format!("{back} {} back", if back == 1 { "comes" } else { "come" }));
            let crashed = (crashed > 0).then(|| format!("{crashed} not judged"));
            [Some(format!("{go} can go")), back, crashed].into_iter().flatten().collect::<Vec<_>>().join(", ")
        }
    };
    writeln!(out, "{}", look.paint(Paint::Name, &format!("{copies}: {verdict} ({levels})")))?;
    if left_out > 0 {
        writeln!(out, "{left_out} below the gate not shown.")?;
    }
    writeln!(out, "{}", look.paint(Paint::Quiet, "This is advice; the house and the librarian decide."))
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
