//! What frames the music: staves, bar lines, brackets, names, bar numbers; titles and running heads.

use super::pen::{Anchor, Face, Pen};
use super::{Bench, Lines, Stand};
use crate::page::Staff;
use crate::score::mark::{Side, Span};
use crate::score::{Justify, MarkKind, USUAL_TEXT_POINTS, Valign};
use crate::units::{MM_PER_POINT, Tenths};

/// Widths of lines in staff spaces (usual ones, from memory).
const BAR_LINE: f64 = 0.16;
const THICK: f64 = 0.5;
/// Line pitch of texts, in sizes.
const PITCH: f64 = 1.2;

/// The credits of a page.
pub(super) fn credits(bench: &Bench, page: usize, height: Tenths, pen: &mut Pen) {
    for credit in bench.score.credits.iter().filter(|credit| credit.page as usize == page) {
        let mut last: Option<(f64, f64, Anchor)> = None;
        for words in &credit.words {
            let size = words.points.or(bench.score.instructions.word_points).unwrap_or(USUAL_TEXT_POINTS) * MM_PER_POINT;
            let anchor = match words.justify {
                Justify::Left => Anchor::Start,
                Justify::Center => Anchor::Middle,
                Justify::Right => Anchor::End,
            };
            let lines = words.text.trim_end().lines().count().max(1);
            #[expect(clippy::cast_precision_loss, reason = "lines of a text")]
            let below = (lines - 1) as f64 * PITCH * size;
            let (x, y, anchor) = match (words.x, words.y, last) {
                (Some(x), Some(y), _) => {
                    let y = bench.mm(height - y);
                    let baseline = match words.valign {
                        Valign::Top => y + 0.8 * size,
                        Valign::Middle => y + 0.3 * size - below / 2.0,
                        Valign::Bottom => y - 0.2 * size - below,
                        Valign::Baseline => y,
                    };
                    (bench.mm(x), baseline, anchor)
                }
                // A text without a place follows the one before, below it.
                (_, _, Some((x, y, anchor))) => (x, y + PITCH * size, anchor),
                _ => continue,
            };
            let mut at = y;
            for line in words.text.lines() {
                pen.text([x, at], size, anchor, Face::Plain, line);
                at += PITCH * size;
            }
            last = Some((x, y + below, anchor));
        }
    }
}

/// Staves, bar lines and the left end of a system.
pub(super) fn system(bench: &Bench, stand: &Stand, pen: &mut Pen) {
    let system = stand.system;
    let (Some(left), Some(right)) = (system.left.value(), system.right.value()) else { return };
    let (left, right) = (bench.mm(left), bench.mm(right));
    // Lines reach as far as the bars do, where these overrun or stop short.
    let end = stand.bars.last().map_or(right, |(from, width, _)| from + width);
    let staves: Vec<(&Staff, Lines)> = system.staves.iter().filter_map(|staff| Some((staff, Lines::of(bench, staff)?))).collect();
    for (_, lines) in &staves {
        for line in 0..lines.count {
            pen.staff_line(left, end, lines.top + f64::from(line) * lines.space);
        }
    }
    let (Some((_, first)), Some((_, last))) = (staves.first(), staves.last()) else { return };
    if staves.len() > 1 {
        pen.line([left, first.top], [left, last.bottom()], BAR_LINE * first.space);
    }
    brackets(bench, &staves, left, pen);
    names(bench, stand, &staves, left, pen);
    for (place, (from, width, _)) in stand.bars.iter().enumerate() {
        let bar = system.bars.start + place;
        if system.boxes[place].in_multi_rest && place + 1 < stand.bars.len() && system.boxes[place + 1].width <= Tenths(1.0) {
            continue;
        }
        for same in groups(bench, &staves) {
            bar_lines(bench, bar, [*from, from + width], same, pen);
        }
    }
    let number = bench.score.bar_number(system.bars.start);
    if system.bars.start > 0 {
        pen.text([left, first.top - 1.3 * first.space], 2.0 * first.space, Anchor::Start, Face::Italic, &number);
    }
}

/// Staves through which bar lines are drawn: those of one part, and of groups through which the file says that they run.
fn groups<'a, 'b>(bench: &Bench, staves: &'a [(&'b Staff, Lines)]) -> Vec<&'a [(&'b Staff, Lines)]> {
    let joined = |one: usize, other: usize| {
        bench.score.groups.iter().any(|group| group.joined_barlines && group.first <= one && other <= group.last)
    };
    staves.chunk_by(|one, other| one.0.part == other.0.part || joined(one.0.part, other.0.part)).collect()
}

