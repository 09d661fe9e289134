//! Turning: how long a player's hands are free where a page ends.
//!
//! A page is turned in the silence around its last bar line: what rests before it and what rests after it, in seconds at the tempi that the
//! file states. Everything here is reckoned from the music alone, for any bar at which a page might end: what a page ends
//! with today is one case, what a new casting off could end with are all.

mod jump;
mod play;
mod silence;
mod tempo;

pub use jump::{Jump, JumpKind, jumps};
pub use play::{has_rest_beside_small, is_small, plays};
pub use silence::{EASY, Hands, Lane, NEED, Turn, Turning};
pub use tempo::{Tempi, Told, is_tempo};
