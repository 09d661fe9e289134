//! Which stated value holds where, by the `MusicXML` 4.0 standard (`print`, `defaults`, `staff-details`), on files small
//! enough to reckon by hand: a tenth is 0.2 mm, so a staff is 8 mm high.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use std::fmt::Write;
use support::engine::Engine;

use stavegauge::measured::{Measured, Page};
use stavegauge::musicxml::{Source, read};
use stavegauge::page::{Dialect, Side, Stating, lay_out};
use stavegauge::place::Known;
use stavegauge::units::Mm;

/// Margins of 50 tenths (10 mm) all round, odd pages 75 (15 mm) at the left.
const DEFAULTS: &str = "<defaults><scaling><millimeters>8</millimeters><tenths>40</tenths></scaling>\
<page-layout><page-height>1485</page-height><page-width>1050</page-width>\
<page-margins type=\"odd\"><left-margin>75</left-margin><right-margin>50</right-margin><top-margin>50</top-margin><bottom-margin>50</bottom-margin></page-margins>\
<page-margins type=\"even\"><left-margin>50</left-margin><right-margin>50</right-margin><top-margin>50</top-margin><bottom-margin>50</bottom-margin></page-margins></page-layout>\
<system-layout><system-distance>100</system-distance><top-system-distance>20</top-system-distance></system-layout>\
<staff-layout><staff-distance>70</staff-distance></staff-layout></defaults>";

const NOTE: &str = "<note><pitch><step>B</step><octave>4</octave></pitch><duration>4</duration><type>whole</type></note>";
const REST: &str = "<note><rest measure=\"yes\"/><duration>4</duration></note>";

/// A score of some parts, each a list of bars; what a bar holds is its layout and its music.
fn score(parts: &[Vec<String>]) -> String {
    let mut text = format!("<score-partwise version=\"4.0\">{DEFAULTS}<part-list>");
    for part in 0..parts.len() {
        write!(text, "<score-part id=\"P{part}\"><part-name>Part {part}</part-name></score-part>").expect("to memory");
    }
    text.push_str("</part-list>");
    for (part, bars) in parts.iter().enumerate() {
        write!(text, "<part id=\"P{part}\">").expect("to memory");
        for (bar, inside) in bars.iter().enumerate() {
            let divisions = if bar == 0 { "<attributes><divisions>1</divisions></attributes>" } else { "" };
            // The print comes first in its bar, then the attributes.
            let (print, music) = inside.split_once('|').unwrap_or(("", inside));
            write!(text, "<measure number=\"{}\" width=\"400\">{print}{divisions}{music}</measure>", bar + 1).expect("to memory");
        }
        text.push_str("</part>");
    }
    text + "</score-partwise>"
}

fn one_part(bars: &[&str]) -> Measured {
    Engine::new().measure_text(&score(&[bars.iter().map(ToString::to_string).collect()]))
}

fn mm(length: &Known<Mm>) -> f64 {
    (length.value().expect("it is known").0 * 1000.0).round() / 1000.0
}

fn tops(page: &Page) -> Vec<f64> {
    page.systems.iter().map(|system| mm(&system.top)).collect()
}

fn close(one: &[f64], other: &[f64]) {
    assert!(one.len() == other.len() && one.iter().zip(other).all(|(a, b)| (a - b).abs() < 0.0015), "{one:?} is not {other:?}");
}

const SYSTEM: &str = "<print new-system=\"yes\"/>|";
const PAGE: &str = "<print new-page=\"yes\"/>|";

#[test]
fn what_a_print_says_holds_for_its_system_only() {
    let own = format!(
        "<print new-system=\"yes\"><system-layout><system-margins><left-margin>25</left-margin></system-margins><system-distance>300</system-distance></system-layout></print>|{NOTE}"
    );
    let measured = one_part(&[NOTE, &format!("{SYSTEM}{NOTE}"), &own, &format!("{SYSTEM}{NOTE}")]);
    // 10 + 4; then 8 high and 20 white; then 60 white; then 20 again.
    close(&tops(&measured.pages[0]), &[14.0, 42.0, 110.0, 138.0]);
    let lefts: Vec<f64> = measured.pages[0].systems.iter().map(|system| mm(&system.left)).collect();
    close(&lefts, &[15.0, 15.0, 20.0, 15.0]);
}

