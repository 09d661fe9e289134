//! The marked proof and the pictures in it: what is drawn is what was measured, and a text stays a text.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;

use roxmltree::{Document, Node};
use run::{Run, fixture, run};
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

fn here(arguments: &[&str]) -> Run {
    run(Path::new(env!("CARGO_MANIFEST_DIR")), arguments)
}

/// The lines of staves in a picture: left end, height, right end.
fn staff_lines(svg: &str) -> Vec<[f64; 3]> {
    let document = Document::parse(svg).expect("it is XML");
    let paths = document.descendants().filter(|node| node.attribute("class") == Some("staff"));
    let numbers = |text: &str| -> Vec<f64> { text.split(['H', ' ']).map(|number| number.parse().expect("a number")).collect() };
    let lines = paths.flat_map(|path| path.attribute("d").expect("a path").split('M').skip(1).map(numbers).collect::<Vec<_>>());
    lines.map(|line| [line[0], line[1], line[2]]).collect()
}

/// Every staff of every page stands in the picture where `measure` says, to a twentieth of a millimetre: demo copies, and where they are at
/// hand the published quartets whose staves were read off their printed PDF.
#[test]
fn staves_are_drawn_where_they_are_measured() {
    let mut files: Vec<String> =
        ["part-clarinet-1", "score", "part-harmonium"].iter().map(|name| format!("fixtures/demo/{name}.musicxml")).collect();
    let real = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/real");
    files.extend(
        ["quartet-a.mxl", "quartet-b.mxl"].iter().filter(|name| real.join(name).is_file()).map(|name| format!("../shared/real/{name}")),
    );
    let mut checked = 0;
    for file in &files {
        let measured = here(&["measure", "--report", "json", file]).json();
        for (index, page) in measured["files"][0]["pages"].as_array().expect("pages").iter().enumerate() {
            let drawn = here(&["draw", "--page", &(index + 1).to_string(), file]);
            assert_eq!(drawn.code, Some(0), "{file}: {}", drawn.err);
            let document = Document::parse(&drawn.out).expect("it is XML");
            let root = document.root_element();
            let size = [page["width_mm"].as_f64().expect("stated"), page["height_mm"].as_f64().expect("stated")];
            let view: Vec<f64> =
                root.attribute("viewBox").expect("it has one").split(' ').map(|part| part.parse().expect("a number")).collect();
            assert!((view[2] - size[0]).abs() < 0.05 && (view[3] - size[1]).abs() < 0.05, "{file}: {view:?}");
            let lines = staff_lines(&drawn.out);
            for system in page["systems"].as_array().expect("systems") {
                let left = system["left_mm"].as_f64().expect("known");
                for staff in system["staves"].as_array().expect("staves") {
                    let (top, height) = (staff["top_mm"].as_f64().expect("known"), staff["height_mm"].as_f64().expect("known"));
                    for line in 0..5 {
                        let y = top + height * f64::from(line) / 4.0;
                        let near = |drawn: &&[f64; 3]| (drawn[0] - left).abs() < 0.05 && (drawn[1] - y).abs() < 0.05;
                        assert!(lines.iter().any(|drawn| near(&drawn)), "{file}, p. {}: no line at {y}", index + 1);
                        checked += 1;
                    }
                }
            }
        }
    }
    assert!(checked > 500, "{checked} lines");
}

/// Notes stand where the file says: as many heads as it has, each within the bar that holds it.
#[test]
fn heads_stand_in_their_bars() {
    let file = "fixtures/demo/part-clarinet-1.musicxml";
    let text = String::from_utf8(fixture("demo/part-clarinet-1.musicxml")).expect("text");
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let score = Document::parse_with_options(&text, options).expect("it is XML");
    let pitched = score.descendants().filter(|node| node.has_tag_name("note") && node.children().any(|child| child.has_tag_name("pitch")));
    let pages = here(&["measure", "--report", "json", file]).json()["files"][0]["pages"].as_array().expect("pages").len();
    let mut heads = 0;
    for page in 1..=pages {
        let svg = here(&["draw", "--page", &page.to_string(), file]).out;
        let document = Document::parse(&svg).expect("it is XML");
        let ink = document.descendants().filter(|node| node.attribute("class") == Some("ink")).filter_map(|node| node.attribute("d"));
        // Only note heads are ovals that lean.
        heads += ink.map(|path| path.matches(" -22 1 0 ").count()).sum::<usize>() / 2;
    }
    assert_eq!(heads, pitched.count());
}

#[test]
fn pages_that_cannot_be_drawn_are_told() {
    let desk = TempDir::new().expect("a folder");
    let clarinet = "fixtures/demo/part-clarinet-1.musicxml";
    let out = desk.path().join("page.png");
    let drawn = here(&["draw", clarinet, "--out", out.to_str().expect("plain")]);
    assert_eq!((drawn.code, drawn.out.as_str()), (Some(0), ""), "{}", drawn.err);
    assert!(fs::read(&out).expect("it is there").starts_with(b"\x89PNG\r\n"));
    let out = out.to_str().expect("plain");
    // Where its staves stand is not stated.
    let text = String::from_utf8(fixture("demo/part-oboe-1.musicxml")).expect("text");
    let lines: Vec<&str> = text.lines().filter(|line| !line.contains("<top-system-distance>")).collect();
    let without_tops = desk.path().join("tops.musicxml");
    fs::write(&without_tops, lines.join("\n")).expect("written");
    let without_tops = without_tops.to_str().expect("plain");
    for (arguments, said) in [
        (vec!["draw", clarinet, "--out", out], "is there already"),
        (vec!["draw", clarinet, "--page", "9"], "there is no page 9"),
        (vec!["draw", clarinet, "--page", "3000"], "there is no page 3000"),
        (vec!["draw", "fixtures/demo"], "one score is drawn at a time"),
        (vec!["draw", "fixtures/rules/no-layout/breaks-no-scaling.musicxml"], "cannot be drawn"),
        (vec!["draw", without_tops], "cannot be drawn"),
    ] {
        let run = here(&arguments);
        assert_eq!(run.code, Some(2), "{arguments:?}: {run:?}");
        assert!(run.err.contains(said), "{arguments:?}: {}", run.err);
    }
}

