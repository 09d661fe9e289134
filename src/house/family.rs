//! Families of instruments, as a score groups them.

use serde::{Deserialize, Serialize};

/// A family of instruments, in the order of an orchestral score.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Family {
    /// Woodwind: flutes, reeds, pipes.
    Wind,
    /// Brass.
    Brass,
    /// Percussion with and without pitch.
    Percussion,
    /// Plucked strings: harps, guitars, lutes.
    Plucked,
    /// Keyboards.
    Keyboard,
    /// Electronic sounds without an instrument behind them.
    Electronic,
    /// Voices.
    Voice,
    /// Bowed strings.
    Strings,
}

impl Family {
    /// Its name in data and conditions.
    pub fn name(self) -> &'static str {
        match self {
            Self::Wind => "wind",
            Self::Brass => "brass",
            Self::Percussion => "percussion",
            Self::Plucked => "plucked",
            Self::Keyboard => "keyboard",
            Self::Electronic => "electronic",
            Self::Voice => "voice",
            Self::Strings => "strings",
        }
    }
}
