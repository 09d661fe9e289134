//! Check values of the trade, each beside its source, on the files of `fixtures/trade`; and what a player says of the demo set.
//!
//! `STAVEGAUGE_WRITE=1 cargo test --test trade` writes the files anew.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use stavegauge::house::House;
use stavegauge::measured::Measured;
use stavegauge::place::Known;
use stavegauge::rule::Level;
use stavegauge::units::Mm;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use support::engine::{Engine, Found};
use support::musicxml::write;
use support::plain::{A4, B4, Sheet};
use support::score::{Margins, Page};
use support::{in_step, trade};

#[test]
fn committed_files_are_what_the_generator_writes() {
    in_step::hold(trade::FOLDER, &trade::files(), &["fixtures/trade/README.md"]);
}

/// What is found in a file of a folder of `fixtures`, for a stated reader or an inferred one.
fn found(name: &str, role: Option<&str>) -> Vec<Found> {
    Engine::found(&Engine::new().audit_file(Path::new(&format!("fixtures/{name}.musicxml")), role))
}

fn of<'a>(found: &'a [Found], rule: &str) -> Vec<&'a Found> {
    found.iter().filter(|(name, ..)| name == rule).collect()
}

fn rules(found: &[Found]) -> BTreeSet<&str> {
    found.iter().map(|(rule, ..)| rule.as_str()).collect()
}

fn measured(name: &str) -> Measured {
    Engine::new().measure_text(&fs::read_to_string(format!("fixtures/trade/{name}.musicxml")).expect("it is there"))
}

/// Common practice, no source: an ensemble score of 5.5 mm staves and 15 mm margins holds one system a page, of 4.7 mm and
/// 10 mm two.
#[test]
fn one_system_a_page_becomes_two() {
    let wide = found("trade/ensemble-one-system-a-page", Some("full-score"));
    assert_eq!(rules(&wide), BTreeSet::from(["one-more-system", "stretched-page", "wide-staff-gap"]), "{wide:#?}");
    let [(_, _, message)] = of(&wide, "one-more-system")[..] else { panic!("{wide:#?}") };
    assert!(message.contains("now 5.5 mm and 15 mm"), "{message}");
    for page in measured("ensemble-one-system-a-page").pages {
        assert_eq!((page.systems.len(), page.systems_that_fit.value()), (1, Some(1)));
        let more = page.one_more.expect("it can be reckoned");
        assert!((more.staff_height.0 - 4.7).abs() < 0.1 && (more.margin.0 - 10.0).abs() <= 0.5, "{more:?}");
        assert!(message.contains(&format!("staves of {} mm and margins of {} mm", more.staff_height.0, more.margin.0)), "{message}");
    }

    assert_eq!(found("trade/ensemble-two-systems-a-page", Some("full-score")), []);
    let close = measured("ensemble-two-systems-a-page");
    assert_eq!(close.bars.len(), measured("ensemble-one-system-a-page").bars.len(), "the same music");
    assert!(close.pages.iter().all(|page| page.systems.len() == 2 && page.past_bottom.value().is_some_and(|past| past.0 <= 0.0)));
}

/// At 6.0 mm below desk use, at 7.5 mm the usual choice (common practice, no source).
#[test]
fn an_orchestral_part_by_its_staff_height() {
    let small = found("trade/oboe-6.0-mm", Some("orchestral-wind-part"));
    let [(_, Level::Error, message)] = of(&small, "small-staff")[..] else { panic!("{small:#?}") };
    assert!(message.contains("6 mm"), "{message}");
    assert_eq!(found("trade/oboe-7.5-mm", Some("orchestral-wind-part")), []);
}

/// Metropole Orkest library, guidelines "Score" (R): a conductor's score at least 4 mm.
#[test]
fn a_full_score_of_3_7_mm_is_below_the_published_least() {
    let all = found("trade/full-score-3.7-mm", Some("full-score"));
    let [(_, Level::Error, message)] = of(&all, "small-staff")[..] else { panic!("{all:#?}") };
    assert!(message.contains("3.7 mm") && message.contains("the least is 4 mm"), "{message}");
}

/// Common practice, no source: three systems under a 30 mm title are full where four fit without it.
#[test]
fn a_title_is_no_white() {
    assert_eq!(found("trade/three-systems-under-a-title", Some("chamber-score")), []);
    let without = found("trade/three-systems-without-a-title", Some("chamber-score"));
    assert!(without.iter().any(|(_, _, message)| message.contains("4 systems would fit where 3 stand")), "{without:#?}");
}

/// Common practice, no source: no second system possible: natural gaps, white to the foot.
#[test]
fn one_system_with_natural_gaps_and_a_short_foot_is_no_fault() {
    let pages = measured("one-system-short-foot").pages;
    assert!(pages.iter().all(|page| page.depth_used.value().is_some_and(|depth| depth < 0.8)), "the foot is short");
    assert_eq!(found("trade/one-system-short-foot", Some("chamber-score")), []);
}

/// Orchestra library guidelines "Parts" (R): 10 staves of 8 mm on B4, margins 10 mm; JIS B4 is 257 x 364 mm (JIS P 0138).
/// The gap is arithmetic (D): 29 mm, 3.7 staff heights.
#[test]
fn the_published_norm_for_parts_is_clean() {
    let measured = measured("norm-for-parts");
    let heights: Vec<f64> = measured.pages[1].gaps.iter().filter_map(|gap| gap.white_heights().value()).collect();
    assert_eq!(heights.len(), 9);
    assert!(heights.iter().all(|heights| (heights - 3.67).abs() < 0.01), "{heights:?}");
    assert_eq!(found("trade/norm-for-parts", Some("orchestral-wind-part")), []);
}

