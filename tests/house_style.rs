//! House styles: found, read, wrong in all ways, in force; and what may stand.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;

use run::{fixture, run};
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// A folder with copies of the demo set, and a house style.
fn folder(copies: &[&str], house: &str) -> TempDir {
    let folder = tempfile::tempdir().expect("made");
    for copy in copies {
        put(folder.path(), &format!("{copy}.musicxml"), &fixture(&format!("demo/{copy}.musicxml")));
    }
    if !house.is_empty() {
        put(folder.path(), "stavegauge.toml", house.as_bytes());
    }
    folder
}

fn put(folder: &Path, name: &str, bytes: &[u8]) {
    let path = folder.join(name);
    fs::create_dir_all(path.parent().expect("a folder")).expect("made");
    fs::write(path, bytes).expect("written");
}

fn audit(folder: &Path, more: &[&str]) -> (Option<i32>, Value) {
    let run = run(folder, &[&["audit", ".", "--report", "json"], more].concat());
    assert_ne!(run.code, Some(2), "{}", run.err);
    (run.code, run.json())
}

/// Rule and level of what counts, and rules of what may stand.
fn found(report: &Value) -> (Vec<(String, String)>, Vec<String>) {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let all = report["files"].as_array().expect("files").iter().flat_map(|file| file["findings"].as_array().expect("findings"));
    let (counts, stets): (Vec<&Value>, Vec<&Value>) = all.partition(|one| one["stet"].is_null());
    (counts.iter().map(|one| (text(&one["rule"]), text(&one["level"]))).collect(), stets.iter().map(|one| text(&one["rule"])).collect())
}

fn level_of(report: &Value, rule: &str) -> Option<String> {
    found(report).0.into_iter().find(|(found, _)| found == rule).map(|(_, level)| level)
}

/// A house style that cannot be used: the piece that is pointed at, and words of the error. Nothing is audited.
#[test]
fn what_is_wrong_is_pointed_at() {
    let wrong: [(&str, &str, &str); 27] = [
        ("must-juge = [\"small-staff\"]", "1:1", "did you mean \"must-judge\"?"),
        ("papers = [\"B44\"]", "1:11", "did you mean \"B4\"?"),
        ("gate = \"eror\"", "1:8", "eror"),
        ("printed-at = 4", "1:14", "no percentage from 10 to 400"),
        ("printed-at = 94\nprinted-on = \"A4\"", "2:14", "two sizes"),
        ("[rules.small-staf]\nlevel = \"note\"", "1:8", "did you mean `small-staff`?"),
        ("[rules.small-staff]\nlevel = \"grave\"", "2:9", "grave"),
        ("[rules.small-staff]\nlevel = \"off\"", "2:9", "with a reason"),
        ("[rules.small-staff.limits]\ntolerence_mm = 1", "2:1", "did you mean `tolerance_mm`?"),
        ("[rules.small-staff.limits]\ntolerance_mm = \"1\"", "2:16", "a limit is a number"),
        ("[rules.small-staff.limits]\ntolerance_mm = { any = 1, oboe = 2 }", "2:16", "there is no role \"oboe\""),
        ("[rules.small-staff.limits]\ntolerance_mm = nan", "2:16", "a limit is a number"),
        ("[roles.oboist]\nconducted = true", "1:8", "there is no role"),
        ("[roles.full-score]\nstaff-height-mm = { least = 9 }", "2:29", "is smaller than `least`"),
        ("[roles.full-score]\nstaff-height-mm = { least = -1 }", "2:29", "above 0"),
        ("must-judge = [\"small-stave\"]", "1:15", "did you mean `small-staff`?"),
        ("[[copy]]\nfiles = \"a**b\"", "2:9", "no pattern"),
        ("[[copy]]\nfiles = \"*\"\nrole = \"oboe-part\"", "3:8", "there is no role"),
        ("[[stet]]\nrule = \"small-staff\"", "2:8", "needs a reason"),
        ("[[stet]]\nrule = \"small-staff\"\nreason = \" \"", "3:10", "say why"),
        ("[[stet]]\nrule = \"small-stave\"\nreason = \"x\"", "2:8", "did you mean `small-staff`?"),
        ("[[stet]]\nrule = \"small-staff\"\nreason = \"x\"\nuntil = \"2026-02-30\"", "4:9", "no day"),
        ("[[stet]]\nrule = \"small-staff\"\nreason = \"x\"\nuntil = 2026-02-30", "4:", ""),
        ("[[stet]]\nrule = \"small-staff\"\nreason = \"x\"\nuntil = 2026-02-03T10:00:00", "4:9", "no day"),
        ("[[stet]]\nrule = \"small-staff\"\nreason = \"x\"\nbars = \"9-3\"", "4:8", "no bars"),
        ("rule-files = [\"gone.toml\"]", "1:15", "gone.toml cannot be read"),
        ("name = ", "1:8", ""),
    ];
    for (style, at, words) in wrong {
        let folder = folder(&["part-oboe-2"], style);
        let run = run(folder.path(), &["audit", "."]);
        assert_eq!((run.code, run.out.as_str()), (Some(2), ""), "{style}: {}", run.err);
        assert!(run.err.contains(&format!("stavegauge.toml:{at}")) && run.err.contains(words), "{style}: {}", run.err);
    }
}

