//! What two neighbouring staves need between them, from what hangs in.

use super::skyline::hangs_in;
use super::staff::Ink;
use crate::units::{Sp, Tenths};

/// What a pair is to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// Staves of two parts of a system.
    Parts,
    /// The two staves of a keyboard.
    Keyboard,
    /// Two systems.
    Systems,
}

/// Clear white that ink wants from ink, and the least distance from line to line, in staff spaces (spacing study of open scores).
struct Wants {
    hard: Sp,
    minimum: Sp,
    comfortable: Sp,
    least: Sp,
}

impl Between {
    fn wants(self) -> Wants {
        let (hard, minimum, comfortable, least) = match self {
            Self::Parts => (0.0, 0.5, 1.5, 4.5),
            // Notes from notes; the minimum lies between what is given.
            Self::Keyboard => (1.5, 2.0, 2.5, 5.5),
            Self::Systems => (0.5, 3.0, 4.0, 8.5),
        };
        Wants { hard: Sp(hard), minimum: Sp(minimum), comfortable: Sp(comfortable), least: Sp(least) }
    }
}

/// Clear white below the last line of words, comfortably.
const UNDER_LYRICS: Sp = Sp(1.0);
/// A generous distance against the comfortable one: as a note of twice the duration against one (our own; the study names none).
const GENEROUS: f64 = std::f64::consts::SQRT_2;

/// Two neighbouring staves.
#[derive(Debug, Clone, Copy)]
pub struct Pair<'a> {
    /// What they are to each other.
    pub between: Between,
    /// The upper one's ink.
    pub upper: &'a Ink,
    /// The lower one's ink.
    pub lower: &'a Ink,
    /// Tenths of a staff space of the larger of the two.
    pub space: f64,
}

/// What a pair needs from line to line, in staff spaces of the larger staff.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Need {
    /// The most that hangs in from both sides at one column: everything.
    pub ink: Sp,
    /// The same of heads and of stems whose ends are stated.
    pub notes: Sp,
    /// The lowest note above and the highest below, wherever they stand.
    pub extreme_notes: Sp,
    /// Where ink all but touches.
    pub hard: Sp,
    /// Close, but clear.
    pub minimum: Sp,
    /// Comfortable.
    pub comfortable: Sp,
    /// Generous.
    pub generous: Sp,
}

/// What a pair needs.
pub fn need(pair: &Pair) -> Need {
    let spaces = |tenths: Tenths| Sp(tenths.0 / pair.space);
    let (ink, notes) = (spaces(hangs_in(&pair.upper.all, &pair.lower.all)), spaces(hangs_in(&pair.upper.notes, &pair.lower.notes)));
    let wants = pair.between.wants();
    let (signs, words) = match &pair.upper.unsung {
        // Words want less below them than signs do, but never make what signs want less.
        Some(unsung) => (spaces(hangs_in(unsung, &pair.lower.all)), ink),
        None => (ink, Sp::ZERO),
    };
    // What stands between the staves of a keyboard belongs to both; words under the upper one do not.
    let counts = if pair.between == Between::Keyboard { notes } else { signs };
    let clears = |clear: Sp| (counts + clear).max(if words > Sp::ZERO { words + clear.min(UNDER_LYRICS) } else { Sp::ZERO });
    let distance = |clear: Sp| clears(clear).max(wants.least);
    let comfortable = distance(wants.comfortable);
    Need {
        ink,
        notes,
        extreme_notes: spaces(pair.upper.notes.most_down() + pair.lower.notes.most_up()),
        hard: clears(wants.hard),
        minimum: distance(wants.minimum),
        comfortable,
        generous: comfortable * GENEROUS,
    }
}
