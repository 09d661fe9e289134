//! What is judged as a repair is what would be written: the same score, whether its new layout is put on in memory, or written into its text
//! and read again.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use stavegauge::house::House;
use stavegauge::measured::{DocumentMeasure, Measured, measure};
use stavegauge::musicxml::{Source, read};
use stavegauge::repair::{Ground, Plan, Relaid, Rework, cast_off, rewrite, usual_plan};
use stavegauge::report::measure_json;
use stavegauge::rule::RuleBook;
use stavegauge::score::Score;
use stavegauge::units::Mm;
use std::path::{Path, PathBuf};
use support::engine::Engine;

/// One in so many leaves is tried.
const LEAVES: usize = 6;

fn score_of(text: &str) -> Score {
    let source = Source::spool("text", text.as_bytes()).expect("it opens").remove(0);
    read(source.stream().expect("it opens")).expect("it is a score")
}

/// All that is measured, and the credits, without places in a text.
fn told(score: &Score, measured: Measured) -> String {
    let credits: Vec<_> = score
        .credits
        .iter()
        .map(|credit| {
            let words = credit.words.iter().map(|words| (&words.text, words.x, words.y)).collect::<Vec<_>>();
            format!("{} {words:?}", credit.page)
        })
        .collect();
    let document = DocumentMeasure { path: String::new(), member: None, measured: Ok(measured) };
    format!("{}\n{credits:#?}", serde_json::to_string_pretty(&measure_json::measure(&[document])).expect("it is JSON"))
}

/// Whether one text was laid out anew, in memory and in writing, with the same outcome.
fn same_both_ways(text: &str, house: &House, rules: &RuleBook, change: &dyn Fn(&mut Plan)) -> Option<Result<bool, String>> {
    let mut score = score_of(text);
    let (rework, written) = {
        let measured = measure(&score, &score.instructions, house);
        let ground = Ground::of(&mut score, &measured, house, rules, None);
        let mut plan = usual_plan(&ground, house, None);
        change(&mut plan);
        let made = cast_off(&ground, &plan).ok()?;
        let relaid = Relaid::of(&ground, &plan, &made).ok()?;
        (Rework::of(ground.score, &relaid), rewrite(text, ground.score, &relaid).ok()?)
    };
    rework.put_on(&mut score);
    let again = score_of(&written);
    let in_memory = told(&score, measure(&score, &score.instructions, house));
    let in_writing = told(&again, measure(&again, &again.instructions, house));
    if in_memory != in_writing {
        let lines = in_memory.lines().zip(in_writing.lines());
        let differ: Vec<_> = lines.filter(|(one, other)| one != other).take(6).collect();
        return Some(Err(format!("in memory and in writing: {differ:#?}")));
    }
    Some(Ok(score.instructions.staff_details.iter().any(|details| details.printed == Some(false))))
}

fn scores(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in folder.read_dir().expect("a folder") {
        let path = entry.expect("it is there").path();
        if path.is_dir() {
            scores(&path, found);
        } else if path.extension().is_some_and(|end| end == "musicxml") {
            found.push(path);
        }
    }
    found.sort();
}

#[test]
fn put_on_in_memory_is_as_written_and_read() {
    let Engine { house, rules } = Engine::new();
    let mut files = Vec::new();
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    scores(&fixtures, &mut files);
    // The books of the demo set and of the trade, and of the many leaves on which rules are tried a good share.
    let leaves = files.iter().filter(|file| file.starts_with(fixtures.join("rules"))).step_by(LEAVES).cloned().collect::<Vec<_>>();
    files.retain(|file| !file.starts_with(fixtures.join("rules")));
    files.extend(leaves);
    let changes: [&dyn Fn(&mut Plan); 2] = [&|_| {}, &|plan| {
        plan.staff = Mm(plan.staff.0 * 0.93);
        plan.page.margins = [Mm(17.0); 4];
    }];
    let (mut done, mut hiding) = (0, 0);
    for file in &files {
        // Some are no text at all, on purpose.
        let Some(text) = std::fs::read_to_string(file).ok().filter(|text| text.contains("<score-partwise")) else { continue };
        let whole = Source::spool("text", text.as_bytes()).is_ok_and(|all| all[0].stream().is_ok_and(|stream| read(stream).is_ok()));
        for change in changes.iter().filter(|_| whole) {
            let Some(same) = same_both_ways(&text, &house, &rules, change) else { continue };
            let hides = same.unwrap_or_else(|differ| panic!("{}: {differ}", file.display()));
            done += 1;
            hiding += usize::from(hides);
        }
    }
    assert!(done > files.len(), "{done} of {} files twice", files.len());
    assert!(hiding > 4, "{hiding} hide staves");
}
