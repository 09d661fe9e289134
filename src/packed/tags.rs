//! What a packed value begins with, for the build script that writes it and the program that reads it.

/// A string that is a piece of the text.
pub(super) const TEXT: u8 = 0;
/// A string of its own.
pub(super) const ESCAPED: u8 = 1;
/// A whole number.
pub(super) const INTEGER: u8 = 2;
/// A number with a fraction.
pub(super) const FLOAT: u8 = 3;
/// `false`.
pub(super) const FALSE: u8 = 4;
/// `true`.
pub(super) const TRUE: u8 = 5;
/// A list.
pub(super) const ARRAY: u8 = 6;
/// Keys and their values.
pub(super) const TABLE: u8 = 7;

/// The most lists and tables within one another: whatever the bytes say, reading them takes so much stack and no more.
pub(super) const MOST_NESTED: u8 = 64;
