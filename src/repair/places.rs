//! Stated places of notes and signs belong to the layout they were made in: they go before a score is laid out anew.

use crate::score::note::Position;
use crate::score::{MarkKind, Score};
use crate::units::{STAFF_TENTHS, Tenths};

/// The side of its staff on which a height from the top line stands: above, below; `None` inside the staff.
pub(super) fn side_of(height: Tenths) -> Option<bool> {
    if height > Tenths::ZERO {
        Some(true)
    } else if height < Tenths(-STAFF_TENTHS) {
        Some(false)
    } else {
        None
    }
}

/// Forgets the places that a score states of its notes and signs. On which side of its staff a sign stands is kept. The text is written
/// anew by the same law ([`super::rewrite`]).
pub(super) fn forget(score: &mut Score) {
    for part in &mut score.parts {
        for note in &mut part.notes {
            note.x = Position::default();
        }
        part.note_heights = Vec::new();
        for mark in &mut part.marks {
            mark.x = Position::default();
            // What hangs on bar lines, and figures, keep their heights: their tags say no side.
            if matches!(mark.kind, MarkKind::Barline { .. } | MarkKind::FiguredBass) {
                continue;
            }
            mark.above = mark.above.or_else(|| side_of(mark.y.get()?));
            if mark.above.is_some() {
                mark.y = Position::default();
            }
        }
    }
}
