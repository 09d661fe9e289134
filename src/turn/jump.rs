//! Where the music goes back: repeats, and jumps to the beginning or to the sign.

use crate::score::mark::{Side, Span};
use crate::score::{MarkKind, Score};
use std::ops::Range;

/// Bars that a first ending lasts at most (from memory).
const LONGEST_ENDING: usize = 64;

/// What sends the player back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JumpKind {
    /// A repeat.
    Repeat,
    /// Da capo.
    DaCapo,
    /// Dal segno.
    DalSegno,
}

impl JumpKind {
    /// Its name in data and conditions.
    pub fn name(self) -> &'static str {
        match self {
            Self::Repeat => "repeat",
            Self::DaCapo => "da capo",
            Self::DalSegno => "dal segno",
        }
    }
}

/// A jump back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Jump {
    /// What it is.
    pub kind: JumpKind,
    /// The bar after whose end it goes back.
    pub from: usize,
    /// The bar to whose beginning it goes.
    pub to: usize,
}

/// The jumps of some bars, those of one movement, in the order of their ends.
pub fn jumps(score: &Score, bars: Range<usize>) -> Vec<Jump> {
    let (mut begins, mut segno) = (bars.start, None);
    let mut jumps = Vec::new();
    for bar in bars.clone() {
        let (mut starts, mut stops, mut has_segno, mut da_capo, mut dal_segno) = (false, false, false, false, false);
        for mark in score.marks_at(bar) {
            match &mark.kind {
                MarkKind::Barline { repeat: Some(Span::Start), side, .. } => starts |= *side == Side::Left,
                MarkKind::Barline { repeat: Some(Span::Stop), .. } => stops = true,
                MarkKind::Segno => has_segno = true,
                MarkKind::Jump(jump) => {
                    da_capo |= jump == "dacapo";
                    dal_segno |= jump == "dalsegno";
                }
                _ => {}
            }
        }
        if starts {
            begins = bar;
        }
        if has_segno {
            segno = Some(bar);
        }
        let mut jump = |kind, to| jumps.push(Jump { kind, from: bar, to });
        if stops {
            jump(JumpKind::Repeat, begins);
            begins = bar + 1;
        }
        if da_capo {
            jump(JumpKind::DaCapo, bars.start);
        } else if let Some(segno) = segno.filter(|_| dal_segno) {
            jump(JumpKind::DalSegno, segno);
        }
    }
    jumps
}

/// For a bar that begins an ending other than the first: the bar that begins the first of its endings. The last time through nobody plays
/// what lies between.
pub(super) fn first_ending(score: &Score, bar: usize) -> Option<usize> {
    let begins = |bar: usize| {
        let marks = score.marks_at(bar).map(|mark| &mark.kind);
        marks.into_iter().find_map(|kind| match kind {
            MarkKind::Barline { ending: Some((Span::Start, number)), .. } => Some(number.clone()),
            _ => None,
        })
    };
    let is_first = |number: &str| number.split([',', ' ']).any(|part| part.trim() == "1");
    let number = begins(bar).filter(|number| !is_first(number))?;
    // An ending without a number is no second ending of anything.
    if number.trim().is_empty() {
        return None;
    }
    (bar.saturating_sub(LONGEST_ENDING)..bar).rev().find(|earlier| begins(*earlier).is_some_and(|number| is_first(&number)))
}
