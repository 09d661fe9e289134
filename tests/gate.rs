//! The gate: exit codes, what is refused and when, which files are taken, which rules judge.
//!
//! Source of every expected code: the contract (0 nothing at or above the gate, 1 something is, 2 the job could not be done).

#![allow(clippy::expect_used, clippy::panic, reason = "a test that cannot go on fails")]

#[path = "support/run.rs"]
mod support;

use std::fs;
use std::path::Path;
use std::process::Stdio;
use support::{container, fixture, mxl, program, run, run_with};

const HORN: &str = "horn.musicxml";

/// A folder with the horn part of the demo set: staves of 6 mm, which an orchestral part may not have.
fn desk() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("made");
    fs::write(folder.path().join(HORN), fixture("demo/part-horn-1.musicxml")).expect("written");
    folder
}

fn levels(report: &serde_json::Value) -> Vec<&str> {
    let files = report["files"].as_array().expect("files").iter();
    files.flat_map(|file| file["findings"].as_array().expect("findings")).filter_map(|finding| finding["level"].as_str()).collect()
}

#[test]
fn the_gate_decides_and_a_guessed_role_makes_no_error() {
    let desk = desk();
    let audit = |arguments: &[&str]| {
        let run = run(desk.path(), &[&["audit", HORN, "--report", "json"], arguments].concat());
        let report = run.json();
        assert_eq!(run.err, "");
        let verdict = report["verdict"].as_str().expect("a verdict").to_owned();
        assert_eq!(run.code, Some(i32::from(verdict == "fail")), "{arguments:?}: {verdict}");
        (verdict == "fail", levels(&report).contains(&"error"))
    };
    assert_eq!(audit(&[]), (false, false));
    assert_eq!(audit(&["--gate", "warning"]), (true, false));
    assert_eq!(audit(&["--gate", "note"]), (true, false));
    // The contract: an error of staff height only where the role is stated.
    let stated = ["--role", "orchestral-brass-part"];
    assert_eq!(audit(&stated), (true, true));
    assert_eq!(audit(&[&stated[..], &["--gate", "never"]].concat()), (false, true));
    assert_eq!(audit(&[&stated[..], &["--skip", "small-staff"]].concat()), (false, false));
    assert_eq!(audit(&[&stated[..], &["--only", "small-staff"]].concat()), (true, true));
}

#[test]
fn what_is_refused_is_refused_before_anything_is_read_or_written() {
    let desk = desk();
    let folder = desk.path();
    fs::create_dir(folder.join("empty")).expect("made");
    fs::create_dir(folder.join("other")).expect("made");
    fs::write(folder.join("other/build.xml"), "<project/>").expect("written");
    let cases: &[(&[&str], &str)] = &[
        (&["audit"], "PATH"),
        (&["audit", "gone.musicxml"], "gone.musicxml"),
        (&["audit", "*.mxl"], "nothing matches *.mxl"),
        (&["audit", "empty"], "empty"),
        (&["audit", "other"], "nothing to audit"),
        (&["audit", HORN, "--role", "orchestral-bras-part"], "orchestral-brass-part"),
        (&["audit", HORN, "--only", "smal-staff"], "small-staff"),
        (&["audit", HORN, "--skip", "smal-staff"], "small-staff"),
        (&["audit", HORN, "--only", "small-staff", "--skip", "small-staff"], "no rule is left"),
        (&["audit", HORN, "--gate", "fatal"], "fatal"),
        (&["audit", HORN, "--jobs", "0"], "0"),
        (&["audit", HORN, "--jobs", "257"], "1..=256"),
        (&["compare", HORN, HORN, "--jobs", "257"], "1..=256"),
        (&["audit", HORN, "--report", "csv"], "terminal, json"),
        (&["audit", HORN, "--report", "json="], "json=FILE"),
        (&["audit", HORN, "--report", "json", "--report", "terminal"], "standard output"),
        (&["audit", HORN, "--report", "json=new", "--report", "terminal=./new"], "two reports"),
        (&["audit", HORN, "--report", "json=./horn.musicxml"], "horn.musicxml"),
        (&["audit", HORN, "--report", "json=empty"], "is a folder"),
        (&["audit", HORN, "--report", "json=nowhere/report.json"], "no folder nowhere"),
        (&["measure", HORN, "--report", "sarif"], "terminal, json, csv"),
        (&["mesure", HORN], "measure"),
    ];
    for (arguments, says) in cases {
        let run = run(folder, arguments);
        assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{arguments:?}: {run:?}");
        assert!(run.err.contains(says), "{arguments:?}: {}", run.err);
        assert!(!run.err.contains("panicked"), "{arguments:?}: {}", run.err);
    }
    assert_eq!(fs::read(folder.join(HORN)).expect("there"), fixture("demo/part-horn-1.musicxml"));
    assert!(!folder.join("new").exists());
}

