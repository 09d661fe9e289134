//! `explain`, `completions` and `manual` as they are run.
//!
//! What must be told is taken from the TOML of the rules, readers and papers. Exit codes: the contract.

#![allow(clippy::expect_used, clippy::panic, reason = "a test that cannot go on fails")]

#[path = "support/rule_files.rs"]
mod rule_files;
#[path = "support/run.rs"]
mod support;

use rule_files::{list, number, readers, rule_files, text, told, toml_file};
use std::fs;
use std::path::Path;
use std::process::Command;
use support::{Run, program, run};

const DECIDE: &str = "The tool advises; the house and the librarian decide.";

/// The program with some columns, in the folder of the repository.
fn wide(columns: &str, arguments: &[&str]) -> Run {
    let output = program(Path::new(env!("CARGO_MANIFEST_DIR")), arguments).env("COLUMNS", columns).output().expect("runs");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    Run { code: output.status.code(), out: text(output.stdout), err: text(output.stderr) }
}

fn explain(arguments: &[&str]) -> String {
    let run = run(Path::new(env!("CARGO_MANIFEST_DIR")), &[&["explain"], arguments].concat());
    assert_eq!((run.code, run.err.as_str()), (Some(0), ""), "{arguments:?}");
    run.out
}

/// A text without its line breaks.
fn joined(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Every page there is, by its arguments.
fn all_pages() -> Vec<Vec<String>> {
    let owned = |arguments: &[&str]| arguments.iter().map(|one| (*one).to_owned()).collect::<Vec<_>>();
    let mut pages = vec![owned(&[]), owned(&["--roles"]), owned(&["--papers"]), owned(&["--fields"])];
    pages.extend(rule_files().into_keys().map(|id| vec![id]));
    pages.extend(list(&toml_file("roles"), "role").iter().map(|role| owned(&["--role", text(role, "name")])));
    pages
}

#[test]
fn without_a_rule_all_are_listed_a_line_each() {
    let out = explain(&[]);
    for (id, rule) in rule_files() {
        let line = out.lines().find(|line| line.split_whitespace().next() == Some(&id)).unwrap_or_else(|| panic!("{id}: {out}"));
        let levels: Vec<&str> = list(&rule, "case").iter().map(|case| text(case, "level")).collect();
        let gravest = *["error", "warning", "note"].iter().find(|level| levels.contains(level)).expect("a case");
        let words = rule_files::level(gravest);
        let words = words.split(" (").next().expect("words");
        assert!(line.contains(words) && line.ends_with(text(&rule, "title")), "{line}");
    }
}

#[test]
fn each_rule_is_told_whole() {
    for (id, rule) in rule_files() {
        let out = joined(&explain(&[&id]));
        for words in told(&rule) {
            // What stands in a table is broken in its cell: then each of its words is there (docs/rules holds them in order).
            let whole = out.contains(&joined(&words)) || words.split_whitespace().all(|word| out.contains(word));
            assert!(whole, "{id} does not tell: {words}\n{out}");
        }
        assert!(out.ends_with(DECIDE), "{id}");
        for name in list(&rule, "aliases").iter().filter_map(toml::Value::as_str) {
            assert_eq!(joined(&explain(&[name])), out, "{name}");
        }
    }
}

#[test]
fn readers_and_papers() {
    let (roles, papers) = (explain(&["--roles"]), explain(&["--papers"]));
    let cells = |out: &str, name: &str| -> Vec<String> {
        let row = out.lines().map(str::trim).find_map(|line| line.strip_prefix(name)?.strip_prefix("  "));
        row.unwrap_or_else(|| panic!("{name}: {out}"))
            .split("  ")
            .map(str::trim)
            .filter(|cell| !cell.is_empty())
            .map(str::to_owned)
            .collect()
    };
    for role in &readers() {
        let found = cells(&roles, text(role, "name"));
        let heights = role.get("staff_height_mm").expect("heights");
        for (name, cell) in ["least", "good", "ideal", "most"].iter().zip(&found) {
            let value = heights.get(name).and_then(|fact| fact.get("value")).expect("a value");
            // Beside each number stands the number of its source.
            let (told, source) = cell.split_once(" [").expect("a source");
            assert_eq!(told, number(value), "{}", text(role, "name"));
            assert!(roles.contains(&format!("- [{source} ")), "{source}");
        }
    }
    for paper in list(&toml_file("papers"), "paper") {
        let found = cells(&papers, text(paper, "name"));
        let (from, place) = if paper.get("width_mm").is_some() { ("mm", 0) } else { ("in", 1) };
        let side = |name: &str| number(paper.get(format!("{name}_{from}")).expect("a side"));
        assert_eq!(found.get(place), Some(&format!("{} x {}", side("width"), side("height"))), "{}", text(paper, "name"));
    }
}

#[test]
fn a_reader_changes_the_numbers_and_each_has_its_source() {
    let file = toml_file("roles");
    let plain = explain(&["small-staff"]);
    for role in &readers() {
        let name = text(role, "name");
        // Where this reader usually sits.
        let dim = role.get("light").and_then(toml::Value::as_str) == Some("dim");
        let heights = role.get("staff_height_dim_mm").filter(|_| dim).or_else(|| role.get("staff_height_mm"));
        let least = heights.and_then(|heights| heights.get("least")).expect("least");
        let told = format!("role.least_mm: {} mm\n", number(least.get("value").expect("a value")));
        let source = file.get("source").and_then(|sources| sources.get(text(least, "source"))).expect("its source");
        let by = joined(&format!("{}: {} [{}]", text(source, "title"), text(source, "says"), text(source, "mark")));
        for arguments in [&["small-staff", "--role", name][..], &["--role", name]] {
            let out = explain(arguments);
            assert!(out.contains(&told) && out.contains(text(role, "title")), "{arguments:?}: {out}");
            let after = out.split(&told).nth(1).expect("told").split("role.").next().expect("the next");
            assert!(joined(after).contains(&format!("Who says so: {by}")), "{arguments:?}: {after}");
            assert!(!plain.contains(&told));
        }
    }
    assert!(joined(&explain(&["no-layout", "--role", "full-score"])).contains("Nothing in this rule turns on the reader."));
}

#[test]
fn what_is_not_known_is_refused_with_the_nearest_name() {
    let cases: &[(&[&str], &str)] = &[
        (&["explain", "smal-staff"], "Did you mean small-staff?"),
        (&["explain", "nothing-like-it"], "There are: "),
        (&["explain", "small-staff", "--role", "orchestral-winds-part"], "orchestral-wind-part"),
        (&["explain", "--role", "zzz"], "full-score"),
        (&["explain", "--roles", "--papers"], "--papers"),
        (&["explain", "small-staff", "--roles"], "--roles"),
        (&["explain", "--fields", "--role", "full-score"], "--fields"),
        (&["explain", "small-staff", "--report", "json"], "terminal, markdown"),
        (&["explain", "--report", "markdown", "--report", "terminal"], "standard output"),
        (&["completions"], "SHELL"),
        (&["completions", "fsh"], "fish"),
    ];
    for (arguments, says) in cases {
        let run = run(Path::new(env!("CARGO_MANIFEST_DIR")), arguments);
        assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{arguments:?}: {run:?}");
        assert!(run.err.contains(says), "{arguments:?}: {}", run.err);
    }
}

#[test]
fn pages_keep_to_the_width_and_are_plain_where_nobody_looks() {
    for page in all_pages() {
        let arguments: Vec<&str> = std::iter::once("explain").chain(page.iter().map(String::as_str)).collect();
        for columns in [60, 120] {
            let run = wide(&columns.to_string(), &arguments);
            assert_eq!(run.code, Some(0), "{arguments:?}");
            for line in run.out.lines() {
                assert!(line.chars().count() <= columns, "{arguments:?} at {columns}: {line}");
                assert!(!line.contains(['\u{1b}', '\u{a0}']) && line.trim_end() == line, "{arguments:?}: {line:?}");
            }
        }
    }
    assert!(explain(&["small-staff", "--color", "always"]).contains("\u{1b}[1m"));
}

#[test]
fn markdown_is_what_the_docs_hold() {
    let docs = |name: &str| fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/rules").join(name)).expect("committed");
    let mut pages: Vec<(String, String)> = rule_files().into_keys().map(|id| (id.clone(), format!("{id}.md"))).collect();
    pages.extend(
        [("--roles", "readers.md"), ("--papers", "papers.md"), ("--fields", "fields.md")].map(|(a, b)| (a.to_owned(), b.to_owned())),
    );
    for (argument, name) in pages {
        assert_eq!(explain(&[&argument, "--report", "markdown"]), docs(&name), "{argument}");
    }
    assert_eq!(explain(&["--report", "markdown"]), docs("README.md"));
    let folder = tempfile::tempdir().expect("made");
    let run = run(folder.path(), &["explain", "--report", "markdown=rules.md", "--report", "terminal"]);
    assert_eq!((run.code, fs::read_to_string(folder.path().join("rules.md")).expect("written")), (Some(0), docs("README.md")));
    assert!(run.out.starts_with("The rule book\n"));
}

/// Runs a program that may not be there; `None` where it is not.
fn other(name: &str, arguments: &[&str]) -> Option<std::process::Output> {
    match Command::new(name).args(arguments).output() {
        Ok(output) => Some(output),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => None,
        Err(error) => panic!("{name}: {error}"),
    }
}

#[test]
fn completions_can_be_read_by_their_shells() {
    let folder = tempfile::tempdir().expect("made");
    let roles = toml_file("roles");
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let run = run(folder.path(), &["completions", shell]);
        assert_eq!((run.code, run.err.as_str()), (Some(0), ""), "{shell}");
        let file = folder.path().join(shell);
        fs::write(&file, &run.out).expect("written");
        for command in ["audit", "measure", "explain", "completions", "manual"] {
            assert!(run.out.contains(command), "{shell}: {command}");
        }
        if ["bash", "zsh", "fish"].contains(&shell) {
            let names = rule_files().into_keys().chain(list(&roles, "role").iter().map(|role| text(role, "name").to_owned()));
            names.for_each(|name| assert!(run.out.contains(&name), "{shell}: {name}"));
            if let Some(checked) = other(shell, &["-n", file.to_str().expect("UTF-8")]) {
                assert!(checked.status.success() && checked.stderr.is_empty(), "{shell}: {checked:?}");
            }
        }
    }
    // What bash offers after `audit --only sma`, and after `explain --role full`.
    let script = r#"
        . "$0"
        offer() { COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMPREPLY=(); _stavegauge stavegauge "${@: -1}" "${@: -2:1}"; echo "${COMPREPLY[*]}"; }
        offer stavegauge audit --only small-st
        offer stavegauge explain --role full-
        offer stavegauge explain loose-s"#;
    if let Some(offered) = other("bash", &["-c", script, folder.path().join("bash").to_str().expect("UTF-8")]) {
        assert_eq!(String::from_utf8_lossy(&offered.stdout), "small-staff\nfull-score\nloose-system\n", "{offered:?}");
    }
}

