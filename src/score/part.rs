//! Parts, their groups and their bars.

use super::note::NoteHeight;
use super::{Lyric, Mark, Note, Sign};
use crate::place::Place;
use crate::units::Time;
use std::borrow::Borrow;
use std::fmt;
use std::ops::{Deref, Range};
use std::sync::Arc;

/// One part of the score: a player, a section, or several on shared staves.
#[derive(Debug, Default)]
pub struct Part {
    /// Its `id`.
    pub id: Arc<str>,
    /// Its name, as written in `part-name` or `part-name-display`.
    pub name: Arc<str>,
    /// Its short name.
    pub abbreviation: Arc<str>,
    /// The file of its own copy, as a path from the score's folder (`part-link`).
    pub link: Option<String>,
    /// Its instruments.
    pub instruments: Vec<Instrument>,
    /// Place of `score-part` in the part list, or of the part itself where no list names it.
    pub at: Place,
    /// Number of staves: the most it ever states, at least 1.
    pub staves: u8,
    /// Its bars.
    pub bars: Vec<Bar>,
    /// Its notes and rests, bar by bar, in the order of the file.
    pub notes: Vec<Note>,
    /// How high its notes stand, in their order, as far as any of them states it: most files say nothing of it.
    pub note_heights: Vec<NoteHeight>,
    /// Its syllables, by note.
    pub lyrics: Vec<Lyric>,
    /// Its directions, chord symbols and barline signs, bar by bar, in the order of the file.
    pub marks: Vec<Mark>,
    /// Its clefs, keys, times and the like, bar by bar, in the order of the file.
    pub signs: Vec<Sign>,
    /// Names of its voices; a note holds an index into them.
    pub voices: Vec<Arc<str>>,
}

impl Part {
    fn range(&self, bar: usize, start: impl Fn(&Bar) -> u32, all: usize) -> Range<usize> {
        let Some(this) = self.bars.get(bar) else { return all..all };
        let end = self.bars.get(bar + 1).map_or(all, |next| start(next) as usize);
        start(this) as usize..end
    }

    /// The notes of a bar; empty where the part has no such bar.
    pub fn notes_of(&self, bar: usize) -> &[Note] {
        &self.notes[self.range(bar, |bar| bar.first_note, self.notes.len())]
    }

    /// How high a note stands, by its index.
    pub fn note_height(&self, note: usize) -> NoteHeight {
        self.note_heights.get(note).copied().unwrap_or_default()
    }

    /// The marks of a bar; empty where the part has no such bar.
    pub fn marks_of(&self, bar: usize) -> &[Mark] {
        &self.marks[self.mark_range(bar)]
    }

    /// Which of its marks are those of a bar.
    pub(super) fn mark_range(&self, bar: usize) -> Range<usize> {
        self.range(bar, |bar| bar.first_mark, self.marks.len())
    }

    /// The signs of a bar; empty where the part has no such bar.
    pub fn signs_of(&self, bar: usize) -> &[Sign] {
        &self.signs[self.sign_range(bar)]
    }

    /// Which of its signs are those of a bar.
    pub(super) fn sign_range(&self, bar: usize) -> Range<usize> {
        self.range(bar, |bar| bar.first_sign, self.signs.len())
    }

    /// The syllables of a bar; empty where the part has no such bar.
    pub fn lyrics_of(&self, bar: usize) -> &[Lyric] {
        &self.lyrics[self.range(bar, |bar| bar.first_lyric, self.lyrics.len())]
    }
}

/// An instrument of a part.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Instrument {
    /// Its `id`.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Its sound, a name of the standard's list (`wind.reed.clarinet.bflat`), where stated.
    pub sound: Option<String>,
}

/// One bar of one part.
#[derive(Debug, Clone)]
pub struct Bar {
    /// Its number: a token, neither unique nor always a number.
    pub number: BarNumber,
    /// Place of its start tag.
    pub at: Place,
    /// Index of its first note in the part's notes; they end where the next bar's begin.
    pub first_note: u32,
    /// Index of its first mark.
    pub first_mark: u32,
    /// Index of its first sign.
    pub first_sign: u32,
    /// Index of its first syllable.
    pub first_lyric: u32,
    /// How far its music reaches; `None` where the exact time cannot be known.
    pub length: Option<Time>,
    /// Whether it is not counted (a pick-up, the second half of a split bar).
    pub implicit: bool,
    /// Number of silent bars a multi-bar rest that begins here stands for (`multiple-rest`).
    pub rest_bars: u16,
}

/// Number of a bar as it is written, one text for all who speak of it, in eight bytes: a large score has some ten thousand bars in all its
/// parts.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct BarNumber(Arc<String>);

impl From<String> for BarNumber {
    fn from(number: String) -> Self {
        Self(Arc::new(number))
    }
}

impl From<&str> for BarNumber {
    fn from(number: &str) -> Self {
        Self::from(number.to_owned())
    }
}

impl AsRef<str> for BarNumber {
    fn as_ref(&self) -> &str {
        self
    }
}

impl Deref for BarNumber {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl Borrow<str> for BarNumber {
    fn borrow(&self) -> &str {
        self
    }
}

impl fmt::Display for BarNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self)
    }
}

/// A group of neighbouring parts.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PartGroup {
    /// Index of its first part.
    pub first: usize,
    /// Index of its last part.
    pub last: usize,
    /// Its name, possibly empty.
    pub name: String,
    /// Its sign at the left (`brace`, `bracket`, `line`, `square`), possibly empty.
    pub symbol: String,
    /// Whether bar lines run through it.
    pub joined_barlines: bool,
}