#[test]
fn what_a_print_says_holds_for_its_page_only() {
    let own = format!(
        "<print new-page=\"yes\"><page-layout><page-height>1000</page-height><page-width>800</page-width><page-margins><left-margin>10</left-margin><right-margin>10</right-margin><top-margin>100</top-margin><bottom-margin>10</bottom-margin></page-margins></page-layout></print>|{NOTE}"
    );
    let measured = one_part(&[NOTE, &own, &format!("{PAGE}{NOTE}")]);
    let heights: Vec<f64> = measured.pages.iter().map(|page| mm(&page.height)).collect();
    close(&heights, &[297.0, 200.0, 297.0]);
    let lefts: Vec<f64> = measured.pages.iter().map(|page| mm(&page.systems[0].left)).collect();
    close(&lefts, &[15.0, 2.0, 15.0]);
    assert_eq!(measured.pages.iter().map(|page| page.side).collect::<Vec<_>>(), [Side::Recto, Side::Verso, Side::Recto]);
    close(&measured.pages.iter().flat_map(tops).collect::<Vec<_>>(), &[14.0, 24.0, 14.0]);
}

/// Negative margins of a system reach into the margin (`MusicXML` 4.0, `system-margins`); off the sheet they are a fault.
#[test]
fn a_line_off_the_sheet_is_told() {
    let line = |indent: i32| {
        format!(
            "<print new-system=\"yes\"><system-layout><system-margins><left-margin>{indent}</left-margin></system-margins></system-layout></print>|{NOTE}"
        )
    };
    let engine = Engine::new();
    let told = |indent: i32| {
        let text = score(&[vec![NOTE.to_owned(), line(indent), format!("{SYSTEM}{NOTE}")]]);
        let found = Engine::found(&engine.audit_text(&text, None));
        found.into_iter().filter(|(rule, ..)| rule == "past-side-margin").map(|(.., message)| message).collect::<Vec<_>>()
    };
    assert_eq!(told(-50), Vec::<String>::new());
    assert_eq!(told(-90), ["the line reaches 3 mm past the edge of the sheet"]);
}

#[test]
fn page_numbers_and_blank_pages_decide_the_side() {
    let first = format!("<print page-number=\"iv\"/>|{NOTE}");
    let blank = format!("<print new-page=\"yes\" blank-page=\"1\"/>|{NOTE}");
    let ignored = format!("<print new-system=\"yes\" page-number=\"9\"/>|{NOTE}");
    let measured = one_part(&[&first, &blank, &ignored, &format!("{PAGE}{NOTE}")]);
    let labels: Vec<&str> = measured.pages.iter().map(|page| page.label.as_str()).collect();
    assert_eq!(labels, ["iv", "6", "7"]);
    assert_eq!(measured.pages.iter().map(|page| page.side).collect::<Vec<_>>(), [Side::Verso, Side::Verso, Side::Recto]);
    assert!(measured.pages[0].blank_after);
}

/// A copy that begins on the left does so where it states no page number (house practice); a stated number decides, odd on the right.
#[test]
fn a_copy_behind_a_cover_begins_on_the_left() {
    let sides = |print: &str| {
        let text = score(&[vec![format!("{print}{NOTE}"), format!("{PAGE}{NOTE}")]]);
        let source = Source::spool("text", text.as_bytes()).expect("it opens").remove(0);
        let mut score = read(source.stream().expect("it opens")).expect("it is a score");
        score.instructions.begins_verso = true;
        lay_out(&score, &score.instructions).pages.iter().map(|page| page.side).collect::<Vec<_>>()
    };
    assert_eq!(sides(""), [Side::Verso, Side::Recto]);
    assert_eq!(sides("<print page-number=\"3\"/>|"), [Side::Recto, Side::Verso]);
}

