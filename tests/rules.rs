//! Every rule against its fixtures, closed world: a `breaks-*` file breaks that rule and no other, a `keeps-*` file none.
//!
//! The verdict is in the file's name (`breaks-*-softer`: less gravely than without a reason), the role in
//! `fixtures/rules/roles.toml`. What the rules hold is published or common practice, with its source in the rule file.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use stavegauge::audit::{DocumentAudit, Placed};
use stavegauge::house::Date;
use stavegauge::rule::Level;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use support::engine::Engine;

const FIXTURES: &str = "fixtures/rules";

fn roles() -> BTreeMap<String, String> {
    let text = fs::read_to_string(format!("{FIXTURES}/roles.toml")).expect("the table of roles is there");
    toml::from_str(&text).expect("it is a table of texts")
}

/// Files of a rule, by rule.
fn files() -> BTreeMap<String, Vec<PathBuf>> {
    let list = |path: &Path| -> Vec<PathBuf> {
        let mut found: Vec<PathBuf> = fs::read_dir(path).into_iter().flatten().flatten().map(|entry| entry.path()).collect();
        found.sort();
        found
    };
    let folders = list(Path::new(FIXTURES)).into_iter().filter(|path| path.is_dir());
    folders.map(|folder| (folder.file_name().expect("it has a name").to_string_lossy().into_owned(), list(&folder))).collect()
}

/// What is found in a fixture: a file, or a folder of files that belong together, with the house style `house.toml` if one
/// lies among them. Documents, and findings on the house style.
fn audit(engine: &Engine, fixture: &Path, role: Option<&str>) -> (Vec<DocumentAudit>, Vec<Placed>) {
    if !fixture.is_dir() {
        return (engine.audit_file(fixture, role), Vec::new());
    }
    let today = Date::new(2026, 11, 27).expect("a day");
    match fs::read_to_string(fixture.join("house.toml")) {
        Ok(style) => Engine::of(&style).audit_folder(fixture, today),
        Err(_) => engine.audit_folder(fixture, today),
    }
}

/// The gravest level that a rule gives.
fn gravest(engine: &Engine, rule: &str) -> Option<Level> {
    engine.rules.find(rule)?.cases.iter().map(|case| case.level).max()
}

#[test]
fn each_file_breaks_its_rule_and_nothing_else() {
    let engine = Engine::new();
    let roles = roles();
    let mut wrong = Vec::new();
    let mut checked = 0;
    for (rule, files) in files() {
        for file in files {
            let name = file.file_name().expect("it has a name").to_string_lossy().into_owned();
            let key = format!("{rule}/{name}");
            let (documents, of_house) = audit(&engine, &file, roles.get(&key).map(String::as_str));
            let mut broken = Engine::found(&documents);
            broken.extend(
                of_house.iter().map(|placed| (placed.finding.rule.to_string(), placed.finding.level, placed.finding.message.clone())),
            );
            let expected: BTreeSet<&str> = if name.starts_with("breaks-") { BTreeSet::from([rule.as_str()]) } else { BTreeSet::new() };
            let found: BTreeSet<&str> = broken.iter().map(|(rule, ..)| rule.as_str()).collect();
            // What an expired stet let stand counts again: that is what it says.
            let found: BTreeSet<&str> = found.into_iter().filter(|found| rule != "stet-expired" || *found == rule).collect();
            // What a reason only softens is no fault in full: less than its rule says without the reason.
            let too_grave =
                name.ends_with("-softer.musicxml") && broken.iter().any(|(rule, level, _)| gravest(&engine, rule) == Some(*level));
            let behaves = found == expected && !too_grave;
            if !behaves {
                wrong.push(format!("{key}: {broken:#?}"));
            }
            checked += 1;
        }
    }
    assert!(checked >= 32, "two files a rule at least, {checked} found");
    assert!(wrong.is_empty(), "{} of {checked} files:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn every_rule_has_a_breaking_and_a_keeping_file() {
    let engine = Engine::new();
    let files = files();
    for rule in engine.rules.rules() {
        let own = files.get(&*rule.id).map(Vec::as_slice).unwrap_or_default();
        for verdict in ["breaks-", "keeps-"] {
            let any = own.iter().any(|file| file.file_name().is_some_and(|name| name.to_string_lossy().starts_with(verdict)));
            assert!(any, "{} has no {verdict} file", rule.id);
        }
    }
}

/// A reason that no file needs could be struck without a test noticing.
#[test]
fn every_reason_excuses_or_softens_some_file() {
    let engine = Engine::new();
    let roles = roles();
    let mut said: BTreeSet<(String, String)> = BTreeSet::new();
    for (rule, files) in files() {
        for file in files {
            let name = file.file_name().expect("it has a name").to_string_lossy().into_owned();
            for document in audit(&engine, &file, roles.get(&format!("{rule}/{name}")).map(String::as_str)).0 {
                said.extend(document.excused.iter().map(|one| (one.rule.to_string(), one.says.clone())));
                for placed in &document.findings {
                    let because = placed.finding.because.iter().flat_map(|because| because.split("; "));
                    said.extend(because.map(|because| (placed.finding.rule.to_string(), because.to_owned())));
                }
            }
        }
    }
    let mut idle = Vec::new();
    for rule in engine.rules.rules() {
        for reason in &rule.reasons {
            if !said.contains(&(rule.id.to_string(), reason.says.text().to_owned())) {
                idle.push(format!("{}: {}", rule.id, reason.says.text()));
            }
        }
    }
    assert!(idle.is_empty(), "no file needs:\n{}", idle.join("\n"));
}

/// The same of cases: each has a file in which it is the one that speaks.
#[test]
fn every_case_speaks_in_some_file() {
    let engine = Engine::new();
    let roles = roles();
    let mut spoke: BTreeSet<(String, usize)> = BTreeSet::new();
    for (rule, files) in files() {
        for file in files {
            let name = file.file_name().expect("it has a name").to_string_lossy().into_owned();
            let (documents, of_house) = audit(&engine, &file, roles.get(&format!("{rule}/{name}")).map(String::as_str));
            let placed = documents.iter().flat_map(|document| &document.findings).chain(&of_house);
            spoke.extend(placed.map(|placed| (placed.finding.rule.to_string(), placed.finding.case)));
        }
    }
    let cases = engine.rules.rules().flat_map(|rule| (0..rule.cases.len()).map(move |case| (rule.id.to_string(), case)));
    let silent: Vec<(String, usize)> = cases.filter(|case| !spoke.contains(case)).collect();
    assert!(silent.is_empty(), "no file for: {silent:?}");
}