/// Options that the help of a command names.
fn options(help: &str) -> Vec<String> {
    let lines = help.lines().map(str::trim_start).filter(|line| line.starts_with('-'));
    lines
        .flat_map(|line| line.split([' ', ',', '=', '[']).take_while(|word| word.is_empty() || word.starts_with('-')))
        .filter(|word| word.starts_with("--"))
        .map(str::to_owned)
        .collect()
}

#[test]
fn the_manual_names_every_option_of_every_command() {
    let folder = tempfile::tempdir().expect("made");
    let manual = run(folder.path(), &["manual"]);
    assert_eq!((manual.code, manual.err.as_str()), (Some(0), ""));
    assert!(manual.out.starts_with(".TH stavegauge 1"), "{}", manual.out);
    let help = run(folder.path(), &["--help"]).out;
    let commands = help.lines().skip_while(|line| *line != "Commands:").skip(1).map_while(|line| line.split_whitespace().next());
    let commands: Vec<&str> = commands.filter(|command| *command != "help").collect();
    assert!(commands.len() >= 5 && commands.contains(&"manual"), "{commands:?}");
    for command in commands {
        let section = manual.out.split(&format!(".SH \"{}\"\n", command.to_uppercase())).nth(1);
        let section = section.unwrap_or_else(|| panic!("no section for {command}")).split("\n.SH ").next().expect("its text");
        let section = section.replace("\\-", "-");
        let help = run(folder.path(), &[command, "--help"]).out;
        assert!(options(&help).contains(&"--help".to_owned()), "{help}");
        for option in options(&help) {
            assert!(section.contains(&format!("{option}\\f")), "{command} {option}: {section}");
        }
    }
    let file = folder.path().join("stavegauge.1");
    fs::write(&file, &manual.out).expect("written");
    if let Some(checked) = other("groff", &["-man", "-ww", "-z", "-Tutf8", file.to_str().expect("UTF-8")]) {
        assert!(checked.status.success() && checked.stderr.is_empty(), "{checked:?}");
    }
}
