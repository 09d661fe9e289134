//! What a bar says is what is read: marks, signs and time, by the words of the standard.
//!
//! Sources: the documentation in the `MusicXML` 4.0 schema, quoted beside each; how chord symbols are usually written behind their root is
//! common practice, no source.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

use roxmltree::Document;
use stavegauge::musicxml::read;
use stavegauge::score::mark::Span;
use stavegauge::score::{Mark, MarkKind, Part, SignKind};
use stavegauge::units::Time;
use std::collections::BTreeSet;
use std::io::Cursor;

/// A part of one bar that holds this, four divisions a quarter.
fn part(bar: &str) -> Part {
    let text = format!(
        "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>Oboe</part-name></score-part></part-list>\
         <part id='P1'><measure number='1'><attributes><divisions>4</divisions></attributes>{bar}</measure></part></score-partwise>"
    );
    read(Cursor::new(text)).expect("well-formed").parts.remove(0)
}

fn marks(bar: &str) -> Vec<Mark> {
    part(bar).marks
}

/// The one mark of a direction of this type.
fn direction(inside: &str) -> MarkKind {
    let found = marks(&format!("<direction><direction-type>{inside}</direction-type></direction>"));
    let [mark] = &found[..] else { panic!("{inside}: {found:?}") };
    mark.kind.clone()
}

fn time(numer: i64, denom: i64) -> Time {
    Time::new(numer, denom).expect("fits")
}

const NOTE: &str = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration><type>quarter</type></note>";

/// `octave-shift`: "a treble clef line noted with 8va will be indicated with an octave-shift down from the pitch data indicated in the
/// notes. A size of 8 indicates one octave; a size of 15 indicates two octaves."
#[test]
fn octave_lines() {
    assert_eq!(direction("<octave-shift type='down' size='8'/>"), MarkKind::OctaveLine(Span::Start, 7));
    assert_eq!(direction("<octave-shift type='down'/>"), MarkKind::OctaveLine(Span::Start, 7));
    assert_eq!(direction("<octave-shift type='up' size='15'/>"), MarkKind::OctaveLine(Span::Start, -14));
    assert_eq!(direction("<octave-shift type='continue' size='8'/>"), MarkKind::OctaveLine(Span::Continue, 7));
    assert_eq!(direction("<octave-shift type='stop' size='8'/>"), MarkKind::OctaveLine(Span::Stop, 0));
}

/// `offset`: in divisions, from the "current musical location"; a negative one stands before it.
#[test]
fn offsets_move_marks() {
    let at = |offset: &str| {
        let direction = format!("<direction><direction-type><words>dolce</words></direction-type><offset>{offset}</offset></direction>");
        marks(&format!("{NOTE}{direction}"))[0].onset
    };
    assert_eq!((at("2"), at("-1"), at("0")), (time(3, 8), time(3, 16), time(1, 4)));
    assert_eq!(at("-99"), Time::ZERO, "not before its bar");
    let chord = "<harmony><root><root-step>C</root-step></root><kind>major</kind><offset>2</offset></harmony>";
    assert_eq!(marks(chord)[0].onset, time(1, 8));
}

#[test]
fn signs_of_directions() {
    let lines = "<bracket type='start' line-end='none'/><dashes type='stop'/><pedal type='change'/><wedge type='diminuendo'/>";
    let found: Vec<MarkKind> =
        marks(&format!("<direction><direction-type>{lines}</direction-type></direction>")).into_iter().map(|mark| mark.kind).collect();
    assert_eq!(
        found,
        [
            MarkKind::Bracket(Span::Start),
            MarkKind::Dashes(Span::Stop),
            MarkKind::Pedal(Span::Continue),
            MarkKind::Hairpin(Span::Start, true)
        ]
    );
    assert_eq!(direction("<segno/>"), MarkKind::Segno);
    assert_eq!(direction("<coda/>"), MarkKind::Coda);
    assert_eq!(direction("<string-mute type='on'/>"), MarkKind::Mute);
    for work in ["<scordatura/>", "<harp-pedals/>", "<accordion-registration/>"] {
        assert_eq!(direction(work), MarkKind::HandWork, "{work}");
    }
    assert_eq!(direction("<eyeglasses/>"), MarkKind::Other);
    assert_eq!(direction("<dynamics><other-dynamics>sub. </other-dynamics><p/></dynamics>"), MarkKind::Dynamic("sub.p".into()));
    let [of_note] = &marks(&NOTE.replace("</note>", "<notations><dynamics><ff/></dynamics></notations></note>"))[..] else { panic!("one") };
    assert_eq!(of_note.kind, MarkKind::Dynamic("ff".into()));
    let [bass] = &marks("<figured-bass><figure><figure-number>6</figure-number></figure></figured-bass>")[..] else { panic!("one") };
    assert_eq!(bass.kind, MarkKind::FiguredBass);
    let bar_line = "<barline location='left'><segno/><coda/><fermata/><repeat direction='forward'/></barline>";
    let found = marks(bar_line);
    assert_eq!((&found[0].kind, &found[1].kind), (&MarkKind::Segno, &MarkKind::Coda));
    assert!(matches!(found[2].kind, MarkKind::Barline { fermata: true, repeat: Some(Span::Start), .. }));
    let change = "<sound><instrument-change id='P1-I2'/></sound>";
    assert_eq!(marks(change)[0].kind, MarkKind::HandWork);
}

