//! stavegauge: a layout auditor for engraved music.
//!
//! One pipeline in one direction: read, lay out, measure, judge, report. Each module is a room of that
//! house; a room may use any room above it in this list, never one below (`tests/house.rs` holds that).

#![forbid(unsafe_code)]

pub mod units;

pub mod place;

pub mod packed;

pub mod score;

pub mod musicxml;

pub mod page;

pub mod room;

pub mod turn;

pub mod cast;

pub mod house;

pub mod measured;

pub mod picture;

pub mod delivery;

pub mod rule;

pub mod repair;

pub mod audit;

pub mod round;

pub mod report;

pub mod command;
