//! What is avoidable: whether a bar or two moved over a break would even out two neighbouring systems.

use super::bar::{Bar, Content, Desk, Music};
use super::change;
use super::line::{Line, TENTHS_A_SPACE, Widths, force, sum};
use super::state::relative;
use crate::page::{Staff, System};
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
    /// Its bars as they stand in it.
    pub bars: &'a [Bar],
    /// What each of them needs.
    pub needs: &'a [Widths],
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

/// The systems of a movement in order, and what moving bars from one to the next would do.
///
/// They are asked for system by system, and what was tried over the last few breaks is kept.
#[derive(Debug)]
pub struct Neighbours<'a> {
    music: &'a Music<'a>,
    casts: &'a [Cast<'a>],
    /// Whether the break after each system may be moved.
    may_move: &'a [bool],
    /// What was tried over the break after a system.
    tried: Vec<(usize, Vec<Tried>)>,
}

/// Breaks of which is kept what was tried: as many as the moves around one system ask for.
const KEPT: usize = 3;

/// Two neighbouring systems after a move.
#[derive(Debug, Clone)]
struct Tried {
    /// The bars go down.
    down: bool,
    bars: Range<usize>,
    /// Force and share of natural.
    upper: (f64, f64),
    lower: (f64, f64),
}

impl<'a> Neighbours<'a> {
    /// The systems of a movement in order; `may_move[i]` says whether the break after system `i` may be moved.
    pub fn new(music: &'a Music<'a>, casts: &'a [Cast<'a>], may_move: &'a [bool]) -> Self {
        Self { music, casts, may_move, tried: Vec::new() }
    }

    /// The best move over one of the breaks around a system, where one is worth it; `usual` is the usual force of the movement.
    pub fn remedy(&mut self, index: usize, usual: f64) -> Option<Remedy> {
        let mut best: Option<(f64, Remedy)> = None;
        for above in [index.checked_sub(1), Some(index)].into_iter().flatten() {
            let movable = self.may_move.get(above).copied().unwrap_or(false);
            let Some((upper, lower)) = self.casts.get(above).copied().zip(self.casts.get(above + 1).copied()).filter(|_| movable) else {
                continue;
            };
            let is_upper = above == index;
            let now = demerits(upper.line.force, usual, upper.last) + demerits(lower.line.force, usual, lower.last);
            for tried in self.tried_after(above) {
                let then = demerits(tried.upper.0, usual, upper.last) + demerits(tried.lower.0, usual, lower.last);
                let worth = then <= now * WORTH_SHARE && now - then >= WORTH;
                if !worth || best.as_ref().is_some_and(|(least, _)| *least <= then) {
                    continue;
                }
                let go = match (is_upper, tried.down) {
                    (true, true) => Move::ToNext,
                    (true, false) => Move::FromNext,
                    (false, true) => Move::FromPrevious,
                    (false, false) => Move::ToPrevious,
                };
                let share = |cast: &Cast| cast.line.of_natural();
                let (own, its) = if is_upper { (&upper, &lower) } else { (&lower, &upper) };
                let (own_then, its_then) = if is_upper { (tried.upper.1, tried.lower.1) } else { (tried.lower.1, tried.upper.1) };
                let bars = tried.bars.clone();
                let remedy = Remedy { go, bars, now: [share(own), share(its)], then: [own_then, its_then], other_is_last: its.last };
                best = Some((then, remedy));
            }
        }
        best.map(|(_, remedy)| remedy)
    }

    /// Every move over the break after a system after which no signs collide.
    fn tried_after(&mut self, above: usize) -> &[Tried] {
        if let Some(known) = self.tried.iter().position(|(index, _)| *index == above) {
            return &self.tried[known].1;
        }
        let mut moved = Vec::new();
        let tried = self.moves(above).into_iter().filter_map(|(down, bars)| self.after_move(above, down, bars, &mut moved)).collect();
        if self.tried.len() == KEPT {
            self.tried.remove(0);
        }
        self.tried.push((above, tried));
        self.tried.last().map_or(&[], |(_, tried)| tried)
    }

    /// The moves of one or two bars over the break after a system: downwards or upwards, and which bars. A multi-bar rest moves as one.
    fn moves(&self, above: usize) -> Vec<(bool, Range<usize>)> {
        let [upper, lower] = [above, above + 1].map(|index| &self.casts[index].system.bars);
        let begins: Vec<usize> = upper.clone().chain(lower.clone()).filter(|bar| !self.music.is_gathered(*bar)).collect();
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

    /// Both systems after a move; `None` where signs would collide. `moved` holds bars that were reckoned for other moves over this break.
    fn after_move(&self, above: usize, down: bool, bars: Range<usize>, moved: &mut Vec<Moved>) -> Option<Tried> {
        let [upper, lower] = [above, above + 1].map(|index| self.casts[index].system);
        let cut = if down { bars.start } else { bars.end };
        let announced = change::announced(self.music.changes(&lower.staves), cut);
        let next = self.casts.get(above + 2).map(|next| next.system);
        let after = next.map_or(Sp::ZERO, |next| change::announced(self.music.changes(&next.staves), next.bars.start));
        let upper = self.refit(above, upper.bars.start..cut, announced, moved)?;
        let lower = self.refit(above + 1, cut..lower.bars.end, after, moved)?;
        Some(Tried { down, bars, upper, lower })
    }

    /// Force and share of natural of a system that holds other bars.
    fn refit(&self, index: usize, range: Range<usize>, announced: Sp, moved: &mut Vec<Moved>) -> Option<(f64, f64)> {
        let Cast { system, bars, needs, line, .. } = self.casts[index];
        let own = |bar: usize| system.bars.contains(&bar) && (bar == range.start) == (bar == system.bars.start);
        for bar in range.clone().filter(|bar| !own(*bar)) {
            let opens = bar == range.start;
            if !moved.iter().any(|one| one.is(index, bar, opens)) {
                let reckoned = self.elsewhere(index, bar, opens)?;
                moved.push(Moved { index, bar, opens, needs: Widths::of(&reckoned), reckoned });
            }
        }
        let there = |bar: usize| {
            if own(bar) {
                let place = bar - system.bars.start;
                return bars.get(place).zip(needs.get(place));
            }
            moved.iter().find(|one| one.is(index, bar, bar == range.start)).map(|one| (&one.reckoned, &one.needs))
        };
        let (bars, needs): (Vec<&Bar>, Vec<&Widths>) = range.clone().map(there).collect::<Option<Vec<_>>>()?.into_iter().unzip();
        let shown = bars.iter().zip(needs).filter(|(bar, _)| bar.content != Content::Gathered);
        let widths = sum(shown.map(|(_, needs)| *needs));
        let available = full_width(system) - line.beginning - announced;
        (available >= widths.least).then(|| (force(&bars, available), available / widths.natural))
    }

    /// A bar in a system that it does not stand in, or not in this place of it. What stands in it is known where it stands now on the same staves.
    fn elsewhere(&self, index: usize, bar: usize, opens: bool) -> Option<Bar> {
        let staves = &self.casts[index].system.staves;
        let around = self.casts.get(index.saturating_sub(1)..)?.iter().take(3);
        let home = around.filter(|cast| cast.system.bars.contains(&bar)).find(|cast| are_alike(&cast.system.staves, staves));
        match home.and_then(|cast| cast.bars.get(bar - cast.system.bars.start)) {
            Some(known) => Some(self.music.elsewhere(known.clone(), staves, bar, opens)),
            None => self.music.bar(staves, bar, opens, &mut Desk::default()),
        }
    }
}

