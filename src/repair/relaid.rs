//! A casting off as layout: where every system begins, how far apart everything stands, how wide every bar is.

use super::work::Bench;
use super::{CastOff, Ground, Plan};
use crate::cast::{Down, Impossible};
use crate::page::{Side, Staff};
use crate::room::across::{Bar, Desk, Music, force};
use crate::score::Score;
use crate::units::{Mm, STAFF_TENTHS, Scale, Sp, Tenths};
use std::ops::Range;

/// A last line wider than this share of natural is left short, at its natural width (our own).
const LEFT_SHORT: f64 = 1.5;

/// Steps of a millimetre in which a staff height is written.
const STAFF_STEPS: f64 = 10_000.0;

/// A layout to be written.
#[derive(Debug)]
pub struct Relaid {
    /// Height of staves of full size.
    pub staff: Mm,
    /// Width and height of the paper.
    pub paper: [Mm; 2],
    /// Left, right, top and bottom margin.
    pub margins: [Mm; 4],
    /// The same as they are now, where that is stated.
    pub old_margins: Option<[Mm; 4]>,
    /// The systems in their order.
    pub systems: Vec<RelaidSystem>,
    /// Pages with music.
    pub pages: usize,
    /// For every page there is now, the page that holds its first bar then, both from 1.
    pub moved_pages: Vec<usize>,
    /// Printed number of each page.
    pub page_numbers: Vec<usize>,
    /// Number to state for the first page, where it would not be on its side without one.
    pub first_number: Option<String>,
    /// Staves that the file hides in words, and that are left out of some system then: part, staff.
    pub hidden: Vec<(usize, u8)>,
}

/// One system of it.
#[derive(Debug)]
pub struct RelaidSystem {
    /// Its bars, by index.
    pub bars: Range<usize>,
    /// It begins a page: whether a blank page stands before that.
    pub new_page: Option<bool>,
    /// From the system above, or from the top margin, as it is stated: a small staff may scale the distance above it.
    pub distance: Mm,
    /// Indents of its ends.
    pub indents: [Mm; 2],
    /// Its staves, top first: part, staff.
    pub shown: Vec<(usize, u8)>,
    /// Distances of staves from the staff above, as they are stated: part, staff, distance.
    pub gaps: Vec<(usize, u8, Mm)>,
    /// Width of each of its bars; none at all for bars of a multi-bar rest after its first.
    pub widths: Vec<Tenths>,
}

impl Relaid {
    /// A length in tenths of the new scaling, to the hundredth that is written.
    pub fn tenths(&self, length: Mm) -> Tenths {
        hundredth(Tenths(length.0 / self.staff.0 * STAFF_TENTHS))
    }

    /// The layout of a casting off.
    ///
    /// # Errors
    /// As the casting off itself.
    pub fn of(ground: &Ground, plan: &Plan, made: &CastOff) -> Result<Self, Impossible> {
        let bench = Bench::of(ground, plan)?;
        let music = Music::at(ground.score, Scale::new(ground.full_size(plan.staff).0, STAFF_TENTHS));
        let mut systems = Vec::new();
        let first_number = first_number(ground, made);
        let stated: Option<usize> = first_number.as_ref().and_then(|number| number.parse().ok());
        // Where nothing is stated pages count from one, on whichever side they begin.
        let mut number = stated.map_or(0, |number| number.saturating_sub(1));
        let (mut page_starts, mut page_numbers) = (Vec::new(), Vec::new());
        for (index, page) in made.casting.pages.iter().enumerate() {
            number += 1 + usize::from(page.blank_before);
            page_numbers.push(number);
            let steps = if page.short.is_some() { 0.0 } else { page.steps };
            let spread = |gap: Down| {
                let step = if steps >= 0.0 { gap.generous - gap.natural } else { gap.natural - gap.close };
                gap.natural + step * steps
            };
            let mut below: Option<Down> = None;
            for (place, bars) in page.systems.iter().enumerate() {
                if place == 0 {
                    page_starts.push(bars.start);
                }
                let detail = bench.system(bars.clone(), plan);
                let heading = if place > 0 { ground.heading[bars.start] } else { Mm::ZERO };
                let head = ground.heads[usize::from(index > 0)];
                let distance = match below {
                    Some(below) => spread(below + detail.above) + heading,
                    None if head > Mm::ZERO => head + ground.below_head(index, plan),
                    None => Mm::ZERO,
                };
                below = Some(detail.below);
                let stated = |staff: &Staff, distance: Mm| distance * (1.0 / staff.distance_factor);
                let distance = detail.indices.first().map_or(distance, |first| stated(&ground.staves[*first], distance));
                let shown = detail.indices.iter().map(|staff| &ground.staves[*staff]).map(|staff| (staff.part, staff.staff)).collect();
                let lower = detail.indices.iter().skip(1).map(|staff| &ground.staves[*staff]);
                let gaps = lower.zip(&detail.gaps).map(|(staff, gap)| (staff.part, staff.staff, stated(staff, spread(*gap)))).collect();
                let (widths, left_over) = line(ground, &bench, &music, bars).ok_or(Impossible::NoTime(bars.start))?;
                let indent = ground.indents[usize::from(!ground.movements.iter().any(|movement| movement.start == bars.start))];
                let new_page = (place == 0).then_some(page.blank_before);
                systems.push(RelaidSystem { bars: bars.clone(), new_page, distance, indents: [indent, left_over], shown, gaps, widths });
            }
        }
        let [left, right, top, bottom] = plan.page.margins;
        let pages = made.casting.pages.len();
        let begins_now = ground.present.pages.iter().filter_map(|systems| systems.first()).map(|system| system.start);
        let moved_pages = begins_now.map(|bar| page_starts.partition_point(|start| *start <= bar)).collect();
        let hidden = hidden(ground.score, &systems);
        Ok(Self {
            staff: Mm((ground.full_size(plan.staff).0 * STAFF_STEPS).round() / STAFF_STEPS),
            paper: [plan.page.width, plan.page.height],
            margins: [left, right, top, bottom],
            old_margins: ground.present.margins,
            systems,
            pages,
            moved_pages,
            page_numbers,
            first_number,
            hidden,
        })
    }
}

