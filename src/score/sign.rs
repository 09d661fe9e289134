//! Signs that hold from where they stand: clefs, keys, times, transpositions, kinds of bar.

use crate::place::Place;
use crate::units::Time;

/// One sign.
#[derive(Debug, Clone, PartialEq)]
pub struct Sign {
    /// From the beginning of its bar.
    pub onset: Time,
    /// Place of its tag.
    pub at: Place,
    /// Staff of its part, from 1; `None`: all its staves.
    pub staff: Option<u8>,
    /// Whether it is shown.
    pub printed: bool,
    /// What it is.
    pub kind: SignKind,
}

/// What a sign is.
#[derive(Debug, Clone, PartialEq)]
pub enum SignKind {
    /// A clef.
    Clef(Clef),
    /// A key: sharps (positive) or flats (negative); signs of an unusual key are counted.
    Key {
        /// Sharps, or flats as a negative number.
        fifths: i8,
        /// Signs of a key that is not of fifths.
        unusual: u8,
        /// Naturals that cancel the key before, where stated.
        cancel: i8,
    },
    /// A time signature.
    Time {
        /// Duration of a full bar, where it can be known; absent without metre.
        bar: Option<Time>,
        /// Numerator as written (`3+2`).
        beats: String,
        /// Denominator as written.
        beat_type: String,
        /// Whether it is shown by a single sign (common, cut).
        symbol: bool,
    },
    /// Number of staves of the part.
    Staves(u8),
    /// From written to sounding pitch.
    Transpose {
        /// Staff steps.
        diatonic: i16,
        /// Semitones, in halves.
        chromatic_halves: i16,
        /// Octaves.
        octaves: i8,
        /// Doubled an octave below (or above).
        double: bool,
    },
    /// Bars shown by a repeat sign begin (`true`) or end.
    BarRepeat(bool),
    /// Beats shown by slashes begin (`true`) or end.
    Slashes(bool),
}

/// A clef.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Clef {
    /// Its shape.
    pub shape: ClefShape,
    /// Line it stands on, from the bottom.
    pub line: i8,
    /// Octaves it shifts.
    pub octaves: i8,
}

/// Shape of a clef.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClefShape {
    /// G clef.
    G,
    /// F clef.
    F,
    /// C clef.
    C,
    /// Percussion clef: read like G for the height of notes.
    Percussion,
    /// Tablature.
    Tablature,
    /// Jianpu (numbers).
    Numbers,
    /// None.
    None,
}

impl Default for Clef {
    /// The G clef on the second line, which the standard takes where none is stated.
    fn default() -> Self {
        Self { shape: ClefShape::G, line: 2, octaves: 0 }
    }
}

impl Clef {
    /// Staff steps (see [`super::note::Pitch::diatonic`]) of the bottom line, where heights follow pitch.
    pub fn bottom_line(self) -> Option<i32> {
        let (pitch_on_line, line) = match self.shape {
            ClefShape::G => (4 * 7 + 4, i32::from(self.line)),
            ClefShape::F => (3 * 7 + 3, i32::from(self.line)),
            ClefShape::C => (4 * 7, i32::from(self.line)),
            ClefShape::Percussion => (4 * 7 + 4, 2),
            ClefShape::Tablature | ClefShape::Numbers | ClefShape::None => return None,
        };
        Some(pitch_on_line + i32::from(self.octaves) * 7 - 2 * (line - 1))
    }
}
