//! A delivery: scores and parts of one piece seen together.
//!
//! What is needed of each document to hold it against the others is taken out of it while it is read ([`Copy`]), so that a
//! set of a hundred parts never stands in memory as a whole. Copies are matched with a score by what sounds, at what moment
//! of which bar, through transposition, other players' cues left out; many to many: a book of two instruments, two players
//! on one staff.

mod align;
mod alone;
mod copy;
mod look;
mod mark;
mod marks;
mod matching;
mod music;
mod set;

pub use copy::{BarHere, Copy, CopyReader, Course, PartMusic, TakenFrom};
pub use look::{Look, Odd, Other};
pub use mark::{Kind, MarkHere};
pub use marks::{MarkFact, Status};
pub use music::{MusicFact, Side, What};
pub use set::{CopyFact, Delivery, Partner, PlayerFact, deliveries};
