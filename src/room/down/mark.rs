//! Directions, chord symbols and signs at bar lines as ink above and below their staff.

use super::extent::{self as usual, Extent};
use super::skyline::Skyline;
use super::staff::Bench;
use crate::room::across::{em, ems};
use crate::score::mark::{Side, Span};
use crate::score::{Mark, MarkKind};
use crate::units::{Sp, Tenths};
use std::ops::Range;

/// Between the outer lines of five, in spaces.
const LINES: Sp = Sp(4.0);
/// Width of a sign that is no text.
const SIGN_WIDTH: Sp = Sp(2.5);
/// Farthest from its staff that a mark can stand and still belong to it: what a file sets farther off (a note at the foot of the page, hung on
/// some bar) stands elsewhere on the page (from memory).
const FARTHEST: Sp = Sp(25.0);
/// Room of a metronome mark, in ems.
const METRONOME_EMS: f64 = 3.5;

/// A line that began and has not ended.
struct Begun {
    kind: std::mem::Discriminant<MarkKind>,
    columns: Range<usize>,
    up: Tenths,
    down: Tenths,
}

/// Adds the marks of a staff.
pub(super) fn marks(bench: &Bench, line: &mut Skyline) {
    let mut begun: Vec<Begun> = Vec::new();
    for bar in bench.system.bars.clone() {
        for mark in bench.part.marks_of(bar).iter().filter(|mark| mark.staff == bench.staff.staff) {
            let Some((extent, width)) = extent(bench, mark) else { continue };
            let columns = bench.columns(bar, place(bench, bar, mark), width);
            let (up, down) = reach(bench, mark, extent);
            if up.max(down) > bench.tenths(FARTHEST) {
                continue;
            }
            match mark.kind {
                MarkKind::Hairpin(span, _) | MarkKind::Dashes(span) | MarkKind::Bracket(span) | MarkKind::OctaveLine(span, _) => {
                    let kind = std::mem::discriminant(&mark.kind);
                    if span == Span::Stop {
                        let Some(found) = begun.iter().rposition(|one| one.kind == kind) else { continue };
                        let one = begun.swap_remove(found);
                        line.add(&(one.columns.start..columns.end.max(one.columns.end)), one.up.max(up), one.down.max(down));
                    } else {
                        begun.push(Begun { kind, columns, up, down });
                    }
                }
                _ => line.add(&columns, up, down),
            }
        }
    }
    let last = bench.system.bars.end.saturating_sub(1);
    let end = bench.axis.span(bench.system, last, None, None).end;
    for one in begun {
        line.add(&(one.columns.start..end.max(one.columns.end)), one.up, one.down);
    }
}

/// How high a mark is and how wide; `None` for what shows nothing.
fn extent(bench: &Bench, mark: &Mark) -> Option<(Extent, Sp)> {
    let scale = bench.score.instructions.scale.map(|scale| scale.value);
    let points = mark.points.map(f64::from).or(bench.score.instructions.word_points);
    let text = |text: &str| Sp(em(points, scale).0 * ems(text));
    Some(match &mark.kind {
        MarkKind::Dynamic(name) => (
            if mark.above == Some(true) { usual::DYNAMIC_ABOVE } else { usual::DYNAMIC },
            Sp(1.3 * f64::from(u32::try_from(name.len()).unwrap_or(4).min(8))),
        ),
        MarkKind::Words(words) if words.trim().is_empty() => return None,
        MarkKind::Words(words) => (usual::WORDS, text(words)),
        MarkKind::Metronome { .. } | MarkKind::MetronomeRelation => (usual::WORDS, Sp(em(points, scale).0 * METRONOME_EMS)),
        MarkKind::Rehearsal(mark) => (usual::REHEARSAL, text(mark) + Sp(1.0)),
        MarkKind::ChordSymbol(symbol) => (usual::CHORD_SYMBOL, text(symbol)),
        MarkKind::OctaveLine(_, steps) => (Extent { above: *steps >= 0, ..usual::OCTAVE_LINE }, SIGN_WIDTH),
        MarkKind::Hairpin(..) | MarkKind::Dashes(_) | MarkKind::Bracket(_) => (usual::HAIRPIN, SIGN_WIDTH),
        MarkKind::Pedal(Span::Start) => (usual::PEDAL, SIGN_WIDTH),
        MarkKind::Segno | MarkKind::Coda => (usual::SIGN, SIGN_WIDTH),
        MarkKind::FiguredBass => (usual::FIGURES, SIGN_WIDTH),
        // Brackets of endings stand over the topmost staff.
        MarkKind::Barline { ending: Some((Span::Start, _)), .. } if is_topmost(bench) => (usual::ENDING, SIGN_WIDTH),
        _ => return None,
    })
}

fn is_topmost(bench: &Bench) -> bool {
    let first = bench.system.staves.first();
    first.is_some_and(|first| (first.part, first.staff) == (bench.staff.part, bench.staff.staff))
}

/// Where a mark stands in its bar: as it says, else where the first note from its moment on stands.
fn place(bench: &Bench, bar: usize, mark: &Mark) -> Option<f64> {
    let shift = mark.shift_x.get().map_or(0.0, |shift| shift.0);
    if let Some(x) = mark.x.get() {
        return Some(x.0 + shift);
    }
    if let MarkKind::Barline { side, .. } = &mark.kind {
        return (*side == Side::Left).then_some(0.0);
    }
    let later = bench.part.notes_of(bar).iter().filter(|note| note.onset >= mark.onset);
    let nearest = later.filter_map(|note| Some((note.onset, note.x.get()?.0))).min_by_key(|(onset, _)| *onset);
    nearest.map(|(_, x)| x + shift)
}

/// How far a mark reaches above the top line and below the bottom line.
fn reach(bench: &Bench, mark: &Mark, extent: Extent) -> (Tenths, Tenths) {
    let shift = mark.shift_y.get().unwrap_or_default();
    let above = mark.above.unwrap_or(extent.above);
    // From the staff's top line, up.
    let height = mark.y.get().map_or_else(
        || {
            let away = if above { shift } else { -shift };
            // A shift alone counts from where the mark would stand; some files mean from the outer line, where it leads away from the
            // staff. The nearer reading is believed.
            let usual = bench.tenths(extent.usual);
            let away = if away > Tenths::ZERO { usual.max(away) } else { usual + away };
            if above { away } else { -away - bench.tenths(LINES) }
        },
        |stated| stated + shift,
    );
    (height + bench.tenths(extent.rise), -height - bench.tenths(LINES) + bench.tenths(extent.fall))
}
