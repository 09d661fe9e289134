//! What holds of every score: its millimetres are those it was written with, and neither its form nor its order nor the unit of its
//! numbers changes what is measured and judged.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use proptest::prelude::*;
use proptest::test_runner::TestCaseError;
use stavegauge::house::House;
use stavegauge::measured::{Measured, Page, measure};
use stavegauge::musicxml::{Source, read};
use stavegauge::page::Side;
use stavegauge::place::Known;
use stavegauge::repair::{Ground, Plan, Relaid, Rework, cast_off, rewrite, usual_plan};
use stavegauge::score::Score;
use stavegauge::units::Mm;
use std::sync::LazyLock;
use support::any::{Any, any};
use support::engine::Engine;
use support::plain::{HEAD_MM, TITLE_MM};

static ENGINE: LazyLock<Engine> = LazyLock::new(Engine::new);

/// The writer has two decimal places of a tenth, at most a quarter of a millimetre: so much a length may be off, mm.
const WRITTEN: f64 = 0.0015;

/// Whether a length is what it was written as, give or take the rounding of as many lengths as it is the sum of.
fn is_as_written(what: &str, length: &Known<Mm>, written: f64, sum_of: u32) -> Result<(), TestCaseError> {
    let length = length.value().ok_or_else(|| TestCaseError::fail(format!("{what} is not known")))?.0;
    prop_assert!((length - written).abs() < WRITTEN * f64::from(sum_of), "{what}: {length} mm, written as {written}");
    Ok(())
}

/// A page is as the plan of its systems has it; `margins` are left, right, top, bottom.
fn page_is_as_planned(any: &Any, index: usize, page: &Page) -> Result<(), TestCaseError> {
    let plan = &any.pages[index];
    let staff = f64::from(any.quarters) / 4.0;
    let number = any.first + u32::try_from(index).expect("few pages");
    let [left, right, top, bottom] = any.margins.map(f64::from);
    let (left, right) = if number.is_multiple_of(2) && any.mirrored { (right, left) } else { (left, right) };
    prop_assert_eq!(&page.label, &number.to_string());
    prop_assert_eq!(page.side, if number % 2 == 1 { Side::Recto } else { Side::Verso });
    is_as_written("width", &page.width, any.paper.0, 1)?;
    is_as_written("height", &page.height, any.paper.1, 1)?;
    for (what, length, written) in [
        ("left", &page.margins[0], left),
        ("right", &page.margins[1], right),
        ("top", &page.margins[2], top),
        ("bottom", &page.margins[3], bottom),
    ] {
        is_as_written(what, length, written, 1)?;
    }
    prop_assert_eq!(page.systems.len(), plan.len());
    let mut at = top + if index == 0 { TITLE_MM } else { HEAD_MM };
    let mut sums = 2;
    for (position, (system, (above, bars, indent, ragged, hides))) in page.systems.iter().zip(plan).enumerate() {
        at += if position == 0 { 0.0 } else { f64::from(*above) };
        let staves = match any.players {
            0 => 1,
            1 => 2,
            winds => winds - usize::from(*hides && winds > 2),
        };
        prop_assert_eq!(system.staves.len(), staves, "staves of system {}", position + 1);
        prop_assert_eq!(system.across.len(), *bars);
        for (number, one) in system.staves.iter().enumerate() {
            at += if number == 0 { 0.0 } else { f64::from(any.inner) };
            sums += 1;
            is_as_written("top of a staff", &one.top, at, sums)?;
            at += staff;
            is_as_written("bottom of a staff", &one.bottom(), at, sums)?;
            is_as_written("height of a staff", &one.height(), staff, 1)?;
        }
        is_as_written("top of a system", &system.top, at - staff - depth(any, staves), sums)?;
        is_as_written("bottom of a system", &system.bottom, at, sums)?;
        is_as_written("left of a system", &system.left, left + f64::from(*indent), 2)?;
        if !ragged {
            let end = system.across.last().map(|bar| bar.left.0 + bar.width.0).expect("a bar");
            prop_assert!((end - (any.paper.0 - right)).abs() < 0.02, "the line ends at {end}, written to {}", any.paper.0 - right);
        }
    }
    Ok(())
}

/// From the top of the first staff of a system to the top of its last, mm.
fn depth(any: &Any, staves: usize) -> f64 {
    let staves = u32::try_from(staves - 1).expect("few");
    f64::from(staves) * (f64::from(any.quarters) / 4.0 + f64::from(any.inner))
}

fn score_of(text: &str) -> Score {
    let source = Source::spool("text", text.as_bytes()).expect("it opens").remove(0);
    read(source.stream().expect("it opens")).expect("it is a score")
}