fn three_parts(middle: [&str; 3]) -> Measured {
    let bars = |inside: [&str; 3]| {
        let prints = ["", SYSTEM, SYSTEM];
        prints.iter().zip(inside).map(|(print, inside)| format!("{print}{inside}")).collect::<Vec<_>>()
    };
    Engine::new().measure_text(&score(&[bars([NOTE; 3]), bars(middle), bars([NOTE; 3])]))
}

fn staves(measured: &Measured) -> Vec<usize> {
    measured.systems().map(|system| system.staves.len()).collect()
}

#[test]
fn hidden_staves_in_two_explicit_dialects() {
    let hide = format!("<attributes><staff-details print-object=\"no\"/></attributes>{REST}");
    let show = format!("<attributes><staff-details print-object=\"yes\"/></attributes>{NOTE}");
    // With a "yes" anywhere, "no" holds until it.
    let toggle = three_parts([&hide, REST, &show]);
    assert_eq!((toggle.dialect, staves(&toggle)), (Dialect::Toggle, vec![2, 2, 3]));
    // Without, it holds for its system.
    let by_system = three_parts([&hide, REST, REST]);
    assert_eq!((by_system.dialect, staves(&by_system)), (Dialect::PerSystem, vec![2, 3, 3]));
    // A hidden staff takes no room: 8 high, 14 white, 8 high, then 20 to the next system.
    close(&tops(&by_system.pages[0]), &[14.0, 64.0, 136.0]);
    // Hidden but sounding.
    let sounding = format!("<attributes><staff-details print-object=\"no\"/></attributes>{NOTE}");
    let hidden = three_parts([&sounding, REST, REST]).hidden;
    assert_eq!(hidden.iter().map(|staff| (staff.part, staff.bars.index)).collect::<Vec<_>>(), [(1, (1, 1))]);
    // Hidden on two systems, one after the other, and sounding on both: that is one stretch of music. With a rest between, two.
    let stretches = |between: &str| {
        let lines =
            [NOTE.to_owned(), format!("{SYSTEM}{sounding}"), between.to_owned(), format!("{SYSTEM}{NOTE}"), format!("{SYSTEM}{show}")];
        let shown = ["", SYSTEM, "", SYSTEM, SYSTEM].map(|print| format!("{print}{NOTE}")).to_vec();
        let measured = Engine::new().measure_text(&score(&[shown, lines.to_vec()]));
        assert_eq!((measured.dialect, staves(&measured)), (Dialect::Toggle, vec![2, 1, 1, 2]));
        measured.hidden.iter().map(|staff| (staff.part, staff.bars.index)).collect::<Vec<_>>()
    };
    assert_eq!(stretches(NOTE), [(1, (2, 4))]);
    assert_eq!(stretches(REST), [(1, (2, 2)), (1, (4, 4))]);
    // Nor is it one over the end of a movement.
    let end = "<barline location=\"right\"><bar-style>light-heavy</bar-style></barline>";
    let shown = [NOTE.to_owned(), format!("{SYSTEM}{NOTE}"), format!("{NOTE}{end}"), format!("{PAGE}{NOTE}")].to_vec();
    let hidden = [NOTE.to_owned(), format!("{SYSTEM}{sounding}"), format!("{NOTE}{end}"), format!("{PAGE}{sounding}")].to_vec();
    let measured = Engine::new().measure_text(&score(&[shown, hidden]));
    assert_eq!(measured.movements.len(), 2);
    assert_eq!(measured.hidden.iter().map(|staff| (staff.part, staff.bars.index)).collect::<Vec<_>>(), [(1, (2, 3)), (1, (4, 4))]);
}

