//! Where one movement ends and another begins: `MusicXML` has no word for it. A final bar line, and a second sign of a beginning (common
//! practice, no source): a new page, numbers that start again, the indent of a first line, a heading. Music that runs on is one movement.

#![allow(clippy::expect_used, reason = "a test says what it expects")]

use stavegauge::musicxml::{Source, read};
use stavegauge::page::lay_out;
use std::fmt::Write;

const FINAL: &str = "<barline location=\"right\"><bar-style>light-heavy</bar-style></barline>";
const REPEAT: &str = "<barline location=\"right\"><bar-style>light-heavy</bar-style><repeat direction=\"backward\"/></barline>";
const LINE: &str = "<print new-system=\"yes\"/>";
const PAGE: &str = "<print new-page=\"yes\"/>";

fn words(text: &str, points: u32) -> String {
    format!("<direction><direction-type><words font-size=\"{points}\">{text}</words></direction-type></direction>")
}

fn indented(tenths: u32) -> String {
    format!(
        "<print new-system=\"yes\"><system-layout><system-margins><left-margin>{tenths}</left-margin><right-margin>0</right-margin>\
         </system-margins></system-layout></print>"
    )
}

/// First bars of the movements in a score of six lines of one bar: how far the first line is indented, how the third bar ends, how the fourth begins and what it is called.
fn begins(indent: u32, end: &str, beginning: &str, number: u32) -> Vec<usize> {
    let mut xml = String::from(
        "<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name>A</part-name></score-part></part-list><part id=\"P1\">",
    );
    let first = indented(indent);
    for bar in 0..6 {
        let (print, number, end) = match bar {
            0 => (first.as_str(), 1, ""),
            2 => (LINE, 3, end),
            3 => (beginning, number, ""),
            _ => (LINE, bar + 1, ""),
        };
        let note = "<note><pitch><step>B</step><octave>4</octave></pitch><duration>4</duration><type>whole</type></note>";
        let _ = write!(xml, "<measure number=\"{number}\" width=\"400\">{print}{note}{end}</measure>");
    }
    xml.push_str("</part></score-partwise>");
    let source = Source::spool("text", xml.as_bytes()).expect("it opens").remove(0);
    let score = read(source.stream().expect("it opens")).expect("it is a score");
    lay_out(&score, &score.instructions).movements.iter().map(|movement| movement.bars.start).collect()
}

#[test]
fn a_final_bar_line_and_a_second_sign() {
    let heading = LINE.to_owned() + &words("Trio", 20);
    for (what, end, beginning, number, wanted) in [
        ("a new page", FINAL, PAGE, 4, true),
        ("numbers that start again", FINAL, LINE, 1, true),
        ("an indent as that of the first line", FINAL, &indented(80), 4, true),
        ("a heading", FINAL, &heading, 4, true),
        ("no second sign", FINAL, LINE, 4, false),
        ("less of an indent", FINAL, &indented(40), 4, false),
        ("small words", FINAL, &(LINE.to_owned() + &words("dolce", 9)), 4, false),
        ("no final bar line", "", PAGE, 4, false),
        ("a repeat", REPEAT, PAGE, 4, false),
        ("it runs on", &(words("attacca", 9) + FINAL), PAGE, 4, false),
    ] {
        let expected: &[usize] = if wanted { &[0, 3] } else { &[0] };
        assert_eq!(begins(80, end, beginning, number), expected, "{what}");
    }
    assert_eq!(begins(10, FINAL, &indented(10), 4), [0], "an indent of a quarter of a staff is none");
}
