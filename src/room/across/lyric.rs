//! Syllables: how wide they are, and how far apart they keep the notes they stand under.

use super::glyph;
use super::graph::Rod;
use crate::score::note::Syllabic;
use crate::score::{Instructions, Lyric};
use crate::units::{Mm, Scale, Sp};
use unicode_normalization::char::is_combining_mark;

/// Millimetres in a typographic point.
const MM_A_POINT: f64 = 0.3528;
/// Size of the letters of lyrics in points where nobody states one (editorial guidelines for lyrics, trade).
const USUAL_POINTS: f64 = 10.0;
/// Height of the staff where the file states no scaling: that of the standard's own example.
const USUAL_STAFF: Mm = Mm(7.0);
/// Least and most size of a letter's em: stated sizes are unreliable on small staves.
const EM: (Sp, Sp) = (Sp(1.2), Sp(2.3));
/// How far a syllable may reach over a bar line.
const OVER_BAR_LINE: Sp = Sp(1.0);

/// A syllable as it takes room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Syllable {
    /// Column it stands at.
    pub column: u32,
    /// Width of its text.
    pub width: Sp,
    /// A hyphen follows it.
    pub hyphened: bool,
    /// A line shows that it is held: the next one keeps no distance from it.
    pub held: bool,
}

/// Size of the em of lyrics in staff spaces: of letters of so many points, at the file's scale.
pub fn em(points: Option<f64>, scale: Option<Scale>) -> Sp {
    let staff = scale.map_or(USUAL_STAFF, Scale::staff_height);
    Sp(points.unwrap_or(USUAL_POINTS) * MM_A_POINT / (staff.0 / 4.0)).max(EM.0).min(EM.1)
}

/// Width of a text in ems: usual widths of letters by class (from memory).
pub fn ems(text: &str) -> f64 {
    let letter = |letter: char| match letter {
        'i' | 'j' | 'l' | 't' => 0.3,
        's' | 'a' | 'c' | 'e' | 'z' => 0.42,
        'm' | 'w' => 0.75,
        // A mark over or under a letter takes no room of its own.
        letter if is_combining_mark(letter) => 0.0,
        letter if letter.is_uppercase() => 0.67,
        letter if letter.is_alphanumeric() => 0.5,
        _ => 0.3,
    };
    text.trim().chars().map(letter).sum()
}

/// A syllable of a file as it takes room under a column.
pub(super) fn syllable(lyric: &Lyric, column: u32, instructions: &Instructions, scale: Option<Scale>) -> Syllable {
    let points = lyric.points.map(f64::from).or_else(|| instructions.lyric_points(&lyric.verse));
    Syllable {
        column,
        width: em(points, scale) * ems(&lyric.text),
        hyphened: matches!(lyric.syllabic, Syllabic::Begin | Syllabic::Middle),
        held: lyric.extends,
    }
}

/// What the syllables of one verse, in their order, keep apart; the bar line after the bar is node `end`.
pub(super) fn rods(syllables: &[Syllable], end: u32, into: &mut Vec<Rod>) {
    // A syllable is centred on its head.
    let middle = glyph::HEAD * 0.5;
    let reach = |syllable: &Syllable| syllable.width * 0.5;
    let node = |syllable: &Syllable| syllable.column + 1;
    let both = |from, to, length: Sp| Rod { from, to, hard: length, comfortable: length };
    if let Some(first) = syllables.first() {
        let left = reach(first) - middle - OVER_BAR_LINE;
        if left > Sp::ZERO {
            into.push(both(0, node(first), left));
        }
    }
    if let Some(last) = syllables.last() {
        let right = reach(last) + middle - OVER_BAR_LINE;
        if right > Sp::ZERO {
            into.push(both(node(last), end, right));
        }
    }
    for pair in syllables.windows(2) {
        let [one, next] = pair else { continue };
        if one.held {
            continue;
        }
        let (hard, comfortable) = if one.hyphened { (Sp(0.6), Sp(1.3)) } else { (Sp(0.5), Sp(1.0)) };
        let words = reach(one) + reach(next);
        into.push(Rod { from: node(one), to: node(next), hard: words + hard, comfortable: words + comfortable });
    }
}
