//! `audit --report terminal`: the correction list for people.
//!
//! By document: what it is and whom it was read for; what is wrong, ordered by the harm it does, each with its place in a
//! reader's words, number against number, what to do, and the value underlined in the file; what could not be judged; what
//! is right. At the end how many copies can go.

use super::plain::{plain, plain_lines};
use super::{AuditReport, Verdict, excuses};
use crate::audit::{DocumentAudit, Placed, RoleTaken, Summary};
use crate::house::Basis;
use crate::musicxml::Spot;
use crate::place::Confidence;
use crate::rule::Level;
use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, NamedSource, SourceCode};
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
        findings.sort_by_key(|placed| placed.harm);
        if look.quiet {
            let all = findings.len();
            findings.retain(|placed| report.gate.stops(placed.finding.level));
            left_out += all - findings.len();
            if findings.is_empty() {
                continue;
            }
        }
        heading(document, look, out)?;
        for placed in findings {
            finding(placed, &document.path, look, out)?;
        }
        if !look.quiet {
            not_judged(document, look, out)?;
            right(document, look, out)?;
        }
        writeln!(out)?;
    }
    totals(report, left_out, look, out)
}

fn heading(document: &DocumentAudit, look: Look, out: &mut dyn Write) -> fmt::Result {
    let member = document.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
    writeln!(out, "{}", look.paint(Paint::Name, &plain(&format!("{}{member}", document.path))))?;
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

fn finding(placed: &Placed, path: &str, look: Look, out: &mut dyn Write) -> fmt::Result {
    let found = &placed.finding;
    let (words, paint) = level_words(found.level);
    writeln!(out)?;
    let place = place(placed);
    let rule = look.paint(Paint::Quiet, &format!("[{}]", found.rule));
    if place.is_empty() {
        writeln!(out, "  {}  {rule}", look.paint(paint, words))?;
    } else {
        writeln!(out, "  {}  {place}  {rule}", look.paint(paint, words))?;
    }
    wrapped(&plain(&found.message), INDENT, INDENT, look.width, out)?;
    if !found.advice.is_empty() {
        wrapped(&plain(&found.advice), &format!("{INDENT}To do: "), &format!("{INDENT}       "), look.width, out)?;
    }
    if let Some(because) = &found.because {
        wrapped(&format!("Taken lightly: {}.", plain(because)), INDENT, INDENT, look.width, out)?;
    } else if found.confidence == Confidence::Low {
        writeln!(out, "{INDENT}Low confidence.")?;
    }
    placed.spot.as_ref().map_or(Ok(()), |spot| excerpt(spot, path, look, out))
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

/// The lines of the file with the value underlined.
fn excerpt(spot: &Spot, path: &str, look: Look, out: &mut dyn Write) -> fmt::Result {
    #[derive(Debug)]
    struct Excerpt {
        source: NamedSource<Offset>,
        label: LabeledSpan,
    }
    impl fmt::Display for Excerpt {
        fn fmt(&self, _: &mut fmt::Formatter<'_>) -> fmt::Result {
            Ok(())
        }
    }
    impl std::error::Error for Excerpt {}
    impl Diagnostic for Excerpt {
        fn source_code(&self) -> Option<&dyn SourceCode> {
            Some(&self.source)
        }
        fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
            Some(Box::new(std::iter::once(self.label.clone())))
        }
    }
    let text = Offset { text: plain_lines(&spot.excerpt), lines_before: usize::try_from(spot.first_line.saturating_sub(1)).unwrap_or(0) };
    let excerpt = Excerpt { source: NamedSource::new(plain(path), text), label: LabeledSpan::new(None, spot.mark.start, spot.mark.len()) };
    let theme = if look.color { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
    let handler = GraphicalReportHandler::new_themed(theme).with_context_lines(1).with_width(usize::MAX).with_links(false);
    let mut drawn = String::new();
    handler.render_report(&mut drawn, &excerpt)?;
    // The first lines are the handler's headline, which has been told already.
    let lines = drawn.lines().skip_while(|line| !line.contains('\u{256d}'));
    for line in lines.filter(|line| !line.trim().is_empty()) {
        writeln!(out, "{INDENT}{}", line.trim_end())?;
    }
    Ok(())
}

/// A few lines out of a long text, which know how many lines stand before them: the handler need not see the whole text.
#[derive(Debug)]
struct Offset {
    text: String,
    lines_before: usize,
}

impl SourceCode for Offset {
    fn read_span<'a>(
        &'a self,
        span: &miette::SourceSpan,
        context_lines_before: usize,
        context_lines_after: usize,
    ) -> Result<Box<dyn miette::SpanContents<'a> + 'a>, miette::MietteError> {
        let inner = self.text.read_span(span, context_lines_before, context_lines_after)?;
        Ok(Box::new(miette::MietteSpanContents::new(
            inner.data(),
            *inner.span(),
            inner.line() + self.lines_before,
            inner.column(),
            inner.line_count(),
        )))
    }
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
    let go = report.documents.iter().filter(|document| report.may_go(document)).count();
    let back = totals.files - go;
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
        (_, 1) if totals.files == 1 => "it comes back".to_owned(),
        (_, back) => format!("{go} can go, {back} {} back", if back == 1 { "comes" } else { "come" }),
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
