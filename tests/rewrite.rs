//! A score written with a new layout: nothing but the layout changes, and nothing is overwritten.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;

use roxmltree::{Document, Node};
use run::run;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

const CLARINET: &str = "part-clarinet-1.musicxml";

/// What says where things stand (`MusicXML` 4.0): elements, and attributes.
const LAYOUT: [&str; 5] = ["scaling", "page-layout", "system-layout", "staff-layout", "measure-layout"];
const PLACES: [&str; 9] =
    ["default-x", "default-y", "width", "new-system", "new-page", "blank-page", "page-number", "staff-spacing", "page"];

/// Everything a score says but its layout, line by line.
fn without_layout(text: &str) -> Vec<String> {
    fn walk(node: Node, out: &mut Vec<String>) {
        let name = node.tag_name().name();
        if node.is_text() {
            let text = node.text().unwrap_or_default().trim();
            out.extend((!text.is_empty()).then(|| text.to_owned()));
            return;
        }
        // Running heads are those of the pages there are.
        let running = name == "credit" && node.attribute("page").is_some_and(|page| page != "1");
        if LAYOUT.contains(&name) || running {
            return;
        }
        let hiding = |attribute: &str| name == "staff-details" && ["number", "print-object", "print-spacing"].contains(&attribute);
        let mut said: Vec<String> = node
            .attributes()
            .filter(|attribute| !PLACES.contains(&attribute.name()) && !hiding(attribute.name()))
            .map(|attribute| format!("{}={}", attribute.name(), attribute.value()))
            .collect();
        said.sort();
        // Which staves are hidden in which system is layout; what is said of a staff beside that is not.
        let hides = |node: &Node| node.has_tag_name("staff-details") && node.children().all(|child| !child.is_element());
        let layout_only = ["print", "defaults", "attributes", "staff-details"].contains(&name)
            && said.is_empty()
            && node.children().all(|child| !child.is_element() || LAYOUT.contains(&child.tag_name().name()) || hides(&child));
        if node.is_element() && !layout_only {
            out.push(format!("<{name} {}>", said.join(" ")));
        }
        node.children().for_each(|child| walk(child, out));
    }
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let document = Document::parse_with_options(text, options).expect("well-formed");
    let mut out = Vec::new();
    walk(document.root(), &mut out);
    out
}

struct Desk(TempDir);

impl Desk {
    fn with(names: &[&str]) -> Self {
        let desk = Self(TempDir::new().expect("a folder"));
        for name in names {
            fs::write(desk.path(name), run::fixture(&format!("demo/{name}"))).expect("written");
        }
        desk
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn text(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).expect("it is there")
    }

    fn castoff(&self, arguments: &[&str]) -> run::Run {
        run(self.0.path(), &[&["castoff"], arguments].concat())
    }
}

#[test]
fn nothing_but_the_layout_changes() {
    let names = [
        CLARINET,
        "part-horn-1.musicxml",
        "part-oboe-2.musicxml",
        "score.musicxml",
        "part-bassoon-1.musicxml",
        "part-harmonium.musicxml",
        "vocal-score.musicxml",
        "score-loose.musicxml",
        "chorus-score.musicxml",
    ];
    let desk = Desk::with(&names);
    for name in names {
        let run = desk.castoff(&["--paper", "B4", "--write", "new.musicxml", name]);
        assert_eq!(run.code, Some(0), "{name}: {run:?}");
        let (old, new) = (without_layout(&desk.text(name)), without_layout(&desk.text("new.musicxml")));
        assert!(old.len() > 500);
        assert_eq!(old, new, "{name}");
        fs::remove_file(desk.path("new.musicxml")).expect("it was there");
    }
}

