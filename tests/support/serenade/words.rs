//! The chorus's text, our own: eight lines of ten syllables, then eight of eight.

use crate::support::score::Lyric;

/// Lines for the first section, sung in common time.
const SLOW: [&str; 8] = [
    "Eve-ning comes down to the wa-ter a-lone,",
    "slow is the riv-er and smooth is the stone;",
    "lan-terns are lit where the mill used to be,",
    "one for the weir and an-oth-er for me.",
    "Who goes so late with a light in the hand?",
    "On-ly the her-on that walks on the sand.",
    "Sing to her soft-ly and she will not fly;",
    "wa-ter and dark-ness are all to re-ply.",
];

/// Lines for the second section, sung in triple time.
const QUICK: [&str; 8] = [
    "Down we go, down by the al-ders,",
    "drums of the wa-ter be-fore us,",
    "light as the foam on the ed-dy,",
    "turn with the wheel and turn o-ver.",
    "Long is the night for the sleep-er,",
    "short for the danc-ers that fol-low;",
    "morn-ing will find us still sing-ing,",
    "morn-ing will find us by wa-ter.",
];

/// Syllables of one line.
pub fn line(quick: bool, number: usize) -> Vec<Lyric> {
    let lines = if quick { QUICK } else { SLOW };
    lines[number % lines.len()].split(' ').flat_map(syllables).collect()
}

fn syllables(word: &str) -> Vec<Lyric> {
    let texts: Vec<&str> = word.split('-').collect();
    let last = texts.len() - 1;
    let syllabic = |index| match (index == 0, index == last) {
        (true, true) => "single",
        (true, false) => "begin",
        (false, false) => "middle",
        (false, true) => "end",
    };
    texts.iter().enumerate().map(|(index, text)| Lyric { text: (*text).to_owned(), syllabic: syllabic(index) }).collect()
}
