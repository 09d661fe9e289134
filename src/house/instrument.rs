//! Instruments: which one a name in five languages or a `MusicXML` sound id means.

use super::data::{DataError, DataFile};
use super::ensemble::{Ensemble, RawEnsemble};
use super::family::Family;
use super::role::Roles;
use super::staff_name::{RawStaffNames, StaffNames};
use super::word::{phrase, tokens};
use crate::packed::INSTRUMENTS;
use fnv::FnvHashMap;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::hash::BuildHasherDefault;
use toml::Spanned;

/// An instrument, or a group of them that is not told apart.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Instrument {
    pub name: String,
    pub family: Family,
    /// Role of a copy that shows only this instrument.
    pub role: Option<String>,
    /// The same on two staves and more, where that makes a difference.
    pub role_on_staves: Option<String>,
}

/// What a house knows of instruments and of the scores they make.
#[derive(Debug, Clone, PartialEq)]
pub struct Instruments {
    pub(super) all: Vec<Instrument>,
    pub(super) ensembles: Vec<Ensemble>,
    stand_ins: Vec<String>,
    pub(super) sounds: BTreeMap<String, usize>,
    words: FnvHashMap<String, Meanings>,
    most_tokens: usize,
    ends: Vec<(String, usize)>,
    alone: BTreeMap<String, usize>,
    pub(super) staff_names: StaffNames,
}

/// The instruments that a word may mean, as indices.
#[derive(Debug, Clone, Default, PartialEq)]
struct Meanings {
    strong: Option<usize>,
    /// It is a size of whatever else the name holds: contrabass trombone.
    size: bool,
    weak: Vec<usize>,
}

/// What a name says.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Found {
    /// One instrument.
    Sure(usize),
    /// One of several.
    OneOf(Vec<usize>),
    /// Nothing but one letter that may stand for this voice: `T`, `A 2`.
    Letter(usize),
    /// Nothing.
    Nothing,
}