#[test]
fn it_is_found_upwards_to_the_root_of_the_repository() {
    let folder = folder(&[], "[rules.small-staff]\nlevel = \"off\"\nreason = \"here\"\n");
    let horn = fixture("demo/part-horn-1.musicxml");
    put(folder.path(), "one/parts/horn.musicxml", &horn);
    put(folder.path(), "two/horn.musicxml", &horn);
    fs::create_dir_all(folder.path().join("two/.git")).expect("made");
    let code = |path: &str, more: &[&str]| {
        let run = run(folder.path(), &[&["audit", path, "--report", "json", "--role", "orchestral-brass-part"], more].concat());
        (run.code, run.err)
    };
    assert_eq!(code("one", &[]).0, Some(0), "the style above is in force");
    assert_eq!(code("two", &[]).0, Some(1), "a repository ends the search");
    assert_eq!(code("one", &["--house", "built-in"]).0, Some(1));
    assert_eq!(code("two", &["--house", "stavegauge.toml"]).0, Some(0));
    // What is asked for by name is judged all the same.
    assert_eq!(code("one", &["--only", "small-staff"]).0, Some(1));
    let (both, err) = code(".", &[]);
    assert!(both == Some(2) && err.contains("different house styles"), "{err}");
    assert_eq!(code("one", &["--house", "gone.toml"]).0, Some(2));
}

#[test]
fn what_it_sets_is_in_force() {
    let horn = &["part-horn-1"];
    let report = |style: &str, more: &[&str]| {
        let folder = folder(horn, style);
        let (code, report) = audit(folder.path(), more);
        (code, report)
    };
    let mapped = "[[copy]]\nfiles = \"part-horn-*\"\nrole = \"orchestral-brass-part\"\n";
    // A role of the house is as good as one that is stated; a guess never makes an error.
    let level = |style: &str| level_of(&report(style, &[]).1, "small-staff");
    assert_eq!((level(""), level(mapped)), (Some("warning".to_owned()), Some("error".to_owned())));
    assert_eq!(level(&format!("{mapped}[rules.small-staff]\nlevel = \"note\"\n")).as_deref(), Some("note"));
    assert_eq!(level(&format!("{mapped}[roles.orchestral-brass-part]\nstaff-height-mm = {{ least = 5, good = 6 }}\n")), None);
    assert_eq!(level(&format!("{mapped}[rules.small-staff.limits]\ntolerance_mm = {{ any = 0, orchestral-brass-part = 2 }}\n")), None);
    assert_eq!(level(&format!("printed-at = 150\n{mapped}")), None, "9 mm on paper");
    // The gate, and what the command line says before it.
    assert_eq!(report("gate = \"warning\"\n", &[]).0, Some(1));
    assert_eq!(report("gate = \"warning\"\n", &["--gate", "never"]).0, Some(0));
    // What must be judged and cannot be.
    let (code, undecided) = report("must-judge = [\"staff-line-weight\"]\n", &[]);
    assert_eq!((code, undecided["verdict"].as_str()), (Some(1), Some("undecided")));
    // Nor is it judged by leaving it out.
    let (code, left_out) = report("must-judge = [\"small-staff\"]\n", &["--skip", "small-staff"]);
    assert_eq!((code, left_out["verdict"].as_str()), (Some(1), Some("undecided")));
    // Words and units are for people; data stay as they are.
    let (_, us) = report("words = \"us\"\nunits = \"in\"\n", &[]);
    let text = us.to_string();
    assert!(text.contains("measures of rest stand one by one") && text.contains("0.24 in"), "{text}");
    assert!(us["files"][0]["findings"].as_array().expect("findings").iter().any(|one| one["unit"] == "mm"));
    let named = us["house"]["name"].as_str();
    assert_eq!((named, us["house"]["file"].as_str()), (Some("house"), Some("stavegauge.toml")));
}

