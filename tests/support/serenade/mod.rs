//! The demo set: a serenade of our own for wind octet, chorus and harmonium, in scores and parts, good and faulty.
//!
//! Work, composer, words and house are invented. [`themes`] and [`music`] compose, [`words`] has the chorus's text,
//! [`staves`] writes the music on staves, [`copy`] is what all copies have in common, [`scores`] and [`parts`] lay
//! the files out. What is wrong with which file is told in the folder's read-me.

pub mod copy;
pub mod music;
pub mod parts;
pub mod scores;
pub mod staves;
pub mod themes;
pub mod words;

use super::musicxml;
use super::score::Score;
use std::collections::BTreeMap;

/// Folder of the demo set below the root of the repository.
pub const FOLDER: &str = "fixtures/demo";

/// The copies by file name.
pub fn scores() -> BTreeMap<&'static str, Score> {
    BTreeMap::from([
        ("score-loose.musicxml", scores::score_loose()),
        ("score.musicxml", scores::score()),
        ("vocal-score.musicxml", scores::vocal_score()),
        ("chorus-score.musicxml", scores::chorus_score()),
        ("part-oboe-1.musicxml", parts::oboe_1()),
        ("part-oboe-2.musicxml", parts::oboe_2()),
        ("part-clarinet-1.musicxml", parts::clarinet_1()),
        ("part-clarinet-2.musicxml", parts::clarinet_2()),
        ("part-horn-1.musicxml", parts::horn_1()),
        ("part-horn-2.musicxml", parts::horn_2()),
        ("part-bassoon-1.musicxml", parts::bassoon_1()),
        ("part-bassoon-2.musicxml", parts::bassoon_2()),
        ("part-alto.musicxml", parts::alto()),
        ("part-tenor.musicxml", parts::tenor()),
        ("part-harmonium.musicxml", scores::harmonium()),
    ])
}

/// The files: path below the root of the repository, bytes.
pub fn files() -> BTreeMap<String, Vec<u8>> {
    scores().iter().map(|(name, score)| (format!("{FOLDER}/{name}"), musicxml::write(score).into_bytes())).collect()
}
