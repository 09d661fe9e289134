//! What the integration tests share: a small writer of `MusicXML` 4.0 and the generators that use it.
//!
//! A score is built from the plain types of [`score`], cast off onto pages by [`cast`], given its
//! accidentals, stems and beams by [`engrave`] and put into words by [`musicxml`]. Nothing here but [`engine`] and [`bars`] uses the
//! library under test: what the auditor measures must not come from the auditor's own reckoning.

#![allow(dead_code, reason = "each test target uses its own part of this module")]

pub mod any;
pub mod bars;
pub mod cast;
pub mod engine;
pub mod engrave;
pub mod event;
pub mod fixtures;
pub mod in_step;
pub mod musicxml;
pub mod plain;
pub mod score;
pub mod serenade;
pub mod trade;
pub mod xml;
