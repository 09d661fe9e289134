//! Where the bars of a system stand, from the left of the sheet.

use super::{BarBox, PageMargins, System};
use crate::place::Known;
use crate::score::instructions::Print;
use crate::score::{Instructions, Score};
use crate::units::Tenths;

/// Turns a system's indents into positions on the sheet.
pub(super) fn ends(width: Known<Tenths>, margins: &PageMargins, system: &mut System) {
    let left = match (margins.left.value(), system.left.value()) {
        (Some(margin), Some(indent)) => Known::Derived(margin + indent),
        _ => Known::Unknown("the left margin is not stated"),
    };
    let right = match (width.value(), margins.right.value(), system.right.value()) {
        (Some(width), Some(margin), Some(indent)) => Known::Derived(width - margin - indent),
        (None, ..) => Known::Unknown("the page width is not stated"),
        _ => Known::Unknown("the right margin is not stated"),
    };
    system.left = left;
    system.right = right;
}

/// Places the bars of a system whose ends are known.
pub(super) fn place(system: &mut System, score: &Score, instructions: &Instructions) {
    let Some(left) = system.left.value() else {
        system.boxes_missing = Some("the left margin is not stated");
        return;
    };
    let printed = |part: usize| system.staves.iter().any(|staff| staff.part == part);
    let mut parts: Vec<usize> = (0..score.parts.len()).filter(|part| printed(*part)).collect();
    // Hidden parts may carry widths of an earlier layout, so they are asked last.
    parts.extend((0..score.parts.len()).filter(|part| !printed(*part)));
    let stated = |bar: usize| parts.iter().find_map(|part| instructions.widths.get(*part)?.get(bar)?.get());
    let mut boxes = Vec::with_capacity(system.bars.len());
    // Multi-bar rests for whose bars the file writes no room share what is left over.
    let mut unsized_rests = Vec::new();
    let mut rest_until = multi_rest_reaching(score, system.bars.start);
    for bar in system.bars.clone() {
        if let Some(bars) = score.multi_rest(bar) {
            rest_until = bar + bars;
        }
        let in_multi_rest = bar < rest_until;
        let width = stated(bar).filter(|width| !in_multi_rest || *width > Tenths::ZERO);
        match width {
            Some(width) => boxes.push(BarBox { left: Tenths::ZERO, width, in_multi_rest }),
            None if in_multi_rest => {
                let begins = score.multi_rest(bar).is_some() || bar == system.bars.start;
                let until = rest_until.min(system.bars.end);
                let whole_rest_unsized = (bar..until).all(|bar| stated(bar).is_none_or(|width| width == Tenths::ZERO));
                if begins && whole_rest_unsized {
                    unsized_rests.push(boxes.len());
                }
                boxes.push(BarBox { left: Tenths::ZERO, width: Tenths::ZERO, in_multi_rest });
            }
            None => {
                system.boxes_missing = Some("the width of a bar is not stated");
                return;
            }
        }
    }
    let distance = |bar: usize| {
        let own = instructions.prints_at(bar).find_map(Print::measure_distance);
        own.map_or(Tenths::ZERO, |distance| distance.value)
    };
    let distances: Vec<Tenths> = system.bars.clone().map(distance).collect();
    if !unsized_rests.is_empty() {
        let Some(right) = system.right.value() else {
            system.boxes_missing = Some("the right margin is not stated");
            return;
        };
        let taken: Tenths = boxes.iter().map(|one| one.width).sum::<Tenths>() + distances.iter().copied().sum();
        let share = (right - left - taken).max(Tenths::ZERO) * (1.0 / f64::from(u32::try_from(unsized_rests.len()).unwrap_or(u32::MAX)));
        for index in unsized_rests {
            boxes[index].width = share;
        }
    }
    let mut at = left;
    for (one, distance) in boxes.iter_mut().zip(distances) {
        at += distance;
        one.left = at;
        at += one.width;
    }
    system.boxes = boxes;
}

/// End of a multi-bar rest that began before a bar and reaches over it; the bar itself where there is none.
fn multi_rest_reaching(score: &Score, bar: usize) -> usize {
    // No house prints rests of more bars as one.
    const LONGEST: usize = 1_000;
    let from = bar.saturating_sub(LONGEST);
    (from..bar).rev().find_map(|begin| score.multi_rest(begin).map(|bars| begin + bars)).filter(|end| *end > bar).unwrap_or(bar)
}
