//! Single bars in a short hand, for checks of the room they need.
//!
//! A voice is a row of words: `w h q e s t` for whole to thirty-second, then any of `.` (dotted), `3` (of a triplet), `#` (with a sharp), `~`
//! (its flag shown, not beamed), `+` (with a second above, `++` with two), `^` (the other clef before it; alone it stands at the end), `v` (stem down, said at its first head only), `,` (a grace note before it; twice for two), `r` (a rest), `R` (a rest for the whole bar);
//! `q:ooo-` sings a syllable, with a hyphen where one follows.

use stavegauge::musicxml::{Source, read};
use stavegauge::page::Staff;
use stavegauge::place::Known;
use stavegauge::room::across::{Bar, Desk, Music};
use stavegauge::score::Score;
use stavegauge::units::Tenths;
use std::fmt::Write;

/// Divisions of a quarter: enough for thirty-seconds and triplets.
const DIVISIONS: u32 = 48;

/// Points at which, on a staff of 4 mm, an em of text is two staff spaces: a letter of half an em is one.
const POINTS: f64 = 2.0 / 0.3528;

/// A score of these bars, each a row of staves of one voice; `attributes` stands in each bar's beginning.
pub fn score(bars: &[&[&str]], attributes: &[&str]) -> Score {
    let staves = bars.first().map_or(1, |bar| bar.len());
    let mut xml = String::from(
        "<score-partwise version=\"4.0\"><defaults><scaling><millimeters>4</millimeters><tenths>40</tenths></scaling></defaults>\
         <part-list><score-part id=\"P1\"><part-name>A</part-name></score-part></part-list><part id=\"P1\">",
    );
    for (index, bar) in bars.iter().enumerate() {
        let _ = write!(xml, "<measure number=\"{}\"><attributes><divisions>{DIVISIONS}</divisions>", index + 1);
        if index == 0 {
            let _ =
                write!(xml, "<key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time><staves>{staves}</staves>");
        }
        xml.push_str(attributes.get(index).unwrap_or(&""));
        xml.push_str("</attributes>");
        for (staff, voice) in bar.iter().enumerate() {
            let mut length = 0;
            for word in voice.split_whitespace() {
                if word.starts_with('^') {
                    let _ = write!(xml, "<attributes><clef number=\"{}\"><sign>F</sign><line>4</line></clef></attributes>", staff + 1);
                }
                if word != "^" {
                    length += note(&mut xml, word.trim_start_matches('^'), staff + 1);
                }
            }
            if staff + 1 < bar.len() {
                let _ = write!(xml, "<backup><duration>{length}</duration></backup>");
            }
        }
        xml.push_str("</measure>");
    }
    xml.push_str("</part></score-partwise>");
    let source = Source::spool("text", xml.as_bytes()).expect("it opens").remove(0);
    read(source.stream().expect("it opens")).expect("it is a score")
}

/// Writes one word of the short hand; how long it lasts.
fn note(xml: &mut String, word: &str, staff: usize) -> u32 {
    let (word, syllable) = word.split_once(':').unwrap_or((word, ""));
    let has = |sign: char| word.contains(sign);
    let (name, whole) = match word.trim_start_matches(',').as_bytes()[0] {
        b'w' => ("whole", 4 * DIVISIONS),
        b'h' => ("half", 2 * DIVISIONS),
        b'q' => ("quarter", DIVISIONS),
        b'e' => ("eighth", DIVISIONS / 2),
        b's' => ("16th", DIVISIONS / 4),
        b't' => ("32nd", DIVISIONS / 8),
        other => panic!("no note value is called {}", char::from(other)),
    };
    let length = if has('.') { whole * 3 / 2 } else { whole };
    let length = if has('3') { length * 2 / 3 } else { length };
    let place = format!("<voice>{staff}</voice>");
    for _ in word.matches(',') {
        let _ = write!(
            xml,
            "<note><grace/><pitch><step>D</step><octave>5</octave></pitch>{place}<type>eighth</type><staff>{staff}</staff></note>"
        );
    }
    for (index, step) in ["B", "C", "D"].iter().enumerate().take(1 + word.matches('+').count()) {
        let octave = 4 + index.min(1);
        let chord = if index > 0 { "<chord/>" } else { "" };
        let tone = match (has('R'), has('r')) {
            (true, _) => "<rest measure=\"yes\"/>".to_owned(),
            (_, true) => "<rest/>".to_owned(),
            _ => format!("<pitch><step>{step}</step><octave>{octave}</octave></pitch>"),
        };
        let _ = write!(xml, "<note>{chord}{tone}<duration>{length}</duration>{place}");
        if !has('R') {
            let _ = write!(xml, "<type>{name}</type>");
        }
        if has('.') {
            xml.push_str("<dot/>");
        }
        if has('#') {
            xml.push_str("<accidental>sharp</accidental>");
        }
        if has('3') {
            xml.push_str("<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>");
        }
        xml.push_str(match (has('v'), index) {
            (false, _) => "<stem>up</stem>",
            (true, 0) => "<stem>down</stem>",
            _ => "",
        });
        let _ = write!(xml, "<staff>{staff}</staff>");
        if whole < DIVISIONS && !has('~') && !has('r') {
            xml.push_str("<beam number=\"1\">continue</beam>");
        }
        if !syllable.is_empty() && index == 0 {
            let text = syllable.trim_matches('-');
            // The first of a word has a hyphen behind, the last one before, those between both.
            let syllabic = match (syllable.starts_with('-'), syllable.ends_with('-')) {
                (false, false) => "single",
                (false, true) => "begin",
                (true, true) => "middle",
                (true, false) => "end",
            };
            let _ = write!(xml, "<lyric number=\"1\"><syllabic>{syllabic}</syllabic><text font-size=\"{POINTS}\">{text}</text></lyric>");
        }
        xml.push_str("</note>");
    }
    length
}

/// The staves of the first part of a score, printed at full size.
pub fn staves(score: &Score) -> Vec<Staff> {
    let staff = |staff| Staff {
        part: 0,
        staff,
        room_top: Known::Absent,
        room: Tenths(40.0),
        lines: 5,
        size_percent: 100.0,
        kind: None,
        gap_above: Known::Absent,
        kept: None,
        size_at: None,
        distance_factor: 1.0,
    };
    (1..=score.parts[0].staves).map(staff).collect()
}

/// The first of some bars, at the beginning of a system.
pub fn first(bars: &[&str]) -> Bar {
    let score = score(&[bars], &[]);
    Music::of(&score).bar(&staves(&score), 0, true, &mut Desk::default()).expect("its time is exact")
}
