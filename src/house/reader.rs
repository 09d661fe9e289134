//! Who a file is for, concluded from the sounds, names, number and staves of its parts.
//!
//! That tells instruments and ensembles, not uses: whether a score is for a desk or a pocket, an opera or a concert, a copy
//! for a lesson, a march or a session, nobody can see in it. Those roles are said by the user or the house.

use super::ensemble::Count;
use super::family::Family;
use super::instrument::{Found, Instruments};
use super::role::Basis;

/// What a file says of one of its parts.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PartHint<'a> {
    /// `part-name`.
    pub name: &'a str,
    /// `part-abbreviation`; empty if there is none.
    pub abbreviation: &'a str,
    /// Its `instrument-sound` ids.
    pub sounds: Vec<&'a str>,
    /// Number of its staves.
    pub staves: u8,
    /// Name of the innermost named group it is in.
    pub group: Option<&'a str>,
    /// Whether any of its notes has a lyric.
    pub has_lyrics: bool,
}

/// A conclusion.
#[derive(Debug, Clone, PartialEq)]
pub struct Inferred {
    /// Name of the role, one of the house's; `None` if nothing can be said.
    pub role: Option<String>,
    /// [`Basis::Inferred`], [`Basis::Assumed`] or [`Basis::Unknown`].
    pub basis: Basis,
    /// The ground, for the reader of the report: `one part, violin by the name "Violino I"`.
    pub because: String,
}

/// What is known of one part.
#[derive(Debug, Clone, PartialEq)]
struct Reading {
    /// Index of the instrument.
    instrument: usize,
    /// Whether a sound or a name says so.
    firm: bool,
    /// The ground, in words.
    ground: String,
}

/// What a part says by itself.
enum First {
    Clear(Reading),
    /// One of these instruments; the other parts may tell which.
    OneOf(Vec<usize>),
    /// A voice, by a letter that may mean anything else.
    Letter(usize),
    Nothing,
}

impl Instruments {
    /// The family of each part, seen beside the others: `Alto` is a viola between a violin and a cello.
    pub fn families(&self, parts: &[PartHint]) -> Vec<Option<Family>> {
        self.read(parts).into_iter().map(|reading| reading.and_then(|reading| self.family(reading.instrument))).collect()
    }

    /// The reader that a file with these parts is for.
    pub fn infer(&self, parts: &[PartHint]) -> Inferred {
        let readings = self.read(parts);
        match (parts, readings.as_slice()) {
            ([], _) => Inferred { role: None, basis: Basis::Unknown, because: "the file has no part".to_owned() },
            ([part], [reading]) => self.copy_of(part, reading.as_ref()),
            _ => self.score_of(parts, &readings),
        }
    }

    /// The reader of a copy that shows one part.
    fn copy_of(&self, part: &PartHint, reading: Option<&Reading>) -> Inferred {
        let Some(reading) = reading else {
            let because = "one part, and neither its sound nor its name tells the instrument";
            return Inferred { role: None, basis: Basis::Unknown, because: because.to_owned() };
        };
        let instrument = self.all.get(reading.instrument);
        let on_staves = instrument.and_then(|one| one.role_on_staves.as_ref()).filter(|_| part.staves > 1);
        let role = on_staves.or_else(|| instrument.and_then(|one| one.role.as_ref())).cloned();
        let basis = match (&role, reading.firm) {
            (None, _) => Basis::Unknown,
            (Some(_), true) => Basis::Inferred,
            (Some(_), false) => Basis::Assumed,
        };
        let name = instrument.map_or("", |one| one.name.as_str());
        Inferred { role, basis, because: format!("one part, {name} by {}", reading.ground) }
    }

