use super::*;
use crate::place::Known;
use crate::rule::field::Row;
use crate::rule::finding::Level;
use crate::rule::testing::{FILE, File, GAP, Gap, ROLE, Role, book, context, file, on, thing, vocabulary};
use crate::rule::value::Value;
use crate::units::Mm;

const SEVEN: Known<Mm> = Known::Derived(Mm(7.0));

fn small_staff(height: Known<Mm>, basis: Basis) -> Outcome {
    let file = file(height);
    let facts = FILE.of(&file);
    judge(&book(), "file", &[thing(&facts, Where::default())][..], &context(&facts, &ROLE.of(&Role { least: 7.0 }), None, basis))
}

fn gaps(gaps: &[(Gap, Where)], file: &File, role: Option<&str>, basis: Basis) -> Outcome {
    let rows: Vec<(Row<Gap>, &Where)> = gaps.iter().map(|(gap, on)| (GAP.of(gap), on)).collect();
    let things: Vec<Thing> = rows.iter().map(|(row, on)| thing(row, (*on).clone())).collect();
    let (file, reader) = (FILE.of(file), &Role { least: 7.0 });
    let reader = ROLE.of(reader);
    let context = context(&file, &reader, role, basis);
    let together = judge(&book(), "gap", things.as_slice(), &context);
    assert_eq!(together, judge(&book(), "gap", &Apart(&things), &context), "on several cores");
    together
}

/// Each thing a lot of its own.
struct Apart<'a>(&'a [Thing<'a>]);

impl Things for Apart<'_> {
    fn lots(&self) -> usize {
        self.0.len()
    }

    fn show(&self, lot: usize, see: &mut dyn FnMut(&[Thing])) {
        see(&self.0[lot..=lot]);
    }
}

fn wide(heights: f64) -> Gap {
    Gap { heights: Value::Number(heights), white: Known::Derived(Mm(heights * 7.0)), ..Gap::default() }
}

#[test]
fn a_finding_says_where_what_and_against_what() {
    let outcome = small_staff(Known::Inherited(Mm(6.0), Place::new(312, 28)), Basis::Stated);
    let [finding] = outcome.findings.as_slice() else { panic!("{outcome:?}") };
    assert_eq!(finding.message, "The staff is 6 mm high, 7 mm is the least.");
    assert_eq!((finding.measured, finding.limit, finding.unit), (Some(6.0), Some(7.0), Some("mm")));
    assert_eq!((finding.at, finding.also), (Some(Place::new(312, 28)), Some(Place::new(900, 9))));
    assert_eq!((finding.level, finding.because.as_deref(), finding.count), (Level::Error, None, 1));
}

/// The honest gate: a guess never makes an error.
#[test]
fn a_judgement_is_no_graver_than_the_role_is_sure() {
    let level = |basis| small_staff(Known::Derived(Mm(6.0)), basis).findings.first().map(|finding| finding.level);
    assert_eq!(level(Basis::Stated), Some(Level::Error));
    assert_eq!(level(Basis::House), Some(Level::Error));
    assert_eq!(level(Basis::Inferred), Some(Level::Warning));
    assert_eq!(level(Basis::Assumed), Some(Level::Note));
    let unknown = small_staff(Known::Derived(Mm(6.0)), Basis::Unknown);
    assert!(unknown.findings.is_empty());
    assert_eq!(unknown.not_judged, [NotJudged { rule: "small-staff".into(), reason: "it is not known who reads this".to_owned() }]);
}

#[test]
fn absent_is_silent_and_unknown_is_not_judged() {
    assert_eq!(small_staff(Known::Absent, Basis::Stated), Outcome::default());
    let unknown = small_staff(Known::Unknown("no scaling"), Basis::Stated);
    assert_eq!(unknown.not_judged, [NotJudged { rule: "small-staff".into(), reason: "no scaling".to_owned() }]);
}

#[test]
fn one_cause_on_one_page_is_one_finding_and_the_worst_speaks() {
    let things = [(wide(4.0), on(2, 1)), (wide(5.5), on(1, 4)), (wide(5.0), on(1, 2)), (wide(5.5), on(1, 9)), (wide(2.0), on(1, 1))];
    let outcome = gaps(&things, &file(SEVEN), None, Basis::Unknown);
    let [first, second] = outcome.findings.as_slice() else { panic!("{outcome:#?}") };
    assert_eq!((first.count, first.on.page, first.on.system), (3, Some(1), None));
    assert_eq!(first.message, "p. 1: 5.5 staff heights of white, 3 staff heights is the most, 3 gaps in systems 2, 4 and 9");
    assert_eq!((second.count, second.message.as_str()), (1, "p. 2: 4 staff heights of white, 3 staff heights is the most"));
    assert_ne!(first.fingerprint, second.fingerprint);
}

#[test]
fn the_order_of_the_things_changes_nothing() {
    let make = || vec![(wide(4.0), on(2, 1)), (wide(5.5), on(1, 4)), (wide(5.5), on(1, 2)), (wide(9.0), on(3, 1))];
    let mut turned = make();
    turned.reverse();
    let (one, two) = [make(), turned].map(|things| gaps(&things, &file(SEVEN), None, Basis::Unknown)).into();
    assert_eq!(one, two);
}

