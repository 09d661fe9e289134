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

/// Staves that are all of four fifths of the scaling's size: a staff height is that of the staves that most have.
#[test]
fn staves_of_another_size_than_the_scaling() {
    let desk = Desk::with(&[CLARINET]);
    let small = desk.text(CLARINET).replacen("</clef>", "</clef><staff-details><staff-size>80</staff-size></staff-details>", 1);
    assert_ne!(small, desk.text(CLARINET));
    fs::write(desk.path("small.musicxml"), small).expect("written");
    let sheet = desk.castoff(&["--staff", "6", "--report", "json", "--write", "new.musicxml", "small.musicxml"]).json();
    let measured = run(desk.0.path(), &["measure", "--report", "json", "new.musicxml"]).json();
    let (page, stands) = (&sheet["files"][0]["sheet"]["pages"][0], &measured["files"][0]["pages"][0]);
    assert_eq!(measured["files"][0]["staff_height_mm"], 6.0);
    assert_eq!(stands["systems"][0]["staves"][0]["height_mm"], 6.0);
    let number = |value: &serde_json::Value| value.as_f64().expect("a number");
    assert!((number(&page["first_top_mm"]) - number(&stands["systems"][0]["top_mm"])).abs() < 0.05);
    for (system, there) in page["systems"].as_array().expect("a list").iter().zip(stands["systems"].as_array().expect("a list")) {
        let share = number(&system["of_natural"]);
        assert!((share * 100.0 - number(&there["spacing"]["percent_of_natural"])).abs() <= 1.0, "{system} against {there}");
    }
    let last = stands["systems"].as_array().expect("a list").last().expect("one");
    assert!(number(&last["bottom_mm"]) < 297.0 - 10.0);
}

#[test]
fn nothing_is_overwritten_unasked() {
    let desk = Desk::with(&[CLARINET, "part-horn-1.musicxml"]);
    let before = desk.text(CLARINET);
    for (arguments, said) in [
        (vec!["--write", CLARINET, CLARINET], "is there already"),
        (vec!["--write", "new.musicxml", CLARINET, "part-horn-1.musicxml"], "cannot be written into one file"),
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
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(desk.path(CLARINET), fs::Permissions::from_mode(0o600)).expect("set");
    }
    let run = desk.castoff(&["--in-place", CLARINET]);
    assert_eq!(run.code, Some(0), "{run:?}");
    assert_ne!(desk.text(CLARINET), before);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(desk.path(CLARINET)).expect("there").permissions().mode() & 0o777, 0o600, "as readable as it was");
    }
    assert!(run.out.contains(Path::new(CLARINET).to_str().expect("plain")));
}

/// Many scores go into a folder, each under its own name and as what it was: plain, or packed with all else that its container held.
#[test]
fn a_folder_of_scores() {
    let names = [CLARINET, "part-horn-1.musicxml"];
    let desk = Desk::with(&names);
    let inside = run::mxl(&[
        ("META-INF/container.xml", run::container("in/oboe.xml").as_bytes()),
        ("in/oboe.xml", &run::fixture("demo/part-oboe-1.musicxml")),
        ("in/cover.png", b"no picture at all"),
    ]);
    fs::write(desk.path("oboe.mxl"), inside).expect("written");
    fs::create_dir(desk.path("new")).expect("made");
    let run = desk.castoff(&["--write", "new", CLARINET, "part-horn-1.musicxml", "oboe.mxl"]);
    assert_eq!((run.code, run.err.as_str()), (Some(0), "stavegauge: 3 of 3 written to new.\n"), "{run:?}");
    for name in names {
        assert_eq!(without_layout(&desk.text(name)), without_layout(&desk.text(&format!("new/{name}"))), "{name}");
    }
    let mut packed = zip::ZipArchive::new(fs::File::open(desk.path("new/oboe.mxl")).expect("there")).expect("a container");
    let mut member = |name: &str| {
        let mut text = String::new();
        std::io::Read::read_to_string(&mut packed.by_name(name).expect("a member"), &mut text).expect("text");
        text
    };
    assert_eq!(member("in/cover.png"), "no picture at all");
    let oboe = String::from_utf8(run::fixture("demo/part-oboe-1.musicxml")).expect("text");
    assert_ne!(member("in/oboe.xml"), oboe);
    assert_eq!(without_layout(&member("in/oboe.xml")), without_layout(&oboe));
    let audited = run::run(desk.0.path(), &["audit", "--gate", "never", "new/oboe.mxl"]);
    assert_eq!(audited.code, Some(0), "{audited:?}");
    // Nothing is written over, and none of them then.
    fs::remove_file(desk.path("new/oboe.mxl")).expect("it was there");
    let again = desk.castoff(&["--write", "new", "oboe.mxl", CLARINET]);
    assert_eq!(again.code, Some(2));
    assert!(again.err.contains("is there already") && !desk.path("new/oboe.mxl").exists(), "{again:?}");
    // A plain score into a packed one.
    assert_eq!(desk.castoff(&["--write", "horn.mxl", "part-horn-1.musicxml"]).code, Some(0));
    assert_eq!(run::run(desk.0.path(), &["measure", "horn.mxl"]).code, Some(0));
}

/// The room that a heading in the middle of a page takes beyond the usual gap stays what it was: 45 mm less 24.
#[test]
fn a_heading_keeps_its_room() {
    let desk = Desk::with(&[]);
    fs::write(desk.path("two.musicxml"), run::fixture("rules/wide-system-gap/keeps-heading.musicxml")).expect("written");
    assert_eq!(desk.castoff(&["--keep-breaks", "--write", "new.musicxml", "two.musicxml"]).code, Some(0));
    let gaps = |name: &str| -> Vec<f64> {
        let measured = run::run(desk.0.path(), &["measure", "--report", "json", name]).json();
        let systems = measured["files"][0]["pages"][0]["systems"].as_array().expect("a list").clone();
        systems.iter().filter_map(|system| system["gap_above_mm"].as_f64()).collect()
    };
    let (old, new) = (gaps("two.musicxml"), gaps("new.musicxml"));
    assert_eq!(old, [24.0, 45.0, 24.0]);
    let heading = new[1] - f64::midpoint(new[0], new[2]);
    assert!((heading - 21.0).abs() < 0.2, "{new:?}");
}