    /// The reader of a copy that shows several parts. It is assumed only, unless sounds or names tell
    /// more than half of them.
    fn score_of(&self, parts: &[PartHint], readings: &[Option<Reading>]) -> Inferred {
        let firm = readings.iter().flatten().filter(|reading| reading.firm).count();
        let basis = if firm * 2 > parts.len() { Basis::Inferred } else { Basis::Assumed };
        let mut count = Count::default();
        for (part, reading) in parts.iter().zip(readings) {
            count.add(reading.as_ref().and_then(|reading| self.all.get(reading.instrument)), part.staves);
        }
        match self.ensembles.iter().find(|ensemble| ensemble.fits(&count)) {
            Some(found) => Inferred { role: Some(found.role.clone()), basis, because: format!("{} parts: {}", parts.len(), found.says) },
            None => Inferred { role: None, basis: Basis::Unknown, because: format!("{} parts, like no kind of score known", parts.len()) },
        }
    }

    fn read(&self, parts: &[PartHint]) -> Vec<Option<Reading>> {
        let first: Vec<First> = parts.iter().map(|part| self.by_itself(part)).collect();
        let clear = |index: usize| match first.get(index) {
            Some(First::Clear(reading)) => self.family(reading.instrument),
            _ => None,
        };
        let settle = |index: usize, part: &PartHint, choices: &[usize]| {
            let of = |family: Family| choices.iter().copied().find(|choice| self.family(*choice) == Some(family));
            let firm = |instrument: usize, ground: String| Some(Reading { instrument, firm: true, ground });
            if let Some(voice) = of(Family::Voice).filter(|_| part.has_lyrics) {
                return firm(voice, format!("{} and its lyrics", named(part.name)));
            }
            // The nearest part whose family comes into question, above before below.
            let neighbours = (1..parts.len()).flat_map(|away| [index.checked_sub(away), index.checked_add(away)]);
            if let Some(instrument) = neighbours.flatten().find_map(|near| clear(near).and_then(of)) {
                return firm(instrument, format!("{} among its neighbours", named(part.name)));
            }
            // Without words it is rather not a voice.
            let choice = choices.iter().find(|choice| self.family(**choice) != Some(Family::Voice)).or(choices.first());
            choice.map(|choice| Reading { instrument: *choice, firm: false, ground: named(part.name) })
        };
        // Parts called A and B may be anything; with an S or a T among them they are voices.
        let letters = || first.iter().zip(parts).filter(|(first, _)| matches!(first, First::Letter(_))).map(|(_, part)| part.name);
        let choir = letters().count() > 1 && letters().any(|name| name.contains(['S', 'T', 's', 't']));
        let with_voices = choir || (0..parts.len()).any(|index| clear(index) == Some(Family::Voice));
        let by_letter = |voice: usize, part: &PartHint| {
            if part.has_lyrics || with_voices {
                let ground = format!("{}{}", named(part.name), if part.has_lyrics { " and its lyrics" } else { " among voices" });
                return Some(Reading { instrument: voice, firm: true, ground });
            }
            match self.by_looks(part) {
                First::Clear(reading) => Some(reading),
                _ => None,
            }
        };
        let mut readings = Vec::with_capacity(parts.len());
        for (index, (part, first)) in parts.iter().zip(&first).enumerate() {
            readings.push(match first {
                First::Clear(reading) => Some(reading.clone()),
                First::OneOf(choices) => settle(index, part, choices),
                First::Letter(voice) => by_letter(*voice, part),
                First::Nothing => None,
            });
        }
        readings
    }