#[test]
fn a_style_changes_another_and_brings_rules() {
    let folder = folder(&["part-oboe-2"], "name = \"Here\"\nbase = \"../base/house.toml\"\nrule-files = [\"own.toml\"]\n");
    let inner = tempfile::tempdir_in(folder.path()).expect("made");
    put(folder.path(), "sub/stavegauge.toml", b"name = \"Here\"\nbase = \"../base/house.toml\"\nrule-files = [\"own.toml\"]\n");
    put(folder.path(), "sub/oboe.musicxml", &fixture("demo/part-oboe-2.musicxml"));
    put(
        folder.path(),
        "base/house.toml",
        b"name = \"Base\"\ngate = \"note\"\n[rules.large-staff]\nlevel = \"off\"\nreason = \"as below\"\n",
    );
    let own = r#"
id = "few-bars"
title = "Hardly a piece"
family = "file"
harm = 80
about = "file"
why = "We print nothing shorter."
sources = [{ title = "common practice, no source", says = "a page at least", mark = "C" }]
[[case]]
level = "warning"
when = "file.bars < limit.bars"
measured = "file.bars"
against = "limit.bars"
message = "{{ file.bars | plural('bar', 'bars') }}"
advice = "Put it into a collection."
[limits.bars]
value = 200
what = "the least"
source = "common practice, no source"
unit = "bars"
[[example]]
name = "short"
breaks = "warning"
values = { "file.bars" = 4 }
[[example]]
name = "long"
values = { "file.bars" = 400 }
"#;
    put(folder.path(), "sub/own.toml", own.as_bytes());
    let path = folder.path().join("sub");
    let (code, report) = audit(&path, &[]);
    assert_eq!((code, report["house"]["name"].as_str()), (Some(1), Some("Here")));
    assert_eq!(level_of(&report, "few-bars").as_deref(), Some("warning"));
    let told = run(&path, &["explain", "--house"]);
    assert!(told.out.contains("few-bars.bars") && told.out.contains("As below."), "{}", told.out);
    put(&path, "own.toml", own.replace("file.bars <", "file.bears <").as_bytes());
    let wrong = run(&path, &["audit", "."]);
    assert!(wrong.code == Some(2) && wrong.err.contains("own.toml") && wrong.err.contains("bears"), "{}", wrong.err);
    put(folder.path(), "base/house.toml", b"base = \"../sub/stavegauge.toml\"\n");
    put(&path, "own.toml", own.as_bytes());
    let circle = run(&path, &["audit", "."]);
    assert!(circle.code == Some(2) && circle.err.contains("changes one that changes it"), "{}", circle.err);
    drop(inner);
}

