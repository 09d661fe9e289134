//! Heads, headings and foot lines: the credits of each page as boxes.

use super::{Page, System};
use crate::score::{Credit, Instructions, Score, USUAL_TEXT_POINTS, Valign};
use crate::units::{MM_PER_POINT, Mm, STAFF_TENTHS, Scale, Tenths};

/// Line pitch, rise above the baseline and fall below it, in sizes of the text (typical of text fonts, from memory).
const LINE_PITCH: f64 = 1.2;
const RISE: f64 = 0.8;
const FALL: f64 = 0.2;
/// A first system that stands this much lower than the piece's usual one leaves room for a heading (from memory).
const HEADING_ROOM: Tenths = Tenths(STAFF_TENTHS * 2.0);

/// Finds the head and foot of every page and the headings between its systems.
pub(super) fn place(pages: &mut [Page], score: &Score, instructions: &Instructions) {
    let scale = instructions.scale.map(|scale| scale.value);
    let usual = usual_top_distance(pages);
    let mut any_credit = vec![false; pages.len()];
    for credit in &score.credits {
        let Some(index) = (credit.page as usize).checked_sub(1).filter(|index| *index < pages.len()) else { continue };
        let page = &mut pages[index];
        let (Some(height), Some(scale)) = (page.height.value(), scale) else { continue };
        for (top, bottom) in boxes(credit, instructions, scale) {
            any_credit[index] = true;
            put(page, height - top, height - bottom, height);
        }
    }
    for (page, has_credit) in pages.iter_mut().zip(any_credit) {
        let Some(first) = page.systems.first() else { continue };
        let opens = first.begins_movement;
        let (Some(distance), Some(usual), Some(margin)) = (first.distance.value(), usual, page.margins.top.value()) else { continue };
        if !has_credit && opens && distance > usual + HEADING_ROOM {
            page.head = margin + distance - usual;
        }
    }
}

/// Median distance from the top margin to the first system of a page, over pages that begin no movement.
fn usual_top_distance(pages: &[Page]) -> Option<Tenths> {
    let firsts = pages.iter().filter_map(|page| page.systems.first());
    let mut distances: Vec<f64> =
        firsts.filter(|first| !first.begins_movement).filter_map(|first| Some(first.distance.value()?.0)).collect();
    distances.sort_unstable_by(f64::total_cmp);
    distances.get(distances.len() / 2).copied().map(Tenths)
}

/// Upper and lower edge of each text of a credit, in tenths above the sheet's bottom. Texts without a position of
/// their own follow the one before on its line, or below it after a line break.
fn boxes(credit: &Credit, instructions: &Instructions, scale: Scale) -> Vec<(Tenths, Tenths)> {
    let mut found: Vec<(Tenths, Tenths)> = Vec::new();
    for words in &credit.words {
        let points = words.points.or(instructions.word_points).unwrap_or(USUAL_TEXT_POINTS);
        let size = scale.tenths(Mm(points * MM_PER_POINT));
        let lines = words.text.trim_end().lines().count().max(1);
        #[expect(clippy::cast_precision_loss, reason = "lines of a text")]
        let fallen = size * (LINE_PITCH * (lines - 1) as f64);
        let text_height = size * (RISE + FALL) + fallen;
        let Some(y) = words.y else {
            if let Some(before) = found.last_mut() {
                before.1 = before.1 - fallen;
            }
            continue;
        };
        let top = match words.valign {
            Valign::Top => y,
            Valign::Middle => y + text_height * 0.5,
            Valign::Bottom => y + text_height,
            Valign::Baseline => y + size * RISE,
        };
        if !words.text.trim().is_empty() {
            found.push((top, top - text_height));
        }
    }
    found
}

/// Puts a text with the given edges (from the top of the sheet) where it belongs on its page.
fn put(page: &mut Page, top: Tenths, bottom: Tenths, height: Tenths) {
    let middle = (top + bottom) * 0.5;
    let first = page.systems.first().and_then(|system| system.top().value());
    let last = page.systems.last().and_then(|system| system.bottom().value());
    let above_music = first.map_or(middle < height * 0.5, |first| middle < first);
    let below_music = last.map_or(middle >= height * 0.5, |last| middle > last);
    if above_music {
        page.head = page.head.max(bottom);
    } else if below_music {
        page.foot = page.foot.max(height - top);
    } else if let Some(system) = below(&mut page.systems, middle) {
        system.heading_above = true;
    }
}

/// The system under a text that stands between two systems; `None` where it stands within one.
fn below(systems: &mut [System], y: Tenths) -> Option<&mut System> {
    let index = systems.iter().position(|system| system.top().value().is_some_and(|top| top > y))?;
    let above = index.checked_sub(1)?;
    let clear = systems[above].bottom().value().is_some_and(|bottom| bottom < y);
    if clear { systems.get_mut(index) } else { None }
}
