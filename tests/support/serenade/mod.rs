//! The demo set: a serenade of our own for wind octet, chorus and harmonium, in two scores and two parts.
//!
//! Work, composer, words and house are invented. [`themes`] and [`music`] compose, [`words`] has the chorus's text,
//! [`layouts`] lays out the four files.

pub mod layouts;
pub mod music;
pub mod themes;
pub mod words;

use super::musicxml;
use super::score::Score;
use std::collections::BTreeMap;

/// Folder of the demo set below the root of the repository.
pub const FOLDER: &str = "fixtures/demo";

/// The four scores by file name.
pub fn scores() -> BTreeMap<&'static str, Score> {
    BTreeMap::from([
        ("score-loose.musicxml", layouts::score_loose()),
        ("score.musicxml", layouts::score()),
        ("part-clarinet-1.musicxml", layouts::clarinet_1()),
        ("part-horn-1.musicxml", layouts::horn_1()),
    ])
}

/// The files: path below the root of the repository, bytes.
pub fn files() -> BTreeMap<String, Vec<u8>> {
    scores().iter().map(|(name, score)| (format!("{FOLDER}/{name}"), musicxml::write(score).into_bytes())).collect()
}