/// The complete houses of the documentation do what they say on the demo set.
#[test]
fn the_sample_houses_are_in_force() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let houses: Vec<_> = fs::read_dir(root.join("docs/houses")).expect("there").flatten().map(|entry| entry.path()).collect();
    assert_eq!(houses.len(), 3);
    let schema: Value = serde_json::from_slice(&fs::read(root.join("docs/schema/house.schema.json")).expect("committed")).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    for house in &houses {
        let text = fs::read_to_string(house).expect("there");
        let value: toml::Table = toml::from_str(&text).expect("TOML");
        // A schema knows no days; TOML's are written as texts for it.
        let mut value = serde_json::to_value(value).expect("plain data");
        for stet in value.get_mut("stet").and_then(Value::as_array_mut).into_iter().flatten() {
            stet["until"] = "2099-12-31".into();
        }
        let wrong: Vec<String> = validator.iter_errors(&value).map(|error| format!("{error} at {}", error.instance_path())).collect();
        assert!(wrong.is_empty(), "{}: {wrong:#?}", house.display());
        value["gaet"] = "error".into();
        assert!(!validator.is_valid(&value), "an unknown key is refused");
        let told = run(root, &["explain", &format!("--house={}", house.display())]);
        assert_eq!(told.code, Some(0), "{}", told.err);
    }
    let audit = |house: &str, copies: &[&str]| {
        let folder = folder(copies, &fs::read_to_string(root.join(format!("docs/houses/{house}.toml"))).expect("there"));
        let (code, report) = audit(folder.path(), &[]);
        (code, report, folder)
    };
    let (code, orchestra, _kept) = audit("orchestra-library", &["part-horn-1", "part-oboe-2"]);
    assert_eq!(code, Some(1));
    assert_eq!(level_of(&orchestra, "paper-unsuited").as_deref(), Some("error"), "A4 is no paper of that library");
    assert_eq!(level_of(&orchestra, "small-staff").as_deref(), Some("error"));
    let (code, choral, _kept) = audit("choral-house", &["chorus-score", "vocal-score"]);
    assert_eq!(code, Some(1), "words of 7 points come back");
    assert_eq!(level_of(&choral, "small-text").as_deref(), Some("error"));
    assert!(choral.to_string().contains("measures"), "American words");
    let unused: Vec<&str> =
        choral["house"]["findings"].as_array().expect("findings").iter().filter_map(|one| one["rule"].as_str()).collect();
    assert_eq!(unused, ["stet-unused"], "the small words stand later than bar 16");
    let (_, study, _kept) = audit("study-scores", &["score"]);
    let file = &study["files"][0];
    assert_eq!(file["role"]["name"], "study-score");
    assert!(file["printed_at"].as_f64().is_some_and(|share| (share - 148.0 / 297.0).abs() < 1e-3), "A3 on A5: {}", file["printed_at"]);
    assert_eq!(level_of(&study, "small-staff").as_deref(), Some("error"), "4.6 mm become 2.3");
}

#[test]
fn init_writes_a_style_and_overwrites_nothing() {
    let folder = folder(&["part-oboe-2"], "");
    let made = run(folder.path(), &["init", "--schema", "house.schema.json"]);
    assert_eq!((made.code, made.out.as_str()), (Some(0), ""), "{}", made.err);
    let text = fs::read_to_string(folder.path().join("stavegauge.toml")).expect("written");
    assert!(text.starts_with("#:schema ./house.schema.json\n"), "{text}");
    assert_eq!(audit(folder.path(), &[]).0, Some(0));
    let again = run(folder.path(), &["init"]);
    assert!(again.code == Some(2) && again.err.contains("is there already"), "{}", again.err);
    assert_eq!(run(folder.path(), &["init", "gone"]).code, Some(2));
}

