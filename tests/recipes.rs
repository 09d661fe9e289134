//! The recipes of `docs/gate.md` as they are written, on the demo set.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;

use run::{fixture, run};
use std::fs;
use std::path::Path;

/// Every command of the page, in its order: lines of shell, and `run`, `script` and `entry` of jobs.
fn commands() -> Vec<Vec<String>> {
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/gate.md")).expect("there");
    let fenced = text.split("```").skip(1).step_by(2).flat_map(str::lines);
    let command = |line: &str| {
        let line = line.trim().trim_start_matches("exec ").trim_start_matches("- ");
        let line = line.trim_start_matches("run: ").trim_start_matches("entry: ");
        let arguments = line.strip_prefix("stavegauge ")?;
        Some(arguments.split_whitespace().map(str::to_owned).collect())
    };
    fenced.filter_map(command).collect()
}

#[test]
fn every_recipe_runs_as_it_is_written() {
    let folder = tempfile::tempdir().expect("made");
    for copy in ["part-oboe-2", "part-clarinet-2", "part-horn-1"] {
        fs::write(folder.path().join(format!("{copy}.musicxml")), fixture(&format!("demo/{copy}.musicxml"))).expect("written");
    }
    let mapped = "[[copy]]\nfiles = \"part-horn-*\"\nrole = \"orchestral-brass-part\"\n";
    fs::write(folder.path().join("stavegauge.toml"), mapped).expect("written");
    let commands = commands();
    assert_eq!(commands.len(), 8, "{commands:#?}");
    for command in &commands {
        let arguments: Vec<&str> = command.iter().map(String::as_str).collect();
        let run = run(folder.path(), &arguments);
        // The horn's staves are too small; between two equal rounds nothing is new.
        let passes = arguments.contains(&"never") || arguments[0] == "compare";
        assert_eq!(run.code, Some(i32::from(!passes)), "{command:?}: {}{}", run.out, run.err);
        for report in arguments.iter().filter_map(|argument| argument.split_once('=')) {
            assert!(folder.path().join(report.1).is_file(), "{command:?} writes {}", report.1);
        }
    }
    assert!(folder.path().join("stets.toml").is_file());
}

/// The hook definition runs the same command as the page tells.
#[test]
fn the_hook_definition_is_the_recipe() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let hook = fs::read_to_string(root.join(".pre-commit-hooks.yaml")).expect("there");
    let page = fs::read_to_string(root.join("docs/gate.md")).expect("there");
    for key in ["entry: ", "files: ", "pass_filenames: "] {
        let line = hook.lines().find_map(|line| line.trim().strip_prefix(key)).expect("said");
        assert!(page.contains(&format!("{key}{line}")), "{key}{line}");
    }
}
