//! The best casting off of one plan, and what the present one is worth beside it.

use super::credits::{BOTTOM, from_edge};
use super::plan::HandBreaks;
use super::{Ground, Plan};
use crate::cast::{self, At, Casting, Down, Faults, Impossible, LineFaults, Pages, Setting, Sheet, lines};
use crate::page::Staff;
use crate::room::across::{Desk, Music, Widths};
use crate::room::down::{LINE_GAP_HEIGHTS, STAFF_GAP_HEIGHTS, SYSTEM_GAP_HEIGHTS};
use crate::score::instructions::StaffKind;
use crate::units::{Mm, Scale, Sp};
use std::ops::Range;

/// Close but clear, in staff heights: between the staves of a system and between systems (the least distances of the room model: 4.5 and 8.5
/// staff spaces); between the lines of a part for whose reader nobody says more (crowded below 2.4, right from 2.8, trade).
const CLOSE_STAVES: f64 = 1.125;
/// See above.
const CLOSE_SYSTEMS: f64 = 2.125;
/// See above.
const CLOSE_LINES: f64 = 2.8;
/// A generous gap against a natural one (our own; the room model has the same).
const GENEROUS: f64 = std::f64::consts::SQRT_2;
/// A gap of this share of natural is natural to the eye (our own).
const ALL_BUT_NATURAL: f64 = 0.93;
/// Clear white between the ink of two systems: close, comfortable (spacing study of open scores).
const CLEAR: [Sp; 2] = [Sp(3.0), Sp(4.0)];

/// One line of a casting off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Room against natural.
    pub of_natural: f64,
    /// Its one bar needs so much more room than it has.
    pub overfull: Option<Mm>,
}

/// A casting off of a plan.
#[derive(Debug)]
pub struct CastOff {
    /// The division.
    pub casting: Casting,
    /// Its lines, in their order.
    pub lines: Vec<Line>,
    /// Height that staves and gaps may take on a later page.
    pub height: Mm,
    /// The same under the title block.
    pub first_height: Mm,
}

/// Reckons with one plan.
pub(super) struct Bench<'a, 'b> {
    ground: &'b Ground<'a>,
    /// Millimetres of a staff space of full size.
    pub(super) space: Mm,
    pub(super) settings: Vec<Setting>,
}

/// The best casting off of a plan.
///
/// # Errors
/// [`Impossible`] where there is none; where the exact time of a bar cannot be known, as no line.
pub fn cast_off(ground: &Ground, plan: &Plan) -> Result<CastOff, Impossible> {
    let bench = Bench::of(ground, plan)?;
    let table = lines(&bench.settings)?;
    let weighed = bench.weigh(&table, plan);
    let seconds: Vec<f64> = ground.turns.iter().map(|turn| turn.seconds).collect();
    let own_page = own_page(ground, plan);
    let work = pages(ground, plan, &weighed, &seconds, &own_page);
    let sheet = work.sheet;
    let least = sheet.first.min(sheet.height);
    if least < plan.staff {
        return Err(Impossible::NoHeight(plan.staff - least));
    }
    let casting = cast::cast_off(&work)?;
    let lines = casting.pages.iter().flat_map(|page| &page.systems).map(|bars| bench.line(&table, bars.start, bars.len())).collect();
    Ok(CastOff { casting, lines, height: sheet.height, first_height: sheet.first })
}

/// For every bar, and the end: whether a page must begin with it.
fn own_page(ground: &Ground, plan: &Plan) -> Vec<bool> {
    ground.own_page.iter().enumerate().map(|(bar, own)| *own || plan.breaks.pages.contains(&bar)).collect()
}

fn pages<'a>(ground: &'a Ground, plan: &Plan, lines: &'a [Vec<Option<cast::Line>>], seconds: &'a [f64], own_page: &'a [bool]) -> Pages<'a> {
    Pages {
        lines,
        own_page,
        heading: &ground.heading,
        turns: ground.turns_matter.then_some(seconds),
        sheet: sheet(ground, plan),
        first: plan.first,
        wanted: plan.wanted,
        most_work: plan.most_work,
        in_view: ground.copies_are.in_view(),
    }
}

/// What is wrong with the present casting off, on the paper and at the staff height it has now (`plan`); `None` where it is not known where
/// its pages begin.
pub fn worth_now(ground: &Ground, plan: &Plan) -> Option<Faults> {
    let present = &ground.present;
    if present.pages.is_empty() {
        return None;
    }
    let bench = Bench::of(ground, plan).ok()?;
    let weighed = bench.weigh(&lines(&bench.settings).ok()?, plan);
    let seconds: Vec<f64> = ground.turns.iter().map(|turn| turn.seconds).collect();
    let standing: Vec<cast::Standing> =
        present.pages.iter().zip(&present.sides).map(|(systems, (side, blank))| (*side, *blank, &systems[..])).collect();
    Some(cast::weigh(&pages(ground, plan, &weighed, &seconds, &ground.own_page), &standing))
}

