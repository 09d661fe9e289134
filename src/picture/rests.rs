//! Rests, of one bar and of several.

use super::notes::{SMALL, value_of};
use super::pen::{Anchor, Face, Pen};
use super::{Bench, Columns, Lines, Stand};
use crate::page::Staff;
use crate::score::note::NoteValue;
use crate::score::{Note, SignKind, Traits};
use crate::units::Tenths;

/// A rest.
pub(super) fn rest(bench: &Bench, note: &Note, left: f64, columns: &Columns, lines: Lines, several: bool, pen: &mut Pen) {
    let space = lines.space;
    let value = value_of(note);
    let whole_bar = note.traits.contains(Traits::WHOLE_BAR_REST);
    let x = if whole_bar && note.x.get().is_none() {
        left + bench.mm(Tenths(columns.middle())) - 0.6 * space
    } else {
        left + bench.mm(note.x.get().unwrap_or_else(|| Tenths(columns.at(note.onset))))
    };
    // With another voice on the staff a rest makes room for it.
    let lifted = if several { if note.voice.is_multiple_of(2) { 4 } else { -4 } } else { 0 };
    let middle = lines.y(-4 + lifted);
    let size = if note.traits.intersects(Traits::CUE | Traits::SMALL) { SMALL * space } else { space };
    if whole_bar || value == NoteValue(0) {
        pen.rectangle([x, middle - space], 1.2 * space, 0.5 * space);
        return;
    }
    match value.0 {
        1.. => pen.rectangle([x, middle - space], 0.7 * space, space),
        -1 => pen.rectangle([x, middle - 0.5 * space], 1.2 * space, 0.5 * space),
        -2 => {
            let shape: [(char, &[[f64; 2]]); 4] = [
                ('M', &[[0.2, -1.4]]),
                ('L', &[[0.9, -0.5], [0.4, 0.1], [1.0, 0.9]]),
                ('C', &[[0.3, 0.6], [0.1, 0.9], [0.6, 1.5]]),
                ('C', &[[-0.4, 0.9], [0.0, 0.3], [0.6, 0.6]]),
            ];
            pen.shape([x, middle], size, &shape, 0.25 * size);
        }
        short => {
            let hooks = -i32::from(short) - 2;
            let top = -0.5 * f64::from(hooks);
            for hook in 0..hooks {
                let y = top + f64::from(hook);
                pen.dot([x + (0.3 - 0.15 * f64::from(hook)) * size, middle + y * size], 0.28 * size);
                let shape: [(char, &[[f64; 2]]); 2] = [
                    ('M', &[[0.3 - 0.15 * f64::from(hook), y]]),
                    ('C', &[[0.6, y + 0.3], [0.9, y + 0.1], [1.1 - 0.15 * f64::from(hook), y - 0.2]]),
                ];
                pen.shape([x, middle], size, &shape, 0.15 * size);
            }
            pen.line(
                [x + 1.1 * size, middle + (top - 0.2) * size],
                [x + 0.4 * size, middle + (top + f64::from(hooks) + 0.6) * size],
                0.15 * size,
            );
        }
    }
    for dot in 0..note.dots {
        pen.dot([x + (1.5 + 0.6 * f64::from(dot)) * space, lines.y(-3 + lifted)], 0.2 * space);
    }
}

/// The broad bar of a multi-bar rest, with the number of its bars.
pub(super) fn multi_rest(bench: &Bench, stand: &Stand, place: usize, staff: &Staff, lines: Lines, pen: &mut Pen) {
    let bar = stand.system.bars.start + place;
    let Some(bars) = bench.score.multi_rest(bar).filter(|bars| *bars > 1) else { return };
    let (left, width, columns) = &stand.bars[place];
    let space = lines.space;
    let end = stand.bars.get(place + bars - 1).map_or(left + width, |(left, width, _)| left + width);
    // A new time or key stands before it.
    let changes = bench.score.parts[staff.part].signs_of(bar).iter().filter(|sign| place > 0 && sign.printed);
    let changed = changes.filter(|sign| matches!(sign.kind, SignKind::Time { .. } | SignKind::Key { .. })).count();
    let changed = 2.4 * f64::from(u32::try_from(changed).unwrap_or(0).min(2));
    let from = left + bench.mm(Tenths(columns.beginning)) + (1.2 + changed) * space;
    let to = end - 1.2 * space;
    if to <= from {
        return;
    }
    let middle = lines.y(-4);
    pen.rectangle([from, middle - 0.4 * space], to - from, 0.8 * space);
    for x in [from, to] {
        pen.line([x, middle - space], [x, middle + space], 0.2 * space);
    }
    pen.text([f64::midpoint(from, to), lines.top - 0.8 * space], 2.6 * space, Anchor::Middle, Face::Bold, &bars.to_string());
}
