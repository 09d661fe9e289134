//! `audit --report markdown`: the correction list that an editor sends back. No lines of XML: those who mend a copy see pages,
//! systems and bars.

use super::explain::escaped;
use super::{AuditReport, Totals, count, excuses, level_words, mended, outcome, verdict_sentence, verdict_words};
use crate::audit::{DocumentAudit, Placed};
use crate::rule::Level;
use std::fmt::{self, Write};

/// Writes the report.
///
/// # Errors
/// Those of `out`.
pub fn write(report: &AuditReport, out: &mut dyn Write) -> fmt::Result {
    writeln!(out, "# Corrections")?;
    writeln!(out)?;
    if report.house.file.is_some() {
        writeln!(out, "House style: {}.", escaped(&report.house.name))?;
        writeln!(out)?;
    }
    writeln!(out, "{}.", outcome(report))?;
    writeln!(out)?;
    summary(report, out)?;
    for document in report.documents {
        copy(report, document, out)?;
    }
    house(report, out)?;
    writeln!(out)?;
    writeln!(out, "This is advice; the house and the librarian decide.")
}

/// A row a copy.
fn summary(report: &AuditReport, out: &mut dyn Write) -> fmt::Result {
    row(out, &["copy", "for", "pages", "must", "should", "query", "stet", "verdict"].map(str::to_owned))?;
    row(out, &["---", "---", "--:", "--:", "--:", "--:", "--:", "---"].map(str::to_owned))?;
    for document in report.documents {
        let Totals { error, warning, note, stet, .. } = count(document.findings.iter());
        let pages = document.summary.as_ref().and_then(|summary| summary.pages);
        let reader = document.role.name.as_ref().map_or_else(|| "not known".to_owned(), |role| role.replace('-', " "));
        row(
            out,
            &[
                escaped(&name(document)),
                escaped(&reader),
                pages.map_or_else(String::new, |pages| pages.to_string()),
                error.to_string(),
                warning.to_string(),
                note.to_string(),
                stet.to_string(),
                verdict_words(report, document).to_owned(),
            ],
        )?;
    }
    Ok(())
}

/// Its file, and the member of a container.
fn name(document: &DocumentAudit) -> String {
    let member = document.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
    format!("{}{member}", document.path)
}

fn row(out: &mut dyn Write, cells: &[String]) -> fmt::Result {
    writeln!(out, "| {} |", cells.join(" | "))
}

fn heading(out: &mut dyn Write, level: usize, text: &str) -> fmt::Result {
    writeln!(out)?;
    writeln!(out, "{} {text}", "#".repeat(level))?;
    writeln!(out)
}

fn copy(report: &AuditReport, document: &DocumentAudit, out: &mut dyn Write) -> fmt::Result {
    heading(out, 2, &escaped(&name(document)))?;
    writeln!(out, "{}", verdict_sentence(report, document))?;
    if document.crashed {
        writeln!(out)?;
        writeln!(out, "The program itself failed on it; that is not the fault of the copy.")?;
        return Ok(());
    }
    for level in [Level::Error, Level::Warning, Level::Note] {
        let mut findings: Vec<&Placed> =
            document.findings.iter().filter(|placed| placed.counts() && placed.finding.level == level).collect();
        findings.sort_by_key(|placed| placed.harm);
        if !findings.is_empty() {
            heading(out, 3, &capital(if level == Level::Note { "queries" } else { level_words(level) }))?;
            corrections(report, &findings, out)?;
        }
    }
    let stets: Vec<&Placed> = document.findings.iter().filter(|placed| !placed.counts()).collect();
    if !stets.is_empty() {
        heading(out, 3, "Stet")?;
        row(out, &["no.", "page", "system", &report.house.say("bar"), "what", "why it stands", "by", "until"].map(str::to_owned))?;
        row(out, &["--:", "---", "---", "---", "---", "---", "---", "---"].map(str::to_owned))?;
        for placed in stets {
            let [number, page, system, bars, part] = place(placed);
            let Some(stet) = &placed.stet else { continue };
            let what =
                if part.is_empty() { escaped(&placed.finding.message) } else { format!("{part}: {}", escaped(&placed.finding.message)) };
            let until = stet.until.map_or_else(String::new, |day| day.to_string());
            row(out, &[number, page, system, bars, what, escaped(&stet.reason), escaped(stet.by.as_deref().unwrap_or_default()), until])?;
        }
    }
    repairs(report, document, out)?;
    not_judged(report, document, out)?;
    let right: Vec<String> =
        document.good.iter().cloned().chain(excuses(&document.excused).into_iter().map(|one| format!("with a reason: {one}"))).collect();
    if !right.is_empty() {
        heading(out, 3, "Right")?;
        right.iter().try_for_each(|one| writeln!(out, "- {}", escaped(&report.house.say(one))))?;
    }
    Ok(())
}