/// A proof, and the audit that it shows.
fn proof(folder: &Path, arguments: &[&str]) -> (String, Value) {
    let out = folder.join("proof.html");
    let report = format!("html={}", out.display());
    let run = here(&[&["audit", "--gate", "never", "--report", &report, "--report", "json"], arguments].concat());
    assert_eq!((run.code, run.err.as_str()), (Some(0), ""));
    let html = fs::read_to_string(&out).expect("it is there");
    fs::remove_file(out).expect("it was there");
    (html, run.json())
}

/// The proof is XML enough for a reader of XML once what only HTML leaves open is closed.
fn as_xml(html: &str) -> String {
    let mut text = html.replacen("<!DOCTYPE html>", "", 1);
    let script = text.find("<script>").expect("it has one")..text.find("</script>").expect("it ends") + "</script>".len();
    text.replace_range(script, "");
    for open in ["<meta ", "<input ", "<br"] {
        let mut from = 0;
        while let Some(at) = text[from..].find(open).map(|at| at + from) {
            let end = text[at..].find('>').expect("it ends") + at;
            if !text[..end].ends_with('/') {
                text.insert(end, '/');
            }
            from = end + 1;
        }
    }
    text.replace(" checked", " checked=\"\"").replace(" hidden>", " hidden=\"\">")
}

#[test]
fn every_finding_is_told_and_linked_both_ways() {
    let desk = TempDir::new().expect("a folder");
    let (html, json) = proof(desk.path(), &["fixtures/demo/score-loose.musicxml", "fixtures/demo/part-clarinet-1.musicxml"]);
    let text = as_xml(&html);
    let document = Document::parse(&text).unwrap_or_else(|error| panic!("{error}"));
    let ids: Vec<&str> = document.descendants().filter_map(|node| node.attribute("id")).collect();
    let mut unique = ids.clone();
    unique.sort_unstable();
    unique.dedup();
    assert_eq!(unique.len(), ids.len(), "ids are there once");
    let says = |node: Node| node.descendants().filter_map(|child| child.text()).collect::<String>();
    let rows: Vec<Node> =
        document.descendants().filter(|node| node.attribute("class").is_some_and(|class| class.starts_with("finding "))).collect();
    let findings: Vec<&Value> =
        json["files"].as_array().expect("files").iter().flat_map(|file| file["findings"].as_array().expect("a list")).collect();
    assert_eq!(rows.len(), findings.len());
    for finding in findings {
        let message = finding["message"].as_str().expect("a text");
        assert!(rows.iter().any(|row| says(*row).contains(message)), "{message}");
    }
    let links = document.descendants().filter_map(|node| node.attribute("href"));
    let mut marks = 0;
    for link in links {
        let target = link.strip_prefix('#').unwrap_or_else(|| panic!("{link} leaves the file"));
        assert!(ids.contains(&target), "{link} leads nowhere");
        marks += usize::from(target.contains("-mark-"));
    }
    // Of those with a place most are marked, and a mark leads back to its row.
    assert!(marks * 3 > rows.len() * 2, "{marks} of {} marked", rows.len());
    assert_eq!(
        document.descendants().filter(|node| node.attribute("class").is_some_and(|class| class.starts_with("mark "))).count(),
        marks
    );
    for external in ["http://", "https://", "@import", "url("] {
        let allowed = html.matches("url(#hatch)").count();
        let found = html.matches(external).count();
        assert_eq!(found, if external == "url(" { allowed } else { 0 }, "{external}");
    }
    assert!(html.contains("white between staves and systems") || html.contains("mm white"));
    assert!(html.contains("as it could be"));
}

/// The name of a file may steer a reader's eye, or a terminal that shows the source; it is shown as in other reports, in commands too.
#[cfg(unix)]
#[test]
fn a_name_of_a_file_steers_nothing() {
    let folder = tempfile::tempdir().expect("made");
    fs::write(folder.path().join("a\u{202e}\u{1b}[31mb.musicxml"), fixture("rules/page-turn/breaks-attacca.musicxml")).expect("written");
    let (html, _) = proof(folder.path(), &[folder.path().to_str().expect("UTF-8")]);
    assert!(html.contains("<code>stavegauge castoff "), "a command tells its name");
    assert!(!html.contains(['\u{202e}', '\u{1b}']));
}

#[test]
fn a_name_stays_a_text() {
    let desk = TempDir::new().expect("a folder");
    let evil = "&lt;img src=x onerror=alert(1)&gt;\"'";
    let text = String::from_utf8(fixture("demo/part-clarinet-1.musicxml")).expect("text");
    let text = text.replace("Clarinet 1 in B flat", evil).replace("Serenade at Kettle Weir", evil).replace("Andante con moto", evil);
    let file = desk.path().join("evil <b>.musicxml");
    fs::write(&file, text).expect("written");
    let (html, _) = proof(desk.path(), &[file.to_str().expect("plain")]);
    assert!(html.contains("&lt;img src=x onerror=alert(1)&gt;"));
    assert!(!html.contains("<img") && !html.contains("<b>"));
    Document::parse(&as_xml(&html)).unwrap_or_else(|error| panic!("{error}"));
}
