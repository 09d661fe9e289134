//! Scores and parts together: who plays what, and which mark which copy has otherwise.
//!
//! What a librarian compares stands in the design of practice: the sequence of rehearsal marks, tempi, repeats, double bars,
//! fermatas over silence, time, key and bar numbers in every copy (common practice, no source).

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;
#[path = "support/tiny.rs"]
mod tiny;

use run::run;
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;
use tiny::{Tiny, file};

/// Rules that see a set.
const SET: [&str; 11] = [
    "marks-differ",
    "bars-differ",
    "copy-missing",
    "copy-unmatched",
    "copy-twice",
    "paper-differs",
    "margins-differ-in-set",
    "staff-height-differs",
    "titles-differ",
    "untransposed",
    "page-numbers-break",
];

struct Set(TempDir);

impl Set {
    fn of(files: &[(&str, String)]) -> Self {
        let folder = tempfile::tempdir().expect("made");
        for (name, text) in files {
            let path = folder.path().join(name);
            fs::create_dir_all(path.parent().expect("a folder")).expect("made");
            fs::write(path, text).expect("written");
        }
        Self(folder)
    }

    fn audit(&self, more: &[&str]) -> Value {
        let mut arguments = vec!["audit", ".", "--report", "json", "--gate", "never"];
        arguments.extend(SET.iter().flat_map(|rule| ["--only", rule]));
        arguments.extend(more);
        let run = run(self.path(), &arguments);
        assert_eq!(run.code, Some(0), "{}", run.err);
        run.json()
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    /// Path, rule and message of all that is found.
    fn found(&self) -> Vec<(String, String, String)> {
        found(&self.audit(&[]))
    }
}

fn found(report: &Value) -> Vec<(String, String, String)> {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let files = report["files"].as_array().expect("files");
    let each = files.iter().flat_map(|file| {
        let findings = file["findings"].as_array().expect("findings");
        findings.iter().map(move |one| (text(&file["path"]), text(&one["rule"]), text(&one["message"])))
    });
    each.collect()
}

fn bars(text: &[&str]) -> Vec<String> {
    text.iter().map(|bar| (*bar).to_owned()).collect()
}

/// Bars with the marks of others before their notes.
fn marked(notes: &[&str], marks: &[(usize, &str)]) -> Vec<String> {
    let one = |(index, notes): (usize, &&str)| {
        let marks: Vec<&str> = marks.iter().filter(|(bar, _)| *bar == index + 1).map(|(_, mark)| *mark).collect();
        format!("{} {notes}", marks.join(" "))
    };
    notes.iter().enumerate().map(one).collect()
}

/// Bars and the marks at them.
type Marks<'a> = Vec<(usize, &'a str)>;

const MARKS: [(usize, &str); 5] = [(1, "{Allegro}"), (3, "[A]"), (5, "||"), (6, "[B]"), (7, "|: :|")];
const FLUTE_1: [&str; 8] = ["g5 a5 g5 f5", "e5 f5 g5 a5", "r", "b5 a5 g5 f5", "c6 b5 a5 g5", "r", "d6 c6 b5 a5", "g5 g5 a5 b5"];
const FLUTE_2: [&str; 8] = ["e5 f5 e5 d5", "c5 d5 e5 f5", "r", "g5 f5 e5 d5", "r", "r", "b5 a5 g5 f5", "e5 e5 f5 g5"];
const FLUTES: [&str; 8] = [
    "g5+e5 a5+f5 g5+e5 f5+d5",
    "e5+c5 f5+d5 g5+e5 a5+f5",
    "r",
    "b5+g5 a5+f5 g5+e5 f5+d5",
    "c6 b5 a5 g5",
    "r",
    "d6+b5 c6+a5 b5+g5 a5+f5",
    "g5+e5 g5+e5 a5+f5 b5+g5",
];
const FLUTE_3: [&str; 8] = ["c5 c5 d5 e5", "r", "g4 g4 a4 b4", "r", "r", "r", "r", "c5 b4 a4 g4"];
const PICCOLO: [&str; 8] = ["r", "r", "r", "r", "g6 f6 e6 d6", "c6 d6 e6 f6", "r", "r"];
const BOOK: [&str; 8] = ["c5 c5 d5 e5", "r", "g4 g4 a4 b4", "r", "g6 f6 e6 d6", "c6 d6 e6 f6", "r", "c5 b4 a4 g4"];
const OBOE: [&str; 8] = ["d5 d5 d5 d5", "r", "a4 b4 c5 d5", "r", "r", "e5 e5 e5 e5", "r", "r"];
/// A clarinet in B flat, as it is written: a tone above what sounds.
const CLARINET: [&str; 8] = ["r", "d5 e5 f#5 g5", "r", "a5 g5 f#5 e5", "r", "r", "d5 d5 d5 d5", "r"];
const SAXOPHONE: [&str; 8] = ["r", "r", "r", "r", "c5 d5 e5 f5", "r", "r", "g5 f5 e5 d5"];
const TROMBONE: [&str; 8] = ["r", "r", "r", "r", "r", "r", "r", "r"];