/// `placement` on the direction holds for its types, and each may say otherwise.
#[test]
fn where_marks_stand() {
    let text = "<direction placement='below'><direction-type><words>a</words></direction-type>\
                <direction-type><words placement='above'>b</words></direction-type><staff>2</staff></direction>";
    let found = marks(text);
    assert_eq!(found.iter().map(|mark| (mark.above, mark.staff)).collect::<Vec<_>>(), [(Some(false), 2), (Some(true), 2)]);
    assert_eq!(marks(&text.replace("'below'", "'elsewhere'"))[0].above, None);
}

/// `metronome`: a beat unit with its dots and beats a minute, or two note values.
#[test]
fn metronome_marks() {
    let dotted = "<metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>c. 80-88</per-minute></metronome>";
    assert_eq!(direction(dotted), MarkKind::Metronome { beat: time(3, 8), from: 80.0, to: 88.0 });
    let equal = "<metronome><beat-unit>quarter</beat-unit><beat-unit>half</beat-unit></metronome>";
    assert_eq!(direction(equal), MarkKind::MetronomeRelation);
    let words = "<metronome><beat-unit>half</beat-unit><per-minute>as before</per-minute></metronome>";
    assert_eq!(direction(words), MarkKind::MetronomeRelation);
}

#[test]
fn chord_symbols_as_they_are_shown() {
    let shown = |harmony: &str| match &marks(harmony)[..] {
        [Mark { kind: MarkKind::ChordSymbol(text), .. }] => text.clone(),
        other => panic!("{harmony}: {other:?}"),
    };
    let root = "<root><root-step>B</root-step><root-alter>-1</root-alter></root>";
    let bass = "<bass><bass-step>F</bass-step><bass-alter>1</bass-alter></bass>";
    assert_eq!(shown(&format!("<harmony>{root}<kind>minor-seventh</kind>{bass}</harmony>")), "B♭m7/F♯");
    assert_eq!(shown(&format!("<harmony>{root}<kind text='min'>minor</kind></harmony>")), "B♭min");
    let degree = "<degree><degree-value>9</degree-value><degree-alter>-1</degree-alter><degree-type>add</degree-type></degree>";
    assert_eq!(shown(&format!("<harmony>{root}<kind>dominant</kind>{degree}</harmony>")), "B♭7♭9");
    let raised = degree.replace("-1", "1");
    assert_eq!(shown(&format!("<harmony>{root}<kind>dominant</kind>{raised}<staff>2</staff></harmony>")), "B♭7♯9");
    assert_eq!(shown("<harmony><function>V</function><kind>none</kind></harmony>"), "V");
    assert!(marks(&format!("<harmony print-object='no'>{root}<kind>major</kind></harmony>")).is_empty());

    // Every kind that the standard has.
    let usual = [
        ("augmented", "+"),
        ("augmented-seventh", "+7"),
        ("diminished", "dim"),
        ("diminished-seventh", "dim7"),
        ("dominant", "7"),
        ("dominant-11th", "11"),
        ("dominant-13th", "13"),
        ("dominant-ninth", "9"),
        ("half-diminished", "m7♭5"),
        ("major", ""),
        ("major-minor", "m(maj7)"),
        ("major-ninth", "maj9"),
        ("major-seventh", "maj7"),
        ("major-sixth", "6"),
        ("minor", "m"),
        ("minor-ninth", "m9"),
        ("minor-seventh", "m7"),
        ("minor-sixth", "m6"),
        ("suspended-fourth", "sus4"),
        ("suspended-second", "sus2"),
    ];
    for (kind, suffix) in usual {
        assert_eq!(shown(&format!("<harmony>{root}<kind>{kind}</kind></harmony>")), format!("B♭{suffix}"), "{kind}");
    }
    let Ok(schema) = std::fs::read_to_string("../shared/standard/musicxml.xsd") else { return };
    let schema = Document::parse(&schema).expect("well-formed");
    let kinds = schema.descendants().find(|node| node.attribute("name") == Some("kind-value")).expect("it is there");
    let kinds: BTreeSet<&str> = kinds.descendants().filter_map(|node| node.attribute("value")).collect();
    assert!(usual.iter().all(|(kind, _)| kinds.contains(kind)), "{kinds:?}");
}