#[test]
fn reports_in_files_are_replaced_whole() {
    let desk = desk();
    let folder = desk.path();
    fs::write(folder.join("report.json"), "older ".repeat(100_000)).expect("written");
    let run = run(folder, &["audit", HORN, "--report", "json=report.json", "--report", "terminal=report.txt"]);
    assert_eq!((run.code, run.out.as_str(), run.err.as_str()), (Some(0), "", ""));
    let json: serde_json::Value = serde_json::from_slice(&fs::read(folder.join("report.json")).expect("there")).expect("JSON");
    assert_eq!(json["files"][0]["path"], HORN);
    assert!(fs::read_to_string(folder.join("report.txt")).expect("there").starts_with(HORN));
    let mut names: Vec<_> = fs::read_dir(folder).expect("there").map(|entry| entry.expect("there").file_name()).collect();
    names.sort();
    assert_eq!(names, [HORN, "report.json", "report.txt"], "nothing is left beside");
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let desk = desk();
    for command in ["audit", "measure"] {
        let mut child = program(desk.path(), &[command, HORN])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("starts");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("ends");
        assert_eq!((output.status.code(), output.stderr.as_slice()), (Some(0), &b""[..]), "{command}");
    }
}

#[test]
fn quiet_says_only_what_sends_a_copy_back_and_how_much_it_left_out() {
    let desk = desk();
    fs::write(desk.path().join("clarinet.musicxml"), fixture("demo/part-clarinet-2.musicxml")).expect("written");
    let all = run(desk.path(), &["audit", "."]).out;
    let quiet = run(desk.path(), &["audit", ".", "--quiet", "--role", "orchestral-brass-part"]);
    assert!(all.contains("clarinet.musicxml") && all.contains("should change"), "{all}");
    assert_eq!(quiet.code, Some(1));
    assert!(!quiet.out.contains("clarinet.musicxml") && !quiet.out.contains("should change  "), "{}", quiet.out);
    assert!(quiet.out.contains("[small-staff]") && quiet.out.contains("below the gate not shown"), "{}", quiet.out);
    assert!(quiet.out.contains("2 copies: 1 can go, 1 comes back"), "{}", quiet.out);
}

/// Where no gate is asked for, no report calls a copy fit to go: what must change is told all the same.
#[test]
fn without_a_gate_nothing_is_said_to_be_fit_to_go() {
    let desk = desk();
    for (form, with_gate, without) in [
        ("terminal", "1 copy: it comes back (1 must change", "1 copy: no gate (1 must change"),
        ("markdown", "It comes back.", "No gate was set for it."),
        ("html", "It comes back.", "No gate was set for it."),
    ] {
        let audit = |gate| run(desk.path(), &["audit", HORN, "--role", "orchestral-brass-part", "--report", form, "--gate", gate]);
        let (held, free) = (audit("error"), audit("never"));
        assert_eq!((held.code, free.code), (Some(1), Some(0)), "{form}");
        assert!(held.out.contains(with_gate), "{form}: {}", held.out);
        assert!(free.out.contains(without) && !free.out.contains("can go"), "{form}: {}", free.out);
    }
    let quiet = run(desk.path(), &["audit", HORN, "--gate", "never", "--quiet"]).out;
    assert!(quiet.contains(" not shown.") && !quiet.contains("below the gate"), "{quiet}");
}

