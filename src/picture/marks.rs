//! Words, dynamics, hairpins, rehearsal marks, chord symbols, tempi and syllables.

use super::pen::{Anchor, Face, Pen};
use super::{Bench, Lines, Stand};
use crate::page::Staff;
use crate::score::mark::Span;
use crate::score::note::Syllabic;
use crate::score::{Mark, MarkKind, USUAL_TEXT_POINTS};
use crate::units::{MM_PER_POINT, Tenths, Time};

/// Height of what stands above and below a staff where no height is stated, in staff spaces from its outer line.
const ABOVE: f64 = 2.2;
const BELOW: f64 = 3.2;
/// Syllables below the lowest line, and from verse to verse, in staff spaces.
const LYRICS: f64 = 3.8;
const VERSES: f64 = 2.6;
/// Size of words and syllables where none is stated.
const LYRIC_POINTS: f64 = 10.0;

/// Everything beside the notes of a staff.
pub(super) fn on_staff(bench: &Bench, stand: &Stand, staff: &Staff, lines: Lines, pen: &mut Pen) {
    let part = &bench.score.parts[staff.part];
    let mut hairpin: Option<([f64; 2], bool)> = None;
    // Texts of one moment follow each other: where the last one ends, and how high it stands.
    let mut last: Option<(usize, Time, f64, f64)> = None;
    for (place, (left, _, columns)) in stand.bars.iter().enumerate() {
        let bar = stand.system.bars.start + place;
        for mark in part.marks_of(bar).iter().filter(|mark| mark.staff == staff.staff) {
            // A place among the signs at the beginning of a line was meant for another line.
            let stated = mark.x.get().filter(|x| x.0 >= columns.beginning);
            let x = stated.unwrap_or_else(|| Tenths(columns.at(mark.onset))) + mark.shift_x.get().unwrap_or_default();
            let x = left + bench.mm(x);
            if let MarkKind::Hairpin(span, fades) = &mark.kind {
                let y = height(bench, mark, lines, false);
                match (span, hairpin.take()) {
                    (Span::Start, _) => hairpin = Some(([x, y], *fades)),
                    (_, Some((from, fades))) => wedge(from, [x, y], fades, lines.space, pen),
                    _ => {}
                }
                continue;
            }
            let Some((written, above)) = written(bench, mark, lines) else {
                drawn(mark, x, lines, pen);
                continue;
            };
            let y = height(bench, mark, lines, above);
            let x = match last {
                Some((at, onset, end, height)) if at == bar && onset == mark.onset && (height - y).abs() < written.size => {
                    x.max(end + 0.4 * written.size)
                }
                _ => x,
            };
            let end = written.draw([x, y], lines.space, pen);
            last = Some((bar, mark.onset, end, y));
        }
    }
    if let (Some((from, fades)), Some((left, width, _))) = (hairpin, stand.bars.last()) {
        wedge(from, [left + width - lines.space, from[1]], fades, lines.space, pen);
    }
    syllables(bench, stand, staff, lines, pen);
}

/// The height of a mark, from the top of the sheet.
fn height(bench: &Bench, mark: &Mark, lines: Lines, usually_above: bool) -> f64 {
    let shift = mark.shift_y.get().map_or(0.0, |shift| bench.mm(shift));
    let above = mark.above.unwrap_or(usually_above);
    let usual = if above { lines.top - ABOVE * lines.space } else { lines.bottom() + BELOW * lines.space };
    mark.y.get().map_or(usual, |stated| lines.top - bench.mm(stated)) - shift
}

fn wedge(from: [f64; 2], to: [f64; 2], fades: bool, space: f64, pen: &mut Pen) {
    if to[0] > from[0] {
        let (point, mouth) = if fades { (to, from) } else { (from, to) };
        pen.line(point, [mouth[0], mouth[1] - 0.5 * space], 0.12 * space);
        pen.line(point, [mouth[0], mouth[1] + 0.5 * space], 0.12 * space);
    }
}

/// A text beside the notes.
struct Written {
    text: String,
    size: f64,
    face: Face,
    boxed: bool,
}

impl Written {
    /// Writes it; where it ends.
    fn draw(&self, [x, y]: [f64; 2], space: f64, pen: &mut Pen) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "letters of a text")]
        let letters = self.text.chars().count() as f64;
        if !self.boxed {
            pen.text([x, y], self.size, Anchor::Start, self.face, &self.text);
            return x + letters * 0.5 * self.size;
        }
        let width = letters * 0.62 * self.size + 0.8 * space;
        pen.text([x + 0.4 * space, y], self.size, Anchor::Start, self.face, &self.text);
        let (top, bottom) = (y - 0.9 * self.size, y + 0.25 * self.size);
        let corners = [[x, top], [x + width, top], [x + width, bottom], [x, bottom]];
        for (index, from) in corners.iter().enumerate() {
            pen.line(*from, corners[(index + 1) % 4], 0.16 * space);
        }
        x + width
    }
}

