//! Where a finding stands: page, system, bars, part. The fixtures say in which bar what is wrong is written, their breaks on which line that is.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use stavegauge::audit::Placed;
use stavegauge::house::Date;
use std::fs;
use std::path::Path;
use support::engine::Engine;

const FIXTURES: &str = "fixtures/rules";
const WIND: &str = "orchestral-wind-part";

/// Page, system, bars and part of the first finding of a rule.
fn place<'a>(found: impl IntoIterator<Item = &'a Placed>, rule: &str) -> String {
    let on = &found.into_iter().find(|placed| &*placed.finding.rule == rule).expect("it is found").finding.on;
    let number = |number: Option<u32>| number.map_or("-".to_owned(), |number| number.to_string());
    // Pages and bars of all fixtures are numbered from 1.
    assert_eq!(on.page.map(|page| page.to_string()).as_deref(), on.page_label.as_deref(), "{rule}");
    assert_eq!(on.bar_index.map(|(first, last)| [first.to_string().into(), last.to_string().into()]), on.bars, "{rule}");
    assert_eq!(on.movement, on.bars.is_some().then_some(1), "{rule}");
    let bars = on.bars_name().unwrap_or_default();
    format!("p. {} system {} bars {bars} {}", number(on.page), number(on.system), on.staff_name().unwrap_or_default()).trim_end().to_owned()
}

#[test]
fn what_is_found_in_a_copy() {
    let engine = Engine::new();
    for (fixture, role, wanted) in [
        ("loose-system/breaks-three-bars-for-six", WIND, "p. 1 system 2 bars 7-9"),
        // Bar 24, which bears the last mark, ends the fourth line.
        ("marks-far-apart/breaks-after-the-last", WIND, "p. 1 system 4 bars 24-48"),
        ("long-rest-no-cue/breaks-cue-too-early", WIND, "p. 1 system 2 bars 9-36"),
        ("rests-not-gathered/breaks-two-bars", WIND, "p. 1 system 2 bars 9-10"),
        // Between the last bar of a page and the first of the next; a repeat goes back from its last bar.
        ("page-turn/breaks-no-rest", WIND, "p. 1 system 10 bars 60-61"),
        ("turn-in-repeat/breaks-repeat-over-the-turn", WIND, "p. 2 system 4 bars 80"),
        ("hidden-music/breaks-hidden-staff-sounds", "chamber-score", "p. 1 system - bars 1-5 Flute 2 staff 1"),
        ("tight-staff-gap/breaks-notes-on-notes", "chamber-score", "p. 1 system 2 bars 6-10 Oboe staff 1"),
    ] {
        let documents = engine.audit_file(&Path::new(FIXTURES).join(fixture).with_extension("musicxml"), Some(role));
        let rule = fixture.split('/').next().expect("its folder");
        assert_eq!(place(documents.iter().flat_map(|document| &document.findings), rule), wanted, "{fixture}");
    }
}

/// Two parts are both named; of one part it would be its lower staff.
#[test]
fn staves_are_named_by_their_parts() {
    let path = Path::new(FIXTURES).join("tight-staff-gap/breaks-notes-on-notes.musicxml");
    let found = Engine::found(&Engine::new().audit_file(&path, Some("chamber-score")));
    assert_eq!(found[0].2, "notes of Flute 2 and Oboe lie on each other, by 3 mm");
}

/// Words in the last bar of a page stand on that page.
#[test]
fn small_words_at_the_foot_of_a_page() {
    let text = fs::read_to_string(Path::new(FIXTURES).join("page-turn/breaks-no-rest.musicxml")).expect("it is there");
    let (before, bar) = text.split_once("<measure number=\"60\"").expect("bar 60");
    let (head, inside) = bar.split_once('>').expect("its tag ends");
    let words = "<direction placement=\"above\"><direction-type><words font-size=\"5\">dolce</words></direction-type></direction>";
    let documents = Engine::new().audit_text(&format!("{before}<measure number=\"60\"{head}>{words}{inside}"), Some(WIND));
    assert_eq!(place(&documents[0].findings, "small-text"), "p. 1 system - bars 60 Oboe");
}

/// What two copies have otherwise stands where it should stand in the copy; what is found of the house style, in no copy.
#[test]
fn what_is_found_in_a_set() {
    let today = Date::new(2026, 11, 27).expect("a day");
    let (documents, _) = Engine::new().audit_folder(&Path::new(FIXTURES).join("marks-differ/breaks-letter-a-bar-late"), today);
    assert_eq!(place(documents.iter().flat_map(|document| &document.findings), "marks-differ"), "p. 1 system 3 bars 17");
    let house = Engine::of("[[stet]]\nrule = \"small-staff\"\npart = \"Oboe\"\nreason = \"the plates are old\"\n");
    let (_, of_house) = house.audit_folder(&Path::new(FIXTURES).join("stet-unused/breaks-nothing-left"), today);
    assert_eq!(place(&of_house, "stet-unused"), "p. - system - bars  Oboe");
}
