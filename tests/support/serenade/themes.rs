//! What the music is made of: motifs, chords, degrees of loudness.

use crate::support::score::Value;

/// Bars of a phrase.
pub const PHRASE: usize = 4;
/// Phrases of one section.
pub const SECTION: usize = 12;
/// Bars of the piece.
pub const BARS: usize = PHRASE * SECTION * 2;

/// One note of a motif: value, dotted, part of a triplet, scale step from the chord's root (none: rest).
pub type Step = (Value, bool, bool, Option<i32>);

/// A note.
pub const fn n(value: Value, step: i32) -> Step {
    (value, false, false, Some(step))
}
/// A dotted note.
pub const fn dot(value: Value, step: i32) -> Step {
    (value, true, false, Some(step))
}
/// A note of a triplet of eighths.
pub const fn tri(step: i32) -> Step {
    (Value::Eighth, false, true, Some(step))
}
/// A rest.
pub const fn r(value: Value) -> Step {
    (value, false, false, None)
}

pub use Value::{Eighth as E, Half as H, Quarter as Q, Sixteenth as S, Whole as W};

/// Motifs in common time; each divides at the half bar.
pub const SLOW: [&[Step]; 6] = [
    &[dot(Q, 0), n(E, 1), n(E, 2), n(E, 3), n(E, 2), n(E, 1)],
    &[n(E, 4), n(E, 3), n(E, 2), n(E, 1), n(E, 0), n(E, 1), n(Q, 0)],
    &[n(Q, 2), n(E, 3), n(E, 2), n(Q, 1), n(Q, 0)],
    &[dot(E, 0), n(S, 1), n(E, 2), n(E, 3), n(Q, 4), n(E, 3), n(E, 2)],
    &[n(E, 0), n(Q, 2), n(E, 4), n(E, 3), n(E, 2), n(Q, 1)],
    &[tri(0), tri(1), tri(2), n(Q, 4), n(E, 3), n(E, 2), n(Q, 1)],
];
/// Motifs in triple time.
pub const QUICK: [&[Step]; 5] = [
    &[n(E, 0), n(E, 1), n(E, 2), n(E, 4), n(E, 2), n(E, 1)],
    &[n(Q, 2), n(E, 3), n(E, 2), n(Q, 0)],
    &[dot(Q, 4), n(E, 3), n(E, 2), n(E, 1)],
    &[dot(E, 0), n(S, 1), n(E, 2), n(E, 3), n(Q, 4)],
    &[n(Q, 0), n(E, 2), n(E, 1), n(Q, 4)],
];

/// A chord: step of its root in the scale, and the step that is raised (a dominant of another step).
pub type Chord = (i32, Option<i32>);
/// Chords of a phrase.
pub type Progression = [Chord; PHRASE];
const OPENS: Progression = [(0, None), (5, None), (3, None), (4, None)];
const WALKS: Progression = [(0, None), (2, None), (3, None), (0, None)];
const LIFTS: Progression = [(1, None), (1, Some(3)), (4, None), (4, None)];
const CLOSES: Progression = [(3, None), (1, None), (4, None), (0, None)];
const DARKENS: Progression = [(5, None), (2, None), (3, None), (1, None)];
const TURNS: Progression = [(2, Some(4)), (5, None), (1, None), (4, None)];
/// Chords of the whole piece.
pub const HARMONY: [Progression; SECTION * 2] = [
    OPENS, WALKS, LIFTS, CLOSES, DARKENS, TURNS, OPENS, CLOSES, WALKS, LIFTS, DARKENS, CLOSES, //
    OPENS, CLOSES, WALKS, LIFTS, DARKENS, TURNS, WALKS, CLOSES, OPENS, LIFTS, TURNS, CLOSES,
];
/// How loud each phrase is.
pub const LOUDNESS: [&str; SECTION * 2] = [
    "p", "p", "mp", "mf", "p", "mp", "p", "mf", "mp", "p", "mf", "f", //
    "f", "mf", "p", "mp", "mf", "f", "p", "mp", "mf", "p", "mf", "f",
];