/// Height of the pages between head and foot. The first staff keeps clear of a head; the margin it may touch.
fn sheet(ground: &Ground, plan: &Plan) -> Sheet {
    let [.., top, bottom] = plan.page.margins;
    let height = |page: usize| {
        let old = ground.present.margins.map_or(bottom, |margins| margins[BOTTOM]);
        let (head, foot) = (ground.heads[page], from_edge(ground.feet[page], old, bottom));
        let from = if head > Mm::ZERO { top + head + ground.below_head(page, plan) } else { top };
        (plan.page.height - bottom.max(foot) - from).max(Mm::ZERO)
    };
    Sheet { first: height(0), height: height(1), may_stay_short: true }
}

impl<'a, 'b> Bench<'a, 'b> {
    pub(super) fn of(ground: &'b Ground<'a>, plan: &Plan) -> Result<Self, Impossible> {
        let full = ground.full_size(plan.staff);
        let space = full * 0.25;
        let scale = Scale::new(full.0, crate::units::STAFF_TENTHS);
        let music = Music::at(ground.score, scale);
        let [left, right, ..] = plan.page.margins;
        let full = plan.page.width - left - right;
        let endings = ground.within_endings();
        let starts = |bar: usize| ground.movements.iter().any(|movement| movement.start == bar);
        let kept = |bar: usize| plan.keep_breaks && ground.present.systems.iter().any(|system| system.start == bar);
        let HandBreaks { systems, pages, never } = &plan.breaks;
        let mut settings = Vec::with_capacity(endings.len());
        let mut desk = Desk::default();
        for (bar, in_ending) in endings.into_iter().enumerate() {
            let reckoned = music.bar(&ground.staves, bar, false, &mut desk).ok_or(Impossible::NoTime(bar))?;
            let inside = Widths::of(&reckoned);
            let opening = Widths::of(&music.elsewhere(reckoned, &ground.staves, bar, true));
            let indent = ground.indents[usize::from(!starts(bar))];
            // What is said by hand goes before what the file has.
            let before = if bar > 0 && (starts(bar) || systems.contains(&bar) || pages.contains(&bar)) {
                At::Always
            } else if bar > 0 && never.contains(&bar) {
                At::Never
            } else if bar > 0 && kept(bar) {
                At::Always
            } else if music.is_gathered(bar) {
                At::Never
            } else if ground.is_good_break(bar) {
                At::Good
            } else if in_ending {
                At::InEnding
            } else {
                At::Plain
            };
            let beginning = music.beginning_at(&ground.staves, bar);
            let line = Sp((full - indent) / space);
            if line <= beginning {
                return Err(Impossible::NoWidth(Mm((beginning - line).0 * space.0)));
            }
            settings.push(Setting {
                opening,
                inside,
                beginning,
                announced: music.announced_at(&ground.staves, bar),
                line,
                gathered: music.is_gathered(bar),
                ends_movement: ground.movements.iter().any(|movement| movement.end == bar + 1),
                before,
            });
        }
        Ok(Self { ground, space, settings })
    }

    fn line(&self, table: &[Vec<Option<LineFaults>>], first: usize, bars: usize) -> Line {
        let found = table[first].get(bars.wrapping_sub(1)).copied().flatten();
        Line {
            of_natural: found.map_or(0.0, |line| line.of_natural),
            overfull: found.and_then(|line| line.overfull).map(|spaces| Mm(spaces.0 * self.space.0)),
        }
    }

    /// What every line needs down the page.
    fn weigh(&self, table: &[Vec<Option<LineFaults>>], plan: &Plan) -> Vec<Vec<Option<cast::Line>>> {
        table.iter().enumerate().map(|(first, row)| self.row(first, row, plan)).collect()
    }

    fn row(&self, first: usize, row: &[Option<LineFaults>], plan: &Plan) -> Vec<Option<cast::Line>> {
        let mut hung = self.begun(first);
        let mut indices = Vec::with_capacity(hung.shown.len());
        row.iter()
            .enumerate()
            .map(|(held, line)| {
                hung.add(self.ground, first + held);
                let faults = (*line)?.faults;
                hung.indices(&mut indices);
                let heights: Mm = indices.iter().map(|staff| self.height(*staff)).sum();
                let body = self.gaps(&hung, &indices, plan).fold(Down::fixed(heights), |sum, gap| sum + gap);
                let [above, below] = self.around(&hung, &indices, plan);
                Some(cast::Line { faults, body, above, below })
            })
            .collect()
    }

    /// What a system of these bars needs down the page.
    pub(super) fn system(&self, bars: Range<usize>, plan: &Plan) -> Detail {
        let mut hung = self.begun(bars.start);
        bars.for_each(|bar| hung.add(self.ground, bar));
        let mut indices = Vec::new();
        hung.indices(&mut indices);
        let gaps = self.gaps(&hung, &indices, plan).collect();
        let [above, below] = self.around(&hung, &indices, plan);
        Detail { indices, gaps, above, below }
    }