    /// What a part says without the others. Sounds go before names, but for stand-ins.
    fn by_itself(&self, part: &PartHint) -> First {
        let known = || part.sounds.iter().filter_map(|id| Some((*id, self.sound(id)?)));
        let sound = known().find(|(_, sound)| !sound.stand_in).or_else(|| known().next());
        let (text, word) = match (self.find(part.name), self.find(part.abbreviation)) {
            (Found::OneOf(choices), Found::Sure(one)) if choices.contains(&one) => (part.abbreviation, Found::Sure(one)),
            (Found::Letter(_), Found::Sure(one)) => (part.abbreviation, Found::Sure(one)),
            (Found::Nothing, short) => (part.abbreviation, short),
            (long, _) => (part.name, long),
        };
        let clear = |instrument, firm, ground| First::Clear(Reading { instrument, firm, ground });
        match (sound, word) {
            (Some((id, sound)), Found::Sure(one)) if !sound.stand_in && self.family(sound.instrument) != self.family(one) => {
                clear(sound.instrument, true, format!("the sound {id}"))
            }
            // Of the same family, the name tells more: `Drum set` with the sound of a snare drum.
            (_, Found::Sure(one)) => clear(one, true, named(text)),
            (Some((id, sound)), _) if !sound.stand_in => clear(sound.instrument, true, format!("the sound {id}")),
            (_, Found::OneOf(choices)) => First::OneOf(choices),
            (None, Found::Letter(voice)) => First::Letter(voice),
            (Some((id, sound)), Found::Letter(_) | Found::Nothing) => clear(sound.instrument, part.staves > 1, format!("the sound {id}")),
            (None, Found::Nothing) => self.by_looks(part),
        }
    }

    /// What a part without sound and telling name may be: its group, its lyrics, its staves.
    fn by_looks(&self, part: &PartHint) -> First {
        let first_of = |family: Family| self.all.iter().position(|one| one.family == family);
        let reading = if let Some(group) = part.group
            && let Found::Sure(instrument) = self.find(group)
        {
            Some(Reading { instrument, firm: true, ground: format!("its group, {}", named(group)) })
        } else if part.has_lyrics {
            first_of(Family::Voice).map(|instrument| Reading { instrument, firm: false, ground: "its lyrics".to_owned() })
        } else if part.staves > 1 {
            first_of(Family::Keyboard).map(|instrument| Reading { instrument, firm: false, ground: "its staves".to_owned() })
        } else {
            None
        };
        reading.map_or(First::Nothing, First::Clear)
    }
}

/// Characters of a name that a report shows.
const SHOWN: usize = 40;

