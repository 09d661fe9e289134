//! Heads, stems, beams, flags, dots, ledger lines, accidentals.

use super::curves::Slurs;
use super::pen::Pen;
use super::rests::{multi_rest, rest};
use super::signs::accidental;
use super::{Bench, Lines, Stand};
use crate::page::Staff;
use crate::score::note::{NoteValue, Stem};
use crate::score::{Note, Traits};
use crate::units::Tenths;

/// Half the width and height of a head, and how it leans; half the width of a whole note (all in staff spaces, usual ones, from memory).
pub(super) const HEAD: [f64; 2] = [0.62, 0.45];
const WHOLE: [f64; 2] = [0.86, 0.47];
const LEAN: f64 = -22.0;
/// Width of stems, and their usual and shortest length under a beam.
const STEM: f64 = 0.12;
const STEM_LENGTH: f64 = 3.5;
const SHORTEST: f64 = 2.6;
/// Height of a beam, and from beam to beam.
const BEAM: f64 = 0.5;
const BEAMS_APART: f64 = 0.75;
/// Grace and cue notes against others.
pub(super) const SMALL: f64 = 0.65;

/// A chord with its stem, where it has one.
pub(super) struct Chord<'a> {
    pub notes: Vec<(&'a Note, i32)>,
    /// Left of its heads.
    pub x: f64,
    pub up: bool,
    pub size: f64,
    /// End of its stem.
    pub end: f64,
    pub has_stem: bool,
}

impl<'a> Chord<'a> {
    fn first(&self) -> &'a Note {
        self.notes[0].0
    }

    /// Steps of the head nearest to the end of the stem, and of the farthest.
    pub fn reach(&self) -> (i32, i32) {
        let steps = || self.notes.iter().map(|(_, steps)| *steps);
        let (low, high) = (steps().min().unwrap_or(0), steps().max().unwrap_or(0));
        if self.up { (high, low) } else { (low, high) }
    }

    fn stem_x(&self, space: f64) -> f64 {
        if self.up { self.x + (2.0 * HEAD[0] * self.size - STEM / 2.0) * space } else { self.x + STEM / 2.0 * space }
    }
}

/// Everything that sounds or rests on a staff.
pub(super) fn on_staff(bench: &Bench, stand: &Stand, staff: &Staff, lines: Lines, pen: &mut Pen) {
    let part = &bench.score.parts[staff.part];
    let mut slurs = Slurs::default();
    for (place, (left, _, columns)) in stand.bars.iter().enumerate() {
        let bar = stand.system.bars.start + place;
        let Some(first) = part.bars.get(bar).map(|bar| bar.first_note as usize) else { continue };
        if stand.system.boxes[place].in_multi_rest {
            multi_rest(bench, stand, place, staff, lines, pen);
            continue;
        }
        let notes = part.notes_of(bar);
        let shown = |note: &&Note| note.staff == staff.staff && !note.traits.contains(Traits::HIDDEN);
        for voice in 0..part.voices.len().max(1) {
            let mut chords: Vec<Chord> = Vec::new();
            for (index, note) in notes.iter().enumerate().filter(|(_, note)| usize::from(note.voice) == voice && shown(note)) {
                if note.is_rest() {
                    rest(bench, note, *left, columns, lines, several_voices(notes, note), pen);
                    continue;
                }
                let Some(steps) = bench.layout.heights.steps_above_top(staff.part, first + index) else { continue };
                let x = left + bench.mm(note.x.get().unwrap_or_else(|| Tenths(columns.at(note.onset))));
                match chords.last_mut() {
                    Some(chord) if note.traits.contains(Traits::CHORD) => chord.notes.push((note, steps)),
                    _ => chords.push(Chord { notes: vec![(note, steps)], x, up: true, size: 1.0, end: 0.0, has_stem: true }),
                }
            }
            graces(&mut chords, lines);
            for chord in &mut chords {
                stem(chord, lines);
            }
            for group in beamed(&mut chords) {
                beam(group, lines, pen);
            }
            for chord in &chords {
                heads(chord, lines, pen);
            }
            slurs.take(&chords, voice, lines, pen);
        }
    }
    slurs.finish(stand.bars.last().map_or(0.0, |(left, width, _)| left + width), lines, pen);
}

/// Grace notes without a place of their own stand before what they lead to.
fn graces(chords: &mut [Chord], lines: Lines) {
    for index in (0..chords.len()).rev() {
        if chords[index].first().traits.contains(Traits::GRACE) && chords[index].first().x.get().is_none() {
            let next = chords.get(index + 1).map_or(chords[index].x, |next| next.x);
            chords[index].x = next - 1.6 * lines.space;
        }
    }
}

/// Whether notes of another voice sound on the same staff of a bar.
fn several_voices(notes: &[Note], own: &Note) -> bool {
    notes.iter().any(|note| note.staff == own.staff && note.voice != own.voice && !note.traits.contains(Traits::HIDDEN))
}

