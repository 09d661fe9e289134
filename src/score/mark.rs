//! Marks: what stands beside the notes. Directions, chord symbols and the signs at bar lines.

use super::note::Position;
use crate::place::Place;
use crate::units::Time;

/// Begin, go on, end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Span {
    /// It begins.
    Start,
    /// It goes on (after a break or with a change).
    Continue,
    /// It ends.
    Stop,
}

/// One mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// From the beginning of its bar.
    pub onset: Time,
    /// Place of its tag.
    pub at: Place,
    /// Staff of its part, from 1.
    pub staff: u8,
    /// Whether it stands above the staff, where stated.
    pub above: Option<bool>,
    /// From the left of its bar.
    pub x: Position,
    /// From the **staff's** top line, up (unlike notes).
    pub y: Position,
    /// Shift from where it would stand, to the right.
    pub shift_x: Position,
    /// Shift from where it would stand, up.
    pub shift_y: Position,
    /// Size in points, where stated.
    pub points: Option<f32>,
    /// What it is.
    pub kind: MarkKind,
}

/// What a mark is.
#[derive(Debug, Clone, PartialEq)]
pub enum MarkKind {
    /// A rehearsal letter or number.
    Rehearsal(String),
    /// Words.
    Words(String),
    /// A dynamic, by its name (`mf`).
    Dynamic(String),
    /// A hairpin, and whether it fades (where it begins).
    Hairpin(Span, bool),
    /// A dashed line.
    Dashes(Span),
    /// A bracket.
    Bracket(Span),
    /// A pedal sign or line.
    Pedal(Span),
    /// An octave line: how many staff steps its notes sound from where they stand (7, -7, 14, ...); 0 ends it.
    OctaveLine(Span, i8),
    /// The sign to return to.
    Segno,
    /// The sign to leave from.
    Coda,
    /// A metronome mark: beats a minute, as a range where two are given.
    Metronome {
        /// One beat.
        beat: Time,
        /// Slowest beats a minute.
        from: f32,
        /// Fastest beats a minute; as `from` unless a range is given.
        to: f32,
    },
    /// A metronome mark that equates two note values, or one without a number.
    MetronomeRelation,
    /// A tempo for playback, in quarters a minute.
    Tempo(f32),
    /// A jump for playback: `dacapo`, `dalsegno`, `tocoda`, `fine`, `segno`, `coda`.
    Jump(String),
    /// A mute is put on or taken off.
    Mute,
    /// Strings retuned, harp pedals set, and other work for the hands.
    HandWork,
    /// A chord symbol, as shown.
    ChordSymbol(String),
    /// A figured bass.
    FiguredBass,
    /// A picture or sign of another kind.
    Other,
    /// The bar line: its style and where it stands.
    Barline {
        /// Style as written (`light-heavy`); empty where not stated.
        style: String,
        /// `left`, `right` or `middle` of the bar.
        side: Side,
        /// A repeat begins (`Start`) or ends (`Stop`).
        repeat: Option<Span>,
        /// Times a repeated passage is played, where stated.
        times: Option<u8>,
        /// An ending begins or ends, with its number as written.
        ending: Option<(Span, String)>,
        /// A fermata stands over it.
        fermata: bool,
    },
}

/// Where in its bar a bar line stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Side {
    /// At its beginning.
    Left,
    /// Within.
    Middle,
    /// At its end.
    #[default]
    Right,
}
