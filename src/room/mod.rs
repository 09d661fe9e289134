//! How much the music needs, across and down, and how tight or loose it stands.

pub mod across;
pub mod down;