/// Hidden music is told on the page where it begins, be it in the last bar there.
#[test]
fn hidden_music_in_the_last_bar_of_a_page_is_told_on_that_page() {
    let hidden = format!("{SYSTEM}<attributes><staff-details print-object=\"no\"/></attributes>{NOTE}");
    let shown = [NOTE.to_owned(), format!("{SYSTEM}{NOTE}"), format!("{PAGE}{NOTE}")].to_vec();
    let text = score(&[shown, vec![NOTE.to_owned(), hidden, format!("{PAGE}{REST}")]]);
    let documents = Engine::new().audit_text(&text, Some("chamber-score"));
    let told = documents[0].findings.iter().filter(|placed| *placed.finding.rule == *"hidden-music");
    let on: Vec<_> = told.map(|placed| (placed.finding.on.page, placed.finding.on.page_label.as_deref().map(str::to_owned))).collect();
    assert_eq!(on, [(Some(1), Some("1".to_owned()))]);
}

#[test]
fn room_is_left_where_the_file_says_so() {
    let hide = format!("<attributes><staff-details print-object=\"no\" print-spacing=\"yes\"/></attributes>{REST}");
    let measured = three_parts([&hide, REST, REST]);
    assert_eq!(staves(&measured), [2, 3, 3]);
    let first = &measured.pages[0].systems[0];
    close(&first.staves.iter().map(|staff| mm(&staff.top)).collect::<Vec<_>>(), &[14.0, 58.0]);
    assert!(measured.pages[0].gaps[0].cutaway);
}

#[test]
fn a_staff_of_one_line_takes_the_room_of_five() {
    let single = format!("<attributes><staff-details><staff-lines>1</staff-lines></staff-details></attributes>{NOTE}");
    let measured = three_parts([&single, NOTE, NOTE]);
    let first = &measured.pages[0].systems[0];
    close(&first.staves.iter().map(|staff| mm(&staff.top)).collect::<Vec<_>>(), &[14.0, 40.0, 58.0]);
    close(&first.staves.iter().map(|staff| mm(&staff.height())).collect::<Vec<_>>(), &[8.0, 0.0, 8.0]);
}

#[test]
fn multi_bar_rests_without_width_share_what_is_left() {
    let bars = |count: usize, inside: &str| format!("<measure number=\"{count}\"{inside}</measure>");
    let multiple = "><attributes><measure-style><multiple-rest>3</multiple-rest></measure-style></attributes>";
    let rest = format!(" width=\"0\">{REST}");
    let text = score(&[vec![NOTE.to_owned()]])
        .replace("</part>", &[bars(2, &format!("{multiple}{REST}")), bars(3, &rest), bars(4, &rest), "</part>".to_owned()].concat());
    let text = text.replacen(
        "<defaults>",
        "<identification><encoding><supports element=\"print\" attribute=\"new-system\" type=\"yes\" value=\"yes\"/></encoding></identification><defaults>",
        1,
    );
    let measured = Engine::new().measure_text(&text);
    let widths: Vec<f64> = measured.pages[0].systems[0].across.iter().map(|bar| bar.width.0).collect();
    // A line of 185 mm less a bar of 80.
    close(&widths, &[80.0, 105.0, 0.0, 0.0]);
    close(&[mm(&measured.pages[0].systems[0].overrun)], &[0.0]);
}

/// The same music with parts within measures.
fn timewise(partwise: &str) -> String {
    let document = roxmltree::Document::parse(partwise).expect("it is well-formed");
    let text = |node: roxmltree::Node| partwise[node.range()].to_owned();
    let (parts, head): (Vec<_>, Vec<_>) = document.root_element().children().partition(|child| child.has_tag_name("part"));
    let mut out = String::from("<score-timewise version=\"4.0\">");
    out.extend(head.into_iter().map(text));
    let measures: Vec<Vec<_>> = parts.iter().map(|part| part.children().filter(|child| child.has_tag_name("measure")).collect()).collect();
    for bar in 0..measures[0].len() {
        let attribute = |name| measures[0][bar].attribute(name).expect("it is stated");
        write!(out, "<measure number=\"{}\" width=\"{}\">", attribute("number"), attribute("width")).expect("to memory");
        for (part, bars) in parts.iter().zip(&measures) {
            write!(out, "<part id=\"{}\">", part.attribute("id").expect("it is stated")).expect("to memory");
            out.extend(bars[bar].children().map(text));
            out.push_str("</part>");
        }
        out.push_str("</measure>");
    }
    out + "</score-timewise>"
}

