//! Seconds to turn, and the tempi they come from, against values worked by hand.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

use proptest::prelude::*;
use stavegauge::musicxml::{Source, read};
use stavegauge::score::Score;
use stavegauge::turn::{Hands, JumpKind, Told, Turn, Turning, jumps};
use std::fmt::Write;

/// Divisions of a quarter.
const DIVISIONS: u32 = 4;

/// A part of bars, each written as it stands in the file, with a time signature at the beginning.
fn score(time: (u32, u32), bars: &[String]) -> Score {
    let mut xml = String::from(
        "<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name>A</part-name></score-part></part-list><part id=\"P1\">",
    );
    for (index, bar) in bars.iter().enumerate() {
        let _ = write!(xml, "<measure number=\"{}\">", index + 1);
        if index == 0 {
            let (beats, unit) = time;
            let _ = write!(
                xml,
                "<attributes><divisions>{DIVISIONS}</divisions><time><beats>{beats}</beats><beat-type>{unit}</beat-type></time></attributes>"
            );
        }
        let _ = write!(xml, "{bar}</measure>");
    }
    xml.push_str("</part></score-partwise>");
    let source = Source::spool("text", xml.as_bytes()).expect("it opens").remove(0);
    read(source.stream().expect("it opens")).expect("it is a score")
}

/// A note or rest of so many sixteenths.
fn event(rest: bool, sixteenths: u32, more: &str) -> String {
    let pitch = if rest { "<rest/>" } else { "<pitch><step>C</step><octave>5</octave></pitch>" };
    format!("<note>{pitch}<duration>{sixteenths}</duration><voice>1</voice>{more}</note>")
}

fn note(sixteenths: u32) -> String {
    event(false, sixteenths, "")
}

fn rest(sixteenths: u32) -> String {
    event(true, sixteenths, "")
}

fn metronome(unit: &str, dotted: bool, beats: &str) -> String {
    let dot = if dotted { "<beat-unit-dot/>" } else { "" };
    format!(
        "<direction><direction-type><metronome><beat-unit>{unit}</beat-unit>{dot}<per-minute>{beats}</per-minute></metronome></direction-type></direction>"
    )
}

fn words(words: &str) -> String {
    format!("<direction><direction-type><words>{words}</words></direction-type></direction>")
}

/// One movement.
fn turning(score: &Score, bars: usize, hands: Hands) -> Turning<'_> {
    Turning::of(score, std::iter::once(0..bars).collect(), hands)
}

fn turn(score: &Score, bar: usize) -> Turn {
    let bars = score.bar_count();
    let hands = Hands { lanes: vec![(0, 1)], keyboard: None };
    turning(score, bars, hands).at(bar).expect("its time is known")
}

/// A bar of notes, bars of rest, a bar of notes, with the turn in the middle of the rests.
fn around(time: (u32, u32), tempo: &str, full: u32, rests: usize, turn_at: usize) -> Turn {
    let mut bars = vec![format!("{tempo}{}", note(full))];
    bars.extend((0..rests).map(|_| rest(full)));
    bars.push(note(full));
    turn(&score(time, &bars), turn_at)
}

fn check(what: &str, turn: Turn, seconds: f64) {
    assert!((turn.seconds() - seconds).abs() < 0.0005, "{what}: {:.4} s, by hand {seconds}", turn.seconds());
    assert!(!turn.unlimited, "{what}");
}

/// Source: the worked seconds of the spacing study, each to a millisecond (arithmetic).
#[test]
fn seconds_worked_by_hand() {
    check("two 4/4 bars at 120", around((4, 4), &metronome("quarter", false, "120"), 16, 2, 2), 4.000);
    check("a 3/4 bar at 72", around((3, 4), &metronome("quarter", false, "72"), 12, 1, 1), 2.500);
    check("a 6/8 bar, dotted quarter at 60", around((6, 8), &metronome("quarter", true, "60"), 12, 1, 2), 2.000);
    check("a 2/2 bar, half at 88", around((2, 2), &metronome("half", false, "88"), 16, 1, 1), 1.3636);
    check("a 5/8 bar, eighth at 144", around((5, 8), &metronome("eighth", false, "144"), 10, 1, 1), 2.0833);
    // and two beats more than the 3/4 bar: 2.500 + 1.667
    let bars = [format!("{}{}", metronome("quarter", false, "72"), note(12)), rest(12), format!("{}{}", rest(8), note(4))];
    check("a bar and two beats at 72", turn(&score((3, 4), &bars), 2), 2.5 + 1.6667);
    // eight quarters at 60, then 120 after the third: 3 + 5/2
    let first = format!("{}{}", metronome("quarter", false, "60"), note(16));
    let second = format!("{}{}{}", rest(12), metronome("quarter", false, "120"), rest(4));
    check("faster within the rest", turn(&score((4, 4), &[first, second, rest(16), note(16)]), 2), 5.500);
}