/// A copy that nobody could look at must not pass because nobody asked.
#[test]
fn a_damaged_file_comes_back_whatever_rules_are_asked_for() {
    let desk = desk();
    fs::write(desk.path().join("cut.musicxml"), &fixture("demo/part-horn-1.musicxml")[..20_000]).expect("written");
    for choice in [["--only", "small-staff"], ["--skip", "damaged-file"]] {
        let run = run(desk.path(), &["audit", "cut.musicxml", "--report", "json", choice[0], choice[1]]);
        assert_eq!((run.code, &run.json()["files"][0]["findings"][0]["rule"]), (Some(1), &"damaged-file".into()), "{choice:?}");
    }
}

/// What nobody could look at is no pass where something is asked: that the house holds the damage for less than its gate does
/// not make the copy good, and rules that must have been judged were not.
#[test]
fn an_unreadable_copy_is_not_judged_where_something_is_asked_of_it() {
    let desk = desk();
    fs::write(desk.path().join("cut.musicxml"), &fixture("demo/part-horn-1.musicxml")[..20_000]).expect("written");
    let lenient = "[rules.damaged-file]\nlevel = \"note\"\nreason = \"trial\"\n";
    let must = format!("must-judge = [\"page-turn\"]\n{lenient}");
    let stet = "[[stet]]\nrule = \"damaged-file\"\nfile = \"cut.musicxml\"\nreason = \"trial\"\n";
    for (style, gate, code, verdict, words) in [
        (stet, "error", 1, "undecided", "1 copy: it is not judged (1 may stand)"),
        (stet, "never", 0, "pass", "1 copy: no gate (1 may stand)"),
        (lenient, "error", 1, "undecided", "1 copy: it is not judged (1 query)"),
        (lenient, "note", 1, "fail", "1 copy: it comes back (1 query)"),
        (lenient, "never", 0, "pass", "1 copy: no gate (1 query)"),
        (must.as_str(), "error", 1, "undecided", "1 copy: it is not judged (1 query)"),
        (must.as_str(), "never", 1, "undecided", "1 copy: no gate, 1 not judged (1 query)"),
    ] {
        fs::write(desk.path().join("stavegauge.toml"), style).expect("written");
        let json = run(desk.path(), &["audit", "cut.musicxml", "--gate", gate, "--report", "json"]);
        assert_eq!((json.code, &json.json()["verdict"]), (Some(code), &verdict.into()), "{style} {gate}: {}", json.err);
        let told = run(desk.path(), &["audit", "cut.musicxml", "--gate", gate]).out;
        assert!(told.contains(words), "{style} {gate}: {told}");
    }
}

/// What is read is not overwritten by a report: the house style that the audit is made under.
#[test]
fn no_report_takes_the_place_of_the_house_style() {
    let desk = desk();
    let style = desk.path().join("stavegauge.toml");
    fs::write(&style, "name = \"trial\"\n").expect("written");
    for arguments in [&["--report", "json=stavegauge.toml"][..], &["--house", "stavegauge.toml", "--report", "markdown=./stavegauge.toml"]]
    {
        let run = run(desk.path(), &[&["audit", HORN], arguments].concat());
        assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{arguments:?}");
        assert!(run.err.contains("would overwrite the house style stavegauge.toml"), "{}", run.err);
    }
    assert_eq!(fs::read_to_string(style).expect("there"), "name = \"trial\"\n");
}

/// What is wrong with the arguments is told before what is wrong with the house style.
#[test]
fn arguments_come_before_the_house_style() {
    let desk = desk();
    let run = run(desk.path(), &["audit", HORN, "--house", "gone.toml", "--report", "nothing"]);
    assert!(run.code == Some(2) && run.err.contains("no report format nothing"), "{}", run.err);
}

/// A name that would be told in every finding is refused where it is longer than any name.
#[test]
fn a_name_longer_than_any_is_refused() {
    let desk = desk();
    let score = String::from_utf8(fixture("demo/part-horn-1.musicxml")).expect("UTF-8");
    let long = "x".repeat(100_000);
    for (from, to, words) in [
        ("<part-name>", format!("<part-name>{long}"), "the name of a part is 1000"),
        ("<measure number=\"", format!("<measure number=\"{long}"), "the number of a bar is 1000"),
        ("<score-part id=\"", format!("<score-part id=\"{long}"), "the id of a part is 1000"),
    ] {
        fs::write(desk.path().join("long.musicxml"), score.replacen(from, &to, 1)).expect("written");
        let told = run(desk.path(), &["audit", "long.musicxml", "--report", "json"]);
        assert!(told.out.contains(words) && told.out.len() < 20_000, "{words}: {}", told.out.len());
    }
}