#[test]
fn partwise_and_timewise_mean_the_same() {
    let own = format!("<print new-system=\"yes\"><staff-layout><staff-distance>90</staff-distance></staff-layout></print>|{NOTE}");
    let text = score(&[vec![NOTE.to_owned(), format!("{SYSTEM}{NOTE}")], vec![NOTE.to_owned(), own]]);
    let engine = Engine::new();
    let (one, other) = (engine.measure_text(&text), engine.measure_text(&timewise(&text)));
    let all = |measured: &Measured| {
        let staves = measured.systems().flat_map(|system| &system.staves);
        staves
            .map(|staff| (mm(&staff.top), mm(&staff.gap_above.value().map_or(Known::Derived(Mm(0.0)), Known::Derived))))
            .collect::<Vec<_>>()
    };
    assert_eq!(all(&one), all(&other));
    assert_eq!(all(&one), [(14.0, 0.0), (36.0, 14.0), (64.0, 0.0), (90.0, 18.0)]);
    assert_eq!((one.bars.len(), one.stating), (other.bars.len(), other.stating));
}

#[test]
fn encodings_change_nothing() {
    let text = score(&[vec![NOTE.to_owned(), format!("{SYSTEM}{NOTE}")]]).replace("Part 0", "Fl\u{f6}te");
    let engine = Engine::new();
    let names = |bytes: &[u8]| {
        let source = Source::spool("text", bytes).expect("it opens").remove(0);
        let score = read(source.stream().expect("it opens")).expect("it is a score");
        let measured = stavegauge::measured::measure(&score, &score.instructions, &engine.house);
        (measured.parts[0].1.to_string(), tops(&measured.pages[0]))
    };
    let plain = names(text.as_bytes());
    assert_eq!(plain.0, "Fl\u{f6}te");
    let utf16 = |order: fn(u16) -> [u8; 2]| -> Vec<u8> { format!("\u{feff}{text}").encode_utf16().flat_map(order).collect() };
    assert_eq!(names(&utf16(u16::to_le_bytes)), plain);
    assert_eq!(names(&utf16(u16::to_be_bytes)), plain);
    assert_eq!(names(&[b"\xef\xbb\xbf".as_slice(), text.as_bytes()].concat()), plain);
    let latin: Vec<u8> = text.chars().map(|letter| u8::try_from(u32::from(letter)).expect("Latin letters")).collect();
    assert_eq!(names(&[b"<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?>".as_slice(), &latin].concat()), plain);
}

#[test]
fn what_is_not_stated_is_said_to_be_unknown() {
    let text = score(&[vec![NOTE.to_owned(), format!("{SYSTEM}{NOTE}")]]);
    let engine = Engine::new();
    let without = |from: &str, to: &str| {
        let (before, rest) = text.split_once(from).expect("it is there");
        let (_, after) = rest.split_once(to).expect("it is there");
        engine.measure_text(&format!("{before}{after}"))
    };
    let unscaled = without("<scaling>", "</scaling>");
    assert!(unscaled.scale.is_none() && unscaled.pages[0].systems[0].top.value().is_none());
    assert_eq!(unscaled.stating, Stating::Partly);
    let unmeasured = without(" width=\"400", "\"");
    assert_eq!(unmeasured.pages[0].systems.iter().map(|system| system.across.len()).collect::<Vec<_>>(), [0, 1]);
    assert_eq!(engine.measure_text(&text.replace(" width=\"400\"", "")).stating, Stating::Partly);
    let undistanced = without("<system-distance>", "</system-distance>");
    close(&[mm(&undistanced.pages[0].systems[0].top)], &[14.0]);
    assert!(matches!(undistanced.pages[0].systems[1].top, Known::Unknown(_)), "the reckoning stops there");
    assert!(matches!(undistanced.pages[0].depth_used, Known::Unknown(_)));
}