fn part<'a>(name: &'a str, notes: &[&str], marks: &[(usize, &str)]) -> Tiny<'a> {
    Tiny { name, transpose: None, bars: marked(notes, marks) }
}

fn clarinet(marks: &[(usize, &str)]) -> Tiny<'static> {
    let mut part = Tiny { name: "Clarinet", transpose: Some((-1, -2)), bars: marked(&CLARINET, marks) };
    part.bars[0].insert_str(0, "!2 ");
    part
}

/// A score whose flutes share a staff, and the copies that are played from: two flute parts, a book for the third flute and
/// piccolo, a reed book of three instruments, a tacet leaf.
fn theatre(marks_of_second_flute: &[(usize, &str)]) -> Set {
    let score = [
        part("Flutes 1.2", &FLUTES, &MARKS),
        part("Flute 3", &FLUTE_3, &[]),
        part("Piccolo", &PICCOLO, &[]),
        part("Oboe", &OBOE, &[]),
        clarinet(&[]),
        part("Saxophone", &SAXOPHONE, &[]),
        part("Trombone", &TROMBONE, &[]),
    ];
    Set::of(&[
        ("score.musicxml", file("Night Ferry", &score)),
        ("parts/flute-1.musicxml", file("Night Ferry", &[part("Flute 1", &FLUTE_1, &MARKS)])),
        ("parts/flute-2.musicxml", file("Night Ferry", &[part("Flute 2", &FLUTE_2, marks_of_second_flute)])),
        ("parts/flute-3.musicxml", file("Night Ferry", &[part("Fl. 3 / Picc.", &BOOK, &MARKS)])),
        ("parts/reeds.musicxml", file("Night Ferry", &[part("Oboe", &OBOE, &MARKS), clarinet(&[]), part("Saxophone", &SAXOPHONE, &[])])),
        ("parts/trombone.musicxml", file("Night Ferry", &[part("Trombone", &TROMBONE, &MARKS)])),
    ])
}

#[test]
fn a_theatre_set_is_matched_and_nothing_is_wrong() {
    let set = theatre(&MARKS);
    let report = set.audit(&["--house", "built-in"]);
    assert_eq!(found(&report), Vec::new());
    let right = |file: &&Value| file["good"].to_string().contains("as in the score");
    assert_eq!(report["files"].as_array().expect("files").iter().filter(right).count(), 5, "each copy, not the score");
    let delivery = &report["deliveries"][0];
    assert_eq!(delivery["score"], "score.musicxml");
    let plays: Vec<(String, Vec<String>)> = serde_json::from_value::<Vec<Value>>(delivery["copies"].clone())
        .expect("copies")
        .into_iter()
        .map(|copy| (copy["path"].as_str().unwrap_or_default().to_owned(), serde_json::from_value(copy["plays"].clone()).expect("names")))
        .collect();
    let expected = [
        ("parts/flute-1.musicxml", vec!["Flutes 1.2"]),
        ("parts/flute-2.musicxml", vec!["Flutes 1.2"]),
        ("parts/flute-3.musicxml", vec!["Flute 3", "Piccolo"]),
        ("parts/reeds.musicxml", vec!["Oboe", "Clarinet", "Saxophone"]),
        ("parts/trombone.musicxml", vec!["Trombone"]),
    ];
    let expected: Vec<(String, Vec<String>)> =
        expected.into_iter().map(|(path, plays)| (path.to_owned(), plays.into_iter().map(str::to_owned).collect())).collect();
    assert_eq!(plays, expected);
}

