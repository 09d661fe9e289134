//! `compare` for people: copy by copy what is mended, new, open again and still there.

use super::explain::escaped;
use super::level_words;
use super::plain::plain;
use super::terminal::{Look, Paint, wrapped};
use crate::round::{Changed, Comparison, CopyChanges, RoundFinding};
use std::fmt::{self, Write};

/// A class of findings: its name, its colour, each finding with its level in words.
type Class<'a> = (&'static str, Paint, Vec<(&'a RoundFinding, String)>);

/// The classes of findings, in the order they are told.
fn classes(copy: &CopyChanges) -> [Class<'_>; 5] {
    let told = |finding: &RoundFinding| level_words(finding.level).to_owned();
    let changed = |one: &Changed| match one.now.level.cmp(&one.was) {
        std::cmp::Ordering::Equal => level_words(one.now.level).to_owned(),
        std::cmp::Ordering::Greater => format!("{}, graver than before", level_words(one.now.level)),
        std::cmp::Ordering::Less => format!("{}, milder than before", level_words(one.now.level)),
    };
    [
        ("open again", Paint::Must, copy.reopened.iter().map(|one| (one, told(one))).collect()),
        ("new", Paint::Must, copy.new.iter().map(|one| (one, told(one))).collect()),
        ("mended", Paint::Query, copy.mended.iter().map(|one| (one, told(one))).collect()),
        ("remaining", Paint::Should, copy.remaining.iter().map(|one| (&one.now, changed(one))).collect()),
        ("stet", Paint::Quiet, copy.stet.iter().map(|one| (one, told(one))).collect()),
    ]
}

fn name(copy: &CopyChanges) -> String {
    let member = copy.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
    format!("{}{member}", copy.path)
}

/// The two rounds that are held against each other.
fn heading(comparison: &Comparison) -> String {
    match comparison.rounds.as_slice() {
        [.., old, new] => format!("{old} against {new}"),
        _ => String::new(),
    }
}

/// How many of each class there are in some copies.
fn counts<'a>(copies: impl Iterator<Item = &'a CopyChanges>) -> String {
    let mut numbers: Vec<(&str, usize)> = Vec::new();
    for copy in copies {
        for (index, (class, _, findings)) in classes(copy).into_iter().enumerate() {
            match numbers.get_mut(index) {
                Some((_, number)) => *number += findings.len(),
                None => numbers.push((class, findings.len())),
            }
        }
    }
    let told = numbers.into_iter().filter(|(class, number)| *number > 0 || *class == "mended" || *class == "new");
    let told: Vec<String> = told.map(|(class, number)| format!("{number} {class}")).collect();
    if told.is_empty() { "nothing found".to_owned() } else { told.join(", ") }
}

/// Writes all of it for a terminal.
///
/// # Errors
/// Those of `out`.
pub fn terminal(comparison: &Comparison, look: Look, out: &mut dyn Write) -> fmt::Result {
    writeln!(out, "{}", look.paint(Paint::Name, &heading(comparison)))?;
    writeln!(out)?;
    changes(comparison, look, out)?;
    writeln!(out, "{}", look.paint(Paint::Quiet, "This is advice; the house and the librarian decide."))
}

/// Writes what changed, copies that are as they were in one line.
///
/// # Errors
/// Those of `out`.
pub fn changes(comparison: &Comparison, look: Look, out: &mut dyn Write) -> fmt::Result {
    for copy in &comparison.copies {
        let told = [(copy.added, "not in the round before"), (copy.gone, "no longer there")];
        let told = told.iter().find(|(holds, _)| *holds).map(|(_, words)| format!("  ({words})")).unwrap_or_default();
        let classes = classes(copy);
        if classes.iter().all(|(.., findings)| findings.is_empty()) && told.is_empty() {
            continue;
        }
        writeln!(out, "{}{told}", look.paint(Paint::Name, &plain(&name(copy))))?;
        for (class, paint, findings) in classes {
            for (finding, level) in findings {
                let place = if finding.place.is_empty() { String::new() } else { format!("  {}", plain(&finding.place)) };
                writeln!(
                    out,
                    "  {}  no. {}  {level}{place}  {}",
                    look.paint(paint, class),
                    finding.number,
                    look.paint(Paint::Quiet, &format!("[{}]", finding.rule))
                )?;
                wrapped(&plain(&finding.message), "    ", "    ", look.width, out)?;
            }
        }
        writeln!(out)?;
    }
    writeln!(out, "{}", look.paint(Paint::Name, &counts(comparison.copies.iter())))
}

/// Writes all of it as Markdown.
///
/// # Errors
/// Those of `out`.
pub fn markdown(comparison: &Comparison, out: &mut dyn Write) -> fmt::Result {
    writeln!(out, "# Corrections: {}", heading(comparison))?;
    writeln!(out)?;
    writeln!(out, "{}.", counts(comparison.copies.iter()))?;
    for copy in &comparison.copies {
        writeln!(out)?;
        writeln!(out, "## {}", escaped(&name(copy)))?;
        writeln!(out)?;
        if copy.gone {
            writeln!(out, "It is no longer there.")?;
            continue;
        }
        writeln!(out, "{}{}.", if copy.added { "It was not in the round before; " } else { "" }, counts(std::iter::once(copy)))?;
        let classes = classes(copy);
        if classes.iter().all(|(.., findings)| findings.is_empty()) {
            continue;
        }
        writeln!(out)?;
        writeln!(out, "| | no. | level | where | what | change to |")?;
        writeln!(out, "| --- | --: | --- | --- | --- | --- |")?;
        for (class, _, findings) in classes {
            for (finding, level) in findings {
                let advice = if matches!(class, "mended" | "stet") { String::new() } else { escaped(&finding.advice) };
                writeln!(
                    out,
                    "| {class} | {} | {level} | {} | {} | {advice} |",
                    finding.number,
                    escaped(&finding.place),
                    escaped(&finding.message)
                )?;
            }
        }
    }
    writeln!(out)?;
    writeln!(out, "This is advice; the house and the librarian decide.")
}