pub(super) fn value_of(note: &Note) -> NoteValue {
    note.value.unwrap_or_else(|| {
        // The nearest value below what it takes.
        let takes = note.duration.whole_notes();
        let value = (-8..=1_i8).rev().map(NoteValue).find(|value| value.time().is_some_and(|time| time.whole_notes() <= takes));
        value.unwrap_or(NoteValue(-2))
    })
}

/// Direction and end of a stem.
fn stem(chord: &mut Chord, lines: Lines) {
    let first = chord.first();
    let small = first.traits.intersects(Traits::GRACE | Traits::SMALL | Traits::CUE);
    let value = value_of(first);
    let (low, high) = chord.notes.iter().fold((i32::MAX, i32::MIN), |(low, high), (_, steps)| (low.min(*steps), high.max(*steps)));
    let up = match first.stem {
        Stem::Up | Stem::Double => true,
        Stem::Down => false,
        // The farther from the middle line decides.
        Stem::Unstated | Stem::None => low + high < -8 || first.traits.contains(Traits::GRACE),
    };
    chord.up = up;
    chord.size = if small { SMALL } else { 1.0 };
    chord.has_stem = value < NoteValue(0) && first.stem != Stem::None;
    let (near, _) = chord.reach();
    let length = STEM_LENGTH * chord.size * lines.space;
    // Stems of notes on ledger lines reach the middle line.
    let middle = lines.y(-4);
    let end = if up { lines.y(near) - length } else { lines.y(near) + length };
    chord.end = if up { end.min(middle) } else { end.max(middle) };
    if small {
        chord.end = end;
    }
}

/// Chords that a beam joins.
fn beamed<'a, 'b>(chords: &'a mut [Chord<'b>]) -> Vec<&'a mut [Chord<'b>]> {
    let mut groups = Vec::new();
    let mut rest = chords;
    loop {
        let Some(from) = rest.iter().position(|chord| chord.first().beams > 0 && chord.first().traits.contains(Traits::BEAM_GOES_ON))
        else {
            return groups;
        };
        let goes_on = |chord: &Chord| chord.first().traits.contains(Traits::BEAM_GOES_ON);
        let mut to = from + 1;
        while to < rest.len() && goes_on(&rest[to - 1]) {
            to += 1;
        }
        let (group, after) = std::mem::take(&mut rest).split_at_mut(to);
        if to - from > 1 {
            groups.push(&mut group[from..]);
        }
        rest = after;
    }
}

/// Draws the beams of a group, and lets its stems end at them.
fn beam(group: &mut [Chord], lines: Lines, pen: &mut Pen) {
    let space = lines.space;
    let (first, last) = (0, group.len() - 1);
    let (from, to) = (group[first].stem_x(space), group[last].stem_x(space));
    if to <= from {
        return;
    }
    // Most stems decide where the beam lies, where they differ.
    let ups = group.iter().filter(|chord| chord.up).count();
    let up = ups * 2 >= group.len();
    let slope = ((group[last].end - group[first].end) / (to - from)).clamp(-0.18, 0.18);
    let size = group[first].size;
    let mut start = group[first].end;
    let shortest = SHORTEST * size * space;
    for chord in group.iter() {
        let (near, _) = chord.reach();
        let at = chord.stem_x(space) - from;
        let head = lines.y(near);
        if chord.up != up {
            continue;
        }
        start = if up { start.min(head - shortest - slope * at) } else { start.max(head + shortest - slope * at) };
    }
    let y = |x: f64| start + slope * (x - from);
    for chord in group.iter_mut() {
        chord.end = y(chord.stem_x(space));
    }
    let toward = if up { 1.0 } else { -1.0 };
    let thick = BEAM * size * space * toward;
    let mut draw = |from: f64, to: f64, level: u8| {
        let offset = f64::from(level - 1) * BEAMS_APART * size * space * toward;
        let (left, right) = (y(from) + offset, y(to) + offset);
        pen.area(&[[from, left], [to, right], [to, right + thick], [from, left + thick]]);
    };
    let half = STEM / 2.0 * space;
    draw(from - half, to + half, 1);
    let most = group.iter().map(|chord| chord.first().beams).max().unwrap_or(1);
    for level in 2..=most {
        let has = |index: usize| group[index].first().beams >= level;
        for index in 0..group.len() {
            if !has(index) {
                continue;
            }
            let x = group[index].stem_x(space);
            if index < last && has(index + 1) {
                draw(x - half, group[index + 1].stem_x(space) + half, level);
            } else if index == 0 || !has(index - 1) {
                // A stub, towards the note it belongs to.
                let stub = 1.1 * size * space;
                if index == 0 { draw(x - half, x + stub, level) } else { draw(x - stub, x + half, level) }
            }
        }
    }
}