#[test]
fn the_faster_of_a_range_counts_and_a_number_for_playback_is_in_quarters() {
    check("96-104", around((4, 4), &metronome("quarter", false, "96-104"), 16, 1, 1), 4.0 * 60.0 / 104.0);
    check("sound", around((6, 8), "<sound tempo=\"90\"/>", 12, 1, 1), 3.0 * 60.0 / 90.0);
}

#[test]
fn words_tell_a_tempo_with_less_certainty_and_nothing_tells_none() {
    let andante = around((4, 4), &words("Andante con moto"), 16, 1, 1);
    assert_eq!(andante.told, Told::Words);
    assert!(andante.known().is_ok_and(|seconds| seconds > 2.0 && seconds < 4.0), "{andante:?}");
    let nothing = around((4, 4), "", 16, 1, 1);
    assert!(nothing.known().is_err(), "{nothing:?}");
    // with no rest at all no tempo is needed to know that there is no time
    let none = around((4, 4), "", 16, 0, 1);
    assert_eq!(none.known(), Ok(0.0));
    // back to the tempo of the beginning
    let bars = [
        format!("{}{}", metronome("quarter", false, "120"), note(16)),
        format!("{}{}", metronome("quarter", false, "60"), note(16)),
        format!("{}{}", words("a tempo"), rest(16)),
        note(16),
    ];
    check("a tempo", turn(&score((4, 4), &bars), 2), 4.0);
}

#[test]
fn what_is_held_lasts_longer() {
    let hold = "<notations><fermata/></notations>";
    let bars = [format!("{}{}", metronome("quarter", false, "120"), note(16)), event(true, 16, hold), note(16)];
    // a bar of two seconds, held twice as long
    check("fermata", turn(&score((4, 4), &bars), 1), 4.0);
    let bars = [format!("{}{}{}", metronome("quarter", false, "120"), note(12), event(true, 4, hold)), note(16)];
    // half a second, held two seconds longer
    check("a short rest under a fermata", turn(&score((4, 4), &bars), 1), 2.5);
    let bars = [format!("{}{}", metronome("quarter", false, "60"), note(16)), format!("{}{}", words("G.P."), rest(16)), note(16)];
    check("general pause", turn(&score((4, 4), &bars), 1), 8.0);
}

#[test]
fn a_tied_note_sounds_and_a_cue_does_not() {
    let tie = "<tie type=\"start\"/>";
    let tempo = metronome("quarter", false, "60");
    let bars = [format!("{tempo}{}{}", rest(12), event(false, 4, tie)), event(false, 16, "<tie type=\"stop\"/>"), note(16)];
    check("tied over the turn", turn(&score((4, 4), &bars), 1), 0.0);
    let cue = "<note><cue/><pitch><step>C</step><octave>5</octave></pitch><duration>16</duration><voice>1</voice></note>".to_owned();
    check("cue", turn(&score((4, 4), &[format!("{tempo}{}", note(16)), cue, note(16)]), 1), 4.0);
}

#[test]
fn a_movement_that_ends_sets_no_limit_and_other_work_takes_time() {
    let tempo = metronome("quarter", false, "60");
    let bars = [format!("{tempo}{}", note(16)), note(16)];
    let hands = || Hands { lanes: vec![(0, 1)], keyboard: None };
    let apart = score((4, 4), &bars);
    assert!(Turning::of(&apart, vec![0..1, 1..2], hands()).at(1).is_ok_and(|turn| turn.unlimited));
    let mute = [format!("{tempo}{}", note(16)), rest(16), format!("{}{}", words("con sord."), note(16))];
    check("a mute for the entry", turn(&score((4, 4), &mute), 1), 2.0);
    let change = [format!("{tempo}{}", note(16)), format!("{}{}", words("muta in Flauto piccolo"), rest(16)), rest(16), note(16)];
    check("another instrument", turn(&score((4, 4), &change), 1), 3.0);
    let after = [format!("{tempo}{}", note(16)), rest(16), note(16), format!("{}{}", words("con sord."), note(16))];
    check("a mute for a later entry", turn(&score((4, 4), &after), 1), 4.0);
}