/// What is written stands as the sheet says, to the twentieth of a millimetre; cast off again it stays as it is.
#[test]
fn what_is_written_measures_as_promised() {
    let desk = Desk::with(&[CLARINET]);
    let wanted = ["--paper", "B4", "--staff", "8", "--margins", "20"];
    let sheet = desk.castoff(&[&wanted[..], &["--report", "json", "--write", "new.musicxml", CLARINET]].concat()).json();
    let measured = run(desk.0.path(), &["measure", "--report", "json", "new.musicxml"]).json();
    let (sheet, measured) = (&sheet["files"][0]["sheet"], &measured["files"][0]);
    assert_eq!(measured["staff_height_mm"], 8.0);
    assert_eq!(measured["layout"], "stated");
    let pages = sheet["pages"].as_array().expect("pages");
    assert_eq!(measured["pages"].as_array().expect("pages").len(), pages.len());
    for (page, stands) in pages.iter().zip(measured["pages"].as_array().expect("pages")) {
        let close = |one: &serde_json::Value, other: &serde_json::Value| {
            let (one, other) = (one.as_f64().expect("a number"), other.as_f64().expect("a number"));
            assert!((one - other).abs() < 0.05, "{one} against {other}");
        };
        close(&page["first_top_mm"], &stands["systems"][0]["top_mm"]);
        assert_eq!(page["side"], stands["side"]);
        for (system, there) in page["systems"].as_array().expect("systems").iter().zip(stands["systems"].as_array().expect("systems")) {
            assert_eq!(system["bars"], there["bars"]);
            close(&there["right_mm"], &serde_json::json!(230.0));
            let share = system["of_natural"].as_f64().expect("a number");
            let percent = there["spacing"]["percent_of_natural"].as_f64().expect("a number");
            assert!((share * 100.0 - percent).abs() <= 1.0, "{share} against {percent} %");
        }
        if let (Some(white), Some(last)) = (page["white_at_foot_mm"].as_f64(), stands["white_at_foot_mm"].as_f64()) {
            assert!((white - last).abs() < 0.1, "{white} against {last}");
        }
    }
    let again = desk.castoff(&["--report", "json", "new.musicxml"]).json();
    let moved =
        again["files"][0]["sheet"]["pages"].as_array().expect("pages").iter().flat_map(|page| page["systems"].as_array().expect("systems"));
    assert!(moved.clone().all(|system| system["moved"] == false), "{again:#}");
    assert!(run(desk.0.path(), &["audit", "new.musicxml"]).out.contains("1 turn, all easy"));
}

#[test]
fn nothing_is_overwritten_unasked() {
    let desk = Desk::with(&[CLARINET, "part-horn-1.musicxml"]);
    let before = desk.text(CLARINET);
    for (arguments, said) in [
        (vec!["--write", CLARINET, CLARINET], "is there already"),
        (vec!["--write", "new.musicxml", CLARINET, "part-horn-1.musicxml"], "one file at a time"),
        (vec!["--write", "nowhere/new.musicxml", CLARINET], "no folder"),
        (vec!["--in-place", "--write", "new.musicxml", CLARINET], "cannot be used with"),
        (vec!["--report", "csv=new.musicxml", "--write", "new.musicxml", CLARINET], "into one file"),
        (vec!["--in-place", "-"], "only a plain file"),
    ] {
        let run = desk.castoff(&arguments);
        assert_eq!(run.code, Some(2), "{arguments:?}: {run:?}");
        assert!(run.err.contains(said), "{arguments:?}: {run:?}");
        assert!(!desk.path("new.musicxml").exists(), "{arguments:?}");
    }
    assert_eq!(desk.text(CLARINET), before);
    // What cannot be cast off is not written.
    let run = desk.castoff(&["--pages", "999", "--write", "new.musicxml", CLARINET]);
    assert_eq!(run.code, Some(1), "{run:?}");
    assert!(!desk.path("new.musicxml").exists());
    let run = desk.castoff(&["--in-place", CLARINET]);
    assert_eq!(run.code, Some(0), "{run:?}");
    assert_ne!(desk.text(CLARINET), before);
    assert!(run.out.contains(Path::new(CLARINET).to_str().expect("plain")));
}
