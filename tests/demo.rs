//! The demo set in `fixtures/demo`: in step with its generator, and sound as music.
//!
//! `STAVEGAUGE_WRITE=1 cargo test --test demo` writes the files anew.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use stavegauge::house::Date;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use support::engine::Engine;
use support::score::{Bar, Part, QUARTER, Says, Score};
use support::serenade::parts::FORGOTTEN;
use support::{in_step, serenade};

/// Whom each copy is meant for, and the rules that say what its player says in the read-me: these and no others.
const HEARD: [(&str, &str, &[&str]); 15] = [
    ("score-loose", "full-score", &["large-staff", "one-more-system", "stretched-page", "wide-staff-gap"]),
    ("score", "full-score", &[]),
    ("vocal-score", "vocal-score", &[]),
    ("chorus-score", "chorus-score", &["small-text"]),
    ("part-oboe-1", "orchestral-wind-part", &["rests-not-gathered"]),
    ("part-oboe-2", "orchestral-wind-part", &[]),
    ("part-clarinet-1", "orchestral-wind-part", &["loose-system", "page-turn", "paper-unsuited", "small-staff"]),
    ("part-clarinet-2", "orchestral-wind-part", &[]),
    (
        "part-horn-1",
        "orchestral-brass-part",
        &["loose-movement", "paper-unsuited", "rests-not-gathered", "small-staff", "unfilled-page", "wide-system-gap"],
    ),
    ("part-horn-2", "orchestral-brass-part", &["rests-across-mark"]),
    ("part-bassoon-1", "orchestral-wind-part", &["loose-system", "thin-last-page"]),
    ("part-bassoon-2", "orchestral-wind-part", &["margins-differ"]),
    ("part-alto", "chorus-part", &["no-running-head"]),
    ("part-tenor", "chorus-part", &["no-bar-numbers"]),
    ("part-harmonium", "keyboard-part", &[]),
];

/// What is heard beside that where the copies lie together.
const HEARD_TOGETHER: [(&str, &str); 4] = [
    ("part-clarinet-1", "paper-differs"),
    ("part-clarinet-1", "staff-height-differs"),
    ("part-oboe-1", "marks-differ"),
    ("score", "copy-twice"),
];

#[test]
fn together_the_copies_have_these_faults_more_and_no_others() {
    let engine = Engine::new();
    let (documents, _) = engine.audit_folder(Path::new("fixtures/demo"), Date::new(2026, 11, 27).expect("a day"));
    let mut found = BTreeSet::new();
    for document in &documents {
        let name = document.path.trim_start_matches("fixtures/demo/").trim_end_matches(".musicxml").to_owned();
        let alone = Engine::found(&engine.audit_file(Path::new(&document.path), None));
        let heard = Engine::found(std::slice::from_ref(document)).into_iter().filter(|one| !alone.contains(one));
        found.extend(heard.map(|(rule, ..)| (name.clone(), rule)));
    }
    let expected: BTreeSet<(String, String)> = HEARD_TOGETHER.iter().map(|(name, rule)| ((*name).to_owned(), (*rule).to_owned())).collect();
    assert_eq!(found, expected);
}

