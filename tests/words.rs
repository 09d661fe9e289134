//! Read aloud: what is said to people uses no Greek letter, no name of `MusicXML`, and no word that the trade does not.
//!
//! The names are those with a hyphen in the schema of `MusicXML` 4.0 (W3C Music Notation Community Group), in
//! `tests/support/musicxml_names.txt`; the words are those of the project's own practice: a level is *must change*, *should
//! change* or *query*; *opening* is two facing pages; a looseness is *percent of natural*; *bar*, not *measure*.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use support::engine::Engine;

const NAMES: &str = include_str!("support/musicxml_names.txt");

/// Words that are replaced in what is said to people.
const REPLACED: [&str; 24] = [
    "spread",
    "spreads",
    "strain",
    "strains",
    "lambda",
    "kappa",
    "waive",
    "waived",
    "waiver",
    "suppressed",
    "suppression",
    "violation",
    "violates",
    "severity",
    "lint",
    "xml",
    "musicxml",
    "element",
    "attribute",
    "measure",
    "measures",
    "false-positive",
    "null",
    "stdin",
];
/// Levels as machines call them: not for people.
const LEVELS: [&str; 4] = ["error", "errors", "warning", "warnings"];

/// What is wrong with a text, if something is.
fn faults(text: &str) -> Vec<String> {
    let mut faults: Vec<String> = text.chars().filter(|letter| ('\u{370}'..='\u{3ff}').contains(letter)).map(String::from).collect();
    let names: BTreeSet<&str> = NAMES.lines().collect();
    let lower = text.to_lowercase();
    let words = lower.split(|letter: char| !(letter.is_alphanumeric() || letter == '-')).filter(|word| !word.is_empty());
    faults.extend(words.filter(|word| names.contains(word) || REPLACED.contains(word) || LEVELS.contains(word)).map(str::to_owned));
    if text.contains('<') || text.contains("/>") {
        faults.push("a tag".to_owned());
    }
    faults
}

/// Files below a folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).expect("it is there").map(|entry| entry.expect("readable").path());
    let mut found: Vec<PathBuf> = entries.flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] }).collect();
    found.sort();
    found
}

#[test]
fn the_test_itself_hears_what_is_wrong() {
    for (text, heard) in [
        ("the strain is 1.2", "strain"),
        ("λ is 1.2", "λ"),
        ("set the system-distance", "system-distance"),
        ("an error", "error"),
        ("white in the spread", "spread"),
    ] {
        assert_eq!(faults(text), [heard], "{text}");
    }
    assert!(faults("p. 7, one system: 112 mm of 267 is white let in between the staves").is_empty());
}

/// Everything written in the rule files for people: titles, reasons, limits, messages with all their wordings.
#[test]
fn rule_files_read_aloud() {
    let engine = Engine::new();
    let mut wrong = Vec::new();
    for rule in engine.rules.rules() {
        let mut texts: Vec<String> = vec![rule.title.clone(), rule.why.clone()];
        texts.extend(rule.exemptions.iter().cloned());
        texts.extend(rule.cases.iter().flat_map(|case| [spoken(case.message.text()), spoken(case.advice.text())]));
        texts.extend(rule.reasons.iter().map(|reason| spoken(reason.says.text())));
        texts.extend(rule.limits.iter().map(|limit| limit.what.clone()));
        // A damaged file is told in the words of what it is written in.
        let examples = rule.examples.iter().filter(|_| &*rule.id != "damaged-file");
        texts.extend(
            examples.flat_map(|example| {
                engine.rules.said_of(rule, example).map(|(message, _)| message).into_iter().chain([example.name.clone()])
            }),
        );
        wrong.extend(
            texts.into_iter().filter(|text| !faults(text).is_empty()).map(|text| format!("{}: {:?} in {text}", rule.id, faults(&text))),
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A template without what stands in its braces.
fn spoken(template: &str) -> String {
    let mut text = String::new();
    let mut rest = template;
    while let Some(start) = rest.find("{%").into_iter().chain(rest.find("{{")).min() {
        text.push_str(&rest[..start]);
        text.push(' ');
        let close = if rest[start..].starts_with("{%") { "%}" } else { "}}" };
        rest = rest[start..].split_once(close).map_or("", |(_, after)| after);
    }
    text + rest
}

/// Everything that is said of the fixtures and of the demo set: messages, advice, what is not judged, what is right.
#[test]
fn reports_read_aloud() {
    let engine = Engine::new();
    let mut wrong = BTreeSet::new();
    let mut heard = 0;
    for path in files(Path::new("fixtures")).into_iter().filter(|path| path.extension().is_some_and(|end| end == "musicxml")) {
        // What cannot be read is told in the words of its reader, who has to mend the file itself.
        for document in engine.audit_file(&path, None).into_iter().filter(|document| document.summary.is_some()) {
            let found = document.findings.iter().map(|placed| &placed.finding).filter(|finding| &*finding.rule != "damaged-file");
            let mut texts: Vec<String> = found.flat_map(|finding| [finding.message.clone(), finding.advice.clone()]).collect();
            texts.extend(document.not_judged.iter().map(|one| one.reason.clone()));
            texts.extend(document.excused.iter().map(|one| one.says.clone()));
            texts.extend(document.good.iter().cloned());
            heard += texts.len();
            wrong.extend(texts.into_iter().filter(|text| !faults(text).is_empty()).map(|text| format!("{:?} in {text}", faults(&text))));
        }
    }
    assert!(heard > 500, "{heard} texts");
    assert!(wrong.is_empty(), "{}", wrong.into_iter().collect::<Vec<_>>().join("\n"));
}