/// Brackets before groups of parts; a brace before the staves of one part.
fn brackets(bench: &Bench, staves: &[(&Staff, Lines)], left: f64, pen: &mut Pen) {
    for group in &bench.score.groups {
        let within: Vec<Lines> =
            staves.iter().filter(|(staff, _)| (group.first..=group.last).contains(&staff.part)).map(|(_, lines)| *lines).collect();
        let ([first, ..], [.., last]) = (&within[..], &within[..]) else { continue };
        let (top, bottom, space) = (first.top, last.bottom(), first.space);
        match group.symbol.as_str() {
            "bracket" => {
                let x = left - 1.1 * space;
                pen.rectangle([x, top - 0.3 * space], 0.45 * space, bottom - top + 0.6 * space);
                pen.line([x, top - 0.3 * space], [x + 1.1 * space, top - 0.8 * space], 0.15 * space);
                pen.line([x, bottom + 0.3 * space], [x + 1.1 * space, bottom + 0.8 * space], 0.15 * space);
            }
            "square" | "line" => pen.line([left - 1.4 * space, top], [left - 1.4 * space, bottom], 0.2 * space),
            "brace" if within.len() > 1 => brace([left - 0.6 * space, top], bottom - top, space, pen),
            _ => {}
        }
    }
    for one in staves.chunk_by(|one, other| one.0.part == other.0.part).filter(|one| one.len() > 1) {
        let (top, bottom, space) = (one[0].1.top, one[one.len() - 1].1.bottom(), one[0].1.space);
        let bracketed = bench.score.groups.iter().any(|group| (group.first..=group.last).contains(&one[0].0.part));
        brace([left - if bracketed { 1.9 } else { 0.6 } * space, top], bottom - top, space, pen);
    }
}

fn brace([x, top]: [f64; 2], height: f64, space: f64, pen: &mut Pen) {
    let middle = top + height / 2.0;
    for (end, inner) in [(top, middle - height * 0.12), (top + height, middle + height * 0.12)] {
        let shape: [(char, &[[f64; 2]]); 2] = [
            ('M', &[[x, end]]),
            ('C', &[[x - 1.6 * space, f64::midpoint(end, middle)], [x + 0.4 * space, inner], [x - 1.0 * space, middle]]),
        ];
        pen.shape([0.0, 0.0], 1.0, &shape, 0.35 * space);
    }
}

/// Names before the first system of a movement, short names before others.
fn names(bench: &Bench, stand: &Stand, staves: &[(&Staff, Lines)], left: f64, pen: &mut Pen) {
    for same in staves.chunk_by(|one, other| one.0.part == other.0.part) {
        let part = &bench.score.parts[same[0].0.part];
        let name = if stand.system.begins_movement { &part.name } else { &part.abbreviation };
        let lines = same[0].1;
        let middle = f64::midpoint(lines.top, same[same.len() - 1].1.bottom());
        let room = left - 2.4 * lines.space;
        let size = 2.0 * lines.space;
        // A name that would leave the sheet is a name that the file does not show here.
        #[expect(clippy::cast_precision_loss, reason = "letters of a name")]
        let width = name.chars().count() as f64 * 0.5 * size;
        if staves.len() > 1 && width < room {
            pen.text([room, middle + 0.7 * lines.space], size, Anchor::End, Face::Plain, name);
        }
    }
}

/// The bar lines of one bar through staves that belong together.
fn bar_lines(bench: &Bench, bar: usize, [from, to]: [f64; 2], staves: &[(&Staff, Lines)], pen: &mut Pen) {
    let (Some((first, top)), Some((_, bottom))) = (staves.first(), staves.last()) else { return };
    let space = top.space;
    let (above, below) =
        if staves.len() == 1 && top.count == 1 { (top.top - 2.0 * space, top.top + 2.0 * space) } else { (top.top, bottom.bottom()) };
    let line = |x: f64, pen: &mut Pen| pen.line([x, above], [x, below], BAR_LINE * space);
    let thick = |x: f64, pen: &mut Pen| pen.rectangle([x, above], THICK * space, below - above);
    let dots = |x: f64, pen: &mut Pen| {
        for (_, lines) in staves {
            for step in [-3, -5] {
                pen.dot([x, lines.y(step)], 0.22 * space);
            }
        }
    };
    let mut right_drawn = false;
    for mark in bench.score.parts[first.part].marks_of(bar) {
        let MarkKind::Barline { style, side, repeat, .. } = &mark.kind else { continue };
        match (side, repeat, style.as_str()) {
            (Side::Left, Some(Span::Start), _) => {
                thick(from, pen);
                line(from + (THICK + 0.4) * space, pen);
                dots(from + (THICK + 0.9) * space, pen);
            }
            (Side::Right, Some(_), _) => {
                thick(to - THICK * space, pen);
                line(to - (THICK + 0.4) * space, pen);
                dots(to - (THICK + 0.9) * space, pen);
                right_drawn = true;
            }
            (Side::Right, None, "light-heavy") => {
                thick(to - THICK * space, pen);
                line(to - (THICK + 0.4) * space, pen);
                right_drawn = true;
            }
            (Side::Right, None, "light-light") => {
                line(to, pen);
                line(to - 0.5 * space, pen);
                right_drawn = true;
            }
            (Side::Right, None, "none") => right_drawn = true,
            _ => {}
        }
    }
    if !right_drawn {
        line(to, pen);
    }
}
