//! Notes, rests and syllables, kept small: a large score has half a million.

use crate::place::Place;
use crate::units::{Tenths, Time};
use std::ops::Deref;
use std::sync::Arc;

/// A position in tenths that a file may leave out, in four bytes. Files round to a hundredth of a tenth at best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position(f32);

impl Default for Position {
    fn default() -> Self {
        Self(f32::NAN)
    }
}

impl Position {
    /// A stated position; one that is not finite counts as not stated.
    #[expect(clippy::cast_possible_truncation, reason = "single precision holds a ten-thousandth of a tenth on any page")]
    pub fn new(stated: f64) -> Self {
        let position = stated as f32;
        Self(if position.is_finite() { position } else { f32::NAN })
    }

    /// The position, if one is stated.
    pub fn get(self) -> Option<Tenths> {
        (!self.0.is_nan()).then(|| Tenths(f64::from(self.0)))
    }
}

/// What a note sounds, or where a rest stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// A written pitch (before transposition).
    Pitch(Pitch),
    /// No definite pitch; where it is shown, if stated.
    Unpitched(Option<Pitch>),
    /// Silence; where it is shown, if stated.
    Rest(Option<Pitch>),
}

/// A written pitch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pitch {
    /// 0 to 6 for C to B.
    pub step: u8,
    /// Alteration in half semitones (a sharp is 2): quarter tones occur.
    pub alter_halves: i8,
    /// Octave, 4 above middle C.
    pub octave: i8,
}

impl Pitch {
    /// Staff steps above the C of octave 0.
    pub fn diatonic(self) -> i32 {
        i32::from(self.octave) * 7 + i32::from(self.step)
    }
}

/// The written value of a note, as a power of two of the whole note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct NoteValue(pub i8);

impl NoteValue {
    /// From `type`: `whole` is 0, `half` -1, `breve` 1.
    pub fn from_name(name: &str) -> Option<Self> {
        Some(Self(match name {
            "maxima" => 3,
            "long" => 2,
            "breve" => 1,
            "whole" => 0,
            "half" => -1,
            "quarter" => -2,
            "eighth" => -3,
            "16th" => -4,
            "32nd" => -5,
            "64th" => -6,
            "128th" => -7,
            "256th" => -8,
            "512th" => -9,
            "1024th" => -10,
            _ => return None,
        }))
    }

    /// Its duration without dots.
    pub fn time(self) -> Option<Time> {
        let power = 1_i64 << self.0.unsigned_abs().min(30);
        if self.0 >= 0 { Time::new(power, 1) } else { Time::new(1, power) }
    }
}

/// A written accidental, as far as its width differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Accidental {
    /// Sharp.
    Sharp,
    /// Flat.
    Flat,
    /// Natural.
    Natural,
    /// Double sharp.
    DoubleSharp,
    /// Double flat.
    DoubleFlat,
    /// Any other sign (quarter tones and the like).
    Other,
}

/// Direction of a stem.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Stem {
    /// The file does not say.
    #[default]
    Unstated,
    /// Up.
    Up,
    /// Down.
    Down,
    /// Both ways.
    Double,
    /// The file says that there is none.
    None,
}