/// The issue's own case: one rehearsal mark missing in one part, and that is all that is told.
#[test]
fn exactly_the_missing_mark_is_reported() {
    let marks: Vec<(usize, &str)> = MARKS.into_iter().filter(|(_, mark)| *mark != "[B]").collect();
    let found = theatre(&marks).found();
    let [(path, rule, message)] = found.as_slice() else { panic!("{found:#?}") };
    assert_eq!((path.as_str(), rule.as_str()), ("parts/flute-2.musicxml", "marks-differ"));
    assert!(message.contains("rehearsal mark \u{201c}B\u{201d} is missing at bar 6"), "{message}");
}

/// One thing wrong in one part at a time: what is told, and of which bar.
#[test]
fn each_kind_of_mark_is_seen() {
    let notes: [&str; 8] = ["c5 d5 e5 f5", "g5 f5 e5 d5", "c5 e5 g5 e5", "d5 f5 a5 f5", "e5 g5 b5 g5", "r", "f5 a5 c6 a5", "c5 c5 d5 c5"];
    let marks: [(usize, &str); 8] =
        [(1, "{Allegro} % ~96"), (2, "|: <1 :|"), (3, "[A]"), (4, "t2/2 ||"), (5, "{Adagio}"), (6, "^"), (7, "!1 @"), (8, "{D.C.} [B]")];
    let spoilt: [(&str, Marks, &str); 16] = [
        ("segno", swap(&marks, 1, "{Allegro} ~96"), "segno is missing at bar 1"),
        ("metronome", swap(&marks, 1, "{Allegro} % ~92"), "1/4 = 96\u{201d}; here it is \u{201c}1/4 = 92"),
        ("ending", swap(&marks, 2, "|: :|"), "ending \u{201c}1\u{201d} is missing at bar 2"),
        ("beginning", swap(&marks, 2, "<1 :|"), "beginning of a repeat is missing at bar 2"),
        ("time", swap(&marks, 4, "t3/4 ||"), "time signature \u{201c}2/2\u{201d}; here it is \u{201c}3/4\u{201d}"),
        ("coda", swap(&marks, 7, "!1"), "coda sign is missing at bar 7"),
        ("jump", swap(&marks, 8, "{D.S.} [B]"), "jump \u{201c}D.C.\u{201d}; here it is \u{201c}D.S.\u{201d}"),
        ("letter", swap(&marks, 3, "[C]"), "at bar 3 the score has rehearsal mark \u{201c}A\u{201d}; here it is \u{201c}C\u{201d}"),
        ("no letter", swap(&marks, 3, ""), "rehearsal mark \u{201c}A\u{201d} is missing at bar 3"),
        ("tempo", swap(&marks, 5, "{Presto}"), "at bar 5 the score has tempo \u{201c}Adagio\u{201d}; here it is \u{201c}Presto\u{201d}"),
        ("no tempo", swap(&marks, 5, ""), "tempo \u{201c}Adagio\u{201d} is missing at bar 5"),
        ("repeat", swap(&marks, 2, "|: <1"), "end of a repeat is missing at bar 2"),
        ("double bar", swap(&marks, 4, "t2/2"), "double bar is missing at bar 4"),
        ("fermata", swap(&marks, 6, ""), "fermata is missing at bar 6"),
        ("key", swap(&marks, 7, "!F @"), "at bar 7 the score has key"),
        (
            "late letter",
            swap_at(&marks, 8, 7, "!1 @ [B] {D.C.}"),
            "rehearsal mark \u{201c}B\u{201d} stands at bar 7; in the score it stands at bar 8",
        ),
    ];
    for (what, wrong, said) in spoilt {
        let second: Vec<String> = notes.iter().map(|bar| bar.replace('5', "4")).collect();
        let second: Vec<&str> = second.iter().map(String::as_str).collect();
        let only: Vec<(usize, &str)> = marks.iter().copied().filter(|(_, mark)| *mark == "^" || mark.contains('!')).collect();
        let score = [part("Oboe 1", &notes, &keyed(&marks)), part("Oboe 2", &second, &keyed(&only))];
        let set = Set::of(&[
            ("score.musicxml", file("Trial", &score)),
            ("1.musicxml", file("Trial", &[part("Oboe 1", &notes, &keyed(&marks))])),
            ("2.musicxml", file("Trial", &[part("Oboe 2", &second, &keyed(&wrong))])),
        ]);
        let found = set.found();
        assert!(found.iter().all(|(path, rule, _)| path == "2.musicxml" && rule == "marks-differ"), "{what}: {found:#?}");
        let moved = usize::from(what == "late letter");
        assert!(found.len() == 1 + moved && found.iter().any(|(.., message)| message.contains(said)), "{what}: {found:#?}");
    }
}

