//! Widths of signs, in staff spaces: typical of open music fonts (black and whole head read in font metadata, the rest
//! from memory). An error of a tenth in all of them moves the natural width of a bar by two hundredths at most.

use crate::score::note::{Accidental, NoteValue};
use crate::units::Sp;

/// Head of a quarter and of everything shorter, and of a half.
pub const HEAD: Sp = Sp(1.18);
/// Head of a whole note.
const WHOLE_HEAD: Sp = Sp(1.69);
/// Head of a breve and of everything longer.
const BREVE_HEAD: Sp = Sp(2.4);
/// How far a flag that points up reaches from the left edge of its head.
pub const FLAG_UP_REACH: Sp = Sp(1.95);
/// A plain bar line.
pub const BAR_LINE: Sp = Sp(0.16);
/// Share of its usual size at which a cue note or its accidental is drawn.
pub const CUE_SHARE: f64 = 0.65;

/// Width of a note's head by its value; an unknown value counts as black.
pub fn head(value: Option<NoteValue>) -> Sp {
    match value {
        Some(NoteValue(1..)) => BREVE_HEAD,
        Some(NoteValue(0)) => WHOLE_HEAD,
        _ => HEAD,
    }
}

/// Width of a rest by its value; one without a value is drawn as a whole rest.
pub fn rest(value: Option<NoteValue>) -> Sp {
    Sp(match value {
        None | Some(NoteValue(-1..)) => 1.13,
        Some(NoteValue(-2)) => 1.08,
        Some(NoteValue(-3)) => 1.00,
        Some(NoteValue(-4)) => 1.28,
        Some(_) => 1.45,
    })
}

/// Width of an accidental; two parentheses add [`PARENTHESES`].
pub fn accidental(sign: Accidental) -> Sp {
    Sp(match sign {
        Accidental::Sharp | Accidental::DoubleSharp | Accidental::Other => 1.00,
        Accidental::Flat => 0.90,
        Accidental::Natural => 0.67,
        Accidental::DoubleFlat => 1.65,
    })
}

/// What the parentheses of an accidental add to its width.
pub const PARENTHESES: Sp = Sp(0.9);

/// Room of dots behind a head: none for none.
pub fn dots(number: u8) -> Sp {
    if number == 0 { Sp::ZERO } else { Sp(0.30 + 0.40 * f64::from(number) + 0.10 * f64::from(number - 1)) }
}

/// Room of accidentals before a head, by the widths of their columns.
pub fn accidental_columns(widths: &[Sp]) -> Sp {
    let between = widths.len().saturating_sub(1);
    if widths.is_empty() { Sp::ZERO } else { Sp(0.20) + widths.iter().copied().sum() + Sp(0.15) * as_f64(between) }
}

/// Room of grace notes before their note.
pub fn graces(number: usize) -> Sp {
    if number == 0 { Sp::ZERO } else { Sp(0.35) + Sp(1.0) * as_f64(number) }
}

/// Room of a clef that changes inside a bar, before the note it stands at.
pub const CLEF_INSIDE: Sp = Sp(0.60 + 1.80);
/// Room of a clef at a bar line inside a system.
pub const CLEF_AT_BAR_LINE: Sp = Sp(2.4);
/// Room of the sign of a broken chord.
pub const ARPEGGIO: Sp = Sp(1.0);
/// Room of a repeat that begins inside a system.
pub const FORWARD_REPEAT: Sp = Sp(1.2);
/// Room of a time signature that changes.
pub const TIME_CHANGE: Sp = Sp(2.8);

/// Room of a key signature that changes: its sharps, or its flats as a negative number.
pub fn key_change(fifths: i8) -> Sp {
    let each = if fifths > 0 { 1.00 } else { 0.90 };
    Sp(f64::from(fifths.unsigned_abs()) * each + 1.0)
}

/// Room of a key signature announced at the end of a system.
pub fn key_announced(fifths: i8) -> Sp {
    Sp(f64::from(fifths.unsigned_abs()) + 1.0)
}

/// Room at the beginning of a system where no note tells it: clef, key and time.
pub fn beginning(most_signs: u8, time: bool) -> Sp {
    let key = if most_signs == 0 { 0.0 } else { 0.85 + 1.05 * f64::from(most_signs) };
    Sp(5.0 + key + if time { 2.2 } else { 0.0 })
}

/// A small number of things, for sums of widths.
fn as_f64(number: usize) -> f64 {
    f64::from(u32::try_from(number).unwrap_or(u32::MAX))
}
