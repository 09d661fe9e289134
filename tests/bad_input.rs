//! Well-formed files that say what cannot be: each gets a finding with its place and what to do, and no panic.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use stavegauge::rule::Level;
use support::engine::Engine;
use support::musicxml::write;
use support::plain::{B4, Sheet};

/// A sound part, one thing replaced in it, and what is said of that.
const CASES: [(&str, &str, &str, &str); 21] = [
    ("zero scaling", "<millimeters>7.5</millimeters>", "<millimeters>0</millimeters>", "both must be positive"),
    ("negative scaling", "<millimeters>7.5</millimeters>", "<millimeters>-7.5</millimeters>", "both must be positive"),
    ("scaling that is no number", "<millimeters>7.5</millimeters>", "<millimeters>seven</millimeters>", "\"seven\", which is no number"),
    ("scaling in another notation", "<millimeters>7.5</millimeters>", "<millimeters>1e308</millimeters>", "\"1e308\", which is no number"),
    ("NaN", "<tenths>40</tenths>", "<tenths>NaN</tenths>", "\"NaN\", which is no number"),
    ("empty scaling", "<tenths>40</tenths>", "", "lacks a number of millimeters or of tenths"),
    ("absurd scaling", "<millimeters>7.5</millimeters>", "<millimeters>7500</millimeters>", "a staff 7500 mm high"),
    ("absurd page", "<page-width>", "<page-width>9", "mm wide"),
    ("negative page", "<page-height>", "<page-height>-", "mm high"),
    ("margins that leave nothing", "<top-margin>", "<top-margin>99", "leave nothing of the page"),
    ("a width that is none", " width=\"", " width=\"-", "the width of bar"),
    ("a width on no paper", " width=\"", " width=\"999999", "the width of bar"),
    ("a second scaling", "</scaling>", "</scaling><scaling><millimeters>4</millimeters><tenths>40</tenths></scaling>", "stated twice"),
    ("staves without end", "</attributes>", "<staves>4000000000</staves></attributes>", "the number of staves is \"4000000000\""),
    ("no staff", "</attributes>", "<staves>0</staves></attributes>", "the number of staves is \"0\""),
    (
        "lines below none",
        "</attributes>",
        "<staff-details><staff-lines>-1</staff-lines></staff-details></attributes>",
        "the number of staff lines is \"-1\"",
    ),
    (
        "a rest of no bars",
        "</attributes>",
        "<measure-style><multiple-rest>0</multiple-rest></measure-style></attributes>",
        "a multi-bar rest is \"0\"",
    ),
    ("blank pages without end", "<print ", "<print blank-page=\"4000000000\" ", "blank pages is \"4000000000\""),
    ("a part no list names", "<part id=\"P1\">", "<part id=\"P9\">", "is not in the part list"),
    (
        "a list that names too many",
        "</part-list>",
        "<score-part id=\"P7\"><part-name>Lost</part-name></score-part></part-list>",
        "the file holds no such part",
    ),
    (
        "a part named twice",
        "</part-list>",
        "<score-part id=\"P1\"><part-name>Again</part-name></score-part></part-list>",
        "names part \"P1\" twice",
    ),
];

#[test]
fn what_cannot_be_is_named_with_its_place() {
    let engine = Engine::new();
    let sound = write(&Sheet::oboe(7.5, B4, 15.0).page(3, 26.0).score());
    assert_eq!(Engine::found(&engine.audit_text(&sound, Some("orchestral-wind-part"))), [], "the file to spoil is sound");
    for (name, from, to, says) in CASES {
        assert!(sound.contains(from), "{name}: {from} is there to be replaced");
        let documents = engine.audit_text(&sound.replacen(from, to, 1), Some("orchestral-wind-part"));
        let damage = documents.iter().flat_map(|document| &document.findings).find(|placed| placed.finding.message.contains(says));
        let placed = damage.unwrap_or_else(|| panic!("{name}: {:#?}", Engine::found(&documents)));
        assert_eq!((&*placed.finding.rule, placed.finding.level), ("damaged-file", Level::Error), "{name}");
        assert!(placed.spot.is_some() && placed.finding.advice.len() > 10, "{name}");
    }
}

/// Without a scaling nothing is said in millimetres, and that is said once.
#[test]
fn without_scaling_millimetres_are_not_judged() {
    let engine = Engine::new();
    let sound = write(&Sheet::oboe(7.5, B4, 15.0).page(3, 26.0).score());
    let (before, rest) = sound.split_once("<scaling>").expect("it is there");
    let (_, after) = rest.split_once("</scaling>").expect("it is there");
    let documents = engine.audit_text(&format!("{before}{after}"), Some("orchestral-wind-part"));
    let rules: Vec<String> = Engine::found(&documents).into_iter().map(|(rule, ..)| rule).collect();
    assert_eq!(rules, ["no-layout"]);
    let not_judged = &documents[0].not_judged;
    for rule in ["small-staff", "paper-unknown", "past-bottom-margin", "past-side-margin"] {
        assert!(not_judged.iter().any(|one| &*one.rule == rule), "{rule}: {not_judged:#?}");
    }
}

/// Numbers at the edge of what their types hold.
#[test]
fn edges_of_numbers_do_no_harm() {
    let engine = Engine::new();
    let sound = write(&Sheet::oboe(7.5, B4, 15.0).page(3, 26.0).score());
    let nines = "9".repeat(10_000);
    let cases = [
        ("<divisions>", format!("<divisions>{nines}")),
        ("<duration>", format!("<duration>{nines}")),
        ("<duration>", "<duration>-".to_owned()),
        ("<octave>", "<octave>99999".to_owned()),
        ("<line>", "<line>99".to_owned()),
        ("<fifths>", "<fifths>-999".to_owned()),
        ("<voice>", "<voice>\u{2028}".to_owned()),
        ("page=\"1\"", "page=\"4000000000\"".to_owned()),
        ("</attributes>", "<staves>255</staves><staff-details><staff-lines>255</staff-lines></staff-details></attributes>".to_owned()),
        ("</attributes>", "<staff-details><staff-lines>0</staff-lines></staff-details></attributes>".to_owned()),
        ("</attributes>", "<measure-style><multiple-rest>4000000000</multiple-rest></measure-style></attributes>".to_owned()),
        ("<print ", "<print blank-page=\"4000000000\" page-number=\"9223372036854775807\" ".to_owned()),
        ("<note", "<backup><duration>99999</duration></backup><note".to_owned()),
        (" number=\"2\"", String::new()),
    ];
    for (from, to) in cases {
        assert!(sound.contains(from), "{from} is there to be replaced");
        let documents = engine.audit_text(&sound.replacen(from, &to, 1), None);
        assert_eq!(documents.len(), 1, "{from}");
    }
}