fn keyed<'a>(marks: &[(usize, &'a str)]) -> Vec<(usize, &'a str)> {
    [&[(1, "!0")], marks].concat()
}

fn swap<'a>(marks: &[(usize, &'a str)], bar: usize, to: &'a str) -> Vec<(usize, &'a str)> {
    marks.iter().map(|(at, mark)| (*at, if *at == bar { to } else { *mark })).collect()
}

fn swap_at<'a>(marks: &[(usize, &'a str)], drop: usize, bar: usize, to: &'a str) -> Vec<(usize, &'a str)> {
    swap(marks, bar, to).into_iter().filter(|(at, _)| *at != drop).collect()
}

/// Where there is no score, what most copies have is what all should have.
#[test]
fn parts_alone_are_held_against_each_other() {
    let copy = |notes: &[&str], marks: &[(usize, &str)]| file("Trial", &[part("Horn", notes, marks)]);
    let fewer: Vec<(usize, &str)> = MARKS.into_iter().filter(|(_, mark)| *mark != "[A]").collect();
    let set = Set::of(&[
        ("1.musicxml", copy(&FLUTE_1, &MARKS)),
        ("2.musicxml", copy(&FLUTE_2, &MARKS)),
        ("3.musicxml", copy(&OBOE, &fewer)),
        ("4.musicxml", copy(&SAXOPHONE, &MARKS)),
    ]);
    let found = set.found();
    let [(path, _, message)] = found.as_slice() else { panic!("{found:#?}") };
    assert!(path == "3.musicxml" && message.contains("most copies have it"), "{found:#?}");
    // Two cannot outvote each other, and files of different pieces are no set.
    let two = Set::of(&[("1.musicxml", copy(&FLUTE_1, &MARKS)), ("2.musicxml", copy(&FLUTE_2, &fewer))]);
    assert_eq!(two.found(), Vec::new());
}

/// Cues are another player's, and are not taken for music that the copy holds.
#[test]
fn cues_are_not_the_players_own() {
    let notes: [&str; 8] = ["d5 d5 d5 d5", "(g5) (a5) (g5) (f5)", "a4 b4 c5 d5", "r", "r", "e5 e5 e5 e5", "r", "r"];
    let set = Set::of(&[
        ("score.musicxml", file("Trial", &[part("Flute", &FLUTE_1, &MARKS), part("Oboe", &OBOE, &[])])),
        ("flute.musicxml", file("Trial", &[part("Flute", &FLUTE_1, &MARKS)])),
        ("oboe.musicxml", file("Trial", &[part("Oboe", &notes, &MARKS)])),
    ]);
    assert_eq!(set.found(), Vec::new());
}