fn heads(chord: &Chord, lines: Lines, pen: &mut Pen) {
    let space = lines.space;
    let value = value_of(chord.first());
    let (near, far) = chord.reach();
    let mut order: Vec<&(&Note, i32)> = chord.notes.iter().collect();
    order.sort_by_key(|(_, steps)| *steps);
    let (mut before, mut shifted) = (i32::MIN, false);
    let mut signs = 0;
    for (note, steps) in order {
        // The second of two neighbours stands on the other side of the stem.
        shifted = steps.saturating_sub(before) <= 1 && !shifted;
        before = *steps;
        let size = chord.size * space;
        let shift = if shifted { 2.0 * HEAD[0] * size * if chord.up { 1.0 } else { -1.0 } } else { 0.0 };
        let [wide, high] = if value >= NoteValue(0) { WHOLE } else { HEAD };
        let centre = [chord.x + wide * size + shift, lines.y(*steps)];
        let hole = match value {
            NoteValue(0..) => Some([wide * 0.55 * size, high * 0.75 * size]),
            NoteValue(-1) => Some([wide * 0.82 * size, high * 0.5 * size]),
            _ => None,
        };
        let lean = if value >= NoteValue(0) { 0.0 } else { LEAN };
        pen.head(centre, [wide * size, high * size], lean, hole);
        ledger_lines(centre[0], wide * size, *steps, lines, pen);
        if let Some(sign) = note.accidental {
            accidental([chord.x - (1.1 + 0.9 * f64::from(signs % 3)) * size, centre[1]], size, sign, pen);
            signs += 1;
        }
        for dot in 0..note.dots {
            // Dots stand in a space.
            let lifted = if steps.rem_euclid(2) == 0 { steps + 1 } else { *steps };
            pen.dot([centre[0] + wide * size + (0.6 + 0.6 * f64::from(dot)) * space, lines.y(lifted)], 0.2 * space);
        }
    }
    if !chord.has_stem {
        return;
    }
    let x = chord.stem_x(space);
    pen.line([x, lines.y(far)], [x, chord.end], STEM * space);
    let first = chord.first();
    let joined = first.traits.intersects(Traits::BEAM_GOES_ON | Traits::BEAM_CONTINUES);
    if value < NoteValue(-2) && !joined {
        flags(chord, x, -i32::from(value.0) - 2, space, pen);
    }
    if first.traits.contains(Traits::SLASHED) {
        let middle = f64::midpoint(lines.y(near), chord.end);
        pen.line([x - 0.7 * space, middle + 0.5 * space], [x + 0.8 * space, middle - 0.5 * space], STEM * space);
    }
    for stroke in 0..first.tremolo {
        let y = f64::midpoint(lines.y(near), chord.end) + (f64::from(stroke) - 0.5) * 0.7 * space;
        pen.line([x - 0.7 * space, y + 0.25 * space], [x + 0.7 * space, y - 0.25 * space], 0.4 * space);
    }
    if first.traits.contains(Traits::FERMATA) {
        let y = lines.top.min(chord.end) - 1.2 * space;
        fermata([chord.x + HEAD[0] * space, y], space, pen);
    }
}

pub(super) fn fermata(at: [f64; 2], space: f64, pen: &mut Pen) {
    pen.shape(at, space, &[('M', &[[-1.2, 0.0]]), ('C', &[[-1.1, -1.6], [1.1, -1.6], [1.2, 0.0]])], 0.18 * space);
    pen.dot([at[0], at[1] - 0.25 * space], 0.2 * space);
}

fn flags(chord: &Chord, x: f64, count: i32, space: f64, pen: &mut Pen) {
    let size = chord.size * space;
    let down = if chord.up { 1.0 } else { -1.0 };
    for flag in 0..count {
        let y = chord.end + f64::from(flag) * 0.8 * size * down;
        let shape: [(char, &[[f64; 2]]); 3] = [
            ('M', &[[0.0, 0.0]]),
            ('C', &[[0.1, 1.0 * down], [1.3, 1.2 * down], [0.8, 2.7 * down]]),
            ('C', &[[1.0, 1.7 * down], [0.4, 1.3 * down], [0.0, 1.0 * down]]),
        ];
        pen.fill([x, y], size, &shape);
    }
}

fn ledger_lines(x: f64, half: f64, steps: i32, lines: Lines, pen: &mut Pen) {
    if lines.count != 5 {
        return;
    }
    let (from, to) = (x - half - 0.4 * lines.space, x + half + 0.4 * lines.space);
    for line in (2..=steps).step_by(2) {
        pen.staff_line(from, to, lines.y(line));
    }
    for line in (steps..=-10).filter(|line| line.rem_euclid(2) == 0) {
        pen.staff_line(from, to, lines.y(line));
    }
}
