//! What the stated heights of notes tell about the staves they stand on.
//!
//! `default-y` of a note counts from the *system's* top line in every large family of files that has it on two
//! staves. Minus the height that pitch and clef give, it is one constant per staff and system: the staff's
//! offset below the system's top line. Another, small family writes the end of the stem from the staff's own top
//! line; there the topmost staff does not come out at zero, and nothing is concluded.

use super::{Page, Staff};
use crate::score::mark::Span;
use crate::score::note::Pitch;
use crate::score::sign::Clef;
use crate::score::{MarkKind, Part, Score, SignKind, Tone, Traits};
use crate::units::{STAFF_TENTHS, Tenths};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

/// Fewest notes from which a staff's place is concluded.
const FEWEST_NOTES: usize = 3;
/// Share of a staff's notes that must agree with their median.
const AGREEING_SHARE: f64 = 0.8;
/// Share of systems whose topmost staff must come out at zero.
const TRUSTED_SHARE: f64 = 0.9;
/// Tenths within which heights agree.
const AGREE: f64 = 1.5;
/// A note whose height cannot be told from pitch and clef.
const UNTOLD: i8 = i8::MIN;

/// For every note of every part, its staff steps above the top line of its staff.
#[derive(Debug)]
pub struct Heights {
    steps: Vec<Vec<i8>>,
    /// Whether the file's heights count from the system's top line.
    pub trusted: bool,
}

impl Heights {
    pub(super) fn read(score: &Score, pages: &[Page]) -> Self {
        let mut heights = Self { steps: score.parts.par_iter().map(steps_of_part).collect(), trusted: false };
        let tops = pages.iter().flat_map(|page| &page.systems).filter_map(|system| {
            let first = system.staves.first()?;
            heights.offset(score, first, &system.bars)
        });
        let (mut zero, mut all) = (0_u32, 0_u32);
        for offset in tops {
            all += 1;
            zero += u32::from(offset.0.abs() <= AGREE);
        }
        heights.trusted = all > 0 && f64::from(zero) >= TRUSTED_SHARE * f64::from(all);
        heights
    }

    /// Staff steps that a note (by its index in its part) stands above the top line of a five-line staff; `None` for
    /// rests, hidden notes and clefs that do not tell.
    pub fn steps_above_top(&self, part: usize, note: usize) -> Option<i32> {
        let steps = *self.steps.get(part)?.get(note)?;
        (steps != UNTOLD).then_some(i32::from(steps))
    }

    /// Offset of a staff's top line below the system's, as its notes tell it; `None` where they tell nothing clear.
    pub(super) fn offset(&self, score: &Score, staff: &Staff, bars: &Range<usize>) -> Option<Tenths> {
        if staff.lines != 5 {
            return None;
        }
        let part = score.parts.get(staff.part)?;
        let first = part.bars.get(bars.start)?.first_note as usize;
        let last = part.bars.get(bars.end).map_or(part.notes.len(), |next| next.first_note as usize);
        let tenths_a_step = STAFF_TENTHS / 8.0 * staff.size_percent / 100.0;
        let steps = self.steps.get(staff.part)?.get(first..last)?;
        // Where no note states its height, none is asked for it.
        let stated = part.note_heights.get(first..).unwrap_or_default();
        let mut offsets: Vec<f64> = part.notes[first..last]
            .iter()
            .zip(stated)
            .zip(steps)
            .filter(|((note, _), steps)| note.staff == staff.staff && **steps != UNTOLD)
            .filter_map(|((_, height), steps)| Some(f64::from(*steps) * tenths_a_step - height.y.get()?.0))
            .collect();
        if offsets.len() < FEWEST_NOTES {
            return None;
        }
        offsets.sort_unstable_by(f64::total_cmp);
        let median = offsets[offsets.len() / 2];
        let agreeing = offsets.iter().filter(|offset| (*offset - median).abs() <= AGREE).count();
        (ratio(agreeing, offsets.len()) >= AGREEING_SHARE).then_some(Tenths(median))
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts of notes")]
fn ratio(part: usize, whole: usize) -> f64 {
    part as f64 / whole as f64
}

/// Follows clefs and octave lines through a part.
fn steps_of_part(part: &Part) -> Vec<i8> {
    let mut clefs: BTreeMap<u8, Clef> = BTreeMap::new();
    let mut octaves: BTreeMap<u8, i32> = BTreeMap::new();
    let mut steps = Vec::with_capacity(part.notes.len());
    for bar in 0..part.bars.len() {
        let signs = part.signs_of(bar);
        let marks = part.marks_of(bar);
        let lines: Vec<_> = marks.iter().filter(|mark| matches!(mark.kind, MarkKind::OctaveLine(..))).collect();
        for note in part.notes_of(bar) {
            let pitch = match note.tone {
                Tone::Pitch(pitch) | Tone::Unpitched(Some(pitch)) if !note.traits.contains(Traits::HIDDEN) => pitch,
                _ => {
                    steps.push(UNTOLD);
                    continue;
                }
            };
            let clef = signs
                .iter()
                .rev()
                .filter(|sign| sign.onset <= note.onset && sign.staff == Some(note.staff))
                .find_map(|sign| match sign.kind {
                    SignKind::Clef(clef) => Some(clef),
                    _ => None,
                })
                .or_else(|| clefs.get(&note.staff).copied())
                .unwrap_or_default();
            let line =
                lines.iter().rev().filter(|line| line.staff == note.staff && line.onset <= note.onset).find_map(|line| octave(&line.kind));
            let octave = line.or_else(|| octaves.get(&note.staff).copied()).unwrap_or(0);
            steps.push(height(pitch, clef, octave));
        }
        for sign in signs {
            if let (SignKind::Clef(clef), Some(staff)) = (&sign.kind, sign.staff) {
                clefs.insert(staff, *clef);
            }
        }
        for line in lines {
            octaves.extend(octave(&line.kind).map(|steps| (line.staff, steps)));
        }
    }
    steps
}

/// By how many steps an octave line puts notes below where they sound; `None` where it goes on as it was.
fn octave(kind: &MarkKind) -> Option<i32> {
    match kind {
        MarkKind::OctaveLine(Span::Continue, _) => None,
        MarkKind::OctaveLine(_, steps) => Some(i32::from(*steps)),
        _ => None,
    }
}

/// Steps above the top line; eighteen octaves from it no clef tells anything any more.
fn height(pitch: Pitch, clef: Clef, octave: i32) -> i8 {
    let steps = clef.bottom_line().map(|bottom| pitch.diatonic() - octave - bottom - 8);
    steps.and_then(|steps| i8::try_from(steps).ok()).unwrap_or(UNTOLD)
}
