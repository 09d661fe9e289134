//! What of a document is held against the others.

use super::look::Look;
use super::mark::{self, MarkHere};
use crate::house::{CopyMapping, Family, House, Kind, Role, TurnedBy};
use crate::measured::{Measured, Whose};
use crate::place::Place;
use crate::score::note::Pitch;
use crate::score::{BarNumber, ByBar, Note, Part, Score, SignKind, Tone, Traits};
use crate::units::Time;
use percent_encoding::percent_decode_str;
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

/// A document as it is held against others.
#[derive(Debug)]
pub struct Copy {
    /// Its path as it was named.
    pub path: String,
    /// Its path from the folder of the house style.
    pub below: String,
    /// Whom it is for, as far as that is known.
    pub reader: CopyReader,
    /// What the house says of it.
    pub mapping: Option<CopyMapping>,
    /// The movement that the house says it is, counted from 0.
    pub movement: Option<usize>,
    /// Its parts.
    pub parts: Vec<PartMusic>,
    /// Its bars by their place in the music: a multi-bar rest counts as the bars it holds.
    pub bars: Vec<BarHere>,
    /// Its marks, in the order of the music.
    pub marks: Vec<MarkHere>,
    /// Paper, margins, staves, titles, page numbers.
    pub look: Look,
}

/// What of a reader matters here.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CopyReader {
    /// Name of the role.
    pub role: Option<String>,
    /// It is a score.
    pub score: bool,
    /// Nobody plays or sings from it: it is for the conductor, or for study.
    pub only_read: bool,
}

impl CopyReader {
    /// The reader of a role; of none where nobody can tell.
    pub fn of(role: Option<&Role>) -> Self {
        role.map_or_else(Self::default, |role| Self {
            role: Some(role.name.clone()),
            score: role.kind == Kind::Score,
            only_read: role.kind == Kind::Score
                && (role.turns.value == TurnedBy::Conductor || role.turns.value == TurnedBy::Nobody && !role.conducted),
        })
    }
}

/// A bar of a copy.
#[derive(Debug, Clone)]
pub struct BarHere {
    /// Its number as written.
    pub number: BarNumber,
    /// Its count in the file, from 1.
    pub index: u32,
    /// Whether it bears no number of its own.
    pub implicit: bool,
    /// Movement, from 1.
    pub movement: u32,
    /// Page, from 1, and its printed number.
    pub page: Option<(u32, Arc<str>)>,
    /// System on its page.
    pub system: Option<u32>,
    /// Place of its start tag.
    pub at: Option<Place>,
}

/// What sounds in a part.
#[derive(Debug)]
pub struct PartMusic {
    /// Its name.
    pub name: Arc<str>,
    /// Its id.
    pub id: Arc<str>,
    /// Its place in the part list.
    pub at: Place,
    /// Whether it says how it sounds from how it is written.
    pub transposed: bool,
    /// A key its name says it is in: "B flat".
    pub named_in: Option<&'static str>,
    /// The file of its own copy, as a path from the folder of the house style, where the score names one.
    pub link: Option<String>,
    /// It may be read from the score itself: a keyboard player's.
    pub keyboard: bool,
    /// Heads that begin to sound, bar by bar, each bar in order: moment and pitch in one number.
    pub(super) heads: Vec<u64>,
    /// Where the heads of each bar begin, one more than bars.
    pub(super) starts: Vec<u32>,
    /// Heads that are held over from a note before, in the same way: bar, and moment and pitch.
    pub(super) held: Vec<(u32, u64)>,
    /// Changes of key: bar, and sharps of the sounding key modulo 12.
    pub(super) keys: Vec<(usize, i32)>,
    /// It is written with key signatures; horns and drums by custom are not.
    pub(super) keyed: bool,
}

impl PartMusic {
    /// The heads of a bar.
    pub(super) fn bar(&self, bar: usize) -> &[u64] {
        match (self.starts.get(bar), self.starts.get(bar + 1)) {
            (Some(start), Some(end)) => &self.heads[*start as usize..*end as usize],
            _ => &[],
        }
    }

