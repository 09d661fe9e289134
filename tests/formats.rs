//! One audit through all its formats: they agree with each other, keep the published schemas, and stay harmless.
//!
//! Held against: the SARIF 2.1.0 schema of OASIS and a reader of SARIF from the registry (`serde-sarif`), a published `JUnit` schema
//! (in `tests/reference`, by xmllint), what a reader of Markdown sees (`pulldown-cmark`).

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;
#[path = "support/tiny.rs"]
mod tiny;

use pulldown_cmark::{Event, Options, Parser, Tag, TagEnd};
use run::{container, fixture, mxl, run};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use tempfile::TempDir;
use tiny::{Tiny, escape};

/// A house in which something may stand, something has run out, and something must be judged.
const HOUSE: &str = r#"
name = "Lantern | Hill <b>"
must-judge = ["small-staff"]

[[copy]]
files = "part-horn-1.*"
role = "orchestral-brass-part"

[[copy]]
files = "bare.*"
apart = true

[rules.no-dividers]
level = "off"
reason = "a system a page"

[[stet]]
rule = "wide-system-gap"
file = "part-horn-1.*"
bars = "1-40"
reason = "the | plates are <old>"
by = "the librarian"
until = 9999-12-31

[[stet]]
rule = "small-staff"
file = "part-clarinet-1.*"
reason = "run off once more"
until = 2020-01-01
"#;

/// Counts of a copy: must, should, query, may stand; what it comes to.
type Told = BTreeMap<String, ([usize; 4], String)>;

struct Reports {
    json: Value,
    sarif: Value,
    junit: String,
    markdown: String,
    terminal: String,
}

fn reports(folder: &Path, more: &[&str]) -> Reports {
    let formats = ["json=a.json", "sarif=a.sarif", "junit=a.xml.junit", "markdown=a.md", "terminal"];
    let mut arguments = vec!["audit", "."];
    arguments.extend(formats.iter().flat_map(|format| ["--report", format]));
    arguments.extend(more);
    let run = run(folder, &arguments);
    assert!(matches!(run.code, Some(0 | 1)), "{}", run.err);
    let read = |name: &str| fs::read_to_string(folder.join(name)).expect("written");
    let json = |name: &str| serde_json::from_str(&read(name)).expect("JSON");
    Reports { json: json("a.json"), sarif: json("a.sarif"), junit: read("a.xml.junit"), markdown: read("a.md"), terminal: run.out }
}

/// Demo copies in that house, a damaged file, a container of two scores.
fn delivery() -> TempDir {
    let folder = tempfile::tempdir().expect("made");
    let put = |name: &str, bytes: &[u8]| fs::write(folder.path().join(name), bytes).expect("written");
    for name in ["part-horn-1", "part-clarinet-1", "part-oboe-2", "part-alto", "score"] {
        put(&format!("{name}.musicxml"), &fixture(&format!("demo/{name}.musicxml")));
    }
    let bare = Tiny { name: "Horn", transpose: None, bars: vec!["c4 d4 e4 f4".to_owned()] };
    put("bare.musicxml", tiny::file("Trial", &[bare]).as_bytes());
    put("broken.musicxml", b"<score-partwise><part-list>");
    let (one, two) = (fixture("demo/part-tenor.musicxml"), fixture("demo/part-harmonium.musicxml"));
    let roots = container("a b.xml").replace("</rootfiles>", "<rootfile full-path=\"c.xml\"/></rootfiles>");
    put("two.mxl", &mxl(&[("META-INF/container.xml", roots.as_bytes()), ("a b.xml", &one), ("c.xml", &two)]));
    put("stavegauge.toml", HOUSE.as_bytes());
    folder
}

fn name(path: &Value, member: &Value) -> String {
    let member = member.as_str().map(|member| format!(" ({member})")).unwrap_or_default();
    format!("{}{member}", path.as_str().expect("a path"))
}

