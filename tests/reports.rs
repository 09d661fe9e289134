//! The reports: their promised shape, the same bytes every time, harmless on a terminal, and how they read.

#![allow(clippy::expect_used, clippy::panic, reason = "a test that cannot go on fails")]

#[path = "support/in_step.rs"]
mod in_step;
#[path = "support/run.rs"]
mod support;

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};
use serde_json::Value;
use stavegauge::audit::{DocumentAudit, Placed, RoleTaken, Summary};
use stavegauge::house::{Basis, House};
use stavegauge::musicxml::Spot;
use stavegauge::place::{Confidence, Place};
use stavegauge::report::style_schema::style_schema;
use stavegauge::report::terminal::{Look, write};
use stavegauge::report::{AuditReport, Gate, Style, casting_json, fitting, json, measure_json, rounds_json};
use stavegauge::rule::subject::vocabulary;
use stavegauge::rule::{Examples, Excused, Finding, Level, NotJudged, RuleBook, Where};
use stavegauge::units::Mm;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use support::{container, fixture, mxl, program, run, run_with};

const SCHEMAS: &str = "docs/schema";

/// Of what is written, so every field is required and may be null.
fn schema<T: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12().for_serialize().into_generator().into_root_schema_for::<T>()
}

#[test]
fn schemas_are_in_step_with_the_types() {
    let text = |schema: Schema| (serde_json::to_string_pretty(&schema).expect("JSON") + "\n").into_bytes();
    let style = House::built_in().expect("the house loads");
    let roles: Vec<&str> = style.roles.names().collect();
    let rules = RuleBook::built_in(&vocabulary(), &roles, Examples::Read).expect("the rules load");
    let house = (serde_json::to_string_pretty(&style_schema(&rules, &style)).expect("JSON") + "\n").into_bytes();
    let wanted = BTreeMap::from([
        (format!("{SCHEMAS}/audit.schema.json"), text(schema::<json::Audit>())),
        (format!("{SCHEMAS}/castoff.schema.json"), text(schema::<casting_json::CastOffs>())),
        (format!("{SCHEMAS}/compare.schema.json"), text(schema::<rounds_json::Compare>())),
        (format!("{SCHEMAS}/fit.schema.json"), text(schema::<fitting::Fits>())),
        (format!("{SCHEMAS}/house.schema.json"), house),
        (format!("{SCHEMAS}/measure.schema.json"), text(schema::<measure_json::Measure>())),
    ]);
    in_step::hold(SCHEMAS, &wanted, &[]);
}

/// The real reports of everything in the repository.
fn real(command: &str) -> Value {
    let run = run(Path::new(env!("CARGO_MANIFEST_DIR")), &[command, "fixtures", "--report", "json"]);
    assert_eq!((run.code, run.err.as_str()), (Some(1), ""));
    for line in run.out.lines() {
        assert!(!line.ends_with("-0.0") && !line.ends_with("-0.0,"), "negative zero: {line}");
    }
    run.json()
}

#[test]
fn real_reports_keep_their_schemas() {
    for command in ["audit", "measure"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("{SCHEMAS}/{command}.schema.json"));
        let schema: Value = serde_json::from_slice(&fs::read(path).expect("committed")).expect("JSON");
        let validator = jsonschema::validator_for(&schema).expect("a schema");
        let mut report = real(command);
        let wrong: Vec<String> = validator.iter_errors(&report).map(|error| format!("{error} at {}", error.instance_path())).collect();
        assert!(wrong.is_empty(), "{wrong:#?}");
        // That the schema can fail at all.
        report["files"][0]["path"] = Value::Null;
        assert!(!validator.is_valid(&report));
    }
}

