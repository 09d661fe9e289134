//! Printed smaller than engraved: every millimetre judged is the one on paper.
//!
//! Factors: the smaller of the two ratios of the sides (practice of printing; arithmetic on ISO 216 and ANSI/ASME Y14.1).

#![allow(clippy::expect_used, clippy::panic, reason = "a test that cannot go on fails")]

#[path = "support/run.rs"]
mod support;

use serde_json::Value;
use std::path::Path;
use support::run;

/// An oboe part of 7.5 mm staves on ISO B4: nothing to change as it is.
const OBOE: &str = "fixtures/trade/oboe-7.5-mm.musicxml";

fn audit(arguments: &[&str]) -> Value {
    let role = ["audit", OBOE, "--role", "orchestral-wind-part", "--report", "json"];
    let run = run(Path::new(env!("CARGO_MANIFEST_DIR")), &[&role[..], arguments].concat());
    assert_eq!(run.err, "");
    run.json()["files"][0].clone()
}

fn close(value: &Value, expected: f64) {
    let value = value.as_f64().expect("a number");
    assert!((value - expected).abs() < 0.001, "{value}, not {expected}");
}

fn finding<'a>(file: &'a Value, rule: &str) -> Option<&'a Value> {
    file["findings"].as_array().expect("findings").iter().find(|finding| finding["rule"] == rule)
}

#[test]
fn as_it_is_nothing_is_too_small() {
    let file = audit(&[]);
    close(&file["printed_at"], 1.0);
    close(&file["summary"]["staff_height_mm"], 7.5);
    assert_eq!(finding(&file, "small-staff"), None);
}

/// ISO B4 (250 x 353 mm) to A4 (210 x 297 mm): .840, so 7.5 mm become 6.3, which no orchestral part may have.
#[test]
fn on_a_smaller_paper_the_staves_shrink_with_the_page() {
    let file = audit(&["--printed-on", "A4"]);
    close(&file["printed_at"], 0.84);
    close(&file["summary"]["staff_height_mm"], 6.3);
    close(&file["summary"]["file_staff_height_mm"], 7.5);
    assert_eq!(file["summary"]["paper"]["name"], "A4");
    let small = finding(&file, "small-staff").expect("too small");
    assert_eq!(small["level"], "error");
    close(&small["measured"], 6.3);
    assert!(finding(&file, "paper-unknown").is_none());
}

/// Pit books are never printed below 94 % (rules for marked pit books): 7.5 mm become 7.05, a risk but no more.
#[test]
fn at_a_percentage_the_paper_is_not_known() {
    for percent in ["94", "94%", " 94 %"] {
        let file = audit(&["--printed-at", percent]);
        close(&file["printed_at"], 0.94);
        let small = finding(&file, "small-staff").expect("at risk");
        assert_eq!(small["level"], "warning");
        close(&small["measured"], 7.05);
        let left = file["not_judged"].as_array().expect("a list");
        assert!(left.iter().any(|one| one["rule"] == "paper-unknown"), "{left:?}");
    }
    assert_eq!(audit(&["--printed-at", "100"]), audit(&[]));
}

/// What is measured stays in the file's own millimetres.
#[test]
fn people_are_told_both_sizes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    let run = run(folder, &["audit", OBOE, "--printed-on", "A4"]);
    assert!(run.out.contains("staves of 6.3 mm, printed at 84 % (7.5 mm in the file)"), "{}", run.out);
}

#[test]
fn nonsense_is_refused() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    for (arguments, word) in [
        (&["--printed-at", "small"][..], "no percentage"),
        (&["--printed-at", "0"], "no percentage"),
        (&["--printed-at", "NaN"], "no percentage"),
        (&["--printed-at", "1e9"], "no percentage"),
        (&["--printed-on", "A44"], "did you mean"),
        (&["--printed-on", "A4", "--printed-at", "94"], "cannot be used with"),
    ] {
        let run = run(folder, &[&["audit", OBOE], arguments].concat());
        assert_eq!(run.code, Some(2), "{arguments:?}");
        assert!(run.err.contains(word), "{arguments:?}: {}", run.err);
        assert_eq!(run.out, "");
    }
}
