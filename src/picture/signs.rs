//! Clefs, keys, times and accidentals as plain shapes.

use super::pen::{Anchor, Face, Pen};
use super::{Bench, Lines, Stand};
use crate::page::Staff;
use crate::score::note::Accidental;
use crate::score::sign::{Clef, ClefShape};
use crate::score::{Part, SignKind};
use crate::units::{Tenths, Time};

/// From the left end of a system to its clef, and the room of clef and of each sign of a key, in staff spaces.
const BEFORE: f64 = 0.6;
const CLEF: f64 = 3.2;
const KEY_SIGN: f64 = 1.0;
const TIME: f64 = 2.0;
/// Clefs within a line are smaller.
const CHANGE: f64 = 0.75;

/// Places of sharps and flats of a key, in staff steps above the bottom line under a G clef.
const SHARPS: [i32; 7] = [8, 5, 9, 6, 3, 7, 4];
const FLATS: [i32; 7] = [4, 7, 3, 6, 2, 5, 1];

/// The last sign of a kind that holds at the beginning of a bar.
fn in_force<T>(part: &Part, bar: usize, staff: u8, of: impl Fn(&SignKind) -> Option<T>) -> Option<T> {
    let holds = |bar: usize| {
        let signs = part.signs_of(bar).iter().rev();
        signs.filter(|sign| sign.staff.is_none_or(|own| own == staff)).find_map(|sign| of(&sign.kind))
    };
    // Within the bar itself only what stands at its beginning.
    let now = part.signs_of(bar).iter().rev().filter(|sign| sign.onset == Time::ZERO && sign.staff.is_none_or(|own| own == staff));
    now.map(|sign| &sign.kind).find_map(&of).or_else(|| (0..bar).rev().find_map(holds))
}

fn clef_of(kind: &SignKind) -> Option<Clef> {
    if let SignKind::Clef(clef) = kind { Some(*clef) } else { None }
}

fn fifths_of(kind: &SignKind) -> Option<i8> {
    if let SignKind::Key { fifths, .. } = kind { Some(*fifths) } else { None }
}

/// Signs at the beginning of a system, and where they change.
pub(super) fn on_staff(bench: &Bench, stand: &Stand, staff: &Staff, lines: Lines, pen: &mut Pen) {
    let part = &bench.score.parts[staff.part];
    let first = stand.system.bars.start;
    let mut clef = in_force(part, first, staff.staff, clef_of).unwrap_or_default();
    let Some(left) = stand.system.left.value() else { return };
    let space = lines.space;
    let mut x = bench.mm(left) + BEFORE * space;
    draw_clef(clef, [x, 0.0], 1.0, lines, pen);
    x += CLEF * space;
    let fifths = in_force(part, first, staff.staff, fifths_of).unwrap_or(0);
    key(fifths, clef, x, lines, pen);
    x += f64::from(fifths.unsigned_abs()) * KEY_SIGN * space + 0.4 * space;
    for (place, (from, _, columns)) in stand.bars.iter().enumerate() {
        let bar = first + place;
        let mut changes = from + 0.7 * space;
        for sign in part.signs_of(bar).iter().filter(|sign| sign.staff.is_none_or(|own| own == staff.staff)) {
            let opens = place == 0 && sign.onset == Time::ZERO;
            match &sign.kind {
                SignKind::Clef(new) => {
                    clef = *new;
                    if !opens && sign.printed {
                        let at = if sign.onset == Time::ZERO { *from } else { from + bench.mm(Tenths(columns.at(sign.onset))) };
                        draw_clef(clef, [at - 2.4 * space, 0.0], CHANGE, lines, pen);
                    }
                }
                SignKind::Key { fifths, .. } if !opens && sign.printed => {
                    key(*fifths, clef, changes, lines, pen);
                    changes += f64::from(fifths.unsigned_abs()) * KEY_SIGN * space + 0.4 * space;
                }
                SignKind::Time { beats, beat_type, .. } if sign.printed => {
                    let at = if opens { x } else { changes };
                    time(beats, beat_type, at + 0.9 * space, lines, pen);
                    changes += TIME * space;
                }
                _ => {}
            }
        }
    }
}

