//! Advice with proof: what an audit promises of a repair is what an audit of the repaired copy finds.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;

use run::run;
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// Copies of the demo set, and the reader that each is for.
const COPIES: [(&str, &str); 4] = [
    ("part-clarinet-1.musicxml", "orchestral-wind-part"),
    ("part-bassoon-1.musicxml", "orchestral-wind-part"),
    ("part-horn-1.musicxml", "orchestral-brass-part"),
    ("score-loose.musicxml", "full-score"),
];

fn audit(folder: &Path, arguments: &[&str]) -> Value {
    let run = run(folder, &[&["audit", "--report", "json", "--gate", "never"], arguments].concat());
    assert_eq!((run.code, run.err.as_str()), (Some(0), ""), "{arguments:?}");
    run.json()
}

fn number(value: &Value) -> u64 {
    value.as_u64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn levels(report: &Value) -> [u64; 3] {
    ["error", "warning", "note"].map(|level| number(&report["totals"][level]))
}

/// The command that the report gives is run; the file that it writes is audited by the same rules.
#[test]
fn the_repaired_copy_is_as_promised() {
    let mut tried = 0;
    for (name, role) in COPIES {
        let desk = TempDir::new().expect("a folder");
        fs::write(desk.path().join(name), run::fixture(&format!("demo/{name}"))).expect("written");
        let report = audit(desk.path(), &["--role", role, name]);
        let now = levels(&report);
        for repair in report["files"][0]["repairs"].as_array().expect("a list") {
            let command = repair["command"].as_str().expect("a command");
            let words: Vec<&str> = command.split(' ').skip(1).collect();
            let done = run(desk.path(), &words);
            assert_eq!(done.code, Some(0), "{command}: {done:?}");
            let after = audit(desk.path(), &["--role", role, "--repairs", "never", "NEW.musicxml"]);
            let result = &repair["result"];
            let promised = ["error", "warning", "note"].map(|level| [number(&result[level][0]), number(&result[level][1])]);
            assert_eq!(promised.map(|[now, _]| now), now, "{name}: {command}");
            assert_eq!(promised.map(|[_, then]| then), levels(&after), "{name}: {command}");
            assert_eq!(result["better"], Value::Bool(levels(&after) < now));
            let summary = &after["files"][0]["summary"];
            assert_eq!((&summary["pages"], &summary["systems"]), (&result["pages"], &result["systems"]), "{name}: {command}");
            assert_eq!(summary["staff_height_mm"], repair["staff_height_mm"]);
            fs::remove_file(desk.path().join("NEW.musicxml")).expect("it was written");
            tried += 1;
        }
    }
    assert!(tried > 5, "{tried} repairs tried");
}

/// Findings of rules that a casting off may mend say what was found out; no others do, and nothing is tried where nothing asks.
#[test]
fn advice_says_what_was_tried() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo");
    let clarinet = "part-clarinet-1.musicxml";
    let report = audit(&folder, &["--role", "orchestral-wind-part", clarinet]);
    let findings = report["files"][0]["findings"].as_array().expect("a list");
    let said = |finding: &&Value| finding["advice"].as_str().expect("a text").contains("Computed and judged anew: ");
    let asking = ["small-staff", "page-turn", "loose-system"];
    for finding in findings {
        assert_eq!(said(&finding), asking.contains(&finding["rule"].as_str().expect("a name")), "{finding:#}");
        assert_eq!(finding["mended_by"].is_object(), said(&finding), "{finding:#}");
    }
    // What must change: the turns, and the staves that are too small.
    let must: Vec<&Value> = findings.iter().filter(|finding| finding["level"] == "error").collect();
    assert!(must.len() >= 3);
    assert!(must.iter().all(|finding| finding["mended_by"]["after"] == 0));

    let never = audit(&folder, &["--role", "orchestral-wind-part", "--repairs", "never", clarinet]);
    let quiet = never["files"][0]["findings"].as_array().expect("a list");
    assert_eq!((quiet.len(), quiet.iter().filter(said).count()), (findings.len(), 0));
    assert_eq!(never["files"][0]["repairs"], Value::Array(Vec::new()));
    assert_eq!(never["totals"], report["totals"]);

    let nothing = audit(&folder, &["--only", "no-running-head", clarinet]);
    assert_eq!(nothing["files"][0]["repairs"], Value::Array(Vec::new()));
    assert_eq!(nothing["files"][0]["no_repair_tried"], Value::Null);
}

/// A copy that is printed smaller is judged as it is printed, and cast off in its own millimetres.
#[test]
fn a_copy_printed_smaller() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo");
    let report = audit(&folder, &["--role", "orchestral-wind-part", "--printed-at", "80", "part-clarinet-1.musicxml"]);
    let repairs = report["files"][0]["repairs"].as_array().expect("a list");
    let staff = repairs.iter().find(|repair| repair["kind"] == "staff-height").expect("the staves are too small");
    // 7.5 mm on paper are 9.375 mm in the file.
    assert_eq!(staff["staff_height_mm"], 9.375);
    assert_eq!(staff["result"]["rules"]["small-staff"], serde_json::json!([1, 0]));
}