#[test]
fn hidden_staves_without_a_word() {
    // A voice above a keyboard of two staves. Every printed staff but the topmost has a distance of its own.
    let both = "<attributes><staves>2</staves></attributes>";
    let lower = NOTE.replace("<type>", "<staff>2</staff><type>");
    let keys = format!("{both}{NOTE}<backup><duration>4</duration></backup>{lower}");
    let own = |numbers: &[u8]| {
        let layouts =
            numbers.iter().map(|number| format!("<staff-layout number=\"{number}\"><staff-distance>65</staff-distance></staff-layout>"));
        format!("<print new-system=\"yes\">{}</print>|", layouts.collect::<String>())
    };
    let later = format!("{NOTE}<backup><duration>4</duration></backup>{lower}");
    let text = score(&[
        vec![NOTE.to_owned(), format!("{SYSTEM}{REST}"), format!("{SYSTEM}{REST}")],
        vec![format!("{}{keys}", own(&[1, 2])), format!("{}{later}", own(&[2])), format!("{}{later}", own(&[1, 2]))],
    ]);
    let text = text.replacen("<staff-layout><staff-distance>70</staff-distance></staff-layout></defaults>", "</defaults>", 1);
    let measured = Engine::new().measure_text(&text);
    // In the second system the voice rests and the keyboard's upper staff has no distance: it is the topmost. In the third the
    // voice rests too, but something stands above the keyboard.
    assert_eq!(staves(&measured), [3, 2, 3]);
    assert_eq!(measured.pages[0].systems[1].staves[0].of.index, 1);
}

/// "no" once and never "yes" is a toggle by the standard, and holds for its system in most files; stated heights of notes settle
/// which. They count from the system's top line.
#[test]
fn note_heights_settle_how_long_a_staff_is_hidden() {
    let four = |y: i32| {
        format!("<note default-y=\"{y}\"><pitch><step>B</step><octave>4</octave></pitch><duration>1</duration><type>quarter</type></note>")
            .repeat(4)
    };
    let hide = format!("<attributes><staff-details print-object=\"no\"/></attributes>{REST}");
    let lay = |below: i32| {
        let bars = |first: &str, later: &str| vec![first.to_owned(), format!("{SYSTEM}{later}"), format!("{SYSTEM}{later}")];
        // A note on the middle line is 20 tenths below its top line; the next staff stands 110 below the first.
        let top = bars(&four(-20), &four(-20));
        let text = score(&[top, bars(&hide, REST), bars(&four(-130), &four(below))]);
        Engine::new().measure_text(&text)
    };
    let for_good = lay(-130);
    assert_eq!((for_good.dialect, staves(&for_good)), (Dialect::Toggle, vec![2, 2, 2]));
    assert_eq!(for_good.heights_checked.agreed, 3);
    let for_a_system = lay(-240);
    assert_eq!((for_a_system.dialect, staves(&for_a_system)), (Dialect::PerSystem, vec![2, 3, 3]));
    assert_eq!(for_a_system.heights_checked.agreed, 3);
}

/// What the print of a hidden part says counts last: exports leave there what held in an earlier layout (from open scores).
#[test]
fn a_printed_part_is_asked_first() {
    let apart = |distance: u32| {
        format!("<print new-system=\"yes\"><system-layout><system-distance>{distance}</system-distance></system-layout></print>|")
    };
    let hide = "<attributes><staff-details print-object=\"no\"/></attributes>";
    let text =
        score(&[vec![NOTE.to_owned(), format!("{}{hide}{REST}", apart(300))], vec![NOTE.to_owned(), format!("{}{NOTE}", apart(150))]]);
    // Two staves of 8 mm, 14 apart, then 30.
    close(&tops(&Engine::new().measure_text(&text).pages[0]), &[14.0, 74.0]);
}

