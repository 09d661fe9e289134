//! Whom sounds and names suggest, tried on every sound of the standard and on names in five languages.

use super::instrument::{Found, beginnings};
use super::{Basis, House, NamedStaff, PartHint};
use std::collections::{BTreeMap, BTreeSet};

fn house() -> House {
    House::built_in().expect("the built-in style loads")
}

/// The table of sounds: role, or `nobody`, to sound ids.
fn sounds() -> BTreeMap<String, Vec<String>> {
    toml::from_str(include_str!("sounds_test.toml")).expect("well-formed")
}

#[test]
fn every_sound_of_the_standard_tells_a_reader() {
    let house = house();
    let mut wrong = Vec::new();
    for (role, ids) in sounds() {
        let expected = Some(role).filter(|role| role != "nobody");
        for id in ids {
            let part = PartHint { sounds: vec![&id], staves: 1, ..PartHint::default() };
            let found = house.instruments.infer(&[part]);
            // Many files give everything the sound of a piano.
            let basis = match &expected {
                None => Basis::Unknown,
                Some(_) if id.starts_with("keyboard.piano") => Basis::Assumed,
                Some(_) => Basis::Inferred,
            };
            if (&found.role, found.basis) != (&expected, basis) {
                wrong.push(format!("{id}: {:?} {:?}", found.role, found.basis));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The table against `sounds.xml` itself, where the standard lies beside the project; skipped elsewhere.
#[test]
fn the_table_of_sounds_is_the_standards() {
    let table: Vec<String> = sounds().into_values().flatten().collect();
    let ours: BTreeSet<&str> = table.iter().map(String::as_str).collect();
    assert_eq!((table.len(), ours.len()), (894, 894), "as many as MusicXML 4.0 has, each once");
    for beginning in house().instruments.sounds.keys() {
        assert!(ours.iter().any(|id| beginnings(id).any(|one| one == beginning)), "{beginning} begins no sound of the standard");
    }
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../shared/standard/sounds.xml");
    let Ok(text) = std::fs::read_to_string(path) else {
        eprintln!("skipped: no {path}");
        return;
    };
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let document = roxmltree::Document::parse_with_options(&text, options).expect("well-formed");
    let standard: BTreeSet<&str> = document.descendants().filter_map(|node| node.attribute("id")).collect();
    assert_eq!(ours, standard);
}

/// How parts of one instrument are numbered, `{}` for the name.
const NUMBERED: [&str; 12] =
    ["{}", "{} 1", "{} II", "{} 1.2", "{} 1, 2", "1. {}", "2 {}", "I {}", "1./2. {}", "{} (3)", "3e {}", "{}\n1 & 2"];

/// How keys of transposing instruments are told, `{}` for the name.
const KEYS: [&str; 16] = [
    "{} in B♭",
    "{} in Bb",
    "{} in B-flat 1",
    "{} (F)",
    "{} in A",
    "{} 2 in E♭",
    "{} in Es",
    "{} in B",
    "{} in D 3",
    "{} en si♭",
    "{} en si bémol",
    "{} en fa",
    "{} in Do",
    "{} in Sib",
    "{} en Mi♭",
    "{} in Fa I, II",
];

#[test]
fn names_in_five_languages() {
    let house = house();
    let instruments = &house.instruments;
    let table: BTreeMap<String, BTreeMap<String, Vec<String>>> = toml::from_str(include_str!("names_test.toml")).expect("well-formed");
    let known: BTreeSet<&String> = instruments.all.iter().map(|one| &one.name).collect();
    assert_eq!(table.keys().collect::<BTreeSet<_>>(), known);
    let mut wrong = Vec::new();
    for (expected, lists) in &table {
        for language in ["en", "de", "fr", "it", "es"] {
            assert!(lists.get(language).is_some_and(|names| !names.is_empty()), "{expected} has no name in {language}");
        }
        for (list, names) in lists {
            let forms: &[&str] = if list == "in" { &KEYS } else { &NUMBERED };
            for name in names.iter().flat_map(|name| forms.iter().map(move |form| form.replace("{}", name))) {
                let found = match instruments.find(&name) {
                    Found::Sure(instrument) => instruments.all.get(instrument).map_or("", |one| &one.name).to_owned(),
                    Found::OneOf(several) => format!("one of {}", several.len()),
                    Found::Letter(_) => "a letter".to_owned(),
                    Found::Nothing => "nothing".to_owned(),
                };
                if found != *expected {
                    wrong.push(format!("{expected}: {name:?} is {found}"));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn names_that_tell_no_single_instrument() {
    let instruments = house().instruments;
    for open in ["Bass", "Basso", "Alto", "Altos", "Baritone", "Bassi", "Bajo", "Basse", "Bariton", "Barítono", "Alto 2", "Bass I"] {
        assert!(matches!(instruments.find(open), Found::OneOf(_)), "{open} may be of several families");
    }
    for nothing in ["", "Part 1", "Instrument 36", "♭", "Staff A1x", "Hornung", "1. 2. 3.", "Solo", "Tutti", "MusicXML Part", "Stave 2"] {
        assert_eq!(instruments.find(nothing), Found::Nothing, "{nothing}");
    }
}

/// Names of parts that are not the reader's own music; common practice, no source.
#[test]
fn staves_told_by_their_names() {
    let house = house();
    for (kind, names) in [
        (
            NamedStaff::Cue,
            &[
                "Cue",
                "Cues",
                "(cues)",
                "Violin 1 (cue)",
                "Cue: Oboe",
                "CUE NOTES",
                "Stichnoten",
                "Stichnoten (Fl.)",
                "Répliques",
                "Note guida",
                "Notas guía",
            ][..],
        ),
        (NamedStaff::Ossia, &["Ossia", "ossia 1", "Piano (ossia)", "OSSIA", "Oppure"]),
        (
            NamedStaff::Rehearsal,
            &[
                "Rehearsal piano",
                "Piano (for rehearsal only)",
                "Piano\n(rehearsal only)",
                "Keyboard for rehearsals",
                "Piano reduction",
                "Piano red.",
                "Pno. (reh.)",
                "Keyboard Reduction",
                "Piano (for practice only)",
                "Klavierauszug",
                "Klavierauszug / nur zur Probe",
                "Klavier (nur zur Probe)",
                "Klavier (zum Einstudieren)",
                "Piano pour répétition",
                "Piano (pour les répétitions)",
                "Réduction pour piano",
                "Réduction",
                "Pianoforte, solo per prova",
                "Pianoforte (per le prove)",
                "Riduzione per pianoforte",
                "Piano (sólo para ensayo)",
                "Piano de ensayo",
                "Reducción para piano",
            ],
        ),
    ] {
        for name in names {
            assert_eq!(house.staff_named(name), Some(kind), "{name}");
        }
    }
    for own in [
        "",
        "Piano",
        "Violin 1",
        "Voice",
        "Piccolo",
        "Klavier",
        "Pianoforte",
        "Glockenspiel",
        "Prometheus",
        "Cuerdas",
        "Solo Violin",
        "Pos.",
        "Guitar (practice amp)",
        "Rescue",
        "Coro",
        "Réponse",
        "Alternate Flute",
        "Tenor Redoblante",
        "Improvisation",
    ] {
        assert_eq!(house.staff_named(own), None, "{own}");
    }
}