/// Staves left out of some system, where the file says in words which it hides. Where it does not, it is known by the distances of the others.
fn hidden(score: &Score, systems: &[RelaidSystem]) -> Vec<(usize, u8)> {
    if score.instructions.staff_details.iter().all(|details| details.printed != Some(false)) {
        return Vec::new();
    }
    let all = score.parts.iter().enumerate().flat_map(|(part, one)| (1..=one.staves).map(move |staff| (part, staff)));
    all.filter(|staff| systems.iter().any(|system| !system.shown.contains(staff))).collect()
}

/// A length as it is written.
fn hundredth(length: Tenths) -> Tenths {
    Tenths((length.0 * 100.0).round() / 100.0)
}

/// The number that the first page must state to stand on its side: its present one if that does, else the first that does.
fn first_number(ground: &Ground, made: &CastOff) -> Option<String> {
    let side = made.casting.pages.first()?.side;
    let instructions = &ground.score.instructions;
    let present = instructions.prints_at(0).find_map(|print| print.page_number()).map(str::to_owned);
    match present {
        Some(number) if side == ground.present.first => Some(number),
        None if (side == Side::Verso) == instructions.begins_verso => None,
        _ => Some(if side == Side::Recto { "1" } else { "2" }.to_owned()),
    }
}

/// Widths of the bars of a line, and what is left over at its right end.
fn line(ground: &Ground, bench: &Bench, music: &Music, range: &Range<usize>) -> Option<(Vec<Tenths>, Mm)> {
    let mut desk = Desk::default();
    let bar = |bar: usize| music.bar(&ground.staves, bar, bar == range.start, &mut desk);
    let bars: Vec<Bar> = range.clone().map(bar).collect::<Option<_>>()?;
    let first = &bench.settings[range.start];
    let next = bench.settings.get(range.end);
    let ends = bench.settings[range.end - 1].ends_movement || next.is_none();
    let announced = next.filter(|_| !ends).map_or(Sp::ZERO, |next| next.announced);
    let available = first.line - first.beginning - announced;
    let mut nodes = Vec::new();
    let mut width = |bar: &Bar, force: f64| bar.width(force, &mut nodes);
    let natural: Sp = bars.iter().map(|bar| width(bar, 1.0)).sum();
    let short = ends && available > natural * LEFT_SHORT;
    let force = if short { 1.0 } else { force(&bars, available) };
    let mut widths: Vec<Sp> = bars.iter().map(|bar| width(bar, force)).collect();
    let taken: Sp = widths.iter().copied().sum();
    let left_over = if short { available - taken } else { Sp::ZERO };
    if !short && taken > Sp::ZERO {
        // What a force cannot reach (a bar that is wider than its line) is shared out, so that the line is full.
        let share = available / taken;
        for width in &mut widths {
            *width = *width * share;
        }
    }
    if let Some(one) = widths.first_mut() {
        *one += first.beginning;
    }
    if let Some(last) = widths.iter_mut().rev().find(|width| **width > Sp::ZERO) {
        *last += announced;
    }
    let tenths = |width: Sp| hundredth(Tenths(width.0 * STAFF_TENTHS / 4.0));
    Some((widths.into_iter().map(tenths).collect(), Mm(left_over.0 * bench.space.0)))
}