/// What may stand is shown and counted apart; a baseline lets stand what is found today.
#[test]
fn stets_stand_run_out_and_are_not_needed() {
    let stet = |more: &str| format!("[[stet]]\nrule = \"small-staff\"\nfile = \"part-horn-1.*\"\nreason = \"old plates\"\n{more}");
    let mapped = "[[copy]]\nfiles = \"part-horn-*\"\nrole = \"orchestral-brass-part\"\n";
    let told = |style: &str, more: &[&str]| {
        let folder = folder(&["part-horn-1"], style);
        let (code, report) = audit(folder.path(), more);
        let of_house = report["house"]["findings"].as_array().expect("findings").iter();
        let of_house: Vec<String> = of_house.map(|one| one["rule"].as_str().unwrap_or_default().to_owned()).collect();
        (code, level_of(&report, "small-staff"), found(&report).1, of_house)
    };
    let error = Some("error".to_owned());
    let stands = vec!["small-staff".to_owned()];
    assert_eq!(told(&format!("{mapped}{}", stet("")), &[]), (Some(0), None, stands.clone(), vec![]));
    assert_eq!(told(&format!("{mapped}{}", stet("")), &["--no-stets"]), (Some(1), error.clone(), vec![], vec![]));
    let over = format!("{mapped}{}", stet("until = 2020-02-29\n"));
    assert_eq!(told(&over, &[]), (Some(1), error.clone(), vec![], vec!["stet-expired".to_owned()]));
    let today = format!("{mapped}{}", stet("until = 9999-12-31\n"));
    assert_eq!(told(&today, &[]), (Some(0), None, stands, vec![]));
    for other in ["part = \"Oboe\"\n", "bars = \"900-910\"\n"] {
        let (code, level, stands, of_house) = told(&format!("{mapped}{}", stet(other)), &[]);
        assert_eq!((code, level, stands.len()), (Some(1), error.clone(), 0), "{other}");
        // Another part is not in this run; bars of this copy are.
        assert_eq!(of_house.len(), usize::from(other.starts_with("bars")), "{other}: {of_house:?}");
    }
    // A file that nobody could read does not pass because somebody let that stand.
    let broken = folder(&[], "[[stet]]\nrule = \"damaged-file\"\nreason = \"old disk\"\n");
    put(broken.path(), "a.musicxml", b"<score-partwise>");
    let (code, report) = audit(broken.path(), &[]);
    assert_eq!((code, report["verdict"].as_str()), (Some(1), Some("undecided")));
    // A rule that was left out this time is no reason to strike its stets.
    assert_eq!(told(&format!("{mapped}{}", stet("")), &["--skip", "small-staff"]).3, Vec::<String>::new());
}

/// What is written as stets is read as it was meant: bars over a movement's end, numbers that hold a hyphen or are below nothing.
#[test]
fn a_baseline_of_odd_numbers_is_read_again() {
    let turn = String::from_utf8(fixture("rules/page-turn/breaks-attacca.musicxml")).expect("UTF-8");
    let odd = turn.replace("<measure number=\"", "<measure number=\"X-");
    let below = turn.replace("<measure number=\"", "<measure number=\"-");
    for (name, text) in [("over the end", &turn), ("hyphen", &odd), ("below nothing", &below)] {
        let folder = tempfile::tempdir().expect("made");
        put(folder.path(), "part.musicxml", text.as_bytes());
        let made = run(folder.path(), &["audit", ".", "--stet-all", "stavegauge.toml", "--gate", "never", "--quiet"]);
        assert_eq!(made.code, Some(0), "{name}: {}", made.err);
        let style = fs::read_to_string(folder.path().join("stavegauge.toml")).expect("written");
        put(folder.path(), "stavegauge.toml", style.replace("reason = \"\"", "reason = \"baseline\"").as_bytes());
        let (code, report) = audit(folder.path(), &["--gate", "note"]);
        let (counts, stets) = found(&report);
        assert_eq!((code, counts.as_slice(), stets.is_empty()), (Some(0), &[][..], false), "{name}: {style}");
    }
}