/// Source: the contract, `audit --report json` and `measure --report json`.
#[test]
fn the_promised_fields_come_in_the_promised_order() {
    fn holds(value: &Value, fields: &str) {
        let mut keys = value.as_object().expect("an object").keys();
        for field in fields.split(' ') {
            assert!(keys.any(|key| key == field), "{field} is missing or out of order in {value:#}");
        }
    }
    let audit = real("audit");
    holds(&audit, "format version house files totals verdict");
    holds(&audit["totals"], "files error warning note stet");
    let files = audit["files"].as_array().expect("files");
    for file in files {
        holds(file, "path member role printed_at summary findings not_judged good");
        for finding in file["findings"].as_array().expect("findings") {
            holds(
                finding,
                "rule level message advice page system bars part staff measured limit unit confidence because at fingerprint stet",
            );
        }
    }
    let whole = files.iter().find(|file| !file["summary"]["paper"].is_null()).expect("a file with paper");
    holds(&whole["summary"], "pages systems bars movements staff_height_mm paper");
    holds(&whole["summary"]["paper"], "width_mm height_mm name");
    let measure = real("measure");
    holds(&measure, "format files");
    let file = measure["files"].as_array().expect("files").iter().find(|file| file["layout"] == "stated").expect("one stated");
    holds(file, "path mm_per_tenth staff_height_mm layout pages");
    let page = &file["pages"][0];
    holds(page, "number side width_mm height_mm margins_mm head_mm foot_mm depth_used white_between_mm systems_that_fit systems");
    holds(&page["margins_mm"], "top bottom left right");
    let system = &page["systems"][0];
    holds(system, "number bars top_mm bottom_mm left_mm right_mm gap_above_mm clearance_above_mm staves bar_widths");
    holds(&system["staves"][0], "part staff top_mm bottom_mm height_mm gap_above_mm clearance_above_mm");
    holds(&system["bar_widths"][0], "number bar_index left_mm width_mm");
}

/// Source: the contract, total order of findings; absent first.
#[test]
fn findings_stand_in_the_order_of_the_music() {
    let report = real("audit");
    let files = report["files"].as_array().expect("files");
    let paths: Vec<&str> = files.iter().filter_map(|file| file["path"].as_str()).collect();
    assert!(paths.is_sorted(), "by path");
    for file in files {
        let findings = file["findings"].as_array().expect("findings");
        let key = |finding: &Value| (finding["page"].as_u64(), finding["system"].as_u64(), finding["bar_index"][0].as_u64());
        assert!(findings.iter().map(key).is_sorted(), "{}", file["path"]);
    }
}

#[test]
fn the_same_bytes_for_any_number_of_jobs() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    // Repairs are worked out on whole copies; the many leaves of the rules would take too long.
    let many = ["fixtures/rules", "fixtures/demo"];
    let whole = ["fixtures/trade", "fixtures/demo"];
    let cases: [(&[&str], [&str; 2]); 7] = [
        (&["audit", "--report", "json", "--repairs", "never"], many),
        (&["audit", "--report", "terminal", "--repairs", "never"], many),
        (&["audit", "--report", "json"], whole),
        (&["audit", "--report", "html"], whole),
        (&["measure", "--report", "json"], many),
        (&["measure", "--report", "csv"], many),
        (&["measure", "--report", "terminal"], many),
    ];
    for (command, [first, second]) in cases {
        let with = |jobs: &str, one: &str, other: &str| run(root, &[command, &["--jobs", jobs, one, other]].concat()).out;
        let one = with("1", first, second);
        assert!(one.lines().count() > 100);
        assert!(one == with("2", second, first), "{command:?}");
        assert!(one == with("7", first, second), "{command:?}");
    }
}