#[test]
fn a_limit_of_the_role_counts_and_caps() {
    let levels = |basis, heights| {
        let outcome = gaps(&[(wide(heights), on(1, 1))], &file(SEVEN), Some("chorus-score"), basis);
        outcome.findings.first().map(|finding| (finding.level, finding.limit, finding.because.is_some()))
    };
    assert_eq!(levels(Basis::Stated, 3.5), None);
    assert_eq!(levels(Basis::Stated, 4.5), Some((Level::Warning, Some(4.0), false)));
    assert_eq!(levels(Basis::Assumed, 4.5), Some((Level::Note, Some(4.0), true)));
    assert_eq!(levels(Basis::Unknown, 3.5), Some((Level::Warning, Some(3.0), false)));
}

#[test]
fn reasons_silence_and_soften() {
    let facing = File { layout: "facing", staff_height: SEVEN };
    let outcome = gaps(&[(wide(4.0), on(1, 1))], &facing, None, Basis::Unknown);
    assert!(outcome.findings.is_empty());
    assert_eq!(outcome.excused.first().map(|excused| excused.says.as_str()), Some("the piece is laid out on facing pages"));
    let border = Gap { family_border: true, ..wide(4.0) };
    let outcome = gaps(&[(border, on(1, 1))], &file(SEVEN), None, Basis::Unknown);
    let found = outcome.findings.first().map(|finding| (finding.level, finding.because.as_deref()));
    assert_eq!(found, Some((Level::Note, Some("two families meet here"))));
}

const TWO_CASES: &str = r#"
id = "crowded"
title = "Crowded"
family = "gaps"
harm = 1
about = "gap"
why = "It cannot be read."
merge = "part"
[[case]]
level = "error"
when = "gap.white_mm < gap.needed_mm"
message = "{{ parts }}: {{ count | plural('gap', 'gaps') }} on pages {{ pages }}"
advice = ""
[[case]]
level = "warning"
when = "gap.white_heights < 1.5"
message = "{{ where }}"
advice = ""
[[example]]
name = "ink on ink"
breaks = "error"
values = { "gap.white_mm" = 1, "gap.needed_mm" = 2, "gap.white_heights" = 1 }
[[example]]
name = "room"
values = { "gap.white_mm" = 9, "gap.needed_mm" = 2, "gap.white_heights" = 2 }
"#;

fn crowded(gaps: Vec<(Value, f64, Confidence, Where)>) -> Outcome {
    let mut book = RuleBook::empty();
    book.add("crowded.toml", TWO_CASES, &vocabulary(), &[]).unwrap_or_else(|error| panic!("{error}"));
    let file = file(SEVEN);
    let gaps: Vec<(Gap, Confidence, Where)> = gaps
        .into_iter()
        .map(|(needed, heights, sure, on)| (Gap { needed, heights: Value::Number(heights), ..Gap::default() }, sure, on))
        .collect();
    let rows: Vec<Row<Gap>> = gaps.iter().map(|(gap, ..)| GAP.of(gap)).collect();
    let things: Vec<Thing> =
        rows.iter().zip(&gaps).map(|(row, (_, sure, on))| Thing { confidence: *sure, ..thing(row, on.clone()) }).collect();
    judge(&book, "gap", things.as_slice(), &context(&FILE.of(&file), &Unknowable("no role"), None, Basis::Unknown))
}

/// The gap is 20 mm wide.
#[test]
fn what_is_not_sure_is_one_level_lower_and_says_so() {
    let low = |needed: f64, heights| {
        let outcome = crowded(vec![(Value::Number(needed), heights, Confidence::Low, on(1, 1))]);
        outcome.findings.first().map(|finding| (finding.level, finding.confidence, finding.because.is_some()))
    };
    assert_eq!(low(30.0, 2.0), Some((Level::Warning, Confidence::Low, true)));
    assert_eq!(low(8.0, 1.0), Some((Level::Note, Confidence::Low, true)));
}

#[test]
fn an_unknown_case_does_not_hide_a_later_one_nor_itself() {
    let outcome = crowded(vec![(Value::unknown("no ink"), 1.0, Confidence::High, on(1, 1))]);
    assert_eq!(outcome.findings.first().map(|finding| (finding.level, finding.case)), Some((Level::Warning, 1)));
    assert_eq!(outcome.not_judged, [NotJudged { rule: "crowded".into(), reason: "no ink".to_owned() }]);
}

#[test]
fn findings_of_one_case_in_one_part_are_told_once() {
    let of = |part: &str, page| Where { part: Some(part.into()), part_name: None, ..on(page, 1) };
    let (bad, poor) = (Value::Number(30.0), Value::Number(8.0));
    let high = Confidence::High;
    let things = vec![
        (poor, 1.0, high, of("P1", 1)),
        (bad.clone(), 2.0, high, of("P2", 1)),
        (bad.clone(), 2.0, high, of("P1", 3)),
        (bad, 2.0, high, of("P1", 4)),
    ];
    let outcome = crowded(things);
    let messages: Vec<&str> = outcome.findings.iter().map(|finding| finding.message.as_str()).collect();
    assert_eq!(messages, ["p. 1, system 1, P1", "P2: 1 gap on pages 1", "P1: 2 gaps on pages 3 and 4"]);
}
