//! Usual heights of signs, in staff spaces (from memory, where nothing else is said).

use crate::units::Sp;

/// Half the height of a head.
pub const HALF_HEAD: Sp = Sp(0.5);
/// Width of a head with what stands close to it.
pub const HEAD_WIDTH: Sp = Sp(1.3);
/// Length of a stem where the file does not state its end.
pub const STEM: Sp = Sp(3.5);
/// Longest stem that is believed: beyond it the file means something else.
pub const LONGEST_STEM: Sp = Sp(14.0);
/// An articulation at a head.
pub const ARTICULATION: Sp = Sp(1.0);
/// A fermata above what it stands over.
pub const FERMATA: Sp = Sp(2.0);
/// A trill, turn or mordent above what it stands over.
pub const ORNAMENT: Sp = Sp(1.6);
/// A fingering or bowing above what it stands over.
pub const TECHNICAL: Sp = Sp(1.5);
/// A tuplet's number and bracket beyond the end of the stems.
pub const TUPLET: Sp = Sp(1.4);
/// The arch of a tie beyond its head.
pub const TIE: Sp = Sp(0.8);
/// From a head to the end of its slur.
pub const BESIDE_HEAD: Sp = Sp(0.4);
/// The arch of a slur beyond the line between its ends.
pub const SLUR_ARCH: Sp = Sp(1.3);

/// First line of lyrics below the bottom line, the pitch of further verses (spacing study of open scores).
pub const LYRIC_BASELINE: Sp = Sp(3.8);
/// From one verse to the next.
pub const VERSE_PITCH: Sp = Sp(2.2);
/// Fall of letters below the baseline.
pub const LETTER_FALL: Sp = Sp(0.5);
/// Height of small letters above the baseline.
pub const LETTER_RISE: Sp = Sp(1.6);

/// How far a mark reaches above and below the height that its position states, and where it usually stands.
#[derive(Debug, Clone, Copy)]
pub struct Extent {
    /// Above its stated height.
    pub rise: Sp,
    /// Below its stated height.
    pub fall: Sp,
    /// Its stated height from the staff's nearer outer line, away from the staff, where the file says none.
    pub usual: Sp,
    /// It usually stands above the staff.
    pub above: bool,
}

/// A dynamic: its middle some 2.8 below the staff (2.5 to 3.1 by the spacing study of open scores).
pub const DYNAMIC: Extent = Extent { rise: Sp(1.2), fall: Sp(0.7), usual: Sp(3.0), above: false };
/// A dynamic above the staff stands closer: nothing but stems keeps it away.
pub const DYNAMIC_ABOVE: Extent = Extent { usual: Sp(1.8), above: true, ..DYNAMIC };
/// A hairpin.
pub const HAIRPIN: Extent = Extent { rise: Sp(0.7), fall: Sp(0.7), usual: Sp(2.8), above: false };
/// Words and tempo marks.
pub const WORDS: Extent = Extent { rise: Sp(1.6), fall: Sp(0.5), usual: Sp(1.5), above: true };
/// A rehearsal mark in its frame.
pub const REHEARSAL: Extent = Extent { rise: Sp(2.6), fall: Sp(0.6), usual: Sp(2.0), above: true };
/// A chord symbol.
pub const CHORD_SYMBOL: Extent = Extent { rise: Sp(1.9), fall: Sp(0.3), usual: Sp(2.0), above: true };
/// An octave line.
pub const OCTAVE_LINE: Extent = Extent { rise: Sp(1.2), fall: Sp(0.4), usual: Sp(2.2), above: true };
/// A pedal sign.
pub const PEDAL: Extent = Extent { rise: Sp(1.6), fall: Sp(0.3), usual: Sp(4.4), above: false };
/// The signs to jump to and from.
pub const SIGN: Extent = Extent { rise: Sp(3.0), fall: Sp(0.0), usual: Sp(1.2), above: true };
/// Figures of a bass.
pub const FIGURES: Extent = Extent { rise: Sp(1.2), fall: Sp(2.0), usual: Sp(3.0), above: false };
/// The bracket of an ending.
pub const ENDING: Extent = Extent { rise: Sp(2.0), fall: Sp(0.0), usual: Sp(1.8), above: true };
