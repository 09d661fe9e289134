//! How far music hangs out of its staves, and what neighbouring staves need, by hand reckoning.
//!
//! Sizes are those of the spacing study of open scores, section "room down" (first line of words 3.8 below the staff, 2.2 a verse, stems of
//! 3.5), heads of one space on lines half a space apart (geometry of the staff), and usual sizes from memory where the study names none.

#![allow(clippy::expect_used, reason = "a test says what it expects")]

use proptest::prelude::*;
use stavegauge::musicxml::{Source, read};
use stavegauge::page::lay_out;
use stavegauge::room::down::{Axis, Between, Ink, Need, Pair, ink, need};
use stavegauge::units::Tenths;
use std::fmt::Write;

/// Tenths of a staff space.
const SPACE: f64 = 10.0;

/// Ink of two staves that hold so much in one bar of 200 tenths; each of a part of its own.
fn staves(upper: &str, lower: &str) -> [Ink; 2] {
    staves_on(upper, lower, |width| width)
}

/// The same where as much of the width of the sheet is known.
fn staves_on(upper: &str, lower: &str, known: fn(Option<Tenths>) -> Option<Tenths>) -> [Ink; 2] {
    let mut xml = String::from(
        "<score-partwise version=\"4.0\"><defaults><scaling><millimeters>7</millimeters><tenths>40</tenths></scaling>\
         <page-layout><page-height>1600</page-height><page-width>1200</page-width>\
         <page-margins type=\"both\"><left-margin>50</left-margin><right-margin>50</right-margin><top-margin>50</top-margin>\
         <bottom-margin>50</bottom-margin></page-margins></page-layout></defaults><part-list>\
         <score-part id=\"P1\"><part-name>A</part-name></score-part><score-part id=\"P2\"><part-name>B</part-name></score-part></part-list>",
    );
    for (part, music) in [("P1", upper), ("P2", lower)] {
        let _ = write!(
            xml,
            "<part id=\"{part}\"><measure number=\"1\" width=\"200\"><attributes><divisions>1</divisions>\
             <clef><sign>G</sign><line>2</line></clef></attributes>{music}</measure></part>"
        );
    }
    xml.push_str("</score-partwise>");
    let source = Source::spool("text", xml.as_bytes()).expect("it opens").remove(0);
    let score = read(source.stream().expect("it opens")).expect("it is a score");
    let layout = lay_out(&score, &score.instructions);
    let page = &layout.pages[0];
    let system = &page.systems[0];
    let axis = Axis::of(system, known(page.width.value()));
    [0, 1].map(|staff| ink(&score, &layout.heights, system, &system.staves[staff], axis))
}

fn pair(upper: &str, lower: &str, between: Between) -> Need {
    let [upper, lower] = staves(upper, lower);
    need(&Pair { between, upper: &upper, lower: &lower, space: SPACE })
}

/// A note of one beat, with whatever else it holds before and after its type.
fn note(pitch: &str, x: u32, value: &str, rest: &str) -> String {
    let (step, octave) = pitch.split_at(1);
    format!(
        "<note default-x=\"{x}\"><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>1</duration><voice>1</voice>\
         <type>{value}</type>{rest}</note>"
    )
}

fn direction(place: &str, kind: &str) -> String {
    format!("<direction placement=\"{place}\"><direction-type>{kind}</direction-type></direction>")
}

fn verse(number: u32) -> String {
    format!("<lyric number=\"{number}\"><syllabic>single</syllabic><text>la</text></lyric>")
}