/// Signs that steer a terminal or the direction of writing, line ends apart.
fn steers(sign: char) -> bool {
    sign != '\n' && (sign.is_control() || matches!(sign, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{2028}' | '\u{2029}'))
}

#[test]
fn nothing_from_a_file_steers_the_terminal() {
    let folder = tempfile::tempdir().expect("made");
    let horn = String::from_utf8(fixture("demo/part-horn-1.musicxml")).expect("UTF-8");
    // XML 1.0 allows these (2.2), and 8-bit controls are as good as escape sequences on some terminals.
    let hostile = horn.replace("Horn 1 in F", "Horn\u{9b}31m\u{7f} &#x9b;2J\u{202e}1 ni nroH\u{2028}");
    assert_ne!(hostile, horn);
    fs::write(folder.path().join("hostile.musicxml"), &hostile).expect("written");
    fs::write(folder.path().join("damaged.musicxml"), horn.replace("Horn 1 in F", "\u{1b}[31m\u{202e}")).expect("written");
    let member = "\u{9b}31m.xml";
    let packed = mxl(&[("META-INF/container.xml", container(member).as_bytes()), (member, hostile.as_bytes())]);
    fs::write(folder.path().join("hostile.mxl"), packed).expect("written");
    if cfg!(unix) {
        fs::write(folder.path().join("\u{1b}[2J\u{9b}.xml"), "<").expect("written");
    }
    let cases = [("audit", "terminal"), ("audit", "json"), ("measure", "terminal"), ("measure", "json"), ("measure", "csv")];
    for (command, format) in cases {
        let run = run(folder.path(), &[command, ".", "--report", format]);
        assert_eq!(run.code, Some(1), "{command} {format}: {}", run.err);
        assert!(run.out.contains("hostile.musicxml"), "{command} {format}");
        assert!(
            !run.out.contains(steers) && !run.err.contains(steers),
            "{command} {format}: {:?}",
            run.out.lines().find(|line| line.contains(steers))
        );
        if format == "json" {
            assert!(run.out.contains("\\u009b"), "the value itself is kept");
        }
    }
    let refused = run(folder.path(), &["audit", "gone\u{1b}[31m.xml"]);
    assert!(refused.code == Some(2) && !refused.err.contains(steers), "{refused:?}");
}

#[test]
fn colour_only_where_it_is_wanted() {
    let horn = fixture("demo/part-horn-1.musicxml");
    let folder = tempfile::tempdir().expect("made");
    let out = |arguments: &[&str]| run_with(folder.path(), &[&["audit", "-"], arguments].concat(), &horn).out;
    let plain = out(&[]);
    assert!(!plain.contains('\u{1b}'), "no terminal, no colour");
    assert!(out(&["--color", "never"]) == plain);
    let coloured = out(&["--color", "always"]);
    assert!(coloured.contains('\u{1b}'));
    // The colours say nothing alone: without them it is the same text.
    let mut stripped = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, behind)) = rest.split_once("\u{1b}[") {
        stripped.push_str(before);
        rest = behind.split_once('m').expect("a colour ends").1;
    }
    assert_eq!(stripped + rest, plain);
    let asked =
        program(folder.path(), &["audit", "-", "--report", "json", "--color", "always"]).stdin(std::process::Stdio::null()).output();
    assert!(!asked.expect("runs").stdout.contains(&0x1b), "JSON has no colour");
}

#[test]
fn every_staff_has_its_row() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let report = real("measure");
    let csv = run(root, &["measure", "fixtures", "--report", "csv"]).out;
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let column = |name: &str| header.iter().position(|one| one == name).unwrap_or_else(|| panic!("no column {name}"));
    let columns = ["path", "system", "part", "staff", "top_mm", "bottom_mm", "damage"].map(column);
    let rows: Vec<[String; 7]> =
        reader.records().map(|row| row.expect("a row")).map(|row| columns.map(|column| row[column].to_owned())).collect();
    let mut wanted: Vec<[String; 7]> = Vec::new();
    let text = |value: &Value| match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        // The table writes 7.0 as 7.
        Value::Number(number) => number.as_f64().expect("a number").to_string(),
        other => panic!("{other}"),
    };
    let list = |value: &Value| value.as_array().expect("a list").clone();
    for file in list(&report["files"]) {
        if !file["damage"].is_null() {
            let mut row = [const { String::new() }; 7];
            row[0] = text(&file["path"]);
            row[6] = text(&file["damage"]);
            wanted.push(row);
        }
        for page in list(&file["pages"]) {
            for system in list(&page["systems"]) {
                for staff in list(&system["staves"]) {
                    wanted.push([
                        text(&file["path"]),
                        text(&system["number"]),
                        text(&staff["part"]),
                        text(&staff["staff"]),
                        text(&staff["top_mm"]),
                        text(&staff["bottom_mm"]),
                        String::new(),
                    ]);
                }
            }
        }
    }
    assert!(wanted.len() > 100);
    assert_eq!(rows, wanted);
}

fn found(rule: &str, level: Level, page: u32, message: &str) -> Placed {
    let excerpt = "  <scaling>\n   <millimeters>6</millimeters>\n   <tenths>40</tenths>";
    let start = excerpt.find('6').expect("there");
    Placed {
        number: 1,
        stet: None,
        finding: Finding {
            rule: rule.into(),
            case: 0,
            level,
            message: message.to_owned(),
            advice: "Do this and that".to_owned(),
            on: Where { page: Some(page), page_label: Some(page.to_string().into()), ..Where::default() },
            measured: Some(6.0),
            limit: Some(7.0),
            unit: Some("mm"),
            confidence: Confidence::High,
            because: None,
            at: Some(Place::new(100, 1)),
            also: None,
            count: 1,
            fingerprint: "0".repeat(16),
        },
        harm: 10,
        spot: Some(Spot {
            line: 16 + u64::from(page),
            column: 17,
            excerpt: excerpt.to_owned(),
            first_line: 15 + u64::from(page),
            mark: start..start + 1,
        }),
        also: None,
    }
}