    /// The heads of a bar that are held over. Where one copy ties and another strikes again, the notes are the same.
    pub(super) fn held_in(&self, bar: usize) -> impl Iterator<Item = u64> {
        let bar = u32::try_from(bar).unwrap_or(u32::MAX);
        let first = self.held.partition_point(|(at, _)| *at < bar);
        self.held[first..].iter().take_while(move |(at, _)| *at == bar).map(|(_, head)| *head)
    }

    /// Whether it is silent from beginning to end.
    pub fn tacet(&self) -> bool {
        self.heads.is_empty()
    }
}

/// The way through a score, which hangs on its music alone.
#[derive(Debug)]
pub struct Course {
    /// Its bars by their place in the music.
    places: Vec<usize>,
    /// Its marks, in the order of the music.
    marks: Vec<MarkHere>,
}

impl Course {
    /// The way through a score.
    pub fn of(score: &Score) -> Self {
        let places = places(score);
        Self { marks: mark::all(score, &places), places }
    }
}

/// What a copy is taken from, beside its score.
#[derive(Debug)]
pub struct TakenFrom<'a> {
    /// Its path as it was named.
    pub path: &'a str,
    /// Its path from the folder of the house style.
    pub below: &'a str,
    /// Whom it is for.
    pub reader: CopyReader,
    /// The way through it.
    pub course: Course,
    /// What was measured.
    pub measured: &'a Measured,
}

impl Copy {
    /// Takes out of a score what is held against others. Where nothing else is asked of the score it is spent: the notes of a part are
    /// given back as soon as what sounds in it is known.
    pub fn of(score: &mut Score, spent: bool, from: TakenFrom, house: &House) -> Self {
        let TakenFrom { path, below, reader, course: Course { places, marks }, measured } = from;
        let not_own = not_own(measured);
        let families = house.instruments.families(&crate::measured::hints(score));
        let bars = places.iter().enumerate().map(|(place, bar)| {
            let here = measured.bars.get(*bar);
            let inside = place > 0 && places.get(place - 1) == Some(bar);
            BarHere {
                number: score.bar_number(*bar),
                index: u32::try_from(bar + 1).unwrap_or(u32::MAX),
                // Within a multi-bar rest that is written as one bar.
                implicit: inside || score.parts.iter().find_map(|part| part.bars.get(*bar)).is_some_and(|bar| bar.implicit),
                movement: here.map_or(1, |bar| bar.movement),
                page: here.and_then(|bar| bar.page.clone()),
                system: here.and_then(|bar| bar.system),
                at: score.bar_place(*bar),
            }
        });
        let bars = bars.collect();
        if spent {
            score.by_bar = ByBar::default();
        }
        let parts = score.parts.par_iter_mut().enumerate();
        let parts = parts.map(|(index, part)| {
            let own = |note: &Note| !not_own.contains(&(index, note.staff));
            let name = measured.parts.get(index).map(|(_, name)| name.clone());
            let music = part_music(part, name, &places, own, families.get(index).copied().flatten());
            if spent {
                (part.bars, part.notes, part.note_heights) = Default::default();
            }
            PartMusic { link: part.link.as_deref().map(|link| beside(below, link)), ..music }
        });
        Self {
            path: path.to_owned(),
            below: below.to_owned(),
            reader,
            mapping: house.copy_of(below).cloned(),
            movement: house.movement_of(below),
            parts: parts.collect(),
            bars,
            marks,
            look: Look::of(score, measured),
        }
    }

    /// Heads that sound in it.
    pub(super) fn heads(&self) -> usize {
        self.parts.iter().map(|part| part.heads.len()).sum()
    }
}