#[test]
fn ink_above_and_below_a_staff() {
    let quarter = |pitch: &str, rest: &str| note(pitch, 20, "quarter", rest);
    let up = "<stem>up</stem>";
    let ties = "<tie type=\"start\"/>";
    // Three notes with their heights tell from where the file counts them: from the top line.
    let stated = |stem: &str| {
        let with_height = |note: String| note.replace("<note ", "<note default-y=\"-20\" ");
        with_height(quarter("B4", stem) + &note("B4", 80, "whole", "") + &note("B4", 140, "whole", ""))
    };
    let table = [
        ("a whole note in the staff", note("B4", 20, "whole", ""), 0.0, 0.0),
        // Top line F5: A5 stands a space above it, and half a head more.
        ("a head on its first ledger line", note("A5", 20, "whole", ""), 1.5, 0.0),
        // Bottom line E4: C4 stands a space below it.
        ("the same below", note("C4", 20, "whole", ""), 0.0, 1.5),
        // On the middle line a stem goes down 3.5 from 2 above the bottom line.
        ("a stem that is not stated", quarter("B4", ""), 0.0, 1.5),
        ("a stem up from the middle line", quarter("B4", up), 1.5, 0.0),
        // Its end stands 30 tenths above the top line; below, 70 under the top line are 30 under the bottom line.
        ("a stem up to its stated end", stated("<stem default-y=\"30\">up</stem>"), 3.0, 0.0),
        ("a stem down to its stated end", stated("<stem default-y=\"-70\">down</stem>"), 0.0, 3.0),
        ("a stem that ends on the wrong side", stated("<stem default-y=\"-70\">up</stem>"), 1.5, 0.0),
        ("a stem of ninety spaces", stated("<stem default-y=\"880\">up</stem>"), 1.5, 0.0),
        (
            "an accent beside a head below",
            quarter("C4", &format!("{up}<notations><articulations><accent/></articulations></notations>")),
            0.0,
            2.5,
        ),
        (
            "an accent beside a head above",
            quarter("A5", "<stem>down</stem><notations><articulations><accent/></articulations></notations>"),
            2.5,
            0.0,
        ),
        ("a tie below a head", quarter("C4", &format!("{up}{ties}<notations><tied type=\"start\"/></notations>")), 0.0, 2.3),
        ("a tie above a head", quarter("A5", &format!("<stem>down</stem>{ties}<notations><tied type=\"start\"/></notations>")), 2.3, 0.0),
        ("one verse", note("B4", 20, "whole", &verse(1)), 0.0, 4.3),
        ("three verses", note("B4", 20, "whole", &(verse(1) + &verse(2) + &verse(3))), 0.0, 8.7),
        ("a dynamic where it usually stands", direction("below", "<dynamics><p/></dynamics>"), 0.0, 3.7),
        // 60 tenths below the top line is 2 spaces below the bottom line.
        ("a dynamic with its height", direction("below", "<dynamics default-y=\"-60\"><p/></dynamics>"), 0.0, 2.7),
        ("a dynamic moved from its height", direction("below", "<dynamics default-y=\"-60\" relative-y=\"-10\"><p/></dynamics>"), 0.0, 3.7),
        ("a dynamic moved nearer", direction("below", "<dynamics relative-y=\"10\"><p/></dynamics>"), 0.0, 2.7),
        ("a dynamic moved no farther than it usually stands", direction("below", "<dynamics relative-y=\"-25\"><p/></dynamics>"), 0.0, 3.7),
        (
            "two verses above the staff",
            note("B4", 20, "whole", &(verse(1) + &verse(2)).replace("<lyric", "<lyric placement=\"above\"")),
            6.0,
            0.0,
        ),
        // The bracket of an ending stands 1.8 above the staff and is 2 high (from memory).
        ("an ending", "<barline location=\"left\"><ending number=\"1\" type=\"start\"/></barline>".to_owned(), 3.8, 0.0),
        ("words of no letters", direction("above", "<words> </words>"), 0.0, 0.0),
        ("words over the staff", direction("above", "<words>dolce</words>"), 3.1, 0.0),
    ];
    let wrong: Vec<String> = table
        .iter()
        .filter_map(|(what, music, up, down)| {
            let [ink, _] = staves(music, "");
            let found = [ink.all.most_up().0 / SPACE, ink.all.most_down().0 / SPACE];
            let off = (found[0] - up).abs().max((found[1] - down).abs()) > 0.001;
            off.then(|| format!("{what}: {found:.2?}, by hand {up} above and {down} below"))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A chord that begins on another staff is none of this one's notes.
#[test]
fn a_chord_across_staves() {
    let on = |pitch: &str, staff: u8, chord: &str| {
        note(pitch, 20, "whole", &format!("<staff>{staff}</staff>")).replacen("<pitch>", &format!("{chord}<pitch>"), 1)
    };
    let music = format!("<attributes><staves>2</staves></attributes>{}{}{}", on("B4", 1, ""), on("B4", 2, ""), on("C4", 1, "<chord/>"));
    let [upper, _] = staves(&music, "");
    assert!((upper.all.most_down().0 / SPACE - 1.5).abs() < 0.001);
    let moved = music.replacen("default-x=\"20\"><chord/>", "default-x=\"150\"><chord/>", 1);
    let [upper, lower] = staves(&moved, &note("A5", 20, "whole", ""));
    let need = need(&Pair { between: Between::Parts, upper: &upper, lower: &lower, space: SPACE });
    assert!((need.ink.0 - 1.5).abs() < 0.001, "they stand at different places: {}", need.ink.0);
}

/// Clear white and least distances of the study: 0 / 0.5 / 1.5 and 4.5 in a system, 1.5 / 2.5 and 5.5 between notes of a keyboard,
/// 0.5 / 3 / 4 and 8.5 between systems, 1.0 under the last line of words.
#[test]
fn what_pairs_need() {
    let low = note("C4", 20, "whole", "");
    let high = note("A5", 20, "whole", "");
    let elsewhere = note("A5", 150, "whole", "");
    // Four ledger lines below: 4.5.
    let lower_still = note("D3", 20, "whole", "");
    let sung = note("B4", 20, "whole", &(verse(1) + &verse(2) + &verse(3)));
    let soft = direction("below", "<dynamics default-x=\"20\"><p/></dynamics>");
    let table = [
        ("nothing", "", "", Between::Parts, [0.0, 4.5, 4.5]),
        ("nothing between systems", "", "", Between::Systems, [0.5, 8.5, 8.5]),
        ("heads that do not meet", low.as_str(), elsewhere.as_str(), Between::Parts, [1.5, 4.5, 4.5]),
        ("heads that meet", &low, &high, Between::Parts, [3.0, 4.5, 4.5]),
        ("heads far out that meet", &lower_still, &high, Between::Parts, [6.0, 6.5, 7.5]),
        ("the same between systems", &lower_still, &high, Between::Systems, [6.5, 9.0, 10.0]),
        ("the same of a keyboard", &lower_still, &high, Between::Keyboard, [7.5, 8.0, 8.5]),
        ("a dynamic between the staves of a keyboard", &soft, "", Between::Keyboard, [1.5, 5.5, 5.5]),
        ("three verses", &sung, "", Between::Parts, [8.7, 9.2, 9.7]),
        ("three verses in a keyboard's two staves", &sung, "", Between::Keyboard, [9.7, 9.7, 9.7]),
    ];
    let wrong: Vec<String> = table
        .iter()
        .filter_map(|(what, upper, lower, between, wanted)| {
            let need = pair(upper, lower, *between);
            let found = [need.hard.0, need.minimum.0, need.comfortable.0];
            let off = found.iter().zip(wanted).any(|(found, wanted)| (found - wanted).abs() > 0.001);
            off.then(|| format!("{what}: {found:.2?}, by hand {wanted:.2?}"))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Where the width of the sheet is not known, all of a bar may meet.
#[test]
fn bars_on_a_sheet_of_unknown_width() {
    let [upper, lower] = staves_on(&note("C4", 20, "whole", ""), &note("A5", 150, "whole", ""), |_| None);
    let need = need(&Pair { between: Between::Parts, upper: &upper, lower: &lower, space: SPACE });
    assert!((need.ink.0 - 3.0).abs() < 0.001, "{}", need.ink.0);
}

/// The bracket of an ending stands over the topmost staff only; a fermata over its own (common practice, no source). Under an octave line
/// notes are written an octave lower (`MusicXML` 4.0, `octave-shift`): A6 on the first ledger line, after the line where it sounds.
#[test]
fn what_belongs_to_one_staff_or_one_stretch() {
    let ending = "<barline location=\"left\"><ending number=\"1\" type=\"start\"/></barline>";
    let [_, lower] = staves(ending, ending);
    assert!(lower.all.most_up().0 < 0.001);
    let two = "<attributes><staves>2</staves></attributes>";
    let rest =
        "<note><rest/><duration>1</duration><voice>2</voice><type>quarter</type><staff>2</staff><notations><fermata/></notations></note>";
    let fermata = note("B4", 20, "whole", "<staff>2</staff><notations><fermata/></notations>");
    let [upper, _] =
        staves(&format!("{two}{rest}{}<backup><duration>1</duration></backup>{fermata}", note("B4", 20, "whole", "<staff>1</staff>")), "");
    assert!(upper.all.most_up().0 < 0.001);
    let octave = |kind: &str| direction("above", &format!("<octave-shift type=\"{kind}\" size=\"8\"/>"));
    let high = note("A6", 20, "whole", "");
    let under = octave("down") + &high + &octave("stop");
    for (music, up) in [(high.clone(), 5.0), (under.clone(), 1.5), (under + &high, 5.0)] {
        let [ink, _] = staves(&music, "");
        assert!((ink.notes.most_up().0 / SPACE - up).abs() < 0.001, "{music}: {:?}", ink.notes.most_up());
    }
}

/// Where marks stand across and how wide they are: a head that they meet adds to what hangs in. `relative-x` moves a mark from where
/// `default-x` puts it (`MusicXML` 4.0, `position`). Widths from memory: a letter of a rehearsal mark two thirds of an em, its frame half a
/// space each side; a metronome mark three and a half ems; an em of 10 points on a staff of 7 mm is two spaces.
#[test]
fn marks_and_what_they_meet() {
    let moved = direction("below", "<dynamics default-x=\"20\" relative-x=\"130\"><p/></dynamics>");
    let rehearsal = direction("above", "<rehearsal default-x=\"20\">A</rehearsal>");
    let metronome = direction("above", "<metronome default-x=\"20\"><beat-unit>quarter</beat-unit><per-minute>60</per-minute></metronome>");
    let sung = note("B4", 100, "whole", &verse(1).replace(">la<", ">oooooooo<"));
    let (below, above) = (|x| note("C4", x, "whole", ""), |x| note("A5", x, "whole", ""));
    let hairpin =
        direction("below", "<wedge type=\"crescendo\" default-x=\"20\"/>") + &direction("below", "<wedge type=\"stop\" default-x=\"90\"/>");
    let table = [
        // It reaches 3.5 below its staff.
        ("a head under a hairpin", pair(&hairpin, &above(60), Between::Parts), 5.0),
        ("a head behind a hairpin", pair(&hairpin, &above(150), Between::Parts), 3.5),
        // A dynamic reaches 3.7 below its staff, a head on the first ledger line 1.5 out of its own.
        ("a dynamic moved over a head", pair(&moved, &above(150), Between::Parts), 5.2),
        ("a dynamic moved off a head", pair(&moved, &above(20), Between::Parts), 3.7),
        // Eight letters of half an em under a head: from 66 to 146 tenths.
        ("a head under the first letters of a syllable", pair(&sung, &above(75), Between::Parts), 5.8),
        ("a head under its last letters", pair(&sung, &above(125), Between::Parts), 5.8),
        ("a head before it", pair(&sung, &above(40), Between::Parts), 4.3),
        // The letter's frame ends 23 tenths from its left.
        ("a head over the end of a rehearsal mark", pair(&below(36), &rehearsal, Between::Parts), 6.1),
        ("a head behind a rehearsal mark", pair(&below(60), &rehearsal, Between::Parts), 4.6),
        // It ends 70 tenths from its left.
        ("a head over the end of a metronome mark", pair(&below(75), &metronome, Between::Parts), 4.6),
        ("a head behind a metronome mark", pair(&below(105), &metronome, Between::Parts), 3.1),
    ];
    let wrong = table.iter().filter(|(_, found, wanted)| (found.ink.0 - wanted).abs() > 0.001);
    assert_eq!(wrong.map(|(what, found, wanted)| (*what, found.ink, *wanted)).collect::<Vec<_>>(), []);
}

/// Something that can stand on a staff, at a stated place.
fn thing() -> impl Strategy<Value = String> {
    let x = 10_u32..190;
    let pitch = ("[A-G]", 2_u8..8).prop_map(|(step, octave)| format!("{step}{octave}"));
    let sign = prop::sample::select(vec![
        "<dynamics default-x=\"40\"><ff/></dynamics>",
        "<words default-x=\"90\">dolce</words>",
        "<wedge type=\"crescendo\" default-x=\"20\"/>",
        "<rehearsal default-x=\"0\">A</rehearsal>",
        "<pedal type=\"start\" default-x=\"70\"/>",
    ]);
    prop_oneof![
        (pitch.clone(), x.clone(), prop::bool::ANY).prop_map(|(pitch, x, up)| note(
            &pitch,
            x,
            "quarter",
            if up { "<stem>up</stem>" } else { "<stem>down</stem>" }
        )),
        (pitch, x, 1_u32..4).prop_map(|(pitch, x, number)| note(&pitch, x, "whole", &verse(number))),
        (sign, prop::bool::ANY).prop_map(|(sign, above)| direction(if above { "above" } else { "below" }, sign)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    /// Another note, verse or mark never makes a need smaller.
    #[test]
    fn more_music_needs_no_less(
        upper in prop::collection::vec(thing(), 0..5),
        lower in prop::collection::vec(thing(), 0..5),
        more in thing(),
        above in prop::bool::ANY,
        between in prop::sample::select(vec![Between::Parts, Between::Keyboard, Between::Systems]),
    ) {
        let (upper, lower) = (upper.concat(), lower.concat());
        let before = pair(&upper, &lower, between);
        let (upper, lower) = if above { (upper + &more, lower) } else { (upper, lower + &more) };
        let after = pair(&upper, &lower, between);
        for (what, before, after) in [
            ("ink", before.ink, after.ink),
            ("notes", before.notes, after.notes),
            ("hard", before.hard, after.hard),
            ("minimum", before.minimum, after.minimum),
            ("comfortable", before.comfortable, after.comfortable),
            ("generous", before.generous, after.generous),
        ] {
            prop_assert!(after.0 >= before.0 - 1e-9, "{}: {} became {}", what, before.0, after.0);
        }
    }
}