/// One hand that is free counts half (our own).
#[test]
fn one_hand_at_the_keyboard() {
    let backup = "<backup><duration>16</duration></backup>";
    let lower = |rest: bool| event(rest, 16, "<staff>2</staff>");
    let staves = "<attributes><staves>2</staves></attributes>";
    let tempo = metronome("quarter", false, "60");
    let bars = [
        format!("{staves}{tempo}{}{backup}{}", note(16), lower(false)),
        format!("{}{backup}{}", note(16), lower(true)),
        format!("{}{backup}{}", note(16), lower(false)),
    ];
    let score = score((4, 4), &bars);
    let hands = Hands { lanes: vec![(0, 1), (0, 2)], keyboard: Some([(0, 1), (0, 2)]) };
    let turn = turning(&score, 3, hands).at(1).expect("its time is known");
    check("the left hand rests four seconds", turn, 2.0);
    assert!(turn.one_hand);
}

#[test]
fn the_last_time_through_nobody_plays_the_first_ending() {
    let ending = |number: u32, bar: &str, back: bool| {
        let back = if back { "<barline location=\"right\"><repeat direction=\"backward\"/></barline>" } else { "" };
        format!("<barline location=\"left\"><ending number=\"{number}\" type=\"start\"/></barline>{bar}{back}")
    };
    let tempo = metronome("quarter", false, "60");
    // the bar before the endings rests; the first ending plays on
    let bars = [format!("{tempo}{}", note(16)), rest(16), ending(1, &note(16), true), ending(2, &note(16), false)];
    let score = score((4, 4), &bars);
    check("before the second ending", turn(&score, 3), 4.0);
    let found = jumps(&score, 0..4);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].kind, found[0].from, found[0].to), (JumpKind::Repeat, 2, 0));
}

/// Where pages are turned depends on how the copies lie: bound after right-hand pages, loose sheets after every second, fold-outs after every
/// third, on a screen after each.
#[test]
fn how_copies_lie_says_where_they_are_turned() {
    use stavegauge::house::{CopiesAre, House};
    use stavegauge::measured::measure;
    let breaks = |bar: usize| if bar == 0 { "" } else { "<print new-page=\"yes\"/>" };
    let bars: Vec<String> = (0..6).map(|bar| format!("{}{}", breaks(bar), note(16))).collect();
    let score = score((4, 4), &bars);
    let mut house = House::built_in().expect("it loads");
    let mut turned = |copies_are: CopiesAre| -> Vec<u32> {
        house.copies_are = copies_are;
        measure(&score, &score.instructions, &house).turns.iter().map(|turn| turn.page).collect()
    };
    assert_eq!(turned(CopiesAre::Bound), [1, 3, 5]);
    assert_eq!(turned(CopiesAre::Loose), [2, 4]);
    assert_eq!(turned(CopiesAre::FoldOut), [3]);
    assert_eq!(turned(CopiesAre::Screen), [1, 2, 3, 4, 5]);
}

proptest! {
    /// Seconds add up: from one bar line to another it does not matter where one stops on the way.
    #[test]
    fn time_adds_up(tempi in prop::collection::vec(30_u32..240, 1..12), split in 0_usize..12) {
        let bars: Vec<String> = tempi.iter().map(|beats| format!("{}{}", metronome("quarter", false, &beats.to_string()), note(16))).collect();
        let score = score((4, 4), &bars);
        let turning = turning(&score, bars.len(), Hands { lanes: vec![(0, 1)], keyboard: None });
        let split = split % tempi.len();
        let between = |from: usize, to: usize| turning.tempi().between((from, 0.0), (to, 0.0)).expect("known");
        let whole: f64 = tempi.iter().map(|beats| 240.0 / f64::from(*beats)).sum();
        prop_assert!((between(0, tempi.len()) - whole).abs() < 1e-6);
        prop_assert!((between(0, split) + between(split, tempi.len()) - whole).abs() < 1e-6);
    }
}