    fn begun(&self, first: usize) -> Hung {
        let staves = self.ground.staves.len();
        // The system that begins a movement shows all its players; what others play, or may be played instead, is shown where it sounds.
        let all = !self.ground.hides || self.ground.movements.iter().any(|movement| movement.start == first);
        let passing = |staff: &Staff| self.ground.hides && matches!(staff.kind, Some(StaffKind::Cue | StaffKind::Ossia));
        let shown = self.ground.staves.iter().map(|staff| all && !passing(staff)).collect();
        Hung { shown, up: vec![Sp::ZERO; staves], down: vec![Sp::ZERO; staves], below: vec![[Sp::ZERO; 2]; staves] }
    }

    fn height(&self, staff: usize) -> Mm {
        self.mm(Sp(self.ground.staves[staff].room.0 / 10.0))
    }

    fn mm(&self, spaces: Sp) -> Mm {
        Mm(spaces.0 * self.space.0)
    }

    /// The gaps between the staves of a system.
    fn gaps<'c>(&'c self, Hung { up, down, below, .. }: &'c Hung, indices: &'c [usize], plan: &'c Plan) -> impl Iterator<Item = Down> + 'c {
        indices.windows(2).map(|pair| {
            let (upper, lower) = (pair[0], pair[1]);
            let larger = self.height(upper).max(self.height(lower));
            let hangs = down[upper] + up[lower];
            let ink = if lower == upper + 1 { below[upper] } else { [hangs + Sp(0.5), hangs + Sp(1.5)] };
            gap(larger, ink.map(|spaces| self.mm(spaces)), plan)
        })
    }

    /// What a system wants of the gap above it, and of that below it.
    fn around(&self, Hung { up, down, .. }: &Hung, indices: &[usize], plan: &Plan) -> [Down; 2] {
        let usual = match (&self.ground.line_gaps, indices.len()) {
            (Some(gaps), 1) => [gaps.norm_from.value, f64::midpoint(gaps.norm_from.value, gaps.norm_to.value), gaps.most.value],
            (None, 1) => [CLOSE_LINES, LINE_GAP_HEIGHTS, LINE_GAP_HEIGHTS * GENEROUS],
            _ => [CLOSE_SYSTEMS, SYSTEM_GAP_HEIGHTS, SYSTEM_GAP_HEIGHTS * GENEROUS],
        };
        // Two neighbours share a gap: each wants half, or what hangs out of it and half of what stays clear.
        let half = |hangs: Sp| {
            let ink = CLEAR.map(|clear| self.mm(hangs + clear * 0.5));
            let usual = usual.map(|heights| plan.staff * (heights * 0.5));
            let natural = usual[1].max(ink[1]);
            Down { close: closest(usual[0].max(ink[0]), natural, plan), natural, generous: usual[2].max(ink[1] * GENEROUS) }
        };
        [half(up[indices[0]]), half(down[indices[indices.len() - 1]])]
    }
}

/// What hangs out of the staves of a run of bars, and which of them are shown.
struct Hung {
    shown: Vec<bool>,
    up: Vec<Sp>,
    down: Vec<Sp>,
    below: Vec<[Sp; 2]>,
}

impl Hung {
    fn add(&mut self, ground: &Ground, bar: usize) {
        for (staff, hang) in ground.hangs[bar].iter().enumerate() {
            self.shown[staff] |= ground.sounds[bar][staff];
            self.up[staff] = self.up[staff].max(hang.up);
            self.down[staff] = self.down[staff].max(hang.down);
            self.below[staff] = [self.below[staff][0].max(hang.below[0]), self.below[staff][1].max(hang.below[1])];
        }
    }

    /// The staves that are shown, by their places among all.
    fn indices(&self, into: &mut Vec<usize>) {
        into.clear();
        into.extend((0..self.shown.len()).filter(|staff| self.shown[*staff]));
        if into.is_empty() {
            // A system in which nobody plays shows its first staff.
            into.push(0);
        }
    }
}

/// What one system needs down the page.
#[derive(Debug, Clone)]
pub(super) struct Detail {
    /// Its staves, by their place among those of the ground.
    pub indices: Vec<usize>,
    /// The gaps between them.
    pub gaps: Vec<Down>,
    /// What it wants of the gap above it.
    pub above: Down,
    /// The same below it.
    pub below: Down,
}

/// A gap inside a system, under the larger of its two staves: the usual one, or what hangs in where that is more.
fn gap(staff: Mm, [least, comfortable]: [Mm; 2], plan: &Plan) -> Down {
    let natural = (staff * STAFF_GAP_HEIGHTS).max(comfortable);
    Down { close: closest((staff * CLOSE_STAVES).max(least), natural, plan), natural, generous: natural * GENEROUS }
}

/// How close a gap may be: never further than natural, and all but natural where the plan wants that.
fn closest(close: Mm, natural: Mm, plan: &Plan) -> Mm {
    let close = close.min(natural);
    if plan.natural_gaps { close.max(natural * ALL_BUT_NATURAL) } else { close }
}

impl CastOff {
    /// What is wrong with it, by kind.
    pub fn faults(&self) -> Faults {
        self.casting.faults
    }

    /// Its systems.
    pub fn systems(&self) -> usize {
        self.lines.len()
    }
}
