//! What is avoidable: whether a bar or two moved over a break would even out two neighbouring systems.

use super::bar::{Bar, Content, Music};
use super::change;
use super::line::{Line, TENTHS_A_SPACE, Widths, force, sum};
use super::state::relative;
use crate::page::System;
use crate::units::{Sp, Tenths};
use std::ops::Range;

/// Most bars that are moved over a break.
const MOST_MOVED: usize = 2;
/// A move is worth it where it takes away at least this share of the demerits of the two systems, and at least so many (spacing study of
/// open scores).
const WORTH_SHARE: f64 = 0.5;
const WORTH: f64 = 500.0;

/// One system as it stands.
#[derive(Debug, Clone, Copy)]
pub struct Cast<'a> {
    /// The system.
    pub system: &'a System,
    /// Its room.
    pub line: &'a Line,
    /// It is the last of its movement: room left over at its end is no fault.
    pub last: bool,
}

/// Where bars go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Move {
    /// From this system to the next.
    ToNext,
    /// From this system to the one before.
    ToPrevious,
    /// From the next system to this one.
    FromNext,
    /// From the system before to this one.
    FromPrevious,
}

/// A move that evens out two systems.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    /// Where the bars go.
    pub go: Move,
    /// The bars.
    pub bars: Range<usize>,
    /// Room against natural, now: of this system and of the other.
    pub now: [f64; 2],
    /// The same after the move.
    pub then: [f64; 2],
    /// Whether the other is the last of its movement, which may end short.
    pub other_is_last: bool,
}

/// Two neighbouring systems.
#[derive(Clone, Copy)]
struct Pair<'a> {
    upper: Cast<'a>,
    lower: Cast<'a>,
    /// What follows the lower one in the movement.
    after: Option<&'a System>,
}

/// Two neighbouring systems after a move.
struct Tried {
    upper: (f64, f64),
    lower: (f64, f64),
}

/// The best move over one of the breaks around a system, where one is worth it. `casts` are the systems of a movement in order,
/// `may_move[i]` says whether the break after system `i` may be moved, and `usual` is the usual force of the movement.
pub fn remedy(music: &Music, casts: &[Cast], may_move: &[bool], index: usize, usual: f64) -> Option<Remedy> {
    let after = |lower: usize| casts.get(lower + 1).map(|cast| cast.system);
    let movable = |break_after: usize| may_move.get(break_after).copied().unwrap_or(false);
    let mut best: Option<(f64, Remedy)> = None;
    for upper in [index.checked_sub(1), Some(index)].into_iter().flatten().filter(|upper| movable(*upper)) {
        let Some((one, other)) = casts.get(upper).zip(casts.get(upper + 1)) else { continue };
        let pair = Pair { upper: *one, lower: *other, after: after(upper + 1) };
        let is_upper = upper == index;
        let now = demerits(pair.upper.line.force, usual, pair.upper.last) + demerits(pair.lower.line.force, usual, pair.lower.last);
        for (down, bars) in pair.moves(music) {
            let Some(tried) = pair.after_move(music, down, &bars) else { continue };
            let then = demerits(tried.upper.0, usual, pair.upper.last) + demerits(tried.lower.0, usual, pair.lower.last);
            let worth = then <= now * WORTH_SHARE && now - then >= WORTH;
            if !worth || best.as_ref().is_some_and(|(least, _)| *least <= then) {
                continue;
            }
            let go = match (is_upper, down) {
                (true, true) => Move::ToNext,
                (true, false) => Move::FromNext,
                (false, true) => Move::FromPrevious,
                (false, false) => Move::ToPrevious,
            };
            let share = |cast: &Cast| cast.line.of_natural();
            let (own, its) = if is_upper { (&pair.upper, &pair.lower) } else { (&pair.lower, &pair.upper) };
            let (own_then, its_then) = if is_upper { (tried.upper.1, tried.lower.1) } else { (tried.lower.1, tried.upper.1) };
            let remedy = Remedy { go, bars, now: [share(own), share(its)], then: [own_then, its_then], other_is_last: its.last };
            best = Some((then, remedy));
        }
    }
    best.map(|(_, remedy)| remedy)
}

/// How bad the spacing of a system is against the usual one of its movement; a last line that is left short is not bad.
fn demerits(force: f64, usual: f64, last: bool) -> f64 {
    let off = relative(force, usual);
    let off = if last { off.min(0.0) } else { off };
    (1.0 + 100.0 * off.abs().powi(3)).powi(2)
}

impl Pair<'_> {
    /// The moves of one or two bars over the break between the two: downwards or upwards, and which bars. A multi-bar rest moves as one.
    fn moves(&self, music: &Music) -> Vec<(bool, Range<usize>)> {
        let (upper, lower) = (&self.upper.system.bars, &self.lower.system.bars);
        let begins: Vec<usize> = upper.clone().chain(lower.clone()).filter(|bar| !music.is_gathered(*bar)).collect();
        let of_upper = begins.partition_point(|bar| *bar < upper.end);
        // A rest over the break itself cannot be moved.
        if begins.get(of_upper) != Some(&lower.start) {
            return Vec::new();
        }
        let mut moves = Vec::new();
        for moved in 1..=MOST_MOVED {
            // At least one bar stays in each.
            if of_upper > moved {
                moves.push((true, begins[of_upper - moved]..upper.end));
            }
            if begins.len() - of_upper > moved {
                moves.push((false, lower.start..begins[of_upper + moved]));
            }
        }
        moves
    }

    /// Force and share of natural of both systems after a move; `None` where signs would collide.
    fn after_move(&self, music: &Music, down: bool, bars: &Range<usize>) -> Option<Tried> {
        let (upper, lower) = (self.upper.system, self.lower.system);
        let cut = if down { bars.start } else { bars.end };
        let announced = change::announced(music.changes(&lower.staves), cut);
        let after = self.after.map_or(Sp::ZERO, |next| change::announced(music.changes(&next.staves), next.bars.start));
        let upper = refit(music, &self.upper, upper.bars.start..cut, announced)?;
        let lower = refit(music, &self.lower, cut..lower.bars.end, after)?;
        Some(Tried { upper, lower })
    }
}

/// Force and share of natural of a system that holds other bars.
fn refit(music: &Music, cast: &Cast, range: Range<usize>, announced: Sp) -> Option<(f64, f64)> {
    let bars: Option<Vec<Bar>> = range.clone().map(|bar| music.bar(&cast.system.staves, bar, bar == range.start)).collect();
    let bars = bars?;
    let widths = sum(bars.iter().filter(|bar| bar.content != Content::Gathered).map(Widths::of));
    let available = full_width(cast.system) - cast.line.beginning - announced;
    (available >= widths.least).then(|| (force(&bars, available), available / widths.natural))
}

/// Width between the ends of a system, or of its bars where that is not known or is more.
fn full_width(system: &System) -> Sp {
    let bars: Tenths = system.boxes.iter().map(|one| one.width).sum();
    let ends = system.right.value().zip(system.left.value()).map_or(Tenths::ZERO, |(right, left)| right - left);
    Sp(bars.max(ends).0 / TENTHS_A_SPACE)
}
