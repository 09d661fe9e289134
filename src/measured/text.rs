//! Text: how large what is sung, and what is said beside the notes, stands on paper.

use super::{Bars, Bench};
use crate::place::{Known, Place};
use crate::score::MarkKind;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// What a text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum TextKind {
    /// Words that are sung.
    Lyrics,
    /// Words to the player: tempo, manner, instructions.
    Words,
}

/// Texts of one part and one size.
#[derive(Debug)]
pub struct Text {
    /// What they are.
    pub kind: TextKind,
    /// Their size on paper, in points.
    pub points: Known<f64>,
    /// How many.
    pub count: u32,
    /// Index of their part.
    pub part: usize,
    /// Id of their part.
    pub part_id: Arc<str>,
    /// Name of their part.
    pub part_name: Arc<str>,
    /// First and last bar they stand in.
    pub bars: Bars,
    /// Movement of the first, from 1.
    pub movement: u32,
    /// Place of the first.
    pub at: Place,
}

/// Why a size is not judged.
const NO_LYRIC_SIZE: &str = "the size of the lyrics is not stated";
const NOT_BELIEVED: &str = "a size of more than 20 points is not believed";
/// Sizes above it are a slip of the exporter, not of the engraver (practice of text in open scores, from memory).
const MOST_BELIEVED_POINTS: f64 = 20.0;

/// Sizes of the texts of all parts, those of one part and size together.
pub(super) fn sizes(bench: &Bench) -> Vec<Text> {
    (0..bench.score.parts.len()).into_par_iter().flat_map_iter(|part| of_part(bench, part)).collect()
}

/// What of a text tells it from others: its kind and its size in thousandths of a point; `None` where no size is stated.
type Key = (TextKind, Option<i64>);

fn of_part(bench: &Bench, index: usize) -> Vec<Text> {
    let part = &bench.score.parts[index];
    let mut found: BTreeMap<Key, (Option<f64>, u32, usize, usize, Place)> = BTreeMap::new();
    let mut add = |kind, points: Option<f64>, bar: usize, at: Place| {
        let one = found.entry((kind, points.map(thousandths))).or_insert((points, 0, bar, bar, at));
        one.1 += 1;
        one.3 = bar;
    };
    for bar in 0..part.bars.len() {
        for lyric in part.lyrics_of(bar).iter().filter(|lyric| lyric.text.chars().any(char::is_alphabetic)) {
            add(TextKind::Lyrics, lyric.points.map(f64::from).or_else(|| bench.instructions.lyric_points(&lyric.verse)), bar, lyric.at);
        }
        for mark in part.marks_of(bar) {
            let stated = mark.points.map(f64::from).or(bench.instructions.word_points);
            if let (MarkKind::Words(words), Some(points)) = (&mark.kind, stated)
                && words.chars().any(char::is_alphabetic)
            {
                add(TextKind::Words, Some(points), bar, mark.at);
            }
        }
    }
    let text = |((kind, _), (points, count, first, last, at)): (Key, (Option<f64>, u32, usize, usize, Place))| Text {
        kind,
        points: printed(bench, kind, points),
        count,
        part: index,
        part_id: part.id.clone(),
        part_name: bench.part_name(index),
        bars: Bars::of(bench.score, first, last),
        movement: bench.movement(first),
        at,
    };
    found.into_iter().map(text).collect()
}

#[expect(clippy::cast_possible_truncation, reason = "a size in points; what is too large for it is no size")]
fn thousandths(points: f64) -> i64 {
    (points * 1000.0).round() as i64
}

/// A stated size as it is printed.
fn printed(bench: &Bench, kind: TextKind, points: Option<f64>) -> Known<f64> {
    match (points, kind) {
        (None, TextKind::Lyrics) => Known::Unknown(NO_LYRIC_SIZE),
        (None, TextKind::Words) => Known::Absent,
        // Large words are headings; large lyrics are nonsense.
        (Some(points), TextKind::Words) if points <= 0.0 || points > MOST_BELIEVED_POINTS => Known::Absent,
        (Some(points), _) if points <= 0.0 => Known::Unknown("a size of no points, or fewer, is not believed"),
        (Some(points), _) if points > MOST_BELIEVED_POINTS => Known::Unknown(NOT_BELIEVED),
        (Some(points), _) => bench.printed_at.map(|share| points * share),
    }
}