/// A path that a file names, from where that file's own path begins.
fn beside(file: &str, link: &str) -> String {
    let link = percent_decode_str(link).decode_utf8_lossy();
    let folder = file.rsplit_once('/').map_or("", |(folder, _)| folder);
    let mut path: Vec<&str> = folder.split('/').filter(|name| !name.is_empty()).collect();
    for name in link.split('/') {
        match name {
            "" | "." => {}
            ".." => drop(path.pop()),
            name => path.push(name),
        }
    }
    path.join("/")
}

/// The bars of a score by their place in the music. A multi-bar rest whose bars are not written out holds them all the
/// same: the next bar's number tells.
fn places(score: &Score) -> Vec<usize> {
    let number = |bar: usize| score.bar_number(bar).trim().parse::<u32>().ok();
    let mut places = Vec::with_capacity(score.bar_count());
    for bar in 0..score.bar_count() {
        let gathered = score.multi_rest(bar).and_then(|bars| u32::try_from(bars).ok()).unwrap_or(1);
        let jumps = gathered > 1 && number(bar).zip(number(bar + 1)).is_some_and(|(here, next)| here.checked_add(gathered) == Some(next));
        places.extend(std::iter::repeat_n(bar, if jumps { gathered as usize } else { 1 }));
    }
    places
}

/// Staves whose music is not the reader's: cues, other players, other versions.
fn not_own(measured: &Measured) -> BTreeSet<(usize, u8)> {
    let staves = measured.systems().flat_map(|system| &system.staves);
    staves.filter(|staff| staff.whose != Whose::Own).map(|staff| (staff.of.index as usize, staff.staff)).collect()
}

fn part_music(part: &Part, name: Option<Arc<str>>, places: &[usize], own: impl Fn(&Note) -> bool, family: Option<Family>) -> PartMusic {
    let name = name.unwrap_or_else(|| part.name.clone());
    let mut moved: Vec<(Option<u8>, i32)> = Vec::new();
    let mut music = PartMusic {
        id: part.id.clone(),
        at: part.at,
        transposed: false,
        named_in: key_in_name(&name),
        link: None,
        keyboard: family == Some(Family::Keyboard),
        name,
        heads: Vec::new(),
        starts: Vec::with_capacity(places.len() + 1),
        held: Vec::new(),
        keys: Vec::new(),
        keyed: false,
    };
    let mut before = None;
    for (place, bar) in places.iter().enumerate() {
        music.starts.push(u32::try_from(music.heads.len()).unwrap_or(u32::MAX));
        if before == Some(*bar) {
            continue;
        }
        before = Some(*bar);
        let mut key = None;
        for sign in part.signs_of(*bar) {
            match sign.kind {
                SignKind::Transpose { chromatic_halves, octaves, .. } => {
                    moved.retain(|(staff, _)| sign.staff.is_some() && *staff != sign.staff);
                    moved.push((sign.staff, i32::from(chromatic_halves) + i32::from(octaves) * OCTAVE_HALVES));
                    music.transposed = true;
                }
                SignKind::Key { fifths, unusual: 0, .. } if sign.onset == Time::ZERO => key = key.or(Some(i32::from(fifths))),
                _ => {}
            }
        }
        let shift = |staff: u8| moved.iter().rev().find(|(of, _)| of.is_none_or(|of| of == staff)).map_or(0, |(_, halves)| *halves);
        if let Some(fifths) = key {
            // A key moved by so many semitones moves by seven times as many fifths; twelve fifths are the same key.
            music.keys.push((place, (fifths + 7 * (shift(1) / 2)).rem_euclid(12)));
            music.keyed |= fifths != 0;
        }
        let first = music.heads.len();
        for note in part.notes_of(*bar).iter().filter(|note| own(note)) {
            match head(note, shift(note.staff)) {
                Some(head) if note.traits.contains(Traits::TIE_STOP) => music.held.push((u32::try_from(place).unwrap_or(u32::MAX), head)),
                Some(head) => music.heads.push(head),
                None => {}
            }
        }
        music.heads[first..].sort_unstable();
    }
    music.starts.push(u32::try_from(music.heads.len()).unwrap_or(u32::MAX));
    music.heads.shrink_to_fit();
    music
}

