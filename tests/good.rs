//! What is right, in words: said where it is so, and not where a rule speaks against it or where there is nothing to say it of.
//!
//! The facts are those of the fixtures, which `tests/support/fixtures/` builds in millimetres, seconds and bars.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use stavegauge::house::Date;
use std::path::Path;
use support::engine::Engine;

/// What is said for a fixture.
fn good(engine: &Engine, fixture: &str, role: &str) -> Vec<String> {
    let path = Path::new("fixtures/rules").join(fixture).with_extension("musicxml");
    engine.audit_file(&path, Some(role)).remove(0).good
}

const WIND: &str = "orchestral-wind-part";

#[test]
fn what_is_right_is_said() {
    let engine = Engine::new();
    // A part of two pages and one turn.
    let part = [
        "2 pages: all music stands within the margins",
        "2 pages: filled, or short with a reason",
        "staves of 8.5 mm: large enough for the reader",
        "13 systems: evenly spaced against each other",
        "a bar number at every system",
        "every page says which it is",
        "margins: the same throughout, and wide enough",
        "1 turn, each with time to turn",
    ];
    assert_eq!(good(&engine, "loose-system/keeps-reaches-for-one-bar-of-rest", WIND), part);
    // The same with a longer rest, gathered, before the turn.
    let easy = good(&engine, "loose-system/keeps-reaches-for-turn", WIND);
    assert_eq!(easy[..6], part[..6]);
    assert_eq!(easy[6..], ["bars of rest are gathered, and parted where a player starts to count", part[6], "1 turn, all easy"]);
    // One page: it is not turned, it need not say which it is, and no other has other margins.
    let page = [
        "1 page: all music stands within the margins",
        "staves of 7.5 mm: large enough for the reader",
        "4 systems: evenly spaced against each other",
        part[4],
    ];
    assert_eq!(good(&engine, "loose-system/keeps-even", WIND), page);
}

/// Words that are sung are spoken of where some are; bar numbers at systems and their spacing where there are several.
#[test]
fn what_is_not_there_is_not_spoken_of() {
    let engine = Engine::new();
    let sung = good(&engine, "small-text/keeps-lyrics-of-nine-points", "chorus-score");
    assert_eq!(sung.last().map(String::as_str), Some("the words that are sung are large enough"));
    let single = good(&engine, "no-bar-numbers/keeps-single-system", WIND);
    assert!(!single.iter().any(|one| one.contains("bar number") || one.contains("system")), "{single:?}");
}

#[test]
fn what_a_rule_speaks_against_is_not_said() {
    let engine = Engine::new();
    for (fixture, role, sentence) in [
        ("past-bottom-margin/breaks-last-system", WIND, "within the margins"),
        ("unfilled-page/breaks-white-at-the-foot", WIND, "filled"),
        ("small-staff/breaks-six-mm", WIND, "large enough for the reader"),
        ("loose-system/breaks-three-bars-for-six", WIND, "evenly spaced"),
        ("no-bar-numbers/breaks-one-line-without", WIND, "a bar number"),
        ("no-running-head/breaks-page-without-either", WIND, "every page says"),
        ("rests-across-mark/breaks-repeat", WIND, "bars of rest"),
        ("margins-differ/breaks-one-page", WIND, "margins: the same"),
        ("page-turn/breaks-no-rest", WIND, " turn, "),
        ("small-text/breaks-lyrics-of-seven-points", "chorus-score", "words that are sung"),
    ] {
        let told = good(&engine, fixture, role);
        assert!(!told.is_empty() && !told.iter().any(|one| one.contains(sentence)), "{fixture}: {told:?}");
    }
}

/// Of a copy it is said beside its score; the score is not held against itself.
#[test]
fn a_copy_is_as_its_score() {
    let engine = Engine::new();
    let today = Date::new(2026, 11, 27).expect("a day");
    let told = |folder: &str| {
        let (documents, _) = engine.audit_folder(&Path::new("fixtures/rules/marks-differ").join(folder), today);
        let told =
            documents.iter().filter(|one| one.good.iter().any(|good| good == "music, marks and bar numbers: as in the score")).count();
        (told, documents.len())
    };
    let (told_of, of) = told("keeps-all-alike");
    assert!(told_of + 1 == of, "all but the score: {told_of} of {of}");
    let (told_of, of) = told("breaks-letter-a-bar-late");
    assert!(told_of + 2 == of, "and but the copy that differs: {told_of} of {of}");
}