/// What was tried to mend it.
fn repairs(report: &AuditReport, document: &DocumentAudit, out: &mut dyn Write) -> fmt::Result {
    let mending = &document.mending;
    if mending.not_tried.is_none() && mending.tried.is_empty() {
        return Ok(());
    }
    heading(out, 3, "Repairs, computed and judged anew")?;
    if let Some(why) = &mending.not_tried {
        writeln!(out, "- None tried: {}", escaped(why))?;
    }
    for repair in &mending.tried {
        let told = std::iter::once(mended::told(mending, repair)).chain(repair.outcome.iter().flat_map(mended::changes));
        writeln!(out, "- {}", escaped(&report.house.say(&told.collect::<Vec<_>>().join("; "))))?;
    }
    Ok(())
}

fn not_judged(report: &AuditReport, document: &DocumentAudit, out: &mut dyn Write) -> fmt::Result {
    if document.not_judged.is_empty() {
        return Ok(());
    }
    heading(out, 3, "Not judged")?;
    let mut reasons: Vec<(&str, Vec<String>)> = Vec::new();
    for one in &document.not_judged {
        let must = if report.must_judge.contains(&*one.rule) { " (the house must have it judged)" } else { "" };
        let rule = format!("{}{must}", one.rule);
        match reasons.iter_mut().find(|(reason, _)| *reason == one.reason) {
            Some((_, rules)) => rules.push(rule),
            None => reasons.push((&one.reason, vec![rule])),
        }
    }
    reasons.iter().try_for_each(|(reason, rules)| writeln!(out, "- {}: {}", escaped(&report.house.say(reason)), escaped(&rules.join(", "))))
}

/// Number, page, system, bars, and the part or staff.
fn place(placed: &Placed) -> [String; 5] {
    let on = &placed.finding.on;
    let escape = |text: Option<String>| text.map_or_else(String::new, |text| escaped(&text));
    [
        placed.number.to_string(),
        escape(on.page_name()),
        escape(on.system.map(|system| system.to_string())),
        escape(on.bars_name()),
        escape(on.staff_name()),
    ]
}

fn corrections(report: &AuditReport, findings: &[&Placed], out: &mut dyn Write) -> fmt::Result {
    let (bar, staff) = (report.house.say("bar"), report.house.say("staff"));
    row(out, &["no.", "page", "system", &bar, &staff, "what", "change to", "done"].map(str::to_owned))?;
    row(out, &["--:", "---", "---", "---", "---", "---", "---", ":-:"].map(str::to_owned))?;
    for placed in findings {
        let [number, page, system, bars, part] = place(placed);
        let found = &placed.finding;
        let because = found.because.as_ref().map(|because| format!(" (taken lightly: {because})")).unwrap_or_default();
        let what = escaped(&format!("{}{because}", found.message));
        row(out, &[number, page, system, bars, part, what, escaped(&found.advice), "\u{2610}".to_owned()])?;
    }
    Ok(())
}

/// What is wrong with the house style's own words.
fn house(report: &AuditReport, out: &mut dyn Write) -> fmt::Result {
    let Some(file) = report.house.file.as_ref().filter(|_| !report.house_findings.is_empty()) else { return Ok(()) };
    heading(out, 2, &format!("House style: {}", escaped(file)))?;
    for placed in report.house_findings {
        let found = &placed.finding;
        writeln!(out, "{}. {}: {} {}", placed.number, level_words(found.level), escaped(&found.message), escaped(&found.advice))?;
    }
    Ok(())
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default() + letters.as_str()
}
