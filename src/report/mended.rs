//! What was tried to mend a copy, in words for all reports.

use super::AuditReport;
use super::terminal::plural;
use crate::audit::DocumentAudit;
use crate::audit::mending::{Judged, Mending, Repair};
use crate::house::Basis;

/// What a repair comes to, as a sentence without its stop.
pub(super) fn told(mending: &Mending, repair: &Repair) -> String {
    let what = repair.words();
    let judged = match &repair.outcome {
        Ok(judged) => judged,
        Err(why) => return format!("{what}: {}", why.trim_end_matches('.')),
    };
    let then = |number: usize, now: usize| if number == now { format!("{number} as now") } else { format!("{number} instead of {now}") };
    let pages = if judged.pages == mending.pages_now {
        format!("{} as now", plural(judged.pages, "page"))
    } else {
        format!("{} instead of {}", plural(judged.pages, "page"), mending.pages_now)
    };
    let words = ["must change", "should change", "queries"];
    let levels = judged.levels.iter().zip(mending.now).zip(words).filter(|((number, now), _)| **number + now > 0);
    let levels: Vec<String> = levels.map(|((number, now), words)| format!("{words} {}", then(*number, now))).collect();
    let worth = if judged.better { "" } else { ", no better by the rules" };
    let first = if mending.timewise { "; the file must be converted to score-partwise before it can be written so" } else { "" };
    format!("{what}: {pages}{worth}; {}{first}", levels.join(", "))
}

/// Rules that find less then, and those that find more: each with how many now and then.
pub(super) fn changes(judged: &Judged) -> Vec<String> {
    let list = |fewer: bool| {
        let rules = judged.rules.iter().filter(|(_, [before, after])| (after < before) == fewer);
        rules.map(|(rule, [before, after])| format!("{rule} {before} to {after}")).collect::<Vec<_>>().join(", ")
    };
    let told = [("less", list(true)), ("more", list(false))];
    told.into_iter().filter(|(_, rules)| !rules.is_empty()).map(|(word, rules)| format!("{word}: {rules}")).collect()
}

/// The command that casts a document off so.
pub(super) fn command(report: &AuditReport, document: &DocumentAudit, repair: &Repair) -> String {
    let mut words = vec!["stavegauge".to_owned(), "castoff".to_owned(), named(&document.path)];
    if let (Basis::Stated, Some(role)) = (document.role.basis, &document.role.name) {
        words.extend(["--role".to_owned(), role.clone()]);
    }
    if let Some(file) = &report.house.file {
        words.extend(["--house".to_owned(), quoted(file)]);
    }
    words.extend(repair.options());
    words.extend(["--write".to_owned(), "NEW.musicxml".to_owned()]);
    words.join(" ")
}

/// A path that is taken for no option.
fn named(path: &str) -> String {
    quoted(&if path.starts_with('-') && path != "-" { format!("./{path}") } else { path.to_owned() })
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |letter: char| letter.is_alphanumeric() || "-_./+:@%,=".contains(letter);
    if !word.is_empty() && word.chars().all(plain) { word.to_owned() } else { format!("'{}'", word.replace('\'', "'\\''")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_for_a_shell() {
        assert_eq!(quoted("parts/03-oboe.musicxml"), "parts/03-oboe.musicxml");
        assert_eq!(quoted("a b"), "'a b'");
        assert_eq!(named("-dash.musicxml"), "./-dash.musicxml");
        assert_eq!(quoted("it's"), "'it'\\''s'");
    }
}