const OCTAVE_HALVES: i32 = 24;
/// Half semitones from C to each step.
const STEPS: [i32; 7] = [0, 4, 8, 10, 14, 18, 22];
/// What has no pitch lies above all pitches.
const UNPITCHED: i32 = 20_000;
/// So that no pitch is negative.
const BASE: i32 = 4_096;

fn halves(pitch: Pitch) -> i32 {
    i32::from(pitch.octave) * OCTAVE_HALVES + STEPS[usize::from(pitch.step) % 7] + i32::from(pitch.alter_halves)
}

/// Moment and sounding pitch of a head; nothing of rests, cues and graces.
fn head(note: &Note, shift: i32) -> Option<u64> {
    if !note.sounds() || note.traits.intersects(Traits::GRACE | Traits::HIDDEN) {
        return None;
    }
    let pitch = match note.tone {
        Tone::Pitch(pitch) => halves(pitch) + shift + BASE,
        Tone::Unpitched(shown) => UNPITCHED + shown.map_or(0, Pitch::diatonic),
        Tone::Rest(_) => return None,
    };
    let bits = |number: i32, most: u32| u64::from(number.unsigned_abs() & most);
    Some(bits(note.onset.numer(), 0xFF_FFFF) << 40 | bits(note.onset.denom(), 0xFF_FFFF) << 16 | bits(pitch, 0xFFFF))
}

/// The same head so many semitones higher; what has no pitch stays.
pub(super) fn moved(head: u64, semitones: i32) -> u64 {
    let pitch = i64::try_from(head & 0xFFFF).unwrap_or_default();
    if pitch >= i64::from(UNPITCHED) {
        return head;
    }
    (head & !0xFFFF) | u64::try_from(pitch + 2 * i64::from(semitones)).unwrap_or_default() & 0xFFFF
}

/// Keys that instruments are named after, as names write them (English, German, Italian, French; common practice, no
/// source). Concert instruments are not called "in C".
const KEYS: [(&str, &[&str]); 5] = [
    (
        "B flat",
        &[
            "bb",
            "b\u{266d}",
            "b flat",
            "b-flat",
            "in bb",
            "in b\u{266d}",
            "in b",
            "in sib",
            "in si\u{266d}",
            "en si\u{266d}",
            "en si b\u{e9}mol",
        ],
    ),
    ("A", &["in a", "in la", "en la"]),
    ("F", &["in f", "in fa", "en fa"]),
    (
        "E flat",
        &[
            "eb",
            "e\u{266d}",
            "e flat",
            "e-flat",
            "in eb",
            "in e\u{266d}",
            "in es",
            "in mib",
            "in mi\u{266d}",
            "en mi\u{266d}",
            "en mi b\u{e9}mol",
        ],
    ),
    ("D", &["in d", "in re", "en r\u{e9}"]),
];

/// The key that the name of a part says it is in.
fn key_in_name(name: &str) -> Option<&'static str> {
    let name: String = name.to_lowercase().replace(['(', ')', ','], " ");
    let words: Vec<&str> = name.split_whitespace().collect();
    let name = format!(" {} ", words.join(" "));
    let holds = |written: &str| {
        let whole_words = |(at, _)| name[..at].ends_with(' ') && name[at + written.len()..].starts_with(' ');
        name.match_indices(written).any(whole_words)
    };
    let found = KEYS.iter().find(|(_, written)| written.iter().copied().any(holds));
    found.map(|(key, _)| *key)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_in_names() {
        for (name, key) in [
            ("Clarinet in B flat 1", Some("B flat")),
            ("Horn in F", Some("F")),
            ("Klarinette in A", Some("A")),
            ("Cor (en fa)", Some("F")),
            ("Clarinet in B\u{266d}", Some("B flat")),
            ("Bb Clarinet 1", Some("B flat")),
            ("Flute", None),
            ("Voice in anger", None),
            ("Trumpet in C", None),
        ] {
            assert_eq!(key_in_name(name), key, "{name}");
        }
    }
}