/// A multi-bar rest counts as the bars it holds, though they are not written out.
#[test]
fn gathered_rests_hold_their_bars() {
    let flute = ["c5 c5 c5 c5", "d5 e5 f5 g5", "a5 g5 f5 e5", "d5 d5 e5 d5", "[A] c5 d5 e5 f5", "g5 g5 g5 g5"];
    let horn = ["e4 e4 e4 e4", "r", "r", "r", "g4 g4 g4 g4", "c4 c4 c4 c4"];
    let short =
        file("Trial", &[Tiny { name: "Horn", transpose: None, bars: bars(&["e4 e4 e4 e4", "r", "[A] g4 g4 g4 g4", "c4 c4 c4 c4"]) }]);
    // The bar of rest stands for three, and the next bar is called 5.
    let rest = "<note><rest measure=\"yes\"/>";
    let gathered = format!("<attributes><measure-style><multiple-rest>3</multiple-rest></measure-style></attributes>\n{rest}");
    let short = short.replacen(rest, &gathered, 1).replace("number=\"4\"", "number=\"6\"").replace("number=\"3\"", "number=\"5\"");
    let set = Set::of(&[
        ("score.musicxml", file("Trial", &[Tiny { name: "Flute", transpose: None, bars: bars(&flute) }, part("Horn", &horn, &[])])),
        ("flute.musicxml", file("Trial", &[Tiny { name: "Flute", transpose: None, bars: bars(&flute) }])),
        ("horn.musicxml", short),
    ]);
    assert_eq!(set.found(), Vec::new());
}

/// A bar more in a part: told once, with the bar from which the two part; nothing after it is told again.
#[test]
fn a_bar_more_is_one_fault() {
    let longer: Vec<&str> = FLUTE_1[..4].iter().chain(&["b4 b4 b4 b4"]).chain(&FLUTE_1[4..]).copied().collect();
    let moved: Vec<(usize, &str)> = MARKS.iter().map(|(bar, mark)| (if *bar > 4 { bar + 1 } else { *bar }, *mark)).collect();
    let set = Set::of(&[
        ("score.musicxml", file("Trial", &[part("Flute", &FLUTE_1, &MARKS), part("Oboe", &OBOE, &[])])),
        ("flute.musicxml", file("Trial", &[part("Flute", &longer, &moved)])),
        ("oboe.musicxml", file("Trial", &[part("Oboe", &OBOE, &MARKS)])),
    ]);
    let found = set.found();
    let counted: Vec<_> = found.iter().filter(|(.., message)| message.contains("the copy has 9 bars, the score has 8")).collect();
    assert_eq!(counted.len(), 1, "{found:#?}");
    assert!(found.iter().all(|(path, ..)| path == "flute.musicxml"), "{found:#?}");
    assert!(found.iter().all(|(_, rule, _)| rule == "bars-differ"), "{found:#?}");
}

/// A horn is written without key signatures, in the score and in its part, whatever the key is; a clarinet has its own.
#[test]
fn keys_agree_through_transposition_and_custom() {
    let flute: Vec<String> = marked(&FLUTE_1, &[(1, "!F"), (5, "!1")]);
    let horn = ["c5 c5 g4 g4", "r", "c5 d5 e5 c5", "r", "g4 g4 c5 c5", "r", "r", "c5 c5 c5 c5"];
    let horn = |keys: &[(usize, &str)]| Tiny { name: "Horn in F", transpose: Some((-4, -7)), bars: marked(&horn, keys) };
    let clarinet = |keys: &[(usize, &str)]| Tiny { name: "Clarinet in B flat", transpose: Some((-1, -2)), bars: marked(&CLARINET, keys) };
    let score =
        [Tiny { name: "Flute", transpose: None, bars: flute.clone() }, clarinet(&[(1, "!1"), (5, "!3")]), horn(&[(1, "!0"), (5, "!0")])];
    let found = |own: Tiny, horn_part: Tiny| {
        let set = Set::of(&[
            ("score.musicxml", file("Trial", &score)),
            ("flute.musicxml", file("Trial", &[Tiny { name: "Flute", transpose: None, bars: flute.clone() }])),
            ("clarinet.musicxml", file("Trial", &[own])),
            ("horn.musicxml", file("Trial", &[horn_part])),
        ]);
        set.found().into_iter().map(|(path, _, message)| format!("{path}: {message}")).collect::<Vec<_>>()
    };
    assert_eq!(found(clarinet(&[(1, "!1"), (5, "!3")]), horn(&[(1, "!0")])), Vec::<String>::new());
    let wrong = found(clarinet(&[(1, "!1"), (5, "!2")]), horn(&[]));
    assert!(wrong.len() == 1 && wrong[0].starts_with("clarinet.musicxml: at bar 5 the score has key"), "{wrong:#?}");
}