/// A known sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sound {
    pub instrument: usize,
    /// Whether many files give this sound to everything.
    pub stand_in: bool,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawInstruments {
    stand_ins: Vec<String>,
    #[serde(default)]
    staff_named: RawStaffNames,
    instrument: Vec<RawInstrument>,
    ensemble: Vec<RawEnsemble>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawInstrument {
    name: Spanned<String>,
    family: Family,
    role: Option<Spanned<String>>,
    role_on_staves: Option<Spanned<String>>,
    #[serde(default)]
    sounds: Vec<Spanned<String>>,
    #[serde(default)]
    en: Vec<Spanned<String>>,
    #[serde(default)]
    de: Vec<Spanned<String>>,
    #[serde(default)]
    fr: Vec<Spanned<String>>,
    #[serde(default)]
    it: Vec<Spanned<String>>,
    #[serde(default)]
    es: Vec<Spanned<String>>,
    #[serde(default)]
    short: Vec<Spanned<String>>,
    #[serde(default)]
    ends: Vec<Spanned<String>>,
    #[serde(default)]
    sizes: Vec<Spanned<String>>,
    #[serde(default)]
    weak: Vec<Spanned<String>>,
    #[serde(default)]
    alone: Vec<Spanned<String>>,
}

impl RawInstrument {
    fn names(&self) -> impl Iterator<Item = &Spanned<String>> {
        [&self.en, &self.de, &self.fr, &self.it, &self.es, &self.short].into_iter().flatten()
    }
}

impl Instruments {
    /// The instruments that come with the program; they fail to load only in a build whose tests fail.
    pub fn built_in(roles: &Roles) -> Result<Self, DataError> {
        let file = DataFile::of(INSTRUMENTS);
        // Where it does not fit, the text says why.
        let raw = INSTRUMENTS.read().or_else(|_| file.parse())?;
        Self::check(raw, file, roles)
    }

    /// The instruments of a TOML `text`, whose roles must be among `roles`; `file` is its name in errors.
    pub fn load(text: &str, file: &str, roles: &Roles) -> Result<Self, DataError> {
        let file = DataFile { name: file, text };
        Self::check(file.parse()?, file, roles)
    }

    fn check(raw: RawInstruments, file: DataFile, roles: &Roles) -> Result<Self, DataError> {
        let mut instruments = Self {
            all: Vec::with_capacity(raw.instrument.len()),
            ensembles: Vec::with_capacity(raw.ensemble.len()),
            stand_ins: raw.stand_ins,
            sounds: BTreeMap::new(),
            words: FnvHashMap::with_capacity_and_hasher(
                raw.instrument.iter().map(|one| one.names().count()).sum(),
                BuildHasherDefault::default(),
            ),
            most_tokens: 1,
            ends: Vec::new(),
            alone: BTreeMap::new(),
            staff_names: raw.staff_named.check(file)?,
        };
        for one in raw.instrument {
            instruments.add(one, roles, file)?;
        }
        for ensemble in raw.ensemble {
            let ensemble = ensemble.check(&instruments.all, roles, file)?;
            instruments.ensembles.push(ensemble);
        }
        Ok(instruments)
    }

    fn add(&mut self, raw: RawInstrument, roles: &Roles, file: DataFile) -> Result<(), DataError> {
        let RawInstrument { name, family, role, role_on_staves, sounds, en, de, fr, it, es, short, ends, sizes, weak, alone } = raw;
        let index = self.all.len();
        if self.all.iter().any(|one| one.name == *name.get_ref()) {
            return Err(file.wrong(&name, "there is an instrument of this name already; put the words there"));
        }
        for role in role.iter().chain(&role_on_staves) {
            roles.get(role.get_ref()).map_err(|error| file.wrong(role, error.to_string()))?;
        }
        for sound in sounds {
            let (at, sound) = apart(sound);
            if self.sounds.insert(sound, index).is_some() {
                return Err(file.wrong(&at, "this sound is listed twice"));
            }
        }
        let names = [en, de, fr, it, es, short].into_iter().flatten();
        for (word, size) in names.map(|word| (word, false)).chain(sizes.into_iter().map(|word| (word, true))) {
            let (at, word) = apart(word);
            let meanings = self.meanings(word, &at, file)?;
            if let Some(other) = meanings.strong.replace(index).filter(|other| *other != index) {
                let other = self.all.get(other).map_or("", |one| one.name.as_str());
                return Err(file.wrong(&at, format!("this word means \"{other}\" already; make it `weak` in both")));
            }
            meanings.size |= size;
        }
        for word in weak {
            let (at, word) = apart(word);
            let meanings = self.meanings(word, &at, file)?;
            // Two languages may share a word.
            if !meanings.weak.contains(&index) {
                meanings.weak.push(index);
            }
        }
        self.ends.extend(ends.iter().flat_map(|end| tokens(end.get_ref())).map(|end| (end, index)));
        self.alone.extend(alone.iter().flat_map(|word| tokens(word.get_ref())).map(|word| (word, index)));
        self.all.push(Instrument {
            name: name.into_inner(),
            family,
            role: role.map(Spanned::into_inner),
            role_on_staves: role_on_staves.map(Spanned::into_inner),
        });
        Ok(())
    }

    /// What a word of the file means so far.
    fn meanings(&mut self, word: String, at: &Spanned<()>, file: DataFile) -> Result<&mut Meanings, DataError> {
        let (phrase, tokens) = phrase(word);
        if tokens == 0 {
            return Err(file.wrong(at, "a word needs letters"));
        }
        self.most_tokens = self.most_tokens.max(tokens);
        Ok(self.words.entry(phrase).or_default())
    }

    pub(super) fn family(&self, instrument: usize) -> Option<Family> {
        self.all.get(instrument).map(|one| one.family)
    }

    /// The instrument whose sound has most in common with the beginning of this id.
    pub(super) fn sound(&self, id: &str) -> Option<Sound> {
        let instrument = beginnings(id).find_map(|beginning| self.sounds.get(beginning).copied())?;
        let stand_in = beginnings(id).any(|beginning| self.stand_ins.iter().any(|one| one == beginning));
        Some(Sound { instrument, stand_in })
    }

    /// The instrument that a name means: the longest word in it decides, a size only if there is no other word, a
    /// weak one only if there is neither.
    pub(super) fn find(&self, name: &str) -> Found {
        let tokens = tokens(name);
        let (mut strong, mut size, mut weak) = (None, None, None);
        for start in 0..tokens.len() {
            for phrase in tokens.get(start..).into_iter().flat_map(|rest| (1..=self.most_tokens).filter_map(|count| rest.get(..count))) {
                let length: usize = phrase.iter().map(|token| token.chars().count()).sum();
                match (self.words.get(&phrase.join(" ")), phrase) {
                    (Some(Meanings { strong: Some(instrument), size: false, .. }), _) => keep_longer(&mut strong, (length, *instrument)),
                    (Some(Meanings { strong: Some(instrument), .. }), _) => keep_longer(&mut size, (length, *instrument)),
                    (Some(meanings), _) => keep_longer(&mut weak, (length, &meanings.weak)),
                    (None, [token]) => {
                        if let Some((_, instrument)) = self.ends.iter().find(|(end, _)| token.ends_with(end.as_str())) {
                            keep_longer(&mut strong, (length, *instrument));
                        }
                    }
                    (None, _) => {}
                }
            }
        }
        match (strong.or(size), weak) {
            (Some((_, instrument)), _) => Found::Sure(instrument),
            (None, Some((_, several))) => match several.as_slice() {
                [instrument] => Found::Sure(*instrument),
                several => Found::OneOf(several.to_vec()),
            },
            (None, None) => self.letters(&tokens),
        }
    }

    /// A name made of nothing but letters that stand for voices, and numbers, Roman ones too.
    fn letters(&self, tokens: &[String]) -> Found {
        let number = |token: &str| token.starts_with(char::is_numeric) || token.chars().all(|letter| "ivx".contains(letter));
        let letters: Vec<&String> = tokens.iter().filter(|token| !number(token)).collect();
        let voices: Option<Vec<usize>> = letters.iter().map(|token| self.alone.get(*token).copied()).collect();
        match (voices.as_deref(), letters.as_slice()) {
            (Some([voice]), [letter]) if letter.len() == 1 => Found::Letter(*voice),
            (Some([voice, ..]), _) => Found::Sure(*voice),
            _ => Found::Nothing,
        }
    }
}

/// Where a word of the file stands, and the word itself: some thousand of them are kept as they were read.
fn apart(word: Spanned<String>) -> (Spanned<()>, String) {
    (Spanned::new(word.span(), ()), word.into_inner())
}

/// Takes the next match if it is longer; of two as long, the first stays.
fn keep_longer<T>(best: &mut Option<(usize, T)>, next: (usize, T)) {
    if best.as_ref().is_none_or(|best| next.0 > best.0) {
        *best = Some(next);
    }
}

/// `a.b.c`, `a.b`, `a`.
pub(super) fn beginnings(id: &str) -> impl Iterator<Item = &str> {
    std::iter::successors(Some(id), |longer| longer.rsplit_once('.').map(|(shorter, _)| shorter))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn built_in() -> Instruments {
        Instruments::built_in(&Roles::built_in().expect("built-in roles load")).expect("built-in instruments load")
    }

    #[test]
    fn the_longest_beginning_of_a_sound_wins() {
        let instruments = built_in();
        let name = |id: &str| instruments.sound(id).and_then(|sound| instruments.all.get(sound.instrument)).map(|one| one.name.as_str());
        for (id, expected) in [
            ("wind.reed.english-horn", "oboe"),
            ("wind.reed.saxophone.alto", "saxophone"),
            ("wind.reed.duduk", "other wind"),
            ("strings.contrabass", "double bass"),
            ("pluck.harp", "harp"),
            ("pluck.harp-guitar", "guitar"),
            ("pluck.bass.electric", "bass guitar"),
            ("keyboard.organ.pipe", "organ"),
            ("drum.group.set", "drum set"),
            ("drum.timpani", "percussion"),
        ] {
            assert_eq!(name(id), Some(expected), "{id}");
        }
        assert_eq!(name("windy.reed"), None);
        assert_eq!(name("effect.dog"), None);
        assert_eq!(instruments.sound("keyboard.piano.grand").map(|sound| sound.stand_in), Some(true));
        assert_eq!(instruments.sound("keyboard.harpsichord").map(|sound| sound.stand_in), Some(false));
    }

    #[test]
    fn errors_point_into_the_file() {
        let roles = Roles::built_in().expect("built-in roles load");
        let head = "stand_ins = []\nensemble = []\n[[instrument]]\nname = \"flute\"\nfamily = \"wind\"\n";
        for (tail, at, says) in [
            ("role = \"orchestral-winds-part\"\n", (6, 8), "orchestral-wind-part"),
            ("sounds = [\"wind\", \"wind\"]\n", (6, 19), "twice"),
            ("en = [\"-\"]\n", (6, 7), "letters"),
            (
                "fr = [\"flûte\"]\n[[instrument]]\nname = \"horn\"\nfamily = \"brass\"\nen = [\"FLUTE\"]\n",
                (10, 7),
                "means \"flute\" already",
            ),
            ("nl = [\"fluit\"]\n", (6, 1), "nl"),
            ("[[instrument]]\nname = \"flute\"\nfamily = \"wind\"\n", (7, 8), "already"),
        ] {
            let error = Instruments::load(&format!("{head}{tail}"), "house.toml", &roles).expect_err(tail);
            assert_eq!((error.line, error.column), at, "{error}");
            assert!(error.message.contains(says), "{error}");
        }
        let text = "stand_ins = []\n[[instrument]]\nname = \"flute\"\nfamily = \"wind\"\n\
            [[ensemble]]\nrole = \"full-score\"\nsays = \"s\"\ninstruments.flut = { least = 1 }\n";
        let error = Instruments::load(text, "house.toml", &roles).expect_err("unknown instrument");
        assert_eq!((error.line, error.column), (8, 13), "{error}");
        assert!(error.message.contains("did you mean \"flute\"?"), "{error}");
    }

    #[test]
    fn the_packed_file_is_what_its_text_says() {
        let text: RawInstruments = DataFile::of(INSTRUMENTS).parse().expect("sound");
        assert_eq!(INSTRUMENTS.read::<RawInstruments>().map(|packed| format!("{packed:?}")), Ok(format!("{text:?}")));
    }
}