fn level(name: &str) -> usize {
    ["error", "warning", "note"].iter().position(|level| *level == name).expect("a level")
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn told_by_json(report: &Value) -> Told {
    let one = |file: &Value| {
        let mut counts = [0; 4];
        for finding in list(&file["findings"]) {
            let class = if finding["stet"].is_null() { level(finding["level"].as_str().expect("a level")) } else { 3 };
            counts[class] += 1;
        }
        (name(&file["path"], &file["member"]), (counts, file["verdict"].as_str().expect("a verdict").to_owned()))
    };
    list(&report["files"]).iter().map(one).collect()
}

fn told_by_sarif(report: &Value) -> Told {
    let run = &report["runs"][0];
    let artifacts = list(&run["artifacts"]);
    let plain = |uri: &Value| percent_encoding::percent_decode_str(uri.as_str().expect("a URI")).decode_utf8().expect("UTF-8").into_owned();
    let called = |index: &Value| {
        let artifact = &artifacts[usize::try_from(index.as_u64().expect("an index")).expect("small")];
        let own = plain(&artifact["location"]["uri"]);
        match artifact["parentIndex"].as_u64() {
            Some(parent) => format!("{} ({own})", plain(&artifacts[usize::try_from(parent).expect("small")]["location"]["uri"])),
            None => own,
        }
    };
    let mut told: Told = list(&run["properties"]["copies"])
        .iter()
        .map(|copy| (name(&copy["path"], &copy["member"]), ([0; 4], copy["verdict"].as_str().expect("a verdict").to_owned())))
        .collect();
    for result in list(&run["results"]) {
        let copy = called(&result["locations"][0]["physicalLocation"]["artifactLocation"]["index"]);
        let class = if list(&result["suppressions"]).is_empty() { level(result["level"].as_str().expect("a level")) } else { 3 };
        if let Some((counts, _)) = told.get_mut(&copy) {
            counts[class] += 1;
        } else {
            assert_eq!(copy, "stavegauge.toml", "a finding of no copy");
        }
    }
    told
}

/// Failures and skips of each suite; what passes with a word is below the gate.
fn told_by_junit(text: &str) -> BTreeMap<String, (usize, usize, usize)> {
    let document = roxmltree::Document::parse(text).expect("XML");
    let suites = document.descendants().filter(|node| node.has_tag_name("testsuite"));
    let one = |suite: roxmltree::Node| {
        let cases: Vec<_> = suite.children().filter(|node| node.has_tag_name("testcase")).collect();
        let mut names: Vec<(&str, &str)> =
            cases.iter().map(|case| (case.attribute("classname").expect("a class"), case.attribute("name").expect("a name"))).collect();
        let all = names.len();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), all, "names are unique");
        let with = |name: &str| cases.iter().filter(|case| case.children().any(|node| node.has_tag_name(name))).count();
        for (attribute, number) in [("tests", all), ("failures", with("failure")), ("errors", with("error")), ("skipped", with("skipped"))]
        {
            assert_eq!(suite.attribute(attribute), Some(number.to_string().as_str()), "{attribute}");
        }
        let stets = cases
            .iter()
            .flat_map(roxmltree::Node::children)
            .filter(|node| node.has_tag_name("skipped") && node.text().is_some_and(|text| text.trim_start().starts_with("stet: ")));
        (suite.attribute("name").expect("a name").to_owned(), (with("failure"), with("system-out"), stets.count()))
    };
    suites.map(one).collect()
}

/// The rows of the first table of the correction list, as a reader sees them.
fn told_by_markdown(text: &str) -> Told {
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut tables = 0;
    for event in Parser::new_ext(text, Options::ENABLE_TABLES) {
        match event {
            Event::Html(html) | Event::InlineHtml(html) => panic!("HTML in it: {html}"),
            Event::Start(Tag::Table(_)) => tables += 1,
            Event::Start(Tag::TableRow | Tag::TableHead) if tables == 1 => rows.push(Vec::new()),
            Event::Start(Tag::TableCell) if tables == 1 => rows.last_mut().expect("a row").push(String::new()),
            Event::Text(words) | Event::Code(words) if tables == 1 => {
                if let Some(cell) = rows.last_mut().and_then(|row| row.last_mut()) {
                    cell.push_str(&words);
                }
            }
            Event::End(TagEnd::Table) if tables == 1 => tables = 2,
            _ => {}
        }
    }
    let one = |row: &Vec<String>| {
        let [copy, _, _, must, should, query, stet, verdict] = row.as_slice() else { panic!("eight cells: {row:?}") };
        let number = |cell: &String| cell.parse().expect("a number");
        let verdict = match verdict.as_str() {
            "can go" => "pass",
            "comes back" => "fail",
            "not judged" => "undecided",
            other => panic!("{other}"),
        };
        (copy.clone(), ([number(must), number(should), number(query), number(stet)], verdict.to_owned()))
    };
    rows.iter().skip(1).map(one).collect()
}