/// A text of a page, 20 points (7.056 mm) high, a tenth being 0.2 mm.
fn credit(page: u32, y: u32, attributes: &str, text: &str) -> String {
    format!(
        "<credit page=\"{page}\"><credit-words default-x=\"500\" default-y=\"{y}\" font-size=\"20\" {attributes}>{text}</credit-words></credit>"
    )
}

/// `default-y` of a credit counts from the bottom of the page, `valign` says which edge of the text it is, and without one it is the baseline
/// (`MusicXML` 4.0, `credit-words`, `valign`). Letters fall a fifth of their size below the baseline, lines are 1.2 of it apart (from memory).
#[test]
fn credits_above_between_and_below_the_music() {
    let text = score(&[vec![NOTE.to_owned(), format!("{SYSTEM}{NOTE}"), format!("{PAGE}{NOTE}")]]);
    let lay = |credits: &str| {
        let measured = Engine::new().measure_text(&text.replacen("</defaults>", &format!("</defaults>{credits}"), 1));
        let edges = measured.pages.iter().flat_map(|page| [mm(&page.head), mm(&page.foot)]).collect::<Vec<_>>();
        (edges, measured.pages[0].gaps.iter().map(|gap| gap.heading).collect::<Vec<_>>())
    };
    // 1485 - 1450 tenths are 7 mm from the top, 1485 - 1480 are 1.
    for (y, attributes, text, head) in [
        (1450, "valign=\"top\"", "Title", 14.056),
        (1450, "valign=\"middle\"", "Title", 10.528),
        (1450, "valign=\"bottom\"", "Title", 7.0),
        (1450, "", "Title", 8.411),
        (1480, "valign=\"top\"", "Title\nand more", 16.523),
        (1450, "valign=\"top\"", " ", 0.0),
    ] {
        close(&lay(&credit(1, y, attributes, text)).0, &[head, 0.0, 0.0, 0.0]);
    }
    // The first system ends 22 mm from the top, the second begins at 42.
    let between = lay(&credit(1, 1325, "valign=\"middle\"", "Trio"));
    close(&between.0, &[0.0; 4]);
    assert_eq!((between.1, lay(&credit(1, 1395, "valign=\"middle\"", "Inside")).1), (vec![true], vec![false]));
    close(&lay(&credit(2, 50, "valign=\"bottom\"", "Rights")).0, &[0.0, 0.0, 0.0, 17.056]);
    close(&lay(&credit(3, 50, "valign=\"bottom\"", "No such page")).0, &[0.0; 4]);
}

/// A first system that stands much lower than those of other pages leaves room for a heading, which nobody wrote into the file (two
/// staff heights, from memory).
#[test]
fn room_for_a_heading() {
    let lay = |lower: u32, credits: &str| {
        let first =
            format!("<print><system-layout><top-system-distance>{}</top-system-distance></system-layout></print>|{NOTE}", 20 + lower);
        let text = score(&[vec![first, format!("{PAGE}{NOTE}"), format!("{PAGE}{NOTE}")]]);
        let measured = Engine::new().measure_text(&text.replacen("</defaults>", &format!("</defaults>{credits}"), 1));
        measured.pages.iter().map(|page| mm(&page.head)).collect::<Vec<_>>()
    };
    // As far below the margin of 10 mm as it stands lower.
    close(&lay(200, ""), &[50.0, 0.0, 0.0]);
    close(&lay(60, ""), &[0.0; 3]);
    close(&lay(200, &credit(1, 1450, "valign=\"bottom\"", "Title")), &[7.0, 0.0, 0.0]);
}
