//! `fit` and `castoff` as their users run them.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod support;
#[path = "support/tiny.rs"]
mod tiny;

use serde_json::Value;
use std::fs;
use std::path::Path;
use support::{Run, run, run_with};

const DEMO: &str = "fixtures/demo";

fn here(arguments: &[&str]) -> Run {
    run(Path::new(env!("CARGO_MANIFEST_DIR")), arguments)
}

fn sheet(arguments: &[&str]) -> Value {
    let run = here(&[&["castoff", "--report", "json"], arguments].concat());
    assert_eq!((run.code, run.err.as_str()), (Some(0), ""), "{arguments:?}");
    let mut report = run.json();
    report["files"][0]["sheet"].take()
}

fn whole(value: &Value) -> u64 {
    value.as_u64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Source: common practice, no source: an ensemble score with one system a page at 5.5 mm and margins of 15 mm; two fit at 4.7 mm and
/// 10 mm, and at 5.5 mm they do not.
#[test]
fn what_fits_an_ensemble_score() {
    let file = "fixtures/trade/ensemble-one-system-a-page.musicxml";
    let run = here(&["fit", "--paper", "B4", "--staff", "4.7,5.5", "--margins", "10,15", "--report", "json", file]);
    assert_eq!(run.code, Some(0), "{run:?}");
    let report = run.json();
    let choices = report["files"][0]["choices"].as_array().expect("a list");
    let systems = |staff: f64, margin: f64| {
        let same = |choice: &&Value| choice["staff_height_mm"] == staff && choice["margins_mm"][0] == margin;
        whole(&choices.iter().find(same).expect("it was tried")["systems_a_page"])
    };
    assert_eq!(choices.len(), 4);
    assert_eq!((systems(4.7, 10.0), systems(5.5, 10.0), systems(5.5, 15.0)), (2, 1, 1));
    let best = usize::try_from(whole(&report["files"][0]["best"])).expect("small");
    assert_eq!(choices[best]["staff_height_mm"], 4.7);
}

/// Every copy of the demo set: each bar stands in one system, in order; no copy is worse than it was, or takes more pages.
#[test]
fn the_demo_set_cast_off_anew() {
    let run = here(&["castoff", "--report", "json", DEMO]);
    assert_eq!((run.code, run.err.as_str()), (Some(0), ""));
    let report = run.json();
    let schema: Value = serde_json::from_slice(&fs::read("docs/schema/castoff.schema.json").expect("committed")).expect("JSON");
    assert!(jsonschema::validator_for(&schema).expect("a schema").is_valid(&report));
    let files = report["files"].as_array().expect("a list");
    assert_eq!(files.len(), 15);
    for file in files {
        let sheet = &file["sheet"];
        let mut next = 1;
        for system in sheet["pages"].as_array().expect("pages").iter().flat_map(|page| page["systems"].as_array().expect("systems")) {
            assert_eq!(whole(&system["bar_index"][0]), next, "{}", file["path"]);
            next = whole(&system["bar_index"][1]) + 1;
            assert_eq!(system["overfull_mm"], Value::Null);
        }
        assert_eq!(next, 97, "{}", file["path"]);
        let faults = |side: &str| -> f64 {
            ["faults_of_lines", "faults_of_pages", "faults_of_turns"].iter().map(|kind| sheet[side][kind].as_f64().expect("a number")).sum()
        };
        assert!(faults("then") <= faults("now"), "{}: {} against {}", file["path"], faults("then"), faults("now"));
        assert!(whole(&sheet["then"]["pages"]) <= whole(&sheet["now"]["pages"]), "{}", file["path"]);
    }
}

/// Breaks by hand are kept, wanted and forbidden ones; what cannot be met is said.
#[test]
fn breaks_by_hand() {
    let clarinet = &format!("{DEMO}/part-clarinet-1.musicxml");
    let begins = |sheet: &Value| -> Vec<(u64, bool)> {
        let pages = sheet["pages"].as_array().expect("pages");
        let systems = pages.iter().flat_map(|page| page["systems"].as_array().expect("systems").iter().enumerate());
        systems.map(|(index, system)| (whole(&system["bar_index"][0]), index == 0)).collect()
    };
    let free = begins(&sheet(&[clarinet]));
    let forbidden = free[2].0;
    assert!(!free.contains(&(8, false)) && !free.iter().any(|(bar, new_page)| *bar == 44 && *new_page), "{free:?}");
    let bound = begins(&sheet(&["--break", "8", "--page-break", "#44", "--no-break", &forbidden.to_string(), clarinet]));
    assert!(bound.contains(&(8, false)) && bound.contains(&(44, true)), "{bound:?}");
    assert!(bound.iter().all(|(bar, _)| *bar != forbidden), "{bound:?}");
    for (arguments, code, said) in [
        (&["--break", "8", "--no-break", "8"][..], 2, "wanted and forbidden at once"),
        (&["--break", "970"], 1, "there is no bar 970"),
        (&["--break", "#0"], 1, "there is no bar #0"),
        (&["--page-break", "27"], 1, "inside a multi-bar rest"),
        (&["--no-break", "37,38,39,40,41,42,43,44,45,46,47,48,49,50,51,52"], 1, "may not be parted"),
    ] {
        let run = here(&[&["castoff"], arguments, &[clarinet]].concat());
        assert_eq!(run.code, Some(code), "{arguments:?}: {run:?}");
        assert!(format!("{}{}", run.out.replace('\n', " "), run.err).contains(said), "{arguments:?}: {run:?}");
    }
}

/// One paper for the parts of a set: pages and leaves are those of each part's best choice on it, as often as it is printed.
#[test]
fn what_fits_a_set() {
    let parts = ["part-oboe-2", "part-horn-2"].map(|part| format!("{DEMO}/{part}.musicxml"));
    let score = format!("{DEMO}/score.musicxml");
    let fit = |files: &[&String]| {
        let mut arguments = vec!["fit", "--paper", "B4", "--staff", "7.5,8", "--margins", "15", "--report", "json"];
        arguments.extend(files.iter().map(|file| file.as_str()));
        let run = here(&arguments);
        assert_eq!((run.code, run.err.as_str()), (Some(0), ""));
        run.json()
    };
    let report = fit(&[&parts[0], &parts[1], &score]);
    let schema: Value = serde_json::from_slice(&fs::read("docs/schema/fit.schema.json").expect("committed")).expect("JSON");
    assert!(jsonschema::validator_for(&schema).expect("a schema").is_valid(&report));
    let paper = &report["set"]["papers"][0];
    // The score has another reader, and another paper.
    assert_eq!((whole(&report["set"]["parts"]), whole(&paper["parts_that_fit"])), (2, 2));
    let best = |file: &Value, count: &str| whole(&file["choices"][usize::try_from(whole(&file["best"])).expect("small")][count]);
    let files: Vec<&Value> = report["files"].as_array().expect("a list").iter().filter(|file| file["path"] != *score).collect();
    for count in ["pages", "leaves"] {
        assert_eq!(whole(&paper[count]), files.iter().map(|file| best(file, count)).sum::<u64>(), "{count}");
    }
    assert_eq!(fit(&[&parts[0], &score])["set"], Value::Null);
}

/// The page of what fits: every choice is a mark with its words, the best is told.
#[test]
fn what_fits_as_a_page() {
    let part = format!("{DEMO}/part-oboe-2.musicxml");
    let arguments = ["fit", "--paper", "A4,B4", "--staff", "7,8", "--margins", "15", &part];
    let page = here(&[&arguments[..], &["--report", "html"]].concat());
    assert_eq!((page.code, page.err.as_str()), (Some(0), ""));
    let html = page
        .out
        .replacen("<!DOCTYPE html>", "", 1)
        .replace("charset=\"utf-8\">", "charset=\"utf-8\"/>")
        .replace("initial-scale=1\">", "initial-scale=1\"/>");
    let document = roxmltree::Document::parse(&html).unwrap_or_else(|error| panic!("{error}"));
    let json = here(&[&arguments[..], &["--report", "json"]].concat()).json();
    let file = &json["files"][0];
    let marks: Vec<&str> = document
        .descendants()
        .filter(|node| node.has_tag_name("title") && node.parent().is_some_and(|parent| parent.has_tag_name("path")))
        .filter_map(|title| title.text())
        .collect();
    let choices: Vec<&Value> = file["choices"].as_array().expect("a list").iter().filter(|choice| choice["pages"].is_u64()).collect();
    assert_eq!(marks.len(), choices.len());
    for choice in choices {
        let says = format!(
            "{}, {} mm: {} pages",
            choice["paper"].as_str().expect("a name"),
            choice["staff_height_mm"].as_f64().expect("a number"),
            choice["pages"]
        );
        assert!(marks.iter().any(|mark| mark.starts_with(&says)), "{says}: {marks:?}");
    }
    assert_eq!(marks.iter().filter(|mark| mark.ends_with("the best")).count(), 1);
    assert!(html.contains(file["because"].as_str().expect("a text")));
}

/// What leaves no room is told as that, by every command; nothing is written.
#[test]
fn margins_that_leave_no_room() {
    let oboe = &format!("{DEMO}/part-oboe-1.musicxml");
    let desk = tempfile::TempDir::new().expect("a folder");
    let out = desk.path().join("new.musicxml");
    for (margins, said) in [("124", "leave no width"), ("200", "leave no width")] {
        let run = here(&["castoff", oboe, "--margins", margins, "--write", out.to_str().expect("plain")]);
        assert_eq!(run.code, Some(1), "{run:?}");
        assert!(run.out.replace("\n  ", " ").contains(said), "{run:?}");
        assert!(!out.exists());
    }
    let run = here(&["fit", oboe, "--paper", "B4", "--staff", "8", "--margins", "124,500"]);
    assert_eq!(run.code, Some(1));
    assert!(run.out.contains("the margins leave no room for music"), "{}", run.out);
    let run = here(&["castoff", oboe, "--staff", "-3"]);
    assert_eq!(run.code, Some(2));
    assert!(run.err.contains("more than 0"), "{}", run.err);
}

/// Blank pages at the end are pages and leaves; they are told.
#[test]
fn blank_pages_at_the_end() {
    let oboe = &format!("{DEMO}/part-oboe-1.musicxml");
    let made = sheet(&["--multiple-of", "4", "--first", "recto", oboe]);
    let with_music = made["pages"].as_array().expect("pages").len();
    assert_eq!(whole(&made["blank_after"]) + u64::try_from(with_music).expect("few"), 4);
    assert_eq!((whole(&made["then"]["pages"]), whole(&made["then"]["leaves"])), (4, 2));
    assert!(here(&["castoff", "--multiple-of", "4", "--first", "recto", oboe]).out.contains("blank at the end"));
}

/// A file whose parts hold other numbers of bars is cast off, and told to be damaged.
#[test]
fn a_damaged_file_is_no_pass() {
    let file = "fixtures/rules/damaged-file/breaks-listed-part-missing.musicxml";
    for command in ["castoff", "fit"] {
        let run = here(&[command, file]);
        assert_eq!(run.code, Some(1), "{command}: {run:?}");
        assert!(run.out.contains("the file is damaged"), "{command}: {}", run.out);
    }
}

/// Each copy at the height that its reader wants.
#[test]
fn the_ideal_height_of_each_reader() {
    let files = ["part-oboe-1", "part-harmonium"].map(|part| format!("{DEMO}/{part}.musicxml"));
    let run = here(&["castoff", "--staff", "ideal", "--report", "json", &files[0], &files[1]]);
    assert_eq!(run.code, Some(0), "{run:?}");
    let report = run.json();
    let heights: Vec<&Value> = report["files"].as_array().expect("a list").iter().map(|file| &file["sheet"]["staff_height_mm"]).collect();
    // The readers' table: winds 7.5 mm, keyboards 6.5 mm (its sources stand there).
    assert_eq!(heights, [&Value::from(6.5), &Value::from(7.5)]);
}

/// Both turns of the first clarinet come in the middle of a phrase; cast off anew, none does.
#[test]
fn the_clarinet_turns_where_a_hand_is_free() {
    let sheet = sheet(&["--paper", "B4", "--staff", "8", "--margins", "20", &format!("{DEMO}/part-clarinet-1.musicxml")]);
    assert_eq!((whole(&sheet["now"]["no_time_to_turn"]), whole(&sheet["then"]["no_time_to_turn"])), (2, 0));
    assert_eq!((whole(&sheet["now"]["pages"]), whole(&sheet["then"]["pages"])), (4, 2));
    assert!(sheet["pages"][0]["turn_s"].as_f64().is_some_and(|seconds| seconds >= 4.0));
}

#[test]
fn what_is_asked_for_is_kept() {
    let file = format!("{DEMO}/part-clarinet-1.musicxml");
    assert_eq!(whole(&sheet(&["--pages", "4", &file])["then"]["pages"]), 4);
    let multiple = sheet(&["--multiple-of", "4", &file]);
    assert!(whole(&multiple["then"]["pages"]) <= 4);
    let kept = sheet(&["--keep-breaks", &file]);
    let systems: Vec<&Value> =
        kept["pages"].as_array().expect("pages").iter().flat_map(|page| page["systems"].as_array().expect("systems")).collect();
    assert_eq!(systems.len(), 24, "as many as there are");
    assert!(systems.iter().all(|system| system["moved"] == false));
    let verso = sheet(&["--first", "verso", &file]);
    assert_eq!(verso["pages"][0]["side"], "verso");
}

#[test]
fn a_file_without_layout_is_cast_off_and_what_was_assumed_is_said() {
    let bars: Vec<String> = (0..64).map(|bar| if bar % 16 == 15 { "r".to_owned() } else { "c5 d5 e5 f5".to_owned() }).collect();
    let file = tiny::file("Study", &[tiny::Tiny { name: "Oboe", transpose: None, bars }]);
    let run = run_with(Path::new("."), &["castoff", "-"], file.as_bytes());
    assert_eq!(run.code, Some(0), "{run:?}");
    for said in ["no page size", "no staff height", "no tempo is stated", "| 64; ", "then:"] {
        assert!(run.out.contains(said), "{said}: {}", run.out);
    }
    assert!(!run.out.contains("now:"), "nothing stands yet: {}", run.out);
}

#[test]
fn what_cannot_be_met_is_said_with_the_nearest_that_can() {
    let clarinet = format!("{DEMO}/part-clarinet-1.musicxml");
    let score = format!("{DEMO}/score.musicxml");
    let cases: [(&[&str], i32, &str); 9] = [
        (&["castoff", "--pages", "999", &clarinet], 1, "The nearest that can"),
        (&["castoff", "--staff", "30", &score], 1, "mm higher than a page holds"),
        (&["castoff", "--staff", "60", &clarinet], 0, "mm more than any line has"),
        (&["castoff", "--paper", "B44", &clarinet], 2, "There are:"),
        (&["castoff", "--staff", "0", &clarinet], 2, "more than 0"),
        (&["castoff", "--margins", "nothing", &clarinet], 2, "a number of millimetres"),
        (&["castoff", "--role", "oboist", &clarinet], 2, "oboist"),
        (&["fit", "--staff", "7..6", &clarinet], 2, "from less to more"),
        (&["fit", "--staff", "30", "--paper", "A4", &score], 1, "no page holds one system"),
    ];
    for (arguments, code, said) in cases {
        let run = here(arguments);
        assert_eq!(run.code, Some(code), "{arguments:?}: {run:?}");
        assert!(run.out.contains(said) || run.err.contains(said), "{arguments:?}: {run:?}");
    }
    let empty = tiny::file("Nothing", &[tiny::Tiny { name: "Oboe", transpose: None, bars: Vec::new() }]);
    let run = run_with(Path::new("."), &["castoff", "-"], empty.as_bytes());
    assert_eq!(run.code, Some(1), "{run:?}");
    assert!(run.out.contains("holds no bars"), "{run:?}");
    let silent = tiny::file("Rests", &[tiny::Tiny { name: "Oboe", transpose: None, bars: vec!["r".to_owned(); 8] }]);
    assert_eq!(run_with(Path::new("."), &["castoff", "-"], silent.as_bytes()).code, Some(0));
    assert_eq!(run_with(Path::new("."), &["castoff", "-"], b"<score").code, Some(1), "damaged");
}

#[test]
fn a_row_for_each_system_and_each_choice() {
    let clarinet = format!("{DEMO}/part-clarinet-1.musicxml");
    let csv = here(&["castoff", "--report", "csv", &clarinet]);
    let sheet = sheet(&[&clarinet]);
    let rows = csv.out.lines().count() - 1;
    assert_eq!(rows as u64, whole(&sheet["then"]["systems"]));
    let csv = here(&["fit", "--report", "csv", "--paper", "A4,B4", "--staff", "7,8", "--margins", "15", &clarinet]);
    assert_eq!(csv.out.lines().count(), 5);
    let json = here(&["fit", "--report", "json", "--paper", "A4,B4", "--staff", "7,8", "--margins", "15", &clarinet]).json();
    let schema: Value = serde_json::from_slice(&fs::read("docs/schema/fit.schema.json").expect("committed")).expect("JSON");
    assert!(jsonschema::validator_for(&schema).expect("a schema").is_valid(&json));
}

/// A set of five desks: paper is reckoned for what is printed, a folded sheet holding two leaves (arithmetic).
#[test]
fn the_paper_of_a_whole_set() {
    let desk = tempfile::TempDir::new().expect("a folder");
    for name in ["part-horn-1.musicxml", "part-clarinet-1.musicxml"] {
        fs::write(desk.path().join(name), support::fixture(&format!("demo/{name}"))).expect("written");
    }
    fs::write(desk.path().join("stavegauge.toml"), "[[copy]]\nfiles = \"*clarinet*\"\ndesks = 4\n").expect("written");
    let run = run(desk.path(), &["castoff", "--report", "json", "."]);
    assert_eq!(run.code, Some(0), "{run:?}");
    let report = run.json();
    let files = report["files"].as_array().expect("a list");
    let of = |file: &Value| (whole(&file["desks"]), whole(&file["sheets_of_paper"]), whole(&file["sheet"]["then"]["leaves"]));
    let all: Vec<(u64, u64, u64)> = files.iter().map(of).collect();
    assert_eq!((all[0].0, all[1].0), (4, 1));
    assert!(all.iter().all(|(_, sheets, leaves)| *sheets == leaves.div_ceil(2)), "{all:?}");
    let sum: u64 = all.iter().map(|(desks, sheets, _)| desks * sheets).sum();
    let table = support::run(desk.path(), &["castoff", "."]).out;
    let said = format!("{sum} sheets of paper for the 5 that are printed");
    assert!(table.replace('\n', " ").contains(&said), "{said}: {table}");
}

#[test]
fn the_sheet_for_people() {
    let run = here(&["castoff", "--paper", "B4", "--staff", "8", "--margins", "20", &format!("{DEMO}/part-clarinet-1.musicxml")]);
    insta::assert_snapshot!("casting-off-sheet", run.out);
    let run = here(&["fit", "--paper", "A4,B4", "--staff", "7..9/1", "--margins", "15", &format!("{DEMO}/part-clarinet-1.musicxml")]);
    insta::assert_snapshot!("what-fits", run.out);
}