fn time(beats: &str, beat_type: &str, x: f64, lines: Lines, pen: &mut Pen) {
    // Figures as high as two spaces: seven tenths of the size of a text.
    let size = 2.7 * lines.space;
    pen.text([x, lines.y(-4) - 0.1 * lines.space], size, Anchor::Middle, Face::Bold, beats);
    pen.text([x, lines.y(-8) - 0.1 * lines.space], size, Anchor::Middle, Face::Bold, beat_type);
}

fn key(fifths: i8, clef: Clef, x: f64, lines: Lines, pen: &mut Pen) {
    let Some(bottom) = clef.bottom_line() else { return };
    // Under another clef the same pitches stand elsewhere, an octave off where that keeps them on the staff.
    let shift = (4 * 7 + 2 - bottom).rem_euclid(7);
    let (places, sign) = if fifths > 0 { (SHARPS, Accidental::Sharp) } else { (FLATS, Accidental::Flat) };
    for (index, place) in places.iter().take(usize::from(fifths.unsigned_abs())).enumerate() {
        let mut step = place + shift;
        if step > if fifths > 0 { 9 } else { 8 } {
            step -= 7;
        }
        #[expect(clippy::cast_precision_loss, reason = "seven at most")]
        let x = x + index as f64 * KEY_SIGN * lines.space;
        accidental([x + 0.5 * lines.space, lines.y(step - 8)], lines.space, sign, pen);
    }
}

/// A clef whose left edge is given.
fn draw_clef(clef: Clef, [x, _]: [f64; 2], size: f64, lines: Lines, pen: &mut Pen) {
    let line = if lines.count == 1 { -4 } else { (i32::from(clef.line) - 5) * 2 };
    let size = size * lines.space;
    let at = [x, lines.y(line)];
    match clef.shape {
        ClefShape::G => {
            let centre = [at[0] + 1.2 * size, at[1]];
            let shape: [(char, &[[f64; 2]]); 8] = [
                ('M', &[[0.15, 0.55]]),
                ('C', &[[-0.65, 0.5], [-0.65, -0.75], [0.25, -0.8]]),
                ('C', &[[1.45, -0.8], [1.5, 1.0], [0.2, 1.0]]),
                ('C', &[[-1.5, 1.0], [-1.6, -0.9], [-0.4, -1.9]]),
                ('C', &[[0.6, -2.7], [0.85, -3.3], [0.75, -3.9]]),
                ('C', &[[0.6, -4.9], [-0.2, -4.6], [-0.15, -3.2]]),
                ('L', &[[0.55, 1.7]]),
                ('C', &[[0.7, 2.7], [-0.5, 2.9], [-0.7, 2.1]]),
            ];
            pen.shape(centre, size, &shape, 0.2 * size);
            pen.dot([centre[0] - 0.5 * size, centre[1] + 2.05 * size], 0.32 * size);
        }
        ClefShape::F => {
            let centre = [at[0] + 0.5 * size, at[1]];
            pen.dot(centre, 0.38 * size);
            let shape: [(char, &[[f64; 2]]); 3] =
                [('M', &[[-0.3, -0.2]]), ('C', &[[-0.1, -1.2], [1.6, -1.3], [1.6, 0.2]]), ('C', &[[1.6, 1.5], [0.6, 2.2], [-0.5, 2.7]])];
            pen.shape(centre, size, &shape, 0.25 * size);
            pen.dot([centre[0] + 2.1 * size, at[1] - 0.5 * size], 0.2 * size);
            pen.dot([centre[0] + 2.1 * size, at[1] + 0.5 * size], 0.2 * size);
        }
        ClefShape::C => {
            pen.rectangle([at[0], at[1] - 2.0 * size], 0.5 * size, 4.0 * size);
            pen.rectangle([at[0] + 0.75 * size, at[1] - 2.0 * size], 0.15 * size, 4.0 * size);
            for half in [-1.0, 1.0] {
                let shape: [(char, &[[f64; 2]]); 3] =
                    [('M', &[[0.9, 0.0]]), ('L', &[[1.3, 0.5 * half]]), ('C', &[[2.9, 0.2 * half], [2.9, 2.0 * half], [1.4, 1.8 * half]])];
                pen.shape(at, size, &shape, 0.28 * size);
            }
        }
        ClefShape::Percussion => {
            let middle = lines.y(-4);
            for bar in [0.3, 1.1] {
                pen.rectangle([at[0] + bar * size, middle - size], 0.45 * size, 2.0 * size);
            }
        }
        ClefShape::Tablature => pen.text([at[0], lines.y(-5)], 2.4 * size, Anchor::Start, Face::Bold, "TAB"),
        ClefShape::Numbers | ClefShape::None => {}
    }
    if clef.octaves != 0 && matches!(clef.shape, ClefShape::G | ClefShape::F) {
        let below = clef.octaves < 0;
        let y = if below { at[1] + 4.6 * size } else { at[1] - 4.6 * size };
        let y = if clef.shape == ClefShape::F { if below { at[1] + 4.4 * size } else { at[1] - 1.4 * size } } else { y };
        let text = if clef.octaves.unsigned_abs() > 1 { "15" } else { "8" };
        pen.text([at[0] + 1.3 * size, y], 1.7 * size, Anchor::Middle, Face::Italic, text);
    }
}