/// Whether the same staves are printed, in the same sizes.
fn are_alike(one: &[Staff], other: &[Staff]) -> bool {
    let of = |staff: &Staff| (staff.part, staff.staff, staff.size_percent);
    one.iter().map(of).eq(other.iter().map(of))
}

/// A bar reckoned for a system that it does not stand in, or not in this place of it.
struct Moved {
    /// Index of the system.
    index: usize,
    bar: usize,
    /// It opens the system.
    opens: bool,
    reckoned: Bar,
    needs: Widths,
}

impl Moved {
    fn is(&self, index: usize, bar: usize, opens: bool) -> bool {
        (self.index, self.bar, self.opens) == (index, bar, opens)
    }
}

/// How bad the spacing of a system is against the usual one of its movement; a last line that is left short is not bad.
fn demerits(force: f64, usual: f64, last: bool) -> f64 {
    let off = relative(force, usual);
    let off = if last { off.min(0.0) } else { off };
    (1.0 + 100.0 * off.abs().powi(3)).powi(2)
}

/// Width between the ends of a system, or of its bars where that is not known or is more.
fn full_width(system: &System) -> Sp {
    let bars: Tenths = system.boxes.iter().map(|one| one.width).sum();
    let ends = system.right.value().zip(system.left.value()).map_or(Tenths::ZERO, |(right, left)| right - left);
    Sp(bars.max(ends).0 / TENTHS_A_SPACE)
}