/// `forward` and `backup` move by their duration in divisions; a bar is as long as its music reaches.
#[test]
fn time_moves_forward_and_back() {
    let part = part(&format!("{NOTE}<forward><duration>6</duration></forward>{NOTE}<backup><duration>12</duration></backup>{NOTE}"));
    let onsets: Vec<Time> = part.notes.iter().map(|note| note.onset).collect();
    assert_eq!(onsets, [Time::ZERO, time(5, 8), time(1, 8)]);
    assert_eq!(part.bars[0].length, Some(time(7, 8)));
    let past = self::part("<backup><duration>4</duration></backup>");
    assert_eq!(past.bars[0].length, Some(Time::ZERO), "not before the bar");
}

#[test]
fn keys_times_and_other_signs() {
    let signs = |inside: &str| -> Vec<SignKind> {
        part(&format!("<attributes>{inside}</attributes>")).signs.into_iter().map(|sign| sign.kind).collect()
    };
    // "Non-traditional key signatures are represented using a list of altered tones."
    let unusual = "<key><key-step>F</key-step><key-alter>1</key-alter><key-step>B</key-step><key-alter>-1</key-alter></key>";
    assert_eq!(signs(unusual), [SignKind::Key { fifths: 0, unusual: 2, cancel: 0 }]);
    assert_eq!(signs("<key><cancel>-2</cancel><fifths>3</fifths></key>"), [SignKind::Key { fifths: 3, unusual: 0, cancel: -2 }]);
    let [SignKind::Time { bar, beats, beat_type, .. }] =
        &signs("<time><beats>3+2</beats><beat-type>8</beat-type><beats>1</beats><beat-type>4</beat-type></time>")[..]
    else {
        panic!("one time")
    };
    assert_eq!((*bar, beats.as_str(), beat_type.as_str()), (Some(time(7, 8)), "3+2+1", "8+4"));
    assert!(matches!(signs("<time><senza-misura/></time>")[..], [SignKind::Time { bar: None, .. }]));
    // `double`: "it indicates that the music is doubled one octave from what is currently written".
    let transpose = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change><double/></transpose>";
    assert_eq!(signs(transpose), [SignKind::Transpose { diatonic: -1, chromatic_halves: -4, octaves: -1, double: true }]);
    assert_eq!(signs("<measure-style><slash type='start'/></measure-style>"), [SignKind::Slashes(true)]);
    assert_eq!(signs("<measure-style><beat-repeat type='stop'/></measure-style>"), [SignKind::Slashes(false)]);
}

/// `part-name-display`: how the name is shown, accidentals in place of words. It counts where `part-name` says nothing: names tell who plays.
#[test]
fn the_name_that_is_shown() {
    let name = |part_name: &str| {
        let text = format!(
            "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>{part_name}</part-name><part-name-display>\
             <display-text>Oboe in B</display-text><accidental-text>flat</accidental-text></part-name-display></score-part></part-list>\
             <part id='P1'><measure number='1'>{NOTE}</measure></part></score-partwise>"
        );
        read(Cursor::new(text)).expect("well-formed").parts[0].name.to_string()
    };
    assert_eq!((name(""), name("Oboe")), ("Oboe in B♭".to_owned(), "Oboe".to_owned()));
}