/// A score cast off anew with other staves and margins: measured as it was laid out in memory, and as it was written and read again.
fn relaid(text: &str, house: &House, staff: f64, margin: f64) -> Option<(Measured, Measured)> {
    let mut score = score_of(text);
    let measured = measure(&score, &score.instructions, house);
    let ground = Ground::of(&mut score, &measured, house, &ENGINE.rules, None);
    let mut plan: Plan = usual_plan(&ground, house, None);
    plan.staff = Mm(staff);
    plan.page.margins = [Mm(margin); 4];
    let made = cast_off(&ground, &plan).ok()?;
    let laid = Relaid::of(&ground, &plan, &made).ok()?;
    let (rework, written) = (Rework::of(ground.score, &laid), rewrite(text, ground.score, &laid).expect("it can be written"));
    rework.put_on(&mut score);
    let again = score_of(&written);
    Some((measure(&score, &score.instructions, house), measure(&again, &again.instructions, house)))
}

/// The two numbers of the scaling times a factor. Both are written exactly.
fn scaled(text: &str, quarters: u32, factor: f64) -> String {
    let mm = f64::from(quarters) / 4.0;
    let (from, to) = (
        format!("<millimeters>{mm}</millimeters>\n   <tenths>40</tenths>"),
        format!("<millimeters>{}</millimeters>\n   <tenths>{}</tenths>", mm * factor, 40.0 * factor),
    );
    assert_eq!(text.matches(&from).count(), 1, "{from}");
    text.replacen(&from, &to, 1)
}

/// A text with its `<part>` elements in another order; the part list stays.
fn shuffled(text: &str, order: &[usize]) -> String {
    let first = text.find(" <part id=").expect("a part");
    let end = text.rfind("</score-partwise>").expect("the end");
    let parts: Vec<&str> = text[first..end].split_inclusive("</part>\n").collect();
    let mut order: Vec<usize> = order.iter().copied().filter(|index| *index < parts.len()).collect();
    order.dedup();
    assert_eq!(order.len(), parts.len());
    let parts: String = order.iter().map(|index| parts[*index]).collect();
    format!("{}{parts}{}", &text[..first], &text[end..])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// The plan is in millimetres and knows nothing of the library. Source: `MusicXML` 4.0, `print`, `defaults`, `scaling`.
    #[test]
    fn a_layout_that_is_written_is_measured_as_it_was_planned(any in any()) {
        let measured = ENGINE.measure_text(&any.text());
        prop_assert_eq!(measured.pages.len(), any.pages.len());
        for (index, page) in measured.pages.iter().enumerate() {
            page_is_as_planned(&any, index, page)?;
        }
    }

    /// What is cast off, written and read back is what was reckoned, to the last figure.
    #[test]
    fn a_layout_that_is_made_is_measured_again_as_it_was_made(any in any(), quarters in 16_u32..36, margin in 8_u32..25) {
        let (staff, margin) = (f64::from(quarters) / 4.0, f64::from(margin));
        if let Some((made, again)) = relaid(&any.text(), &ENGINE.house, staff, margin) {
            prop_assert!(made.systems().count() > 0);
            prop_assert_eq!(Engine::told_of(made), Engine::told_of(again));
        }
    }

    /// Source: `MusicXML` 4.0, `scaling`: so many millimetres to so many tenths, a ratio.
    #[test]
    fn both_numbers_of_the_scaling_times_a_factor_change_nothing(any in any(), whole in 2_u32..40, power in -4_i32..5) {
        let text = any.text();
        let (told, judged) = (ENGINE.told(&text), Engine::judged(&ENGINE.audit_text(&text, None)));
        for factor in [f64::from(whole), 2_f64.powi(power)] {
            let other = scaled(&text, any.quarters, factor);
            prop_assert_eq!(&ENGINE.told(&other), &told, "times {}", factor);
            prop_assert_eq!(&Engine::judged(&ENGINE.audit_text(&other, None)), &judged, "times {}", factor);
        }
    }

    /// Source: `MusicXML` 4.0, `score-timewise`: the same music, bar by bar.
    #[test]
    fn partwise_is_timewise(any in any()) {
        let (partwise, timewise) = (any.text(), any.timewise());
        prop_assert_eq!(ENGINE.told(&partwise), ENGINE.told(&timewise));
        let judged = |text: &str| Engine::judged(&ENGINE.audit_text(text, None));
        prop_assert_eq!(judged(&partwise), judged(&timewise));
    }

    /// Source: `MusicXML` 4.0, `part-list`: it is the list that says which part stands where.
    #[test]
    fn the_order_of_parts_in_the_file_changes_nothing(any in any().prop_filter("one part", |any| any.players > 1), order in Just((0..5).collect::<Vec<usize>>()).prop_shuffle()) {
        let text = any.text();
        let other = shuffled(&text, &order);
        prop_assert_eq!(ENGINE.told(&text), ENGINE.told(&other));
        let judged = |text: &str| Engine::judged(&ENGINE.audit_text(text, None));
        prop_assert_eq!(judged(&text), judged(&other));
    }
}