/// Staff spaces and millimetres as the standard defines them: 1, 2 and 3 systems of one 7 mm staff, 12 mm apart, from the top
/// margin of 15 mm on A4 (arithmetic on the definitions of `MusicXML` 4.0).
#[test]
fn depth_used_is_arithmetic() {
    for (systems, bottom, depth) in [(1, 22.0, 0.026), (2, 41.0, 0.097), (3, 60.0, 0.169)] {
        let mut sheet = Sheet::oboe(7.0, A4, 15.0).page(systems, 12.0);
        sheet.pages[0].top_mm = 0.0;
        let mut score = sheet.score();
        score.credits.clear();
        let measured = Engine::new().measure_text(&write(&score));
        let page = &measured.pages[0];
        let last = page.systems.last().and_then(|last| last.bottom.value()).expect("it is known");
        assert!((last.0 - bottom).abs() < 0.005, "{systems}: {last:?}");
        let used = page.depth_used.value().expect("it is known");
        assert!((used - depth).abs() < 0.0006, "{systems}: {used}");
    }
}

/// Sydney Symphony Orchestra, Music preparation (R): margins of scores, sides, top and bottom, on the three papers it takes; they
/// leave about 70 % of the sheet (arithmetic, D), and a score laid out by them is clean.
#[test]
fn margins_of_scores_leave_seven_tenths_of_the_sheet() {
    let house = House::built_in().expect("the house loads");
    for (name, size, sides, top, bottom, staff_mm, systems) in [
        ("A3", (297.0, 420.0), 25.0, 35.0, 30.0, 5.0, [4, 4]),
        ("255 x 358 mm", (255.0, 358.0), 22.0, 30.0, 26.0, 4.8, [4, 4]),
        ("A4", A4, 18.0, 25.0, 21.0, 5.0, [3, 3]),
    ] {
        assert_eq!(house.papers.get(name).expect("a known paper").serves("full-score"), Some(true), "{name}");
        let mut sheet = Sheet::winds(5, staff_mm, size, sides);
        sheet.bars = if size.0 > 280.0 { 10 } else { 8 };
        sheet.paper = Page::of(size.0, size.1, Margins { left: sides, right: sides, top, bottom });
        let text = write(&systems.iter().fold(sheet, |sheet, systems| sheet.page(*systems, 2.5 * staff_mm)).score());
        let engine = Engine::new();
        for page in engine.measure_text(&text).pages {
            let known = |length: &Known<Mm>| length.value().expect("it is stated").0;
            let [left, right, top, bottom] = [0, 1, 2, 3].map(|side| known(&page.margins[side]));
            let (width, height) = (known(&page.width), known(&page.height));
            let share = (width - left - right) * (height - top - bottom) / (width * height);
            assert!((share - 0.70).abs() < 0.005, "{name}: {share}");
        }
        assert_eq!(Engine::found(&engine.audit_text(&text, Some("full-score"))), [], "{name}");
    }
}

/// Plate sizes of the Leipzig engraving houses Röder and Geidel (S): No. n is 8.5 - 0.5 n mm. An oboe part from each of them:
/// Nos. 0 to 2 serve (also Kriterien für Orchester-Notenmaterial, R), No. 3 is a risk, from No. 4 on it must change.
#[test]
fn an_oboe_part_from_each_plate() {
    for number in 0..=8_u8 {
        let staff_mm = 8.5 - 0.5 * f64::from(number);
        let text = write(&Sheet::oboe(staff_mm, B4, 15.0).page(6, 3.3 * staff_mm).score());
        let engine = Engine::new();
        let height = engine.measure_text(&text).pages[0].staff_height.value().expect("it is stated").0;
        assert!((height - staff_mm).abs() < 0.005, "No. {number}: {height}");
        let found = Engine::found(&engine.audit_text(&text, Some("orchestral-wind-part")));
        let levels: Vec<Level> = of(&found, "small-staff").iter().map(|(_, level, _)| *level).collect();
        let expected = match number {
            0..=2 => vec![],
            3 => vec![Level::Warning],
            _ => vec![Level::Error],
        };
        assert_eq!(levels, expected, "No. {number}: {found:#?}");
    }
}

/// What a player says of each file of the demo set (its read-me), with the reader stated and inferred. A guessed reader makes no
/// error (practice of the trade: what is inferred should change, it need not).
#[test]
fn the_demo_set_is_heard_as_players_hear_it() {
    for name in ["score", "part-clarinet-2"] {
        let role = if name == "score" { "full-score" } else { "orchestral-wind-part" };
        assert_eq!(found(&format!("demo/{name}"), None), [], "{name}");
        assert_eq!(found(&format!("demo/{name}"), Some(role)), [], "{name}");
    }
    for (role, gravest) in [(None, Level::Warning), (Some("orchestral-brass-part"), Level::Error)] {
        let horn = found("demo/part-horn-1", role);
        assert_eq!(
            rules(&horn),
            BTreeSet::from(["small-staff", "rests-not-gathered", "unfilled-page", "wide-system-gap", "paper-unsuited", "loose-movement"]),
            "{horn:#?}"
        );
        assert!(of(&horn, "small-staff").iter().all(|(_, level, _)| *level == gravest), "{horn:#?}");
        assert_eq!(of(&horn, "wide-system-gap").len(), 2, "pages 1 and 3: {horn:#?}");
    }
    for role in [None, Some("full-score")] {
        let loose = found("demo/score-loose", role);
        assert_eq!(rules(&loose), BTreeSet::from(["large-staff", "one-more-system", "stretched-page", "wide-staff-gap"]), "{loose:#?}");
        assert_eq!(of(&loose, "stretched-page").len(), 12, "every page: {loose:#?}");
    }
}