/// Made by hand, so that the wording of a rule does not change it.
fn documents() -> Vec<DocumentAudit> {
    let graver = found("first-rule", Level::Error, 1, "a must: 6 mm of 7 mm");
    let mut softer = found("second-rule", Level::Note, 2, "a query");
    softer.finding.because = Some("it may be so on purpose".to_owned());
    softer.finding.confidence = Confidence::Low;
    softer.harm = 30;
    let mut same: Vec<Placed> = (1..4).map(|page| found("third-rule", Level::Warning, page, "the same on each page")).collect();
    for placed in &mut same {
        placed.harm = 20;
    }
    let mut damage = found("damaged-file", Level::Error, 1, "it ends \u{1b}[31mtoo soon");
    damage.finding.on = Where::default();
    damage.spot = None;
    let document = |path: &str, findings| DocumentAudit {
        path: path.to_owned(),
        member: None,
        role: RoleTaken { name: Some("orchestral-wind-part".to_owned()), basis: Basis::Inferred, because: "one part, an oboe".to_owned() },
        summary: Some(Summary {
            pages: Some(3),
            systems: Some(20),
            bars: 100,
            movements: 2,
            staff_height: Some(Mm(6.0)),
            printed_at: Some(1.0),
            paper: None,
        }),
        findings,
        not_judged: Vec::new(),
        excused: Vec::new(),
        good: Vec::new(),
        mending: stavegauge::audit::mending::Mending::default(),
        drawn: None,
        crashed: false,
        last_number: 0,
        copy: None,
    };
    let mut full = document("parts/1.xml", [vec![graver], same, vec![softer]].concat());
    full.not_judged = ["a-rule", "b-rule"].map(|rule| NotJudged { rule: rule.into(), reason: "no tempo is stated".to_owned() }).into();
    full.excused =
        vec![Excused { rule: "c-rule".into(), says: "a movement ends here".to_owned(), on: Where { page: Some(3), ..Where::default() } }];
    full.good = vec!["27 turns, all easy".to_owned()];
    let mut broken = document("parts/2.xml", vec![damage]);
    broken.summary = None;
    let mut crashed = document("parts/4.xml", Vec::new());
    crashed.summary = None;
    crashed.crashed = true;
    crashed.not_judged = vec![NotJudged { rule: "a-rule".into(), reason: "the program itself failed on this file".to_owned() }];
    vec![full, broken, document("parts/3.xml", Vec::new()), crashed]
}

/// A report of some documents under the built-in style, without rules.
fn with_report<T>(documents: &[DocumentAudit], gate: Gate, make: impl Fn(&AuditReport) -> T) -> T {
    let none = BTreeSet::new();
    make(&AuditReport {
        house: &Style { name: "built-in".to_owned(), file: None, words: None },
        rules: &RuleBook::empty(),
        judged: &none,
        documents,
        sets: &[],
        house_findings: &[],
        gate,
        must_judge: &none,
    })
}

/// Documents are put into words on several threads; what comes out is what `serde_json` makes of the whole.
#[test]
fn json_of_many_documents_is_laid_out_as_one() {
    for times in [0, 1, 2, 5, 20] {
        let documents: Vec<DocumentAudit> = (0..times).flat_map(|_| documents()).collect();
        with_report(&documents, Gate::Never, |report| {
            let whole = serde_json::to_string_pretty(&json::audit(report)).expect("it is data");
            assert_eq!(json::text(report).expect("it is data"), whole, "{} documents", documents.len());
        });
    }
}

#[test]
fn how_the_report_for_people_reads() {
    let documents = documents();
    let told = |gate, quiet| {
        with_report(&documents, gate, |report| {
            let mut text = String::new();
            write(report, Look { color: false, width: 80, quiet }, &mut text).expect("to memory");
            text
        })
    };
    insta::assert_snapshot!("terminal", told(Gate::At(Level::Error), false));
    insta::assert_snapshot!("terminal-quiet", told(Gate::At(Level::Error), true));
    // Without a gate nothing is called fit to go, and what nobody knows is still told.
    assert!(told(Gate::Never, true).contains("4 copies: no gate, 1 not judged (2 must change"), "{}", told(Gate::Never, true));
}