/// A name or a sign that is very long is told in part; the message itself is never lost.
#[test]
fn what_is_very_long_is_told_in_part() {
    let desk = desk();
    let long = "x".repeat(100_000);
    let far = format!("{long}.musicxml");
    fs::write(desk.path().join("far.mxl"), mxl(&[("META-INF/container.xml", container(&far).as_bytes())])).expect("written");
    let score = String::from_utf8(fixture("demo/part-horn-1.musicxml")).expect("UTF-8");
    fs::write(desk.path().join("sign.musicxml"), score.replacen("<part-name>", &format!("<part-name>&{long};"), 1)).expect("written");
    for (file, says) in [("far.mxl", "xxx … xxx"), ("sign.musicxml", "xxx … xxx")] {
        let told = run(desk.path(), &["audit", file, "--report", "json"]);
        let message = told.json()["files"][0]["findings"][0]["message"].as_str().unwrap_or_default().to_owned();
        assert!(message.contains(says) && message.len() < 2_000, "{file}: {message}");
    }
}

/// Damaged inputs of every kind: each is told with what to do, none stops the others, none makes the program panic.
#[test]
fn what_bad_input_gets() {
    let sound = fixture("demo/part-horn-1.musicxml");
    let packed = mxl(&[("META-INF/container.xml", container("horn.musicxml").as_bytes()), ("horn.musicxml", &sound)]);
    let cases: &[(&str, Vec<u8>, &str)] = &[
        ("empty.musicxml", Vec::new(), "no element"),
        ("text.musicxml", b"Allegro".to_vec(), "not XML"),
        ("picture.musicxml", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec(), ""),
        ("cut.musicxml", sound[..sound.len() / 2].to_vec(), "the file ends"),
        ("other.musicxml", b"<svg/>".to_vec(), "<svg>"),
        ("bad-utf-8.musicxml", b"<score-partwise>\xff\xfe</score-partwise>".to_vec(), ""),
        ("broken.xml", b"<project><a></project>".to_vec(), "</project>"),
        ("no-score.mxl", mxl(&[("readme.txt", b"nothing here")]), "without a score"),
        ("missing.mxl", mxl(&[("META-INF/container.xml", container("gone.musicxml").as_bytes())]), "gone.musicxml"),
        ("cut.mxl", packed[..packed.len() / 2].to_vec(), ""),
        ("cut-inside.mxl", mxl(&[("META-INF/container.xml", container("a.xml").as_bytes()), ("a.xml", &sound[..9_000])]), "the file ends"),
    ];
    let folder = tempfile::tempdir().expect("made");
    for (name, bytes, _) in cases {
        fs::write(folder.path().join(name), bytes).expect("written");
    }
    fs::write(folder.path().join("sound.mxl"), &packed).expect("written");
    let audit = run(folder.path(), &["audit", ".", "--report", "json"]);
    let measure = run(folder.path(), &["measure", ".", "--report", "json"]);
    assert_eq!((audit.code, audit.err.as_str(), measure.code, measure.err.as_str()), (Some(1), "", Some(1), ""));
    let (audit, measure) = (audit.json(), measure.json());
    let file = |report: &serde_json::Value, name: &str| {
        let files = report["files"].as_array().expect("files");
        files.iter().find(|file| file["path"] == name).unwrap_or_else(|| panic!("{name} is missing")).clone()
    };
    for (name, _, says) in cases {
        let judged = file(&audit, name);
        let findings = judged["findings"].as_array().expect("findings");
        assert_eq!(findings.len(), 1, "{name}: {findings:?}");
        assert_eq!((&findings[0]["rule"], &findings[0]["level"]), (&"damaged-file".into(), &"error".into()), "{name}");
        assert!(findings[0]["message"].as_str().is_some_and(|text| text.contains(says) && !text.is_empty()), "{name}: {findings:?}");
        assert!(findings[0]["advice"].as_str().is_some_and(|text| !text.is_empty()), "{name}");
        assert!(judged["summary"].is_null(), "{name}");
        assert!(file(&measure, name)["damage"].as_str().is_some_and(|text| text.contains(says)), "{name}");
    }
    assert_eq!(file(&audit, "sound.mxl")["summary"]["bars"], 96);
    assert_eq!(audit["totals"]["files"], cases.len() + 1);
}