/// A score may name the file of each part (`part-link` of `MusicXML` 4.0): a part that was written anew is still that part's copy.
#[test]
fn a_score_names_the_files_of_its_parts() {
    let other = ["c4 c4 c4 c4", "d4 d4 d4 d4", "e4 e4 e4 e4", "f4 f4 f4 f4", "g4 g4 g4 g4", "a4 a4 a4 a4", "b4 b4 b4 b4", "c5 c5 c5 c5"];
    let score = file("Trial", &[part("Flute", &FLUTE_1, &MARKS), part("Oboe", &OBOE, &[])]);
    let link = "<part-name>Oboe</part-name>";
    let linked = score.replacen(link, &format!("<part-link xlink:href=\"parts/oboe%20new.musicxml\"/>{link}"), 1);
    let linked = linked.replacen("<score-partwise", "<score-partwise xmlns:xlink=\"http://www.w3.org/1999/xlink\"", 1);
    let told = |score: String| {
        let set = Set::of(&[
            ("score.musicxml", score),
            ("parts/flute.musicxml", file("Trial", &[part("Flute", &FLUTE_1, &MARKS)])),
            ("parts/oboe new.musicxml", file("Trial", &[part("Oboe", &other, &MARKS)])),
        ]);
        set.found().into_iter().map(|(path, rule, _)| format!("{path} {rule}")).collect::<Vec<_>>()
    };
    assert_eq!(told(linked), ["parts/oboe new.musicxml bars-differ", "score.musicxml bars-differ"]);
    assert_eq!(told(score), ["score.musicxml copy-missing"], "nothing says whose copy it is");
}

/// The house says what a copy holds, and which files stand by themselves.
#[test]
fn the_house_maps_copies() {
    let other = file(
        "Sketch",
        &[part(
            "Flute",
            &["c4 c4 c4 c4", "d4 d4 d4 d4", "e4 e4 e4 e4", "f4 f4 f4 f4", "g4 g4 g4 g4", "a4 a4 a4 a4", "b4 b4 b4 b4", "c5 c5 c5 c5"],
            &[],
        )],
    );
    let house =
        "[[copy]]\nfiles = \"sketch.*\"\napart = true\n[[copy]]\nfiles = \"oboe.*\"\nrole = \"orchestral-wind-part\"\nplays = [\"Oboe\"]\n";
    let files = |house: Option<&str>| {
        let mut files = vec![
            ("score.musicxml", file("Trial", &[part("Flute", &FLUTE_1, &MARKS), part("Oboe", &OBOE, &[])])),
            ("flute.musicxml", file("Trial", &[part("Flute", &FLUTE_1, &MARKS)])),
            ("oboe.musicxml", file("Trial", &[part("Oboe", &OBOE, &MARKS)])),
            ("sketch.musicxml", other.clone()),
        ];
        files.extend(house.map(|house| ("stavegauge.toml", house.to_owned())));
        files
    };
    let told: Vec<String> = Set::of(&files(None)).found().into_iter().map(|(path, rule, _)| format!("{path} {rule}")).collect();
    assert_eq!(told, ["sketch.musicxml copy-unmatched"]);
    let set = Set::of(&files(Some(house)));
    assert_eq!(set.found(), Vec::new());
    let report = set.audit(&[]);
    let oboe = report["files"].as_array().expect("files").iter().find(|file| file["path"] == "oboe.musicxml").expect("there").clone();
    assert_eq!((oboe["role"]["name"].as_str(), oboe["role"]["basis"].as_str()), (Some("orchestral-wind-part"), Some("house")));
}
