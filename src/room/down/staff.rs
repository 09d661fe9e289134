//! The ink of one staff over one system: heads, stems, what stands at them, slurs, syllables and marks.

use super::extent as usual;
use super::mark;
use super::skyline::{Axis, Skyline};
use crate::page::{Heights, Staff, System};
use crate::room::across::{em, ems};
use crate::score::note::{NoteBody, NoteHeight, NoteValue, Stem};
use crate::score::{Note, Part, Score, Traits};
use crate::units::{Sp, Tenths, Time};
use std::ops::Range;

/// Tenths of a staff space of full size.
pub(super) const SPACE: f64 = 10.0;
/// Between the outer lines of five, in spaces.
const LINES: Sp = Sp(4.0);

/// How far the music of a staff hangs out of its lines.
#[derive(Debug, Clone)]
pub struct Ink {
    /// Everything.
    pub all: Skyline,
    /// Heads, and stems whose ends the file states: what is known for sure.
    pub notes: Skyline,
    /// Everything but syllables, where words are sung under it: what clears words and what clears signs differs.
    pub unsung: Option<Skyline>,
}

/// A staff of a system at work.
pub(super) struct Bench<'a> {
    pub score: &'a Score,
    pub system: &'a System,
    pub part: &'a Part,
    pub staff: &'a Staff,
    pub axis: Axis,
    /// Tenths of one of its staff spaces.
    pub space: f64,
}

impl Bench<'_> {
    /// A length in its staff spaces as tenths of the file.
    pub fn tenths(&self, length: Sp) -> Tenths {
        Tenths(length.0 * self.space)
    }

    /// Columns of a sign of some width at a place of a bar, from its left.
    pub fn columns(&self, bar: usize, x: Option<f64>, width: Sp) -> Range<usize> {
        self.axis.span(self.system, bar, x, x.map(|x| x + width.0 * self.space))
    }
}

/// Heads that share a stem, and where they stand, in spaces above the top line.
struct Chord<'a> {
    note: &'a NoteBody,
    bar: usize,
    /// How high the file says that its first note stands.
    stated: NoteHeight,
    /// The head of its first note.
    own: Sp,
    top: Sp,
    bottom: Sp,
    x: Option<f64>,
    up: bool,
    traits: Traits,
}

/// A slur that began and has not ended.
struct Begun {
    voice: u8,
    /// Bar and moment at which it began.
    from: (usize, Time),
    columns: Range<usize>,
    above: bool,
    reach: Sp,
}

/// The ink of a staff over a system.
pub fn ink(score: &Score, heights: &Heights, system: &System, staff: &Staff, axis: Axis) -> Ink {
    let blank = Ink { all: Skyline::new(axis), notes: Skyline::new(axis), unsung: None };
    drawn(blank, score, heights, system, staff, axis)
}

/// The same in the room of ink that nobody asks for any more: a large score has thousands of staves.
pub fn ink_instead(old: Ink, score: &Score, heights: &Heights, system: &System, staff: &Staff, axis: Axis) -> Ink {
    let blank = Ink { all: old.all.wiped(axis), notes: old.notes.wiped(axis), unsung: None };
    drawn(blank, score, heights, system, staff, axis)
}

/// Ink that was blank with all that hangs out of a staff.
fn drawn(mut ink: Ink, score: &Score, heights: &Heights, system: &System, staff: &Staff, axis: Axis) -> Ink {
    let part = &score.parts[staff.part];
    let bench = Bench { score, system, part, staff, axis, space: SPACE * staff.size_percent / 100.0 };
    let mut slurs: Vec<Begun> = Vec::new();
    let mut of_bar: Vec<Chord> = Vec::new();
    for bar in system.bars.clone() {
        chords(&bench, heights, bar, &mut of_bar);
        for chord in &of_bar {
            notes(&bench, heights, chord, &mut ink);
            if chord.traits.intersects(Traits::SLUR_START | Traits::SLUR_STOP) {
                slur(&bench, chord, &mut slurs, &mut ink.all);
            }
        }
        over_rests(&bench, bar, &mut ink.all);
    }
    for begun in slurs {
        let to = end_elsewhere(&bench, &begun);
        arch(&bench, &begun, to, begun.reach, &mut ink.all);
    }
    mark::marks(&bench, &mut ink.all);
    lyrics(&bench, &mut ink);
    ink
}

/// Fermatas over rests.
fn over_rests(bench: &Bench, bar: usize, line: &mut Skyline) {
    let shown = |note: &&Note| note.staff == bench.staff.staff && note.is_rest() && !note.traits.contains(Traits::HIDDEN);
    for rest in bench.part.notes_of(bar).iter().filter(|note| note.traits.contains(Traits::FERMATA)).filter(shown) {
        let columns = bench.columns(bar, rest.x.get().map(|x| x.0), usual::HEAD_WIDTH);
        line.add(&columns, bench.tenths(usual::FERMATA), Tenths::ZERO);
    }
}