bitflags::bitflags! {
    /// What else is true of a note.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    pub struct Traits: u32 {
        /// Sounds with the note before it.
        const CHORD = 1;
        /// A grace note.
        const GRACE = 1 << 1;
        /// A cue note: another player's, silent here.
        const CUE = 1 << 2;
        /// Not shown (`print-object="no"`).
        const HIDDEN = 1 << 3;
        /// A rest said to fill its bar (`measure="yes"`).
        const WHOLE_BAR_REST = 1 << 4;
        /// A tie begins.
        const TIE_START = 1 << 5;
        /// A tie ends.
        const TIE_STOP = 1 << 6;
        /// A slur begins.
        const SLUR_START = 1 << 7;
        /// A slur ends.
        const SLUR_STOP = 1 << 8;
        /// A tuplet begins.
        const TUPLET_START = 1 << 9;
        /// A tuplet ends.
        const TUPLET_STOP = 1 << 10;
        /// A fermata stands over it.
        const FERMATA = 1 << 11;
        /// Its chord is broken.
        const ARPEGGIO = 1 << 12;
        /// A slide or glissando begins or ends.
        const GLIDE = 1 << 13;
        /// A trill, turn, mordent or the like.
        const ORNAMENT = 1 << 14;
        /// An articulation (staccato, accent, tenuto, ...).
        const ARTICULATION = 1 << 15;
        /// A fingering, bowing or other technical sign.
        const TECHNICAL = 1 << 16;
        /// A dynamic among its notations.
        const DYNAMIC = 1 << 17;
        /// Its accidental stands in parentheses or brackets.
        const ACCIDENTAL_ENCLOSED = 1 << 18;
        /// Written small (`type size="cue"` or `"grace-cue"`).
        const SMALL = 1 << 19;
        /// Its beam goes on from the note before (at the first level).
        const BEAM_CONTINUES = 1 << 20;
        /// Its beam goes on to the next note (at the first level).
        const BEAM_GOES_ON = 1 << 21;
        /// A breath mark or caesura.
        const BREATH = 1 << 22;
        /// Its stem is crossed: an acciaccatura.
        const SLASHED = 1 << 23;
        /// Has at least one syllable.
        const SUNG = 1 << 24;
        /// Belongs to a tremolo between two notes.
        const DOUBLE_TREMOLO = 1 << 25;
        /// Its dots are not shown, or it is not shown but leaves room (`print-spacing`).
        const ROOM_KEPT = 1 << 26;
    }
}

/// One note head or rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Note {
    /// Bytes before its start tag.
    pub offset: u32,
    /// From the left of its bar.
    pub x: Position,
    /// What it is; notes that are alike share it.
    pub body: Arc<NoteBody>,
}

/// What a note is, wherever it stands: a score repeats few of them again and again.
#[derive(Debug, Clone, PartialEq)]
pub struct NoteBody {
    /// From the beginning of its bar.
    pub onset: Time,
    /// Time it takes; zero for grace notes.
    pub duration: Time,
    /// What it sounds.
    pub tone: Tone,
    /// Written value, where stated.
    pub value: Option<NoteValue>,
    /// Augmentation dots.
    pub dots: u8,
    /// Tuplet ratio, as actual and normal notes; 1 and 1 outside tuplets.
    pub tuplet: (u8, u8),
    /// Accidental, where shown.
    pub accidental: Option<Accidental>,
    /// Direction of its stem.
    pub stem: Stem,
    /// Number of beams it bears.
    pub beams: u8,
    /// Tremolo strokes through its stem, or between two notes.
    pub tremolo: u8,
    /// Staff of its part, from 1.
    pub staff: u8,
    /// Index of its voice in the part's voices.
    pub voice: u8,
    /// What else is true of it.
    pub traits: Traits,
}

impl Deref for Note {
    type Target = NoteBody;

    fn deref(&self) -> &NoteBody {
        &self.body
    }
}

/// How high a note stands, as far as its file says.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct NoteHeight {
    /// From the **system's** top line, up (as real files have it).
    pub y: Position,
    /// End of its stem, from the system's top line, up.
    pub stem_end: Position,
}

impl NoteBody {
    /// Whether it is silence.
    pub fn is_rest(&self) -> bool {
        matches!(self.tone, Tone::Rest(_))
    }

    /// Whether it sounds here: no rest and not another player's.
    pub fn sounds(&self) -> bool {
        !self.is_rest() && !self.traits.contains(Traits::CUE)
    }
}

impl Note {
    /// Place of its start tag's beginning.
    pub fn place(&self) -> Place {
        Place { offset: self.offset, length: 5 }
    }
}

/// How a syllable goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Syllabic {
    /// A whole word.
    #[default]
    Single,
    /// The first of a word.
    Begin,
    /// Inside a word.
    Middle,
    /// The last of a word.
    End,
}

/// A syllable under (or over) a note.
#[derive(Debug, Clone, PartialEq)]
pub struct Lyric {
    /// Index of its note in the part's notes.
    pub note: u32,
    /// Verse as written: usually a number.
    pub verse: String,
    /// Its text, elided syllables joined.
    pub text: String,
    /// How it goes on.
    pub syllabic: Syllabic,
    /// Whether a line shows that it is held.
    pub extends: bool,
    /// Stated height, from the staff's top line, up.
    pub y: Position,
    /// Size in points, where stated.
    pub points: Option<f32>,
    /// Whether it stands above the staff.
    pub above: bool,
    /// Place of its tag.
    pub at: Place,
}
