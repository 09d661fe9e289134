//! Across: how much room notes need, bar by bar, and how much a system gives them.
//!
//! A bar is a row of columns, the moments at which something begins on any printed staff. Springs between them ask for the
//! space that durations want; rods, one lane a staff and a verse, keep signs apart. From both come four widths a bar, which
//! add up over a system. The model is our own; its ancestors are Gourlay 1987 (springs and rods), Blostein & Haken 1991
//! "Justification of printed music" and Hegazy & Gourlay 1988 "Optimal line breaking in music" (from memory); constants
//! were fitted on open scores (spacing study of open scores).

mod bar;
mod cast;
mod change;
pub mod glyph;
mod graph;
mod irregular;
mod line;
mod lyric;
mod object;
mod rod;
mod spring;
mod state;
mod stated;

pub use bar::{Bar, Content, Desk, Music, NO_TIME};
pub use cast::{Cast, Move, Neighbours, Remedy};
pub use graph::{Graph, Rod};
pub use line::{Line, Widths, force, sum};
pub use lyric::{em, ems};
pub use object::{Lanes, Object};
pub use spring::{Event, Spring, natural_space, springs};
pub use state::{State, relative};
pub use stated::{Collision, Evenness, evenness};

use crate::score::{Part, Traits};

/// Whether a part has nothing but silence in a bar.
pub fn is_silent(part: &Part, bar: usize) -> bool {
    !part.notes_of(bar).iter().any(|note| note.sounds() && !note.traits.contains(Traits::HIDDEN))
}