/// An accidental around its middle.
pub(super) fn accidental(at: [f64; 2], size: f64, sign: Accidental, pen: &mut Pen) {
    match sign {
        Accidental::Sharp => {
            for x in [-0.2, 0.2] {
                pen.line(
                    [at[0] + x * size, at[1] - (1.3 - x * 0.5) * size],
                    [at[0] + x * size, at[1] + (1.3 + x * 0.5) * size],
                    0.12 * size,
                );
            }
            for y in [-0.42, 0.42] {
                pen.line([at[0] - 0.45 * size, at[1] + (y + 0.15) * size], [at[0] + 0.45 * size, at[1] + (y - 0.15) * size], 0.25 * size);
            }
        }
        Accidental::Flat => flat(at, size, pen),
        Accidental::DoubleFlat => {
            flat([at[0] - 0.6 * size, at[1]], size, pen);
            flat(at, size, pen);
        }
        Accidental::Natural => {
            pen.line([at[0] - 0.28 * size, at[1] - 1.4 * size], [at[0] - 0.28 * size, at[1] + 0.75 * size], 0.12 * size);
            pen.line([at[0] + 0.28 * size, at[1] - 0.75 * size], [at[0] + 0.28 * size, at[1] + 1.4 * size], 0.12 * size);
            for y in [-0.55, 0.55] {
                pen.line([at[0] - 0.28 * size, at[1] + (y + 0.1) * size], [at[0] + 0.28 * size, at[1] + (y - 0.1) * size], 0.25 * size);
            }
        }
        Accidental::DoubleSharp => {
            for side in [-1.0, 1.0] {
                pen.line([at[0] - 0.4 * size, at[1] - 0.4 * side * size], [at[0] + 0.4 * size, at[1] + 0.4 * side * size], 0.22 * size);
            }
        }
        Accidental::Other => pen.line([at[0], at[1] - size], [at[0], at[1] + size], 0.15 * size),
    }
}

fn flat(at: [f64; 2], size: f64, pen: &mut Pen) {
    pen.line([at[0] - 0.3 * size, at[1] - 1.7 * size], [at[0] - 0.3 * size, at[1] + 0.6 * size], 0.13 * size);
    let shape: [(char, &[[f64; 2]]); 2] = [('M', &[[-0.3, -0.2]]), ('C', &[[0.5, -0.8], [0.7, 0.0], [-0.3, 0.6]])];
    pen.shape(at, size, &shape, 0.22 * size);
}
