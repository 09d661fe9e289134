//! How much the music needs, across and down, and how tight or loose it stands.
//!
//! The yardsticks here are the first ones: gaps by rule of thumb down the page, and space by note across. A model
//! of the ink and of musical spacing takes their place behind the same functions.

pub mod across;
pub mod down;
