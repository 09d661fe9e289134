//! Which notes keep a player's hands busy.

use crate::score::{Note, Traits};

/// A note that its player plays. What is written small and is no grace note is another player's where the player rests in
/// another voice; without such a rest it may be a cadenza.
pub fn plays(note: &Note, small_are_others: bool) -> bool {
    note.sounds() && !(small_are_others && is_small(note)) && !note.traits.contains(Traits::HIDDEN)
}

/// A note of small size that is no grace note.
pub fn is_small(note: &Note) -> bool {
    note.traits.contains(Traits::SMALL) && !note.traits.contains(Traits::GRACE) && !note.is_rest()
}

/// Small notes in one voice, and a rest in another.
pub fn has_rest_beside_small(notes: &[Note]) -> bool {
    let mut small = notes.iter().filter(|note| is_small(note));
    small.any(|small| notes.iter().any(|rest| rest.is_rest() && rest.voice != small.voice && !rest.traits.contains(Traits::SMALL)))
}