/// A delivery is exported anew: every line moved, a system broken otherwise. What stood stands, and nothing else does.
#[test]
fn a_baseline_outlives_a_new_export() {
    let copies = ["part-horn-1", "part-clarinet-1", "part-oboe-1", "part-bassoon-1", "part-alto", "chorus-score", "score-loose", "score"];
    let folder = folder(&copies, "");
    let (_, first) = audit(folder.path(), &[]);
    let (counts, _) = found(&first);
    assert!(counts.len() > 15, "{counts:?}");
    let made = run(folder.path(), &["audit", ".", "--stet-all", "stavegauge.toml", "--gate", "never", "--quiet"]);
    assert_eq!(made.code, Some(0), "{}", made.err);
    let style = fs::read_to_string(folder.path().join("stavegauge.toml")).expect("written");
    let entries = style.matches("[[stet]]").count();
    assert!(made.err.contains(&format!("{entries} stets written")), "{}", made.err);
    let unfilled = run(folder.path(), &["audit", "."]);
    assert!(unfilled.code == Some(2) && unfilled.err.contains("say why this may stand"), "{}", unfilled.err);
    assert_eq!(run(folder.path(), &["audit", ".", "--stet-all", "stavegauge.toml"]).code, Some(2), "nothing is overwritten");
    put(folder.path(), "stavegauge.toml", style.replace("reason = \"\"", "reason = \"baseline\"").as_bytes());
    let all_stand = |what: &str| {
        let (code, report) = audit(folder.path(), &["--gate", "note"]);
        let (counts, stets) = found(&report);
        assert_eq!((code, counts.as_slice()), (Some(0), &[][..]), "{what}: {counts:#?}");
        let of_house = report["house"]["findings"].as_array().expect("findings");
        assert!(of_house.is_empty(), "{what}: {of_house:#?}");
        stets.len()
    };
    let stood = all_stand("as it was");
    for copy in copies {
        let path = folder.path().join(format!("{copy}.musicxml"));
        let text = fs::read_to_string(&path).expect("there");
        // Every line moves, and every byte.
        let text = text.replacen("<part-list>", "<!-- exported anew -->\n\n<part-list>", 1).replace("<measure ", "\n    <measure ");
        fs::write(&path, text).expect("written");
    }
    assert_eq!(all_stand("every line moved"), stood);
    // One bar of the second line of the horn goes back to the first.
    let path = folder.path().join("part-horn-1.musicxml");
    let text = fs::read_to_string(&path).expect("there");
    let (bars, line) = second_line(&text);
    let [first, next] = bars;
    let moved = text.replacen(&line, "", 1);
    let next_tag = format!("<measure number=\"{next}\"");
    let (before, after) = moved.split_once(&next_tag).expect("the next bar");
    let (tag, rest) = after.split_once('>').expect("a tag");
    let moved = format!("{before}{next_tag}{tag}>\n{line}{rest}");
    assert_ne!(moved, text, "bar {first} begins no line any more");
    fs::write(&path, moved).expect("written");
    let (_, report) = audit(folder.path(), &["--gate", "note"]);
    let (counts, stets) = found(&report);
    // The two lines have other widths now, which may be told anew; what stood before stands still.
    assert!(stets.len() >= stood, "{counts:#?}");
    let told: Vec<&(String, String)> = counts.iter().filter(|(rule, _)| rule != "short-system" && rule != "past-side-margin").collect();
    assert!(told.is_empty(), "{counts:#?}");
    let unused = report["house"]["findings"].as_array().expect("findings");
    assert!(unused.is_empty(), "{unused:#?}");
    // None falsely: a fault of another bar counts.
    put(
        folder.path(),
        "stavegauge.toml",
        b"[[stet]]\nrule = \"rests-not-gathered\"\nfile = \"part-horn-1.*\"\nbars = \"1-4\"\nreason = \"x\"\n",
    );
    let (counts, stets) = found(&audit(folder.path(), &[]).1);
    assert!(counts.iter().any(|(rule, _)| rule == "rests-not-gathered") && stets.is_empty(), "{stets:?}");
}

/// The bar that begins the second line and the one after it, and the line's `print`.
fn second_line(text: &str) -> ([u32; 2], String) {
    let mut bars = text.split("<measure number=\"").skip(1);
    let found = bars.find(|bar| bar.contains("<print new-system=\"yes\"")).expect("a second line");
    let number: u32 = found.split('"').next().and_then(|number| number.parse().ok()).expect("a number");
    let start = found.find("<print").expect("there");
    let end = found.find("</print>").expect("it ends") + "</print>".len();
    ([number, number + 1], found[start..end].to_owned())
}