#[test]
fn all_formats_tell_the_same() {
    let folder = delivery();
    let reports = reports(folder.path(), &["--gate", "warning", "--skip", "no-layout"]);
    let told = told_by_json(&reports.json);
    assert_eq!(told.len(), 9, "{told:#?}");
    let sum: [usize; 4] = std::array::from_fn(|class| told.values().map(|(counts, _)| counts[class]).sum());
    assert!(sum.iter().all(|number| *number > 0), "every class occurs: {sum:?}");
    for verdict in ["pass", "fail", "undecided"] {
        assert!(told.values().any(|(_, own)| own == verdict), "{verdict}: {told:#?}");
    }
    assert_eq!(told_by_sarif(&reports.sarif), told);
    assert_eq!(told_by_markdown(&reports.markdown), told);
    let mut junit = told_by_junit(&reports.junit);
    assert!(junit.remove("stavegauge.toml").is_some_and(|(_, told, _)| told + 1 > 0), "the house style has a suite");
    let gated: BTreeMap<String, (usize, usize, usize)> =
        told.iter().map(|(copy, ([must, should, query, stet], _))| (copy.clone(), (must + should, *query, *stet))).collect();
    assert_eq!(junit, gated);
    let [must, should, query, stet] = sum;
    // What is told of the house style counts too.
    let of_house = list(&reports.json["house"]["findings"]);
    let expired = of_house.iter().filter(|one| one["rule"] == "stet-expired" && one["level"] == "warning").count();
    assert_eq!((of_house.len(), expired), (1, 1), "{of_house:#?}");
    let last = reports.terminal.lines().rev().nth(1).expect("totals").to_owned();
    for words in [
        format!("{must} must change"),
        format!("{} should change", should + 1),
        format!("{query} quer"),
        format!("{stet} may stand"),
        format!("{} copies", told.len()),
    ] {
        assert!(last.contains(&words), "{words}: {last}");
    }
    assert_eq!(reports.json["totals"]["stet"], stet);
    assert_eq!(reports.json["verdict"], "fail");
    // Every rule, message and place of one is in the others.
    let results: Vec<&Value> = list(&reports.sarif["runs"][0]["results"]).iter().collect();
    for file in list(&reports.json["files"]) {
        for finding in list(&file["findings"]) {
            let message = finding["message"].as_str().expect("words");
            let same = |result: &&&Value| {
                result["ruleId"] == finding["rule"]
                    && result["partialFingerprints"]["stavegauge/v1"] == finding["fingerprint"]
                    && result["message"]["text"].as_str().is_some_and(|text| text.starts_with(message.trim_end_matches('.')))
                    && result["locations"][0]["physicalLocation"]["region"]["startLine"] == finding["at"]["line"]
            };
            assert!(results.iter().any(|result| same(&result)), "{finding:#}");
            let escaped = escape(message).replace('\'', "&apos;");
            assert!(reports.junit.contains(&escaped) || reports.junit.contains(message), "{message}");
        }
    }
    let undecided = &reports.terminal;
    assert!(undecided.contains("undecided: the house must have small-staff judged"), "{undecided}");
}

/// OASIS, SARIF 2.1.0 (`tests/schema`), and `serde-sarif` from crates.io, which reads every field that the schema names.
#[test]
fn sarif_is_sarif() {
    let folder = delivery();
    let report = reports(folder.path(), &[]).sarif;
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/schema/sarif-2.1.0-rtm.5.json");
    // One pattern of this edition has a bracket too many, which the errata of the standard take out.
    let text = fs::read_to_string(path).expect("committed").replace("{2}]?$", "{2}?$");
    let schema: Value = serde_json::from_str(&text).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    let wrong: Vec<String> = validator.iter_errors(&report).map(|error| format!("{error} at {}", error.instance_path())).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    let mut spoilt = report.clone();
    spoilt["runs"][0]["results"][0]["level"] = "must".into();
    assert!(!validator.is_valid(&spoilt), "that the schema can fail at all");
    let read: serde_sarif::sarif::Sarif = serde_json::from_value(report.clone()).expect("a consumer reads it");
    let run = read.runs.first().expect("a run");
    let results = run.results.as_ref().expect("results");
    assert_eq!(results.len(), list(&report["runs"][0]["results"]).len());
    let rules = run.tool.driver.rules.as_ref().expect("rules");
    for result in results {
        let index = usize::try_from(result.rule_index.expect("an index")).expect("small");
        assert_eq!(Some(&rules[index].id), result.rule_id.as_ref());
    }
    let notified = run.invocations.as_ref().and_then(|all| all[0].tool_execution_notifications.as_ref()).expect("notifications");
    assert!(notified.iter().any(|one| one.message.text.as_deref().is_some_and(|text| text.starts_with("not judged: "))));
    let suppressed = results.iter().filter(|result| result.suppressions.as_ref().is_some_and(|all| !all.is_empty())).count();
    assert_eq!(suppressed, 1);
    // Nothing of this machine.
    let text = report.to_string();
    assert!(!text.contains(&folder.path().to_string_lossy().into_owned()) && !text.contains("file://"), "{text}");
}

