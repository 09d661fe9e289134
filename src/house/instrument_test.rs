//! Every sound of the standard and a table of names in five languages, against what the house makes of them.

use super::instrument::{Found, Instruments};
use super::reader::PartHint;
use super::role::{Basis, Roles};
use std::collections::{BTreeMap, BTreeSet};

/// What the house knows, as its file says it.
const BUILT_IN: &str = include_str!("../../rules/instruments.toml");
/// By reader: the sounds of the standard.
const SOUNDS: &str = include_str!("sounds_test.toml");
/// By instrument and language: names.
const NAMES: &str = include_str!("names_test.toml");
const LANGUAGES: [&str; 5] = ["en", "de", "fr", "it", "es"];
/// Those of which no reader is known.
const NOBODY: &str = "nobody";

fn built_in() -> Instruments {
    Instruments::built_in(&Roles::built_in().expect("built-in roles load")).expect("built-in instruments load")
}

/// The sounds by reader.
fn sounds() -> BTreeMap<String, String> {
    toml::from_str(SOUNDS).expect("well-formed")
}

/// The one instrument that a name means.
fn means<'a>(instruments: &'a Instruments, name: &str) -> Option<&'a str> {
    match instruments.find(name) {
        Found::Sure(instrument) => instruments.all.get(instrument).map(|one| one.name.as_str()),
        Found::OneOf(_) | Found::Nothing => None,
    }
}

/// `sounds.xml` of `MusicXML` 4.0: whom a copy is for that shows one part with this sound and nothing else that tells.
#[test]
fn every_sound_of_the_standard_has_its_reader() {
    let instruments = built_in();
    let mut count = 0;
    for (role, sounds) in sounds() {
        for sound in sounds.split_whitespace() {
            count += 1;
            let hint = PartHint { sounds: vec![sound], staves: 1, ..PartHint::default() };
            let inferred = instruments.infer(&[hint]);
            assert_eq!(inferred.role.as_deref().unwrap_or(NOBODY), role, "{sound}: {}", inferred.because);
            // Many files give everything the sound of a piano: on one staff it is a guess.
            let basis = match (role.as_str(), sound.starts_with("keyboard.piano")) {
                (NOBODY, _) => Basis::Unknown,
                (_, true) => Basis::Assumed,
                (_, false) => Basis::Inferred,
            };
            assert_eq!(inferred.basis, basis, "{sound}");
        }
    }
    assert_eq!(count, 894, "the list of MusicXML 4.0");
}

/// The table of sounds is the standard's, no more and no less. Skipped where the standard does not lie beside the project.
#[test]
fn the_table_of_sounds_is_in_step_with_the_standard() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../shared/standard/sounds.xml");
    let Ok(text) = std::fs::read_to_string(path) else {
        eprintln!("skipped: no {path}");
        return;
    };
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let document = roxmltree::Document::parse_with_options(&text, options).expect("well-formed");
    let standard: BTreeSet<&str> = document.descendants().filter_map(|node| node.attribute("id")).collect();
    let table = sounds();
    let ours: BTreeSet<&str> = table.values().flat_map(|sounds| sounds.split_whitespace()).collect();
    assert_eq!(ours, standard);
}

/// Every beginning of a sound that an instrument claims begins one of the standard, and every sound but noises has a family.
#[test]
fn sounds_and_instruments_know_each_other() {
    let instruments = built_in();
    let table = sounds();
    let all: Vec<&str> = table.values().flat_map(|sounds| sounds.split_whitespace()).collect();
    for id in all.iter().filter(|id| !id.starts_with("effect.")) {
        assert!(instruments.family_of(id).is_some(), "{id}");
    }
    let file: toml::Table = toml::from_str(BUILT_IN).expect("well-formed");
    for one in file["instrument"].as_array().expect("instruments") {
        for beginning in one.get("sounds").and_then(toml::Value::as_array).into_iter().flatten().filter_map(toml::Value::as_str) {
            let begins = |id: &&str| id.strip_prefix(beginning).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'));
            assert!(all.iter().any(begins), "{beginning} begins no sound of the standard");
        }
    }
}

/// Names as scores and parts print them: every instrument in every language.
#[test]
fn names_in_five_languages() {
    let instruments = built_in();
    let table: BTreeMap<String, BTreeMap<String, Vec<String>>> = toml::from_str(NAMES).expect("well-formed");
    let known: BTreeSet<&str> = instruments.all.iter().map(|one| one.name.as_str()).collect();
    assert_eq!(table.keys().map(String::as_str).collect::<BTreeSet<_>>(), known);
    let mut wrong = Vec::new();
    for (expected, languages) in &table {
        assert_eq!(languages.keys().map(String::as_str).collect::<BTreeSet<_>>(), LANGUAGES.into(), "{expected}");
        for name in languages.values().flatten() {
            let found = means(&instruments, name);
            if found != Some(expected) {
                wrong.push(format!("{name}: {expected} expected, {found:?} found"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Numbers and transpositions tell players apart, not instruments.
#[test]
fn numbers_and_transpositions_change_no_instrument() {
    let instruments = built_in();
    let file: toml::Table = toml::from_str(BUILT_IN).expect("well-formed");
    let added = [
        "# 1",
        "# 2",
        "# I",
        "# II",
        "# I, II",
        "# 1.2",
        "# 1 & 2",
        "# 1° e 2°",
        "# 1.ª",
        "# I y II",
        "1. #",
        "2. #",
        "1er #",
        "2e #",
        "1ère #",
        "1st #",
        "Solo #",
        "# solo",
        "# in B♭",
        "# in Bb 1",
        "# in F",
        "# in A",
        "# in C",
        "# in D 2",
        "# in E♭",
        "B♭ # 1",
        "E♭ #",
        "F # 3",
        "# in B",
        "# in Es",
        "# (in A)",
        "# en si♭",
        "# en si bémol",
        "# en fa",
        "# en la 2",
        "# en ut",
        "# in Si♭ 1",
        "# in Fa",
        "# in Do",
        "# in Mi♭ I",
        "# en mi bemol",
        "# en do 2.º",
        "# div.",
    ];
    let mut wrong = BTreeSet::new();
    for one in file["instrument"].as_array().expect("instruments") {
        let expected = one["name"].as_str().expect("a name");
        for key in LANGUAGES.iter().chain(&["short"]) {
            for word in one.get(*key).and_then(toml::Value::as_array).into_iter().flatten().filter_map(toml::Value::as_str) {
                for name in added.map(|form| form.replace('#', word)) {
                    let found = means(&instruments, &name);
                    if found != Some(expected) {
                        wrong.insert(format!("{name}: {expected} expected, {found:?} found"));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}: {wrong:#?}", wrong.len());
}

/// Where a name alone may be of several families, or of none, nothing is claimed.
#[test]
fn what_a_name_leaves_open_stays_open() {
    let instruments = built_in();
    for open in ["Bass", "Basso", "Alto", "Altos", "Baritone", "Bassi", "Bajo", "Basse 1", "Bass solo", "Requinto 1"] {
        assert!(matches!(instruments.find(open), Found::OneOf(_)), "{open} may be of several families");
    }
    for nothing in ["", "Part 1", "Instrument 36", "♭", "Staff A1x", "Hornung", "1. 2. 3."] {
        assert_eq!(instruments.find(nothing), Found::Nothing, "{nothing}");
    }
}