/// What a mark writes, and whether it usually stands above the staff; `None` where it writes nothing.
fn written(bench: &Bench, mark: &Mark, lines: Lines) -> Option<(Written, bool)> {
    let space = lines.space;
    let points = mark.points.map(f64::from).or(bench.score.instructions.word_points).unwrap_or(USUAL_TEXT_POINTS);
    let size = points * MM_PER_POINT;
    let plain = |text: &str, size: f64, face: Face| Written { text: text.to_owned(), size, face, boxed: false };
    Some(match &mark.kind {
        MarkKind::Words(words) => (plain(words, size, Face::Italic), true),
        MarkKind::Dynamic(name) => (plain(name, 2.6 * space, Face::BoldItalic), false),
        MarkKind::ChordSymbol(symbol) => (plain(symbol, size, Face::Plain), true),
        MarkKind::Pedal(Span::Start) => (plain("Ped.", 2.2 * space, Face::Italic), false),
        MarkKind::OctaveLine(Span::Start, steps) => {
            (plain(if steps.abs() > 7 { "15" } else { "8" }, 2.0 * space, Face::Italic), *steps >= 0)
        }
        MarkKind::Segno => (plain("Segno", size, Face::Bold), true),
        MarkKind::Coda => (plain("Coda", size, Face::Bold), true),
        MarkKind::Metronome { beat, from, to } => {
            let tempo = if (from - to).abs() < 0.01 { format!("{from:.0}") } else { format!("{from:.0}-{to:.0}") };
            (plain(&format!("({} = {tempo})", beat_words(*beat)), size, Face::Plain), true)
        }
        MarkKind::Rehearsal(name) => (Written { text: name.clone(), size: size.max(2.4 * space), face: Face::Bold, boxed: true }, true),
        _ => return None,
    })
}

/// What a mark shows that is no text.
fn drawn(mark: &Mark, x: f64, lines: Lines, pen: &mut Pen) {
    if let MarkKind::Barline { fermata: true, .. } = mark.kind {
        super::notes::fermata([x, lines.top - 1.2 * lines.space], lines.space, pen);
    }
}

/// A beat in words: pictures need no music font.
fn beat_words(beat: Time) -> String {
    let named = [
        (1, 1, "whole"),
        (3, 4, "dotted half"),
        (1, 2, "half"),
        (3, 8, "dotted quarter"),
        (1, 4, "quarter"),
        (3, 16, "dotted eighth"),
        (1, 8, "eighth"),
    ];
    let found = named.iter().find(|(numer, denom, _)| Time::new(*numer, *denom) == Some(beat));
    found.map_or_else(|| format!("{}/{}", beat.numer(), beat.denom()), |(.., name)| (*name).to_owned())
}

fn syllables(bench: &Bench, stand: &Stand, staff: &Staff, lines: Lines, pen: &mut Pen) {
    let part = &bench.score.parts[staff.part];
    let mut next = 0;
    // The last syllable of each verse that goes on: where it ends, how high it stands.
    let mut going_on: Vec<(String, f64, f64)> = Vec::new();
    for (place, (left, _, columns)) in stand.bars.iter().enumerate() {
        let bar = stand.system.bars.start + place;
        let Some(first) = part.bars.get(bar).map(|bar| bar.first_note) else { continue };
        let notes = part.notes_of(bar);
        if next == 0 {
            next = part.lyrics.partition_point(|lyric| lyric.note < first);
        }
        for lyric in &part.lyrics[next..] {
            let Some(note) = lyric.note.checked_sub(first).and_then(|index| notes.get(index as usize)) else { break };
            next += 1;
            if note.staff != staff.staff {
                continue;
            }
            let verse = lyric.verse.trim().parse::<f64>().unwrap_or(1.0).clamp(1.0, 20.0) - 1.0;
            let points =
                lyric.points.map(f64::from).or_else(|| bench.score.instructions.lyric_points(&lyric.verse)).unwrap_or(LYRIC_POINTS);
            let usual = if lyric.above {
                lines.top - (ABOVE + verse * VERSES) * lines.space
            } else {
                lines.bottom() + (LYRICS + verse * VERSES) * lines.space
            };
            let y = lyric.y.get().map_or(usual, |stated| lines.top - bench.mm(stated));
            let x = left + bench.mm(note.x.get().unwrap_or_else(|| Tenths(columns.at(note.onset)))) + 0.62 * lines.space;
            let size = points * MM_PER_POINT;
            #[expect(clippy::cast_precision_loss, reason = "letters of a syllable")]
            let half = lyric.text.chars().count() as f64 * 0.22 * size;
            if let Some(at) = going_on.iter().position(|(verse, ..)| *verse == lyric.verse) {
                let (_, end, height) = going_on.swap_remove(at);
                if (height - y).abs() < size && x - half > end {
                    pen.text([f64::midpoint(end, x - half), y], size, Anchor::Middle, Face::Plain, "-");
                }
            }
            if matches!(lyric.syllabic, Syllabic::Begin | Syllabic::Middle) {
                going_on.push((lyric.verse.clone(), x + half, y));
            }
            pen.text([x, y], size, Anchor::Middle, Face::Plain, &lyric.text);
        }
    }
}
