//! House styles: what is wrong with one is pointed at in its text; by what loads a small score is audited.

#![no_main]

use libfuzzer_sys::fuzz_target;
use stavegauge::audit::{documents, stets};
use stavegauge::house::{DataError, Date, Style};
use stavegauge::measured::Printing;
use stavegauge::musicxml::Source;
use stavegauge::place::Place;
use stavegauge::rule::RuleBook;
use stavegauge_fuzz::{HOUSE, SMALL_SCORE, VOCABULARY, bar, findings, role_names, within};
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

/// The rules that come with the program, each by its id. To load them all for every input would take most of the time.
static RULE_FILES: LazyLock<Vec<(String, String)>> = LazyLock::new(|| {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../rules");
    let mut files: Vec<_> = fs::read_dir(folder).expect("the rules are there").flatten().map(|entry| entry.path()).collect();
    files.sort();
    let file = |path: &Path| Some((path.file_stem()?.to_str()?.to_owned(), fs::read_to_string(path).ok()?));
    files.iter().filter_map(|path| file(path)).filter(|(_, text)| text.starts_with("id =")).collect()
});

/// Rules that find something in the small score, and those about what a house says.
const ALWAYS: [&str; 5] = ["small-staff", "page-turn", "paper-unknown", "stet-expired", "stet-unused"];

fuzz_target!(|text: &str| {
    let style = match Style::read("house.toml", text) {
        Ok(style) => style,
        Err(error) => return points_into(&error, text),
    };
    let named = [style.base()].into_iter().flatten().chain(style.rule_files()).chain(style.stet_files());
    named.for_each(|(_, at)| within(at, text));
    let mut house = HOUSE.clone();
    if let Err(error) = house.follow(&style) {
        return points_into(&error, text);
    }
    let settings = match house.rules_of(&style) {
        Ok(settings) => settings,
        Err(error) => return points_into(&error, text),
    };
    let mut rules = RuleBook::empty();
    for (id, rule) in RULE_FILES.iter().filter(|(id, _)| ALWAYS.contains(&id.as_str()) || text.contains(id)) {
        rules.add(id, rule, &VOCABULARY, &role_names(&HOUSE)).expect("it loads");
    }
    for setting in settings {
        if let Err((at, why)) = rules.follow(&setting, "house.toml") {
            return points_into(&style.wrong(at, why), text);
        }
    }
    rules.speak(house.units, house.words);
    let printing = match (house.printed_at, &house.printed_on) {
        (Some(share), _) => Printing::At(share),
        (None, Some(paper)) => Printing::On(Box::new(house.papers.get(paper).expect("it was checked").clone())),
        (None, None) => Printing::AsIs,
    };
    let bar = bar(&house, &rules, None, &printing);
    let mut audited = documents(Source::spool("small.musicxml", SMALL_SCORE.as_bytes()), "small.musicxml", &bar, false);
    assert_eq!(audited.len(), 1);
    let today = Date::new(2026, 11, 28).expect("a day");
    let of_house = stets::let_stand(&mut audited, &bar, today);
    of_house.iter().filter_map(|placed| placed.finding.at).for_each(|at| within(at, text));
    findings(&audited).filter_map(|placed| placed.finding.at).for_each(|at| within(at, SMALL_SCORE));
    let (baseline, _) = stets::baseline(&audited, &bar);
    Style::read("stets.toml", &baseline).expect("stets that are written can be read");
});

fn points_into(error: &DataError, text: &str) {
    assert!(!error.message.is_empty());
    if let Some(Place { offset, length }) = error.at {
        within(Place { offset, length }, text);
    }
    let lines: Vec<&str> = text.split('\n').collect();
    let line = lines.get(error.line as usize - 1).unwrap_or_else(|| panic!("line {} of {}", error.line, lines.len()));
    assert!(error.column >= 1 && error.column as usize <= line.chars().count() + 1, "{}:{}", error.line, error.column);
}