/// Where a slur ends that does not end on its staff: at a note of its voice on another staff of the part, else it goes on into the next
/// system and arches to the end of this one.
fn end_elsewhere(bench: &Bench, begun: &Begun) -> usize {
    let ends = |note: &&Note| note.voice == begun.voice && note.staff != bench.staff.staff && note.traits.contains(Traits::SLUR_STOP);
    let elsewhere = (begun.from.0..bench.system.bars.end).find_map(|bar| {
        let mut later = bench.part.notes_of(bar).iter().filter(ends).filter(|note| (bar, note.onset) > begun.from);
        later.next().map(|note| bench.columns(bar, note.x.get().map(|x| x.0), usual::HEAD_WIDTH).end)
    });
    let last = bench.system.bars.end.saturating_sub(1);
    elsewhere.unwrap_or_else(|| bench.axis.span(bench.system, last, None, None).end)
}

/// The chords of a staff in a bar, in the order of the file.
fn chords<'a>(bench: &Bench<'a>, heights: &Heights, bar: usize, chords: &mut Vec<Chord<'a>>) {
    chords.clear();
    let Some(first) = bench.part.bars.get(bar).map(|bar| bar.first_note as usize) else { return };
    // A chord may begin on the other staff of its part, or with a head that is not shown.
    let mut begins_here = false;
    for (index, note) in bench.part.notes_of(bar).iter().enumerate() {
        let NoteBody { traits, staff, .. } = *note.body;
        begins_here &= traits.contains(Traits::CHORD);
        if staff != bench.staff.staff {
            continue;
        }
        let Some(steps) = heights.steps_above_top(bench.staff.part, first + index) else { continue };
        let middle = Sp(f64::from(steps) / 2.0);
        if let Some(chord) = chords.last_mut().filter(|_| begins_here) {
            chord.top = chord.top.max(middle);
            chord.bottom = chord.bottom.min(middle);
            chord.traits |= traits;
        } else {
            let stated = bench.part.note_height(first + index);
            let x = note.x.get().map(|x| x.0);
            chords.push(Chord { note, bar, stated, own: middle, top: middle, bottom: middle, x, up: true, traits });
        }
        begins_here = true;
    }
    for chord in chords {
        chord.up = match chord.note.stem {
            Stem::Up => true,
            Stem::Down => false,
            // The head furthest from the middle line decides.
            _ => chord.top + chord.bottom < -LINES,
        };
    }
}

fn notes(bench: &Bench, heights: &Heights, chord: &Chord, ink: &mut Ink) {
    let half = usual::HALF_HEAD;
    // Most heads and stems stay within the lines: then nobody asks which columns they stand at.
    let mut columns: Option<Range<usize>> = None;
    let mut add = |line: &mut Skyline, top: Sp, bottom: Sp| {
        let (up, down) = (bench.tenths(top), bench.tenths(-bottom - LINES));
        if up > Tenths::ZERO || down > Tenths::ZERO {
            line.add(columns.get_or_insert_with(|| bench.columns(chord.bar, chord.x, usual::HEAD_WIDTH)), up, down);
        }
    };
    let (mut top, mut bottom) = (chord.top + half, chord.bottom - half);
    let stem = stem_end(bench, heights, chord);
    if let Some((end, _)) = stem {
        if chord.up { top = top.max(end) } else { bottom = bottom.min(end) }
    }
    if stem.is_some_and(|(_, stated)| stated) {
        add(&mut ink.notes, top, bottom);
    } else {
        add(&mut ink.notes, chord.top + half, chord.bottom - half);
    }
    let traits = chord.traits;
    let (over, under) = (traits.contains(Traits::ARTICULATION) && !chord.up, traits.contains(Traits::ARTICULATION) && chord.up);
    top += if over { usual::ARTICULATION } else { Sp::ZERO };
    bottom = bottom - if under { usual::ARTICULATION } else { Sp::ZERO };
    if traits.intersects(Traits::TIE_START | Traits::TIE_STOP) {
        // Away from the stem; of a chord both outer ones bend outwards.
        let both = chord.top > chord.bottom;
        top = if both || !chord.up { top.max(chord.top + half + usual::TIE) } else { top };
        bottom = if both || chord.up { bottom.min(chord.bottom - half - usual::TIE) } else { bottom };
    }
    if traits.contains(Traits::TUPLET_START) {
        if chord.up { top += usual::TUPLET } else { bottom = bottom - usual::TUPLET }
    }
    for (sign, height) in [(Traits::TECHNICAL, usual::TECHNICAL), (Traits::ORNAMENT, usual::ORNAMENT), (Traits::FERMATA, usual::FERMATA)] {
        if traits.contains(sign) {
            // They stand above the staff, whatever they belong to.
            top = top.max(Sp::ZERO) + height;
        }
    }
    if traits.contains(Traits::DYNAMIC) {
        bottom = bottom.min(-LINES - usual::DYNAMIC.usual - usual::DYNAMIC.fall);
    }
    add(&mut ink.all, top, bottom);
}

