//! Rounds of one delivery: what is mended, new, open again, remaining; numbers that stay; files watched.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;

use proptest::prelude::*;
use run::{fixture, program, run};
use serde_json::Value;
use stavegauge::round::{Round, RoundCopy, RoundFinding, compare};
use stavegauge::rule::Level;
use std::collections::BTreeMap;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;
use tempfile::TempDir;

const COPIES: [&str; 4] = ["part-horn-1", "part-clarinet-1", "part-alto", "part-bassoon-1"];

struct Delivery(TempDir);

impl Delivery {
    fn new() -> Self {
        let delivery = Self(tempfile::tempdir().expect("made"));
        for round in ["first", "revise", "final"] {
            for copy in COPIES {
                delivery.put(&format!("{round}/{copy}.musicxml"), &fixture(&format!("demo/{copy}.musicxml")));
            }
        }
        delivery
    }

    fn put(&self, name: &str, bytes: &[u8]) {
        let path = self.path().join(name);
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(path, bytes).expect("written");
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    /// A file of a round changed.
    fn change(&self, file: &str, change: impl Fn(&str) -> String) {
        let path = self.path().join(file);
        let text = fs::read_to_string(&path).expect("there");
        let changed = change(&text);
        assert_ne!(text, changed, "{file} changes");
        fs::write(path, changed).expect("written");
    }

    fn compare(&self, rounds: &[&str]) -> (Option<i32>, Value) {
        let run = run(self.path(), &[&["compare", "--report", "json"], rounds].concat());
        assert!(matches!(run.code, Some(0 | 1)), "{}", run.err);
        (run.code, run.json())
    }

    fn report(&self, round: &str, more: &[&str]) -> Value {
        let file = format!("json={round}.json");
        let run = run(self.path(), &[&["audit", round, "--gate", "never", "--report", &file], more].concat());
        assert_eq!(run.code, Some(0), "{}", run.err);
        serde_json::from_str(&fs::read_to_string(self.path().join(format!("{round}.json"))).expect("written")).expect("JSON")
    }
}

/// Rules of a class, by copy.
fn class(report: &Value, class: &str) -> BTreeMap<String, Vec<String>> {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let copies = report["copies"].as_array().expect("copies").iter();
    let of = |copy: &Value| copy[class].as_array().expect("findings").iter().map(|one| text(&one["rule"])).collect::<Vec<_>>();
    copies.filter(|copy| !of(copy).is_empty()).map(|copy| (text(&copy["path"]), of(copy))).collect()
}

/// Staves of 6.6 mm become 7.5, on the same lines in millimetres: the copy is as it was but for its size.
fn larger(text: &str) -> String {
    text.replacen("<millimeters>6.6</millimeters>", "<millimeters>7.5</millimeters>", 1)
}

fn moved(text: &str) -> String {
    text.replacen("<part-list>", "<!-- anew -->\n\n<part-list>", 1).replace("<measure ", "\n   <measure ")
}

#[test]
fn the_same_delivery_exported_anew_is_the_same() {
    let delivery = Delivery::new();
    for copy in COPIES {
        delivery.change(&format!("revise/{copy}.musicxml"), moved);
    }
    let (code, report) = delivery.compare(&["first", "revise"]);
    assert_eq!(code, Some(0));
    let number = |class: &str| report["totals"][class].as_u64().expect("a number");
    assert!(number("remaining") > 8, "{report:#}");
    assert_eq!([number("mended"), number("new"), number("reopened")], [0, 0, 0]);
    assert_eq!(report["rounds"], serde_json::json!(["first proof", "revise"]));
}

/// Page numbers put on, a line of a movement mended, another fault put in: exactly these are told.
#[test]
fn mended_new_and_open_again() {
    let delivery = Delivery::new();
    let numbered = |text: &str| {
        let credit = text.find("<credit page=\"2\">").map(|at| &text[at..]).and_then(|rest| rest.split_once("</credit>"));
        let (credit, _) = credit.expect("the second page has a head");
        let number = credit.replacen("</credit-words>", ", 2</credit-words>", 1);
        text.replacen(credit, &number, 1)
    };
    delivery.change("revise/part-alto.musicxml", numbered);
    // The part's staves become too small, at the same size of everything on the page.
    delivery
        .change("revise/part-bassoon-1.musicxml", |text| text.replacen("<millimeters>8</millimeters>", "<millimeters>5</millimeters>", 1));
    let (code, report) = delivery.compare(&["first", "revise"]);
    assert_eq!(class(&report, "mended").get("revise/part-alto.musicxml"), Some(&vec!["no-running-head".to_owned()]), "{report:#}");
    let new = class(&report, "new");
    assert_eq!(new.keys().collect::<Vec<_>>(), ["revise/part-bassoon-1.musicxml"], "{new:#?}");
    assert!(new["revise/part-bassoon-1.musicxml"].contains(&"small-staff".to_owned()), "{new:#?}");
    assert_eq!(code, Some(0), "a guessed reader makes no error");
    let gated = run(delivery.path(), &["compare", "--gate", "warning", "first", "revise"]);
    assert!(gated.code == Some(1) && gated.out.starts_with("first proof against revise"), "{}", gated.out);
    // The third round falls back: what was mended once is open again, not new.
    let (_, report) = delivery.compare(&["first", "revise", "final"]);
    assert_eq!(class(&report, "reopened").get("final/part-alto.musicxml"), Some(&vec!["no-running-head".to_owned()]), "{report:#}");
    assert!(class(&report, "mended")["final/part-bassoon-1.musicxml"].contains(&"small-staff".to_owned()), "{report:#}");
    assert_eq!(class(&report, "new"), BTreeMap::new());
    assert_eq!(report["rounds"], serde_json::json!(["first proof", "revise", "final"]));
    let gated = run(delivery.path(), &["compare", "--gate", "warning", "first", "revise", "final"]);
    assert_eq!(gated.code, Some(1), "open again counts as new");
}

/// Reports say the same as folders; copies that come and go are named; another folder or ending is the same copy.
#[test]
fn folders_reports_and_renamed_copies() {
    let delivery = Delivery::new();
    delivery.change("revise/part-clarinet-1.musicxml", larger);
    fs::remove_file(delivery.path().join("revise/part-bassoon-1.musicxml")).expect("removed");
    fs::rename(delivery.path().join("revise/part-alto.musicxml"), delivery.path().join("revise/part-alto.xml")).expect("renamed");
    delivery.put("revise/new.musicxml", &fixture("demo/part-tenor.musicxml"));
    delivery.report("first", &[]);
    delivery.report("revise", &[]);
    let (_, folders) = delivery.compare(&["first", "revise"]);
    let (_, reports) = delivery.compare(&["first.json", "revise.json"]);
    let (_, mixed) = delivery.compare(&["first.json", "revise"]);
    assert_eq!(folders, reports);
    assert_eq!(folders, mixed);
    let told = |path: &str| folders["copies"].as_array().expect("copies").iter().find(|copy| copy["path"] == path).expect("told").clone();
    assert_eq!(told("first/part-bassoon-1.musicxml")["gone"], true);
    assert_eq!(told("revise/new.musicxml")["added"], true);
    assert_eq!(told("revise/part-alto.xml")["added"], false);
    assert!(class(&folders, "mended")["revise/part-clarinet-1.musicxml"].contains(&"small-staff".to_owned()), "{folders:#}");
    let markdown = run(delivery.path(), &["compare", "--report", "markdown", "first", "revise"]);
    assert!(markdown.out.contains("## first/part-bassoon-1.musicxml\n\nIt is no longer there."), "{}", markdown.out);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/schema/compare.schema.json");
    let schema: Value = serde_json::from_slice(&fs::read(path).expect("committed")).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    assert!(validator.is_valid(&folders));
    assert!(!validator.is_valid(&serde_json::json!({ "format": 1 })));
}

/// A correction keeps its number; new ones get numbers that were never given, not even to what is mended.
#[test]
fn numbers_stay_through_the_rounds() {
    let delivery = Delivery::new();
    let numbers = |report: &Value, copy: &str| -> BTreeMap<String, u64> {
        let files = report["files"].as_array().expect("files").iter();
        let file = files.clone().find(|file| file["path"].as_str().is_some_and(|path| path.ends_with(copy))).expect("there");
        let findings = file["findings"].as_array().expect("findings").iter();
        let key = |one: &Value| format!("{} {} {}", one["rule"], one["page"], one["bars"]);
        findings.map(|one| (key(one), one["number"].as_u64().expect("a number"))).collect()
    };
    let first = delivery.report("first", &[]);
    let before = numbers(&first, "part-clarinet-1.musicxml");
    let most = before.values().max().copied().expect("some");
    delivery.change("revise/part-clarinet-1.musicxml", larger);
    let revise = delivery.report("revise", &["--before", "first.json"]);
    let now = numbers(&revise, "part-clarinet-1.musicxml");
    assert!(!now.keys().any(|key| key.contains("small-staff")), "it is mended");
    let kept = now.iter().filter(|(key, number)| before.get(*key) == Some(number)).count();
    assert!(kept >= 3, "{before:?} {now:?}");
    for (key, number) in &now {
        assert!(before.get(key).is_none_or(|before| before == number), "{key}: {before:?} {now:?}");
        assert!(before.contains_key(key) || before.values().all(|before| before != number) || *number > most, "{key}: {before:?} {now:?}");
    }
    // The small staves come back in the third round: the number of the mended one is not given to another.
    let last = delivery.report("final", &["--before", "revise.json"]);
    let back = numbers(&last, "part-clarinet-1.musicxml");
    let small = back.iter().find(|(key, _)| key.contains("small-staff")).map(|(_, number)| *number).expect("it is back");
    assert!(small > most, "{before:?} {now:?} {back:?}");
    let unknown = run(delivery.path(), &["audit", "first", "--before", "gone.json"]);
    assert_eq!(unknown.code, Some(2), "{}", unknown.err);
}

#[test]
fn what_is_no_round_is_refused() {
    let delivery = Delivery::new();
    delivery.put("empty/readme.txt", b"");
    delivery.put("bad.json", b"{ \"format\": ");
    delivery.put("other.json", b"{ \"format\": \"stavegauge-audit/9\" }");
    delivery.put("none.json", b"{}");
    delivery.put("long.json", b"");
    let long = std::fs::OpenOptions::new().write(true).open(delivery.path().join("long.json")).expect("just made");
    long.set_len(65 << 20).expect("room for a file of holes");
    delivery.put("half.json", b"{ \"format\": \"stavegauge-audit/1\", \"files\": [ { \"path\": 1 } ] }");
    for (rounds, words) in [
        (&["first", "gone"][..], "there is no gone"),
        (&["first", "empty"], "no score in empty"),
        (&["first", "bad.json"], "line 1 column"),
        (&["first", "other.json"], "its format is stavegauge-audit/9"),
        (&["first", "none.json"], "it says no format"),
        (&["first", "long.json"], "it is longer than 64 MiB"),
        (&["first", "half.json"], "line 1 column"),
        (&["first"], "required"),
        (&["first", "revise", "--report", "json=first/part-alto.musicxml/x"], "no folder"),
    ] {
        let run = run(delivery.path(), &[&["compare"], rounds].concat());
        assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{rounds:?}: {}", run.err);
        assert!(run.err.contains(words) || words == "required", "{rounds:?}: {}", run.err);
    }
    delivery.report("first", &[]);
    let over = run(delivery.path(), &["compare", "first.json", "revise", "--report", "json=first.json"]);
    assert!(over.code == Some(2) && over.err.contains("would overwrite"), "{}", over.err);
    let over = run(delivery.path(), &["compare", "first", "revise", "--report", "json=first/part-alto.musicxml"]);
    assert!(over.code == Some(2) && over.err.contains("would overwrite first/part-alto.musicxml"), "{}", over.err);
    assert_eq!(fs::read(delivery.path().join("first/part-alto.musicxml")).expect("there"), fixture("demo/part-alto.musicxml"));
}

/// Copies of one path are one copy, whatever else a round holds: another movement with files of the same names.
#[test]
fn a_folder_more_parts_no_copies() {
    let copy = |path: &str| RoundCopy { path: path.to_owned(), member: None, findings: Vec::new(), last_number: 0 };
    let old = Round { copies: ["set/one/horn.xml", "set/one/oboe.xml"].map(copy).to_vec() };
    let new = Round { copies: ["set/one/horn.xml", "set/one/oboe.xml", "set/two/horn.xml", "set/two/oboe.xml"].map(copy).to_vec() };
    let compared = compare(&[old, new]);
    let told: Vec<_> = compared.copies.iter().map(|copy| (copy.path.as_str(), copy.added, copy.gone)).collect();
    let expected = [("set/one/horn.xml", false), ("set/one/oboe.xml", false), ("set/two/horn.xml", true), ("set/two/oboe.xml", true)];
    assert_eq!(told, expected.map(|(path, added)| (path, added, false)));
}

/// What stands in both rounds as it stood is itself, whatever else it might be; that holds of bars that end with a lower number than they
/// begin with, and of findings that nothing but their order tells apart.
#[test]
fn what_has_not_changed_is_not_taken_for_something_else() {
    let graver = |finding: RoundFinding| RoundFinding { level: Level::Error, ..finding };
    let (long, behind, before) = (graver(finding(0, 0, 1, 9, false)), finding(0, 0, 6, 9, false), finding(0, 0, 1, 4, false));
    let compared = compare(&[round(vec![long.clone(), behind.clone()]), round(vec![long.clone(), before.clone()])]);
    let copy = &compared.copies[0];
    assert_eq!(copy.remaining.iter().map(|changed| (&changed.now, changed.was)).collect::<Vec<_>>(), [(&long, Level::Error)]);
    assert_eq!((&copy.mended, &copy.new), (&vec![behind], &vec![before]));
    let backwards = || round(vec![finding(0, 0, 60, -59, false), finding(0, 0, -1, -7, false)]);
    let copy = &compare(&[backwards(), backwards()]).copies[0];
    assert_eq!((copy.remaining.len(), copy.mended.len(), copy.new.len()), (2, 0, 0));
}

fn finding(rule: u8, part: u8, first: i64, length: i64, stet: bool) -> RoundFinding {
    RoundFinding {
        rule: format!("rule-{rule}"),
        level: Level::Warning,
        message: String::new(),
        advice: String::new(),
        place: String::new(),
        part: Some(format!("P{part}")),
        movement: None,
        staff: None,
        bars: Some([first.to_string(), (first + length).to_string()]),
        number: 1,
        stet,
    }
}

fn round(findings: Vec<RoundFinding>) -> Round {
    Round { copies: vec![RoundCopy { path: "a.musicxml".to_owned(), member: None, findings, last_number: 0 }] }
}

fn some() -> impl Strategy<Value = Vec<RoundFinding>> {
    prop::collection::vec(
        (0..2_u8, 0..2_u8, 1..12_i64, 0..5_i64).prop_map(|(rule, part, first, length)| finding(rule, part, first, length, false)),
        0..9,
    )
}

proptest! {
    /// What is mended from one to the other is new the other way round, and every finding falls into one class.
    #[test]
    fn both_ways_round(old in some(), new in some()) {
        let (there, back) = (compare(&[round(old.clone()), round(new.clone())]), compare(&[round(new.clone()), round(old.clone())]));
        let (there, back) = (&there.copies[0], &back.copies[0]);
        prop_assert_eq!((there.mended.len(), there.new.len(), there.remaining.len()), (back.new.len(), back.mended.len(), back.remaining.len()));
        prop_assert_eq!(there.mended.len() + there.remaining.len(), old.len());
        prop_assert_eq!(there.new.len() + there.remaining.len(), new.len());
        let same = compare(&[round(old.clone()), round(old.clone())]);
        prop_assert_eq!((same.copies[0].remaining.len(), same.copies[0].new.len()), (old.len(), 0));
    }
}

/// What stood in the round before and counts now is open again; what the house lets stand now is neither new nor mended.
#[test]
fn stets_between_rounds() {
    let compared = |old: bool, new: bool| {
        let found = |stet| round(vec![finding(0, 0, 3, 2, stet)]);
        let compared = compare(&[found(old), found(new)]);
        let copy = &compared.copies[0];
        [copy.mended.len(), copy.new.len(), copy.reopened.len(), copy.remaining.len(), copy.stet.len()]
    };
    assert_eq!(compared(false, false), [0, 0, 0, 1, 0]);
    assert_eq!(compared(true, false), [0, 0, 1, 0, 0]);
    assert_eq!(compared(false, true), [0, 0, 0, 0, 1]);
    assert_eq!(compared(true, true), [0, 0, 0, 0, 1]);
}

/// A file is exported anew while it is watched: what changed is told, and Ctrl-C ends it cleanly.
#[cfg(unix)]
#[test]
fn a_watched_copy_is_audited_again() {
    let delivery = Delivery::new();
    let mut command = program(delivery.path(), &["audit", "--watch", "first", "--report", "terminal", "--report", "json=watch.json"]);
    let mut child = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("starts");
    let (out, err) = (child.stdout.take().expect("a pipe"), child.stderr.take().expect("a pipe"));
    let (tell, heard) = std::sync::mpsc::channel();
    for stream in [Box::new(out) as Box<dyn std::io::Read + Send>, Box::new(err)] {
        let tell = tell.clone();
        std::thread::spawn(move || BufReader::new(stream).lines().map_while(Result::ok).try_for_each(|line| tell.send(line)));
    }
    let wait_for_all = |mut all: Vec<&str>| {
        let mut told = Vec::new();
        while !all.is_empty() {
            match heard.recv_timeout(Duration::from_mins(1)) {
                Ok(line) => {
                    all.retain(|words| !line.contains(words));
                    told.push(line);
                }
                Err(error) => panic!("not told: {all:?} ({error})\n{}", told.join("\n")),
            }
        }
    };
    let wait_for = |words: &str| wait_for_all(vec![words]);
    // Each on a stream of its own: which is heard first is not said.
    wait_for_all(vec!["watching 4 copies; Ctrl-C ends", "the house and the librarian decide."]);
    // That the copies are read is no change. (Twice as long as a file must rest before it is read again.)
    if let Ok(line) = heard.recv_timeout(Duration::from_secs(1)) {
        panic!("nothing has changed: {line}");
    }
    delivery.change("first/part-clarinet-1.musicxml", larger);
    wait_for("mended  no. ");
    wait_for("remaining");
    let report: Value = serde_json::from_str(&fs::read_to_string(delivery.path().join("watch.json")).expect("written")).expect("JSON");
    assert!(!report.to_string().contains("staves of 6.6 mm"), "the file is as it is now");
    // A copy that is broken while it is written is told, and does not end the watch.
    delivery.put("first/part-alto.musicxml", b"<score-partwise>");
    wait_for("damaged-file");
    let id = child.id().to_string();
    assert!(std::process::Command::new("kill").args(["-INT", &id]).status().expect("sent").success());
    assert_eq!(child.wait().expect("ends").code(), Some(0));
}

#[test]
fn standard_input_cannot_be_watched() {
    let delivery = Delivery::new();
    let run = run(delivery.path(), &["audit", "--watch", "-"]);
    assert!(run.code == Some(2) && run.err.contains("cannot be watched"), "{}", run.err);
}
