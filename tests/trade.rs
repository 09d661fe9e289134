//! Check values of the trade, each beside its source.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use stavegauge::rule::Level;
use support::engine::{Engine, Found};
use support::musicxml::write;
use support::plain::{A4, A5_OBLONG, B4, NINE_BY_TWELVE, Sheet, part};
use support::score::{Clef, Score};

fn found(score: &Score, role: &str) -> Vec<Found> {
    Engine::found(&Engine::new().audit_text(&write(score), Some(role)))
}

fn of<'a>(found: &'a [Found], rule: &str) -> Vec<&'a Found> {
    found.iter().filter(|(name, ..)| name == rule).collect()
}

/// Eleven winds, so many systems a page, three pages. Running heads stand in the margin.
fn ensemble(staff_mm: f64, margin_mm: f64, systems: usize, inside: f64) -> Score {
    let parts = (1..=11).map(|number| part(&format!("Flute {number}"), &format!("Fl. {number}"), "wind.flutes.flute", &[Clef::Treble]));
    let mut sheet = Sheet::new(staff_mm, NINE_BY_TWELVE, margin_mm, parts.collect(), 5);
    sheet.inner_mm = vec![inside * staff_mm; 10];
    let mut sheet = (0..3).fold(sheet, |sheet, _| sheet.page(systems, 2.5 * staff_mm));
    for page in &mut sheet.pages {
        page.top_mm = 0.0;
    }
    let mut score = sheet.score();
    for credit in &mut score.credits {
        (credit.y_mm, credit.points) = (4.0, 9.0);
    }
    score
}

/// Common practice, no source: an ensemble score of 5.5 mm staves and 15 mm margins holds one system a page, of 4.7 mm and
/// 10 mm two.
#[test]
fn one_system_a_page_becomes_two() {
    let wide = ensemble(5.5, 15.0, 1, 3.6);
    let all = found(&wide, "full-score");
    let told = of(&all, "one-more-system");
    let [(_, _, message)] = told.as_slice() else { panic!("{all:#?}") };
    assert!(message.contains("staves of 4.7 mm and margins of 10 mm; now 5.5 mm and 15 mm"), "{message}");
    let measured = Engine::new().measure_text(&write(&wide));
    assert!(measured.pages.iter().all(|page| page.systems.len() == 1 && page.systems_that_fit.value() == Some(1)));

    let close = ensemble(4.7, 10.0, 2, 1.75);
    assert_eq!(found(&close, "full-score"), []);
    let measured = Engine::new().measure_text(&write(&close));
    assert!(measured.pages.iter().all(|page| page.systems.len() == 2 && page.past_bottom.value().is_some_and(|past| past.0 <= 0.0)));
}

/// At 6.0 mm below desk use, at 7.5 mm the usual choice (common practice, no source).
#[test]
fn an_orchestral_part_by_its_staff_height() {
    let oboe = |staff: f64| Sheet::oboe(staff, B4, 15.0).page(8, 3.3 * staff).page(9, 3.3 * staff).score();
    let small = found(&oboe(6.0), "orchestral-wind-part");
    assert!(of(&small, "small-staff").iter().all(|(_, level, _)| *level == Level::Error), "{small:#?}");
    assert_eq!(of(&small, "small-staff").len(), 1);
    assert_eq!(found(&oboe(7.5), "orchestral-wind-part"), []);
}

/// Metropole Orkest library, guidelines "Score" (R): a conductor's score at least 4 mm.
#[test]
fn a_full_score_of_3_7_mm_is_below_the_published_least() {
    let all = found(&Sheet::winds(5, 3.7, A4, 15.0).page(4, 12.0).page(2, 12.0).score(), "full-score");
    let told = of(&all, "small-staff");
    let [(_, Level::Error, message)] = told.as_slice() else { panic!("{all:#?}") };
    assert!(message.contains("3.7 mm") && message.contains("the least is 4 mm"), "{message}");
}

/// Common practice, no source: three systems under a 30 mm title are full where four fit without it.
#[test]
fn a_title_is_no_white() {
    let page = |title: bool| {
        let staff = 5.9;
        let mut sheet = Sheet::winds(4, staff, A4, 15.0).page(3, 2.5 * staff).page(4, 2.5 * staff).page(3, 2.5 * staff);
        for page in &mut sheet.pages {
            page.top_mm = 0.0;
        }
        if title {
            sheet.pages[0].top_mm = 30.0 + staff;
        }
        let mut score = sheet.score();
        if title {
            // The composer's line ends 30 mm below the margin.
            let composer = score.credits.iter_mut().find(|credit| credit.kind == "composer").expect("there is one");
            (composer.y_mm, composer.valign) = (45.0, "bottom");
        }
        for credit in score.credits.iter_mut().filter(|credit| !title || credit.page > 1) {
            (credit.y_mm, credit.points) = (4.0, 9.0);
        }
        found(&score, "chamber-score")
    };
    assert_eq!(page(true), []);
    let without = page(false);
    assert!(without.iter().any(|(_, _, message)| message.contains("4 systems would fit where 3 stand")), "{without:#?}");
}

/// Common practice, no source: no second system possible: natural gaps, white to the foot.
#[test]
fn one_system_with_natural_gaps_and_a_short_foot_is_no_fault() {
    let sheet = Sheet::winds(5, 6.2, A5_OBLONG, 13.0).page(1, 0.0).page(1, 0.0).page(1, 0.0);
    let score = sheet.score();
    let measured = Engine::new().measure_text(&write(&score));
    assert!(measured.pages.iter().all(|page| page.depth_used.value().is_some_and(|depth| depth < 0.8)), "the foot is short");
    assert_eq!(found(&score, "chamber-score"), []);
}

/// Orchestra library guidelines "Parts" (R): 10 staves of 8 mm on B4, margins 10 mm; JIS B4 is 257 x 364 mm (JIS P 0138).
/// The gap is arithmetic (D): 29 mm, 3.7 staff heights.
#[test]
fn the_published_norm_for_parts_is_clean() {
    let gap = (364.0 - 20.0 - 10.0 * 8.0) / 9.0;
    let mut sheet = Sheet::oboe(8.0, (257.0, 364.0), 10.0).page(9, gap).page(10, gap).page(10, gap).page(6, gap);
    for page in &mut sheet.pages[1..] {
        page.top_mm = 0.0;
    }
    let mut score = sheet.score();
    for credit in score.credits.iter_mut().filter(|credit| credit.page > 1) {
        (credit.y_mm, credit.points) = (3.0, 8.0);
    }
    let measured = Engine::new().measure_text(&write(&score));
    let heights: Vec<f64> = measured.pages[1].gaps.iter().filter_map(|gap| gap.white_heights().value()).collect();
    assert!(heights.iter().all(|heights| (heights - 3.67).abs() < 0.01), "{heights:?}");
    assert_eq!(found(&score, "orchestral-wind-part"), []);
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