/// Where a stem ends, in spaces above the top line, and whether the file says so; `None` for what has no stem.
fn stem_end(bench: &Bench, heights: &Heights, chord: &Chord) -> Option<(Sp, bool)> {
    let note = chord.note;
    let has_stem = note.stem != Stem::None && note.value.is_none_or(|value| value < NoteValue(0));
    if !has_stem {
        return None;
    }
    // Both count from the same line, so their difference holds whatever line that is.
    let stated = chord.stated.stem_end.get().zip(chord.stated.y.get()).filter(|_| heights.trusted).and_then(|(end, head)| {
        let length = Sp((end - head).0 / bench.space);
        let sensible = length.abs() < usual::LONGEST_STEM && (length > Sp::ZERO) == chord.up;
        sensible.then_some((chord.own + length, true))
    });
    let usual = if chord.up { chord.top + usual::STEM } else { chord.bottom - usual::STEM };
    Some(stated.unwrap_or((usual, false)))
}

/// Begins and ends slurs: they stand on the side away from the stem.
fn slur(bench: &Bench, chord: &Chord, begun: &mut Vec<Begun>, line: &mut Skyline) {
    let columns = bench.columns(chord.bar, chord.x, usual::HEAD_WIDTH);
    let reach = |above: bool| if above { chord.top + usual::HALF_HEAD } else { -chord.bottom - LINES + usual::HALF_HEAD };
    if chord.traits.contains(Traits::SLUR_STOP)
        && let Some(found) = begun.iter().rposition(|one| one.voice == chord.note.voice)
    {
        let one = begun.swap_remove(found);
        arch(bench, &one, columns.end, reach(one.above), line);
    }
    if chord.traits.contains(Traits::SLUR_START) {
        let above = !chord.up;
        let from = (chord.bar, chord.note.onset);
        begun.push(Begun { voice: chord.note.voice, from, columns, above, reach: reach(above) });
    }
}

/// A slur from where it began to a reach at its end, beside the heads.
fn arch(bench: &Bench, slur: &Begun, end: usize, reach: Sp, line: &mut Skyline) {
    let ends = [slur.reach, reach].map(|reach| bench.tenths(reach + usual::BESIDE_HEAD));
    line.arch(slur.columns.start..end.max(slur.columns.end), ends, bench.tenths(usual::SLUR_ARCH), slur.above);
}

/// Syllables, by verse.
fn lyrics(bench: &Bench, ink: &mut Ink) {
    let own = |note: &Note| note.staff == bench.staff.staff && !note.traits.contains(Traits::HIDDEN);
    let of_bar = |bar: usize| {
        let notes = &bench.part.notes;
        bench.part.lyrics_of(bar).iter().filter_map(move |lyric| Some((lyric, notes.get(lyric.note as usize)?)))
    };
    let mut verses: Vec<(bool, &str)> = Vec::new();
    for bar in bench.system.bars.clone() {
        for (lyric, _) in of_bar(bar).filter(|(_, note)| own(note)) {
            let verse = (lyric.above, lyric.verse.as_str());
            if let Err(place) = verses.binary_search(&verse) {
                verses.insert(place, verse);
            }
        }
    }
    if verses.is_empty() {
        return;
    }
    ink.unsung = verses.iter().any(|(above, _)| !above).then(|| ink.all.clone());
    let instructions = &bench.score.instructions;
    let scale = instructions.scale.map(|scale| scale.value);
    for bar in bench.system.bars.clone() {
        for (lyric, note) in of_bar(bar).filter(|(_, note)| own(note)) {
            let Ok(place) = verses.binary_search(&(lyric.above, lyric.verse.as_str())) else { continue };
            let line = if lyric.above { verses.len() - 1 - place } else { place };
            let depth = usual::LYRIC_BASELINE + usual::VERSE_PITCH * f64::from(u32::try_from(line).unwrap_or(u32::MAX));
            let points = lyric.points.map(f64::from).or_else(|| instructions.lyric_points(&lyric.verse));
            let half = em(points, scale).0 * ems(&lyric.text) / 2.0 * SPACE;
            let middle = note.x.get().map(|x| x.0 + 0.59 * bench.space);
            let columns = bench.axis.span(bench.system, bar, middle.map(|x| x - half), middle.map(|x| x + half));
            let (up, down) = match lyric.y.get() {
                // From the staff's top line, up, in tenths of the file.
                Some(y) => (y + bench.tenths(usual::LETTER_RISE), -y - bench.tenths(LINES) + bench.tenths(usual::LETTER_FALL)),
                None if lyric.above => (bench.tenths(depth), Tenths::ZERO),
                None => (Tenths::ZERO, bench.tenths(depth + usual::LETTER_FALL)),
            };
            ink.all.add(&columns, up, down);
        }
    }
}