/// What names may hold, in files, parts, bars and marks.
const HOSTILE: &str = "Oboe \"1\" <script>alert(1)</script> & | `x` ,;\n*\u{1b}[31m_\u{202e}eno\u{202c} [a](http://b) ]]> <!-- '";

#[test]
fn hostile_names_come_out_harmless() {
    let folder = tempfile::tempdir().expect("made");
    let named = HOSTILE.replace('\u{1b}', "\u{fffd}");
    let marks = ["[A|B<i>] c5 d5 e5 f5", "g5 g5 g5 g5", "a5 a5 a5 a5", "b5 b5 b5 b5"];
    let part = |marks: &[&str]| Tiny { name: &named, transpose: None, bars: marks.iter().map(|bar| (*bar).to_owned()).collect() };
    let other = Tiny { name: "Horn in F", transpose: None, bars: marks.iter().map(|bar| bar.replace('5', "4")).collect() };
    let score = tiny::file("Trial", &[part(&marks), other]);
    fs::write(folder.path().join("a|<b>`'&\u{202e}x.musicxml"), score).expect("written");
    fs::write(
        folder.path().join("part,1.musicxml"),
        tiny::file("Trial", &[part(&["c5 d5 e5 f5", "g5 g5 g5 g5", "a5 a5 a5 a5", "b5 b5 b5 b5"])]),
    )
    .expect("written");
    let reports = reports(folder.path(), &[]);
    let steers = |sign: char| sign != '\n' && (sign.is_control() || ('\u{202a}'..='\u{202e}').contains(&sign));
    let texts =
        [reports.json.to_string(), reports.sarif.to_string(), reports.junit.clone(), reports.markdown.clone(), reports.terminal.clone()];
    for (name, text) in ["a.json", "a.sarif"].iter().zip(&texts) {
        let written = fs::read_to_string(folder.path().join(name)).expect("written");
        assert!(!written.contains(steers), "{name}: {text}");
    }
    for text in &texts[2..] {
        assert!(!text.contains(steers), "{text}");
    }
    assert!(texts[0].contains("marks-differ"), "{}", texts[0]);
    // Each is read back by its own reader, and Markdown shows neither HTML nor a link of theirs.
    told_by_junit(&reports.junit);
    let told = told_by_markdown(&reports.markdown);
    assert_eq!(told.len(), 2, "{told:#?}");
    for event in Parser::new_ext(&reports.markdown, Options::ENABLE_TABLES) {
        assert!(!matches!(event, Event::Start(Tag::Link { .. } | Tag::Image { .. })), "a link: {event:?}");
    }
}

/// Two hundred copies, whatever the number of threads.
#[test]
fn the_same_bytes_for_any_number_of_threads() {
    let folder = tempfile::tempdir().expect("made");
    let rules = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/rules");
    let mut files: Vec<_> = fs::read_dir(rules)
        .expect("there")
        .flatten()
        .flat_map(|rule| fs::read_dir(rule.path()).into_iter().flatten().flatten().map(|entry| entry.path()))
        .filter(|path| path.is_file())
        .collect();
    files.sort();
    for (number, file) in files.iter().step_by(2).take(185).enumerate() {
        fs::copy(file, folder.path().join(format!("{number:03}.musicxml"))).expect("copied");
    }
    for name in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo")).expect("there").flatten() {
        if name.path().extension().is_some_and(|end| end == "musicxml") {
            fs::copy(name.path(), folder.path().join(name.file_name())).expect("copied");
        }
    }
    let count = fs::read_dir(folder.path()).expect("there").count();
    assert_eq!(count, 200);
    let bytes = |jobs: &str| {
        let reports = reports(folder.path(), &["--jobs", jobs]);
        let Reports { json, sarif, junit, markdown, terminal } = reports;
        (json.to_string(), sarif.to_string(), junit, markdown, terminal)
    };
    let (one, two) = (bytes("1"), bytes("2"));
    assert!(one == two, "they differ");
    assert_eq!(serde_json::from_str::<Value>(&one.0).expect("JSON")["totals"]["files"], 200);
}