/// A name as a report shows it: on one line, not too long, in quotes.
fn named(name: &str) -> String {
    let line = name.split_whitespace().collect::<Vec<_>>().join(" ");
    let shown: String = line.chars().take(SHOWN).collect();
    format!("the name \"{shown}\"{}", if shown.len() < line.len() { " ..." } else { "" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::house::House;

    /// Parts by name; `/2` behind a name gives it two staves, `+` lyrics.
    fn parts(names: &str) -> Vec<PartHint<'_>> {
        let part = |name| {
            let staves = if str::contains(name, "/2") { 2 } else { 1 };
            PartHint { name: name.trim_end_matches(['/', '2', '+']).trim(), staves, has_lyrics: name.contains('+'), ..PartHint::default() }
        };
        names.split(", ").map(part).collect()
    }

    fn infer(parts: &[PartHint]) -> (Option<String>, Basis) {
        let house = House::built_in().expect("built-in style loads");
        let inferred = house.instruments.infer(parts);
        assert!(!inferred.because.is_empty());
        (inferred.role, inferred.basis)
    }

    #[test]
    fn copies_of_one_part() {
        for (name, role) in [
            ("Violino I", "orchestral-string-part"),
            ("Kontrabass", "double-bass-part"),
            ("Corno inglese", "orchestral-wind-part"),
            ("Corno", "orchestral-brass-part"),
            ("Harfe /2", "harp-part"),
            ("Pauken", "percussion-part"),
            ("Piano /2", "keyboard-part"),
            ("Orgel /2", "organ-part"),
            ("Guitarra", "guitar-part"),
            ("Drum Set", "rhythm-part"),
            ("Coro +", "chorus-part"),
            ("SATB /2+", "chorus-score"),
        ] {
            assert_eq!(infer(&parts(name)), (Some(role.to_owned()), Basis::Inferred), "{name}");
        }
    }

    #[test]
    fn what_is_guessed_is_said_to_be() {
        assert_eq!(infer(&[]), (None, Basis::Unknown));
        assert_eq!(infer(&parts("Part 1")), (None, Basis::Unknown));
        assert_eq!(infer(&parts("Tape")), (None, Basis::Unknown), "no role is for electronics");
        assert_eq!(infer(&parts(" /2")), (Some("keyboard-part".to_owned()), Basis::Assumed));
        assert_eq!(infer(&parts(" +")), (Some("chorus-part".to_owned()), Basis::Assumed));
        assert_eq!(infer(&parts("Bass")), (Some("double-bass-part".to_owned()), Basis::Assumed));
        assert_eq!(infer(&parts("Bass +")), (Some("chorus-part".to_owned()), Basis::Inferred));
        for letter in ["S", "A", "T", "B 2"] {
            assert_eq!(infer(&parts(letter)), (None, Basis::Unknown), "{letter} may be anything");
            assert_eq!(infer(&parts(&format!("{letter} +"))), (Some("chorus-part".to_owned()), Basis::Inferred), "{letter} with words");
        }
        assert_eq!(infer(&parts("A, B")), (Some("chamber-score".to_owned()), Basis::Assumed));
        assert_eq!(infer(&parts("Part 1, Part 2, Part 3")), (Some("chamber-score".to_owned()), Basis::Assumed));
        assert_eq!(infer(&parts("I +, II /2")), (Some("songbook".to_owned()), Basis::Assumed));
    }

    #[test]
    fn scores() {
        for (names, role) in [
            ("Voice +, Piano /2", "songbook"),
            ("Chant +, Guitare", "songbook"),
            ("Soprano, Alto, Tenor, Bass, Piano /2", "vocal-score"),
            ("SATB /2+, Organ /2", "vocal-score"),
            ("S, A, T, B", "chorus-score"),
            ("S 1, S 2, A", "chorus-score"),
            ("S, A, Piano /2", "vocal-score"),
            ("Soprano solo, A", "chorus-score"),
            ("Soprano, Alto, Tenor, Bass", "chorus-score"),
            ("Violin 1, Violin 2, Viola, Violoncello", "chamber-score"),
            ("Violons, Alto, Violoncelle", "chamber-score"),
            ("Klarinette in B, Klavier /2", "chamber-score"),
            ("Oboe 1, Oboe 2, Clarinet 1, Clarinet 2, Bassoon 1, Bassoon 2, Horn 1, Horn 2", "chamber-score"),
            ("Klavier I /2, Klavier II /2", "keyboard-part"),
            ("Pauken, Große Trommel, Becken", "percussion-score"),
            ("Flauto, Oboe, Fagotto, Corno, Violino I, Violino II, Viola, Violoncello, Basso", "full-score"),
            ("Flute, Oboe, Clarinet 1, Clarinet 2, Bassoon, Alto Sax, Horn, Trumpet, Trombone, Tuba, Percussion", "wind-band-score"),
            (
                "Alto Sax 1, Alto Sax 2, Tenor Sax, Baritone Sax, Trumpet 1, Trumpet 2, Trombone 1, Trombone 2, Guitar, Piano /2, Bass, Drums",
                "full-score",
            ),
        ] {
            assert_eq!(infer(&parts(names)), (Some(role.to_owned()), Basis::Inferred), "{names}");
        }
    }

    #[test]
    fn neighbours_and_abbreviations_settle_what_a_name_leaves_open() {
        let house = House::built_in().expect("built-in style loads");
        let families = |names| house.instruments.families(&parts(names));
        assert_eq!(families("Violon, Alto, Violoncelle"), [Some(Family::Strings); 3]);
        assert_eq!(
            families("Soprano, Alto, Tenor, Bass, Violin, Bass").get(1..),
            Some(&[Some(Family::Voice), Some(Family::Voice), Some(Family::Voice), Some(Family::Strings), Some(Family::Strings),][..])
        );
        assert_eq!(families("Trumpet, Baritone"), [Some(Family::Brass); 2]);
        assert_eq!(families("Guitar, Bass"), [Some(Family::Plucked); 2]);
        let hint = PartHint { name: "Alto", abbreviation: "Vla.", ..PartHint::default() };
        assert_eq!(house.instruments.families(&[hint]), [Some(Family::Strings)]);
        let hint = PartHint { name: "I", group: Some("Violini"), ..PartHint::default() };
        assert_eq!(house.instruments.families(&[hint]), [Some(Family::Strings)]);
    }

    #[test]
    fn sounds_go_before_names_unless_they_are_stand_ins() {
        let house = House::built_in().expect("built-in style loads");
        let family = |name, sound| {
            let hint = PartHint { name, sounds: vec![sound], staves: 1, ..PartHint::default() };
            house.instruments.families(&[hint]).pop().flatten()
        };
        assert_eq!(family("Horn", "wind.reed.english-horn"), Some(Family::Wind));
        assert_eq!(family("Bass", "voice.bass"), Some(Family::Voice));
        assert_eq!(family("Flöte", "keyboard.piano"), Some(Family::Wind));
        assert_eq!(family("", "keyboard.piano.grand"), Some(Family::Keyboard));
        assert_eq!(family("Solo", "unheard.of"), None);
        let hint = PartHint { name: "", sounds: vec!["keyboard.piano"], staves: 1, ..PartHint::default() };
        assert_eq!(infer(&[hint]), (Some("keyboard-part".to_owned()), Basis::Assumed));
    }

    #[test]
    fn the_ground_is_named_in_one_short_line() {
        let house = House::built_in().expect("built-in style loads");
        let long = format!("Violino\n  principale {}", "e ripieno ".repeat(100));
        let inferred = house.instruments.infer(&parts(&long));
        let expected = "one part, violin by the name \"Violino principale e ripieno e ripieno e\" ...";
        assert_eq!(inferred.because, expected);
        let score = house.instruments.infer(&parts("Voice, Piano /2"));
        assert_eq!(score.because, "2 parts: one voice and a keyboard");
    }

    /// Real scores (open data): string quartets, orchestras, songs. Skipped where they do not lie beside
    /// the project.
    #[test]
    fn real_scores() {
        let house = House::built_in().expect("built-in style loads");
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../shared/real/");
        for (name, role) in [
            ("quartet-a", "chamber-score"),
            ("quartet-b", "chamber-score"),
            ("orchestra-score", "full-score"),
            ("orchestra-41-parts", "full-score"),
            ("orchestra-26mb", "full-score"),
            ("song-plain", "songbook"),
            ("song-no-layout", "songbook"),
        ] {
            let Ok(file) = std::fs::File::open(format!("{folder}{name}.mxl")) else {
                eprintln!("skipped: no {folder}{name}.mxl");
                continue;
            };
            let mut text = String::new();
            let mut archive = zip::ZipArchive::new(file).expect("a container");
            std::io::Read::read_to_string(&mut archive.by_name("score.musicxml").expect("a score"), &mut text).expect("text");
            let (_, list) = text.split_once("<part-list>").expect("a part list");
            let (list, _) = list.split_once("</part-list>").expect("its end");
            let list = format!("<list>{list}</list>");
            let document = roxmltree::Document::parse(&list).expect("well-formed");
            let parts: Vec<PartHint> = document
                .descendants()
                .filter(|node| node.has_tag_name("score-part"))
                .map(|part| {
                    let text = |tag| part.descendants().filter(move |node| node.has_tag_name(tag)).filter_map(|node| node.text());
                    PartHint {
                        name: text("part-name").next().unwrap_or_default(),
                        abbreviation: text("part-abbreviation").next().unwrap_or_default(),
                        sounds: text("instrument-sound").collect(),
                        ..PartHint::default()
                    }
                })
                .collect();
            let inferred = house.instruments.infer(&parts);
            assert_eq!((inferred.role.as_deref(), inferred.basis), (Some(role), Basis::Inferred), "{name}: {}", inferred.because);
            let families = house.instruments.families(&parts);
            let unknown: Vec<&str> = parts.iter().zip(families).filter(|(_, family)| family.is_none()).map(|(part, _)| part.name).collect();
            assert!(unknown.is_empty(), "{name}: {unknown:?}");
        }
    }
}
