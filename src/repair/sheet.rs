//! The casting-off sheet: what an engraver keeps beside the keyboard.

use super::{CastOff, Ground, Plan, TurnKind};
use crate::cast::Faults;
use crate::page::Side;
use crate::score::BarNumber;
use crate::turn::Told;
use crate::units::Mm;
use std::ops::Range;

/// A casting-off sheet.
#[derive(Debug)]
pub struct CastingSheet {
    /// What was asked for.
    pub plan: Plan,
    /// Its pages.
    pub pages: Vec<SheetPage>,
    /// What it is in figures.
    pub then: Figures,
    /// What the present casting off is, in the same figures and on the present paper; `None` where it is not known where pages begin.
    pub now: Option<Figures>,
    /// What had to be assumed, in words.
    pub assumed: Vec<String>,
    /// Blank pages at its end.
    pub blank_after: usize,
    /// Whether turns matter to its reader; where they do not, none is told.
    pub turns_matter: bool,
}

/// A casting off in figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    /// What is wrong with it, by kind.
    pub faults: Faults,
    /// Pages, blank ones among them.
    pub pages: usize,
    /// Leaves.
    pub leaves: usize,
    /// Systems.
    pub systems: usize,
    /// Turns by kind: easy, with time enough, quick, with no time.
    pub turns: [usize; 4],
    /// Repeats and jumps back over a turn.
    pub turns_back: usize,
}

/// One page of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetPage {
    /// Its number, blank pages counted.
    pub number: usize,
    /// Its side.
    pub side: Side,
    /// A blank page stands before it.
    pub blank_before: bool,
    /// Top line of its first system from the upper edge of the paper.
    pub first_top: Mm,
    /// How far its gaps are from natural, in steps.
    pub steps: f64,
    /// White at its foot, where its gaps stay natural.
    pub short: Option<Mm>,
    /// Its systems.
    pub systems: Vec<SheetSystem>,
    /// Its turn; `None` where it is not turned.
    pub turn: Option<SheetTurn>,
}

/// One system of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetSystem {
    /// Its bars, by index.
    pub range: Range<usize>,
    /// First and last bar as the file numbers them.
    pub bars: [BarNumber; 2],
    /// Room against natural.
    pub of_natural: f64,
    /// Its one bar needs so much more room than it has.
    pub overfull: Option<Mm>,
    /// It ends elsewhere than a system ends now; `None` where that is not known.
    pub moved: Option<bool>,
}

/// A turn of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SheetTurn {
    /// Seconds; infinite where there is no limit.
    pub seconds: f64,
    /// How they are known.
    pub told: Told,
    /// What to call it.
    pub kind: TurnKind,
    /// V.S. is to be printed.
    pub warn: bool,
}

impl CastingSheet {
    /// The sheet of a casting off.
    pub fn of(ground: &Ground, plan: Plan, made: &CastOff, now: Option<Faults>) -> Self {
        let number = |bar: usize| ground.score.bar_number(bar);
        let ends_now: Option<Vec<usize>> =
            (!ground.present.systems.is_empty()).then(|| ground.present.systems.iter().map(|system| system.end).collect());
        let mut lines = made.lines.iter();
        let mut pages = Vec::with_capacity(made.casting.pages.len());
        let mut count = 0;
        for (index, page) in made.casting.pages.iter().enumerate() {
            count += 1 + usize::from(page.blank_before);
            let systems = page.systems.iter().zip(lines.by_ref()).map(|(range, line)| SheetSystem {
                range: range.clone(),
                bars: [number(range.start), number(range.end - 1)],
                of_natural: line.of_natural,
                overfull: line.overfull,
                moved: ends_now.as_ref().map(|ends| !ends.contains(&range.end)),
            });
            let systems: Vec<SheetSystem> = systems.collect();
            let next = made.casting.pages.get(index + 1);
            let end = systems.last().map_or(0, |last| last.range.end);
            let turned = ground.turns_matter && next.is_some_and(|next| is_turned(ground, page.side, next.blank_before, count));
            let at = ground.turns[end];
            let turn = turned.then(|| {
                let kind = ground.kind_of_turn(at.seconds);
                SheetTurn { seconds: at.seconds, told: at.told, kind, warn: matches!(kind, TurnKind::Quick | TurnKind::NoTime) }
            });
            let [.., top, _] = plan.page.margins;
            let head = ground.heads[usize::from(index > 0)];
            let first_top = if head > Mm::ZERO { top + head + ground.below_head(index, &plan) } else { top };
            let (steps, short) = (page.steps, page.short);
            pages.push(SheetPage {
                number: count,
                side: page.side,
                blank_before: page.blank_before,
                first_top,
                steps,
                short,
                systems,
                turn,
            });
        }
        let then = figures_of(ground, made);
        let standing: Vec<(Side, bool, usize)> = ground
            .present
            .pages
            .iter()
            .zip(&ground.present.sides)
            .map(|(systems, (side, blank))| (*side, *blank, systems.last().map_or(0, |last| last.end)))
            .collect();
        let now = now.map(|faults| figures(ground, faults, &standing, ground.present.systems.len(), 0));
        let assumed = ground.assumed.iter().chain(&plan.assumed).cloned().collect();
        Self { plan, pages, then, now, assumed, blank_after: made.casting.blank_after, turns_matter: ground.turns_matter }
    }
}

/// A casting off in figures.
pub(super) fn figures_of(ground: &Ground, made: &CastOff) -> Figures {
    let pages = made.casting.pages.iter();
    let ends: Vec<(Side, bool, usize)> =
        pages.map(|page| (page.side, page.blank_before, page.systems.last().map_or(0, |last| last.end))).collect();
    figures(ground, made.faults(), &ends, made.systems(), made.casting.blank_after)
}

/// Whether a page is turned: its side, a blank page after it, its number.
fn is_turned(ground: &Ground, side: Side, blank_follows: bool, number: usize) -> bool {
    ground.copies_are.in_view().map_or(side == Side::Recto || blank_follows, |in_view| number.is_multiple_of(in_view))
}

fn figures(ground: &Ground, faults: Faults, pages: &[(Side, bool, usize)], systems: usize, blank_after: usize) -> Figures {
    let blank = pages.iter().filter(|(_, blank, _)| *blank).count();
    let all = pages.len() + blank + blank_after;
    let begins_verso = pages.first().is_some_and(|(side, ..)| *side == Side::Verso);
    let mut turns = [0; 4];
    let mut turned = Vec::new();
    let mut number = 0;
    for (index, (side, blank, end)) in pages.iter().enumerate() {
        number += 1 + usize::from(*blank);
        let Some(next) = pages.get(index + 1) else { break };
        if ground.turns_matter && is_turned(ground, *side, next.1, number) {
            let seconds = ground.turns[*end].seconds;
            turns[ground.kind_of_turn(seconds) as usize] += 1;
            turned.push(*end);
        }
    }
    let over = |from: usize, to: usize| turned.iter().any(|end| (to + 1..=from).contains(end));
    let turns_back = ground.back.iter().filter(|(_, from, to)| over(*from, *to)).count();
    Figures { faults, pages: all, leaves: (all + usize::from(begins_verso)).div_ceil(2), systems, turns, turns_back }
}