#[test]
fn one_document_is_the_same_by_every_way_in() {
    let desk = desk();
    let sound = fixture("demo/part-horn-1.musicxml");
    let packed = mxl(&[("META-INF/container.xml", container("in/horn.xml").as_bytes()), ("in/horn.xml", &sound)]);
    fs::write(desk.path().join("horn.mxl"), &packed).expect("written");
    let told = |path: &str, input: &[u8]| {
        let mut file = run_with(desk.path(), &["audit", path, "--report", "json"], input).json()["files"][0].clone();
        let name = (file["path"].take(), file["member"].take());
        // The commands that would mend it name the file.
        file["repairs"].as_array_mut().expect("a list").iter_mut().for_each(|repair| repair["command"] = serde_json::Value::Null);
        (name, file)
    };
    let (name, plain) = told(HORN, b"");
    assert_eq!(name, (HORN.into(), serde_json::Value::Null));
    assert!(plain["findings"].as_array().is_some_and(|findings| findings.len() > 3));
    let ways = [("horn.mxl", &b""[..], "horn.mxl"), ("-", &sound, "-"), ("-", &packed, "-")];
    for (path, input, shown) in ways {
        let (name, file) = told(path, input);
        assert_eq!(name.0, shown);
        assert_eq!(name.1.as_str(), (path == "horn.mxl" || input.starts_with(b"PK")).then_some("in/horn.xml"));
        assert!(file == plain, "{path} differs from the plain file");
    }
}

#[test]
fn files_are_taken_once_and_in_one_order() {
    let desk = desk();
    let folder = desk.path();
    let put = |name: &str, bytes: &[u8]| {
        fs::create_dir_all(folder.join(name).parent().unwrap_or(Path::new("."))).expect("made");
        fs::write(folder.join(name), bytes).expect("written");
    };
    let sound = fixture("demo/part-horn-1.musicxml");
    put("B/2.xml", &sound);
    put("a/1.MXL", &mxl(&[("META-INF/container.xml", container("x.xml").as_bytes()), ("x.xml", &sound)]));
    put("a/build.xml", b"<project><target/></project>");
    put("a/.hidden.xml", &sound);
    put("out/old.xml", &sound);
    put(".ignore", b"out/\n");
    let paths = |arguments: &[&str]| -> Vec<String> {
        let run = run(folder, &[&["measure", "--report", "json"], arguments].concat());
        let report = run.json();
        report["files"].as_array().expect("files").iter().filter_map(|file| file["path"].as_str().map(str::to_owned)).collect()
    };
    let all = ["B/2.xml", "a/1.MXL", HORN];
    assert_eq!(paths(&["."]), all);
    let absolute = folder.canonicalize().expect("there").join(HORN);
    assert_eq!(paths(&[HORN, "a/../a/1.MXL", "./B/2.xml", "B", absolute.to_str().expect("UTF-8")]), ["B/2.xml", "a/../a/1.MXL", HORN]);
    assert_eq!(paths(&["*.musicxml", "B/*"]), ["B/2.xml", HORN]);
    // What is named is read, whatever it is.
    assert_eq!(paths(&["a/build.xml", "out/old.xml"]), ["a/build.xml", "out/old.xml"]);
}

/// What was not looked at is not praised.
#[test]
fn only_what_was_judged_is_called_right() {
    let desk = desk();
    let praise = |arguments: &[&str]| {
        let run = run(desk.path(), &[&["audit", HORN, "--report", "json"], arguments].concat());
        run.json()["files"][0]["good"].as_array().expect("a list").len()
    };
    assert_eq!(praise(&["--only", "hidden-music"]), 0);
    assert_eq!(praise(&["--only", "loose-system"]), 1);
    assert!(praise(&[]) > 1);
}