/// The reader stated or inferred, the same rules speak.
#[test]
fn each_copy_has_the_faults_its_player_names_and_no_others() {
    let engine = Engine::new();
    let files: BTreeSet<String> = serenade::scores().keys().map(|name| (*name).to_owned()).collect();
    let named: BTreeSet<String> = HEARD.iter().map(|(name, ..)| format!("{name}.musicxml")).collect();
    assert_eq!(named, files, "every copy is named");
    let readme = std::fs::read_to_string("fixtures/demo/README.md").expect("the read-me is there");
    let mut wrong = BTreeMap::new();
    for (name, role, rules) in HEARD {
        assert!(readme.contains(&format!("| `{name}.musicxml` |")), "{name} in the read-me");
        for role in [Some(role), None] {
            let found = Engine::found(&engine.audit_file(Path::new(&format!("fixtures/demo/{name}.musicxml")), role));
            let heard: BTreeSet<&str> = found.iter().map(|(rule, ..)| rule.as_str()).collect();
            if heard != rules.iter().copied().collect() {
                wrong.insert((name, role), found);
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn committed_files_are_what_the_generator_writes() {
    in_step::hold(serenade::FOLDER, &serenade::files(), &["fixtures/demo/README.md"]);
}

#[test]
fn every_voice_fills_its_bar() {
    for_each_part(|place, score, part| {
        assert_eq!(part.bars.len(), score.bar_count(), "{place}: bars");
        let mut time = None;
        for bar in &part.bars {
            time = bar.time.or(time);
            let (beats, unit) = time.expect("the first bar states the time");
            for voice in &bar.voices {
                let ticks: u32 = voice.events.iter().map(|event| event.ticks).sum();
                assert_eq!(ticks, beats * QUARTER * 4 / unit, "{place}, bar {}", bar.number);
            }
        }
    });
}

/// What players go by when they meet: bar numbers, times, sounding keys, marks and tempos, bar lines.
#[test]
fn every_copy_agrees_with_the_score() {
    let scores = serenade::scores();
    let full = &scores["score.musicxml"];
    let told = |bar: &Bar, fifths: i32| {
        let directions = bar.voices.iter().flat_map(|voice| &voice.events).flat_map(|event| &event.directions);
        let marks: Vec<Says> = directions
            .filter(|said| said.tempo.is_some() || matches!(said.says[..], [Says::Rehearsal(_)]))
            .flat_map(|said| said.says.clone())
            .collect();
        let key = bar.key.map(|key| i32::from(key) - fifths);
        format!("{} {:?} {key:?} {marks:?} {:?} {:?}", bar.number, bar.time, bar.left, bar.right)
    };
    let wanted: Vec<String> = full.parts[0].bars.iter().map(|bar| told(bar, 0)).collect();
    for (name, score) in &scores {
        let part = &score.parts[0];
        let (diatonic, chromatic) = part.transpose.unwrap_or_default();
        let found: Vec<String> = part.bars.iter().map(|bar| told(bar, 12 * diatonic - 7 * chromatic)).collect();
        let lost = |bar: &String| bar.replace(&format!("[Rehearsal({FORGOTTEN:?})]"), "[]");
        let wanted = if *name == "part-oboe-1.musicxml" { wanted.iter().map(lost).collect() } else { wanted.clone() };
        assert_eq!(found, wanted, "{name}");
    }
}

/// Every note of a copy sounds in the score, at the same moment.
#[test]
fn every_copy_is_of_the_same_music() {
    let full: BTreeSet<Sound> = serenade::scores()["score.musicxml"].parts.iter().flat_map(sounds).collect();
    for_each_part(|place, _, part| {
        let own = sounds(part);
        assert!(own.len() > 50, "{place}: {} notes", own.len());
        let strange: Vec<&Sound> = own.iter().filter(|sound| !full.contains(sound)).collect();
        assert!(strange.is_empty(), "{place}: {strange:?}");
    });
}

/// A sounding note: index of its bar, onset in ticks, semitones above the lowest C.
type Sound = (usize, u32, i32);

fn sounds(part: &Part) -> Vec<Sound> {
    let chromatic = part.transpose.map_or(0, |(_, chromatic)| chromatic);
    let mut found = Vec::new();
    for (index, bar) in part.bars.iter().enumerate() {
        for voice in &bar.voices {
            let mut onset = 0;
            for event in &voice.events {
                found.extend(event.heads.iter().map(|head| (index, onset, head.pitch.semitones() + chromatic)));
                onset += event.ticks;
            }
        }
    }
    found
}

#[test]
fn ties_join_equal_pitches() {
    let mut ties = 0;
    for_each_part(|place, _, part| {
        for staff in 0..part.clefs.len() {
            let mut open = Vec::new();
            let voices = part.bars.iter().flat_map(|bar| bar.voices.iter().map(move |voice| (bar, voice)));
            for (bar, event) in
                voices.filter(|(_, voice)| voice.staff == staff).flat_map(|(bar, voice)| voice.events.iter().map(move |e| (bar, e)))
            {
                for head in &event.heads {
                    if head.tie_from {
                        let from = open.iter().position(|pitch| *pitch == head.pitch);
                        open.remove(from.unwrap_or_else(|| panic!("{place}, bar {}: a tie from nowhere", bar.number)));
                        ties += 1;
                    }
                }
                open.extend(event.heads.iter().filter(|head| head.tie_on).map(|head| head.pitch));
            }
            assert!(open.is_empty(), "{place}: ties to nowhere: {open:?}");
        }
    });
    assert!(ties > 20, "{ties} ties seen");
}

#[test]
fn bars_of_a_system_fill_its_line() {
    for (name, score) in serenade::scores() {
        let page = score.page.expect("paper is stated");
        let mut number = 0;
        let mut line: Option<(f64, f64)> = None;
        for bar in &score.parts[0].bars {
            if let Some(print) = &bar.print {
                check_line(name, line);
                if print.new_page || number == 0 {
                    number = print.page_number.as_ref().map_or(number + 1, |number| number.parse().expect("a plain number"));
                }
                let (left, right) = print.system_margins.expect("indents are stated");
                let page = print.page.map_or(page, |(page, _)| page);
                let margins = page.margins(number);
                let width = page.width - margins.left - margins.right - left - right;
                line = Some((width * 40.0 / score.staff_height(), 0.0));
            }
            let (_, sum) = line.as_mut().expect("the first bar opens a system");
            *sum += bar.width.expect("width is stated");
        }
        check_line(name, line);
    }
}

fn check_line(name: &str, line: Option<(f64, f64)>) {
    if let Some((wanted, sum)) = line {
        assert!((wanted - sum).abs() < 0.02, "{name}: {sum} tenths of {wanted}");
    }
}

fn for_each_part(mut check: impl FnMut(&str, &Score, &Part)) {
    for (name, score) in serenade::scores() {
        for part in &score.parts {
            check(&format!("{name}, {}", part.name), &score, part);
        }
    }
}
