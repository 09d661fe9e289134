//! What stays the same whatever is planned: the music, what hangs out of its staves, its turns, and the layout it has now.

use super::{Plan, places};
use crate::house::{CopiesAre, House, Role, StaffGaps};
use crate::measured::{Between, Measured, turning_of};
use crate::page::{self as layout, Layout, Side, Staff};
use crate::place::{Confidence, Known};
use crate::room::down::{self, Axis};
use crate::rule::RuleBook;
use crate::score::mark::{Side as BarSide, Span};
use crate::score::{MarkKind, Score};
use crate::turn::{EASY, JumpKind, NEED, Told, jumps};
use crate::units::{Mm, STAFF_TENTHS, Sp, Tenths};
use std::ops::Range;

/// Height of a title block where a file has a title and does not say where it stands (spacing study of open scores: half of the title blocks of
/// piano music are lower, half of those of quartets higher).
const USUAL_TITLE: Mm = Mm(25.0);
/// Room of a heading in the middle of a page, where none stands so now (common practice, no source).
const HEADING: Mm = Mm(12.0);
/// Between a title and what stands over the first staff (our own).
const CLEAR_OF_HEAD: Sp = Sp(1.0);
/// The rule that says which turns are quick.
const PAGE_TURN: &str = "page-turn";
/// Indent of the first system of several parts, and of others, for names and short names (common practice, no source).
const NAMES: [Mm; 2] = [Mm(18.0), Mm(8.0)];

/// The layout a file has now, as far as it states one.
#[derive(Debug, Clone, PartialEq)]
pub struct Present {
    /// Size of its paper.
    pub paper: Option<(Mm, Mm)>,
    /// Left, right, top and bottom margin of its first page.
    pub margins: Option<[Mm; 4]>,
    /// Height of its staves.
    pub staff: Option<Mm>,
    /// Side of its first page.
    pub first: Side,
    /// Its systems by page, each by its bars; empty where it is not known where pages begin.
    pub pages: Vec<Vec<Range<usize>>>,
    /// Sides of those pages, and whether a blank page stands before each.
    pub sides: Vec<(Side, bool)>,
    /// Its systems; empty where it is not known where they begin.
    pub systems: Vec<Range<usize>>,
}

/// What hangs out of a staff in one bar, in spaces of a staff of full size: up, down.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Hang {
    pub up: Sp,
    pub down: Sp,
    /// What the gap to the next staff below needs: close but clear, comfortable.
    pub below: [Sp; 2],
}

/// A turn at a bar line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnAt {
    /// Seconds; infinite where there is no limit.
    pub seconds: f64,
    /// How the tempi there are known.
    pub told: Told,
}

/// What to call a turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TurnKind {
    /// Four seconds and more, or no limit.
    Easy,
    /// Less, but not quick.
    Enough,
    /// A quick turn: V.S.
    Quick,
    /// No time to turn.
    NoTime,
}

/// What stays the same whatever is planned.
#[derive(Debug)]
pub struct Ground<'a> {
    /// The score.
    pub score: &'a Score,
    /// Its layout now.
    pub present: Present,
    /// Its movements.
    pub movements: Vec<Range<usize>>,
    /// For every bar line, and the end: the turn of a page that ends there.
    pub turns: Vec<TurnAt>,
    /// Repeats and jumps back.
    pub back: Vec<(JumpKind, usize, usize)>,
    /// The staves, top first, wherever they are shown.
    pub staves: Vec<Staff>,
    /// Size of the staves that most have, as a share of full size.
    main: f64,
    /// Silent staves are left out of systems.
    pub hides: bool,
    /// For every bar, and every staff of `staves`: it sounds.
    pub(super) sounds: Vec<Vec<bool>>,
    /// For every bar, and every staff: what hangs out of it.
    pub(super) hangs: Vec<Vec<Hang>>,
    /// Height that the title takes below the top margin of the first page, and the running head of later pages.
    pub heads: [Mm; 2],
    /// Height that foot lines take above the bottom edge of the paper, on the first page and on later ones.
    pub feet: [Mm; 2],
    /// Indents of the first system of a movement and of others.
    pub indents: [Mm; 2],
    /// For every bar: a page begins with it of its own.
    pub(super) own_page: Vec<bool>,
    /// For every bar: a heading stands above it in mid-page.
    pub(super) heading: Vec<Mm>,
    /// White between the lines of a part of one staff that its reader wants.
    pub(super) line_gaps: Option<StaffGaps>,
    /// How copies lie before their reader.
    pub copies_are: CopiesAre,
    /// Whether turns matter to its reader.
    pub turns_matter: bool,
    /// Seconds below which the rule of page turns calls a turn quick, and below which there is no time.
    pub turn_limits: [f64; 2],
    /// What had to be assumed, in words.
    pub assumed: Vec<String>,
}

impl<'a> Ground<'a> {
    /// Reads what stays the same of a score, measured before, for its reader. The places of its notes and signs are forgotten.
    pub fn of(score: &'a mut Score, measured: &Measured, house: &House, rules: &RuleBook, role: Option<&Role>) -> Self {
        places::forget(score);
        let score = &*score;
        let role_name = role.map(|role| role.name.as_str());
        let laid = layout::lay_out(score, &score.instructions);
        let bars = score.bar_count();
        let movements: Vec<Range<usize>> = laid.movements.iter().map(|movement| movement.bars.clone()).collect();
        let turning = turning_of(score, &laid, house);
        let turns = (0..=bars)
            .map(|bar| match turning.at(bar) {
                Ok(turn) => TurnAt { seconds: turn.seconds(), told: turn.told },
                Err(_) => TurnAt { seconds: 0.0, told: Told::Assumed },
            })
            .collect::<Vec<_>>();
        let back =
            movements.iter().flat_map(|movement| jumps(score, movement.clone())).map(|jump| (jump.kind, jump.from, jump.to)).collect();
        let staves = staves(score, &laid);
        let shown = |system: &layout::System| system.staves.iter().filter(|staff| staves.iter().any(|own| same(own, staff))).count();
        let hides = laid.pages.iter().flat_map(|page| &page.systems).any(|system| shown(system) < staves.len());
        let sounds = (0..bars).map(|bar| staves.iter().map(|staff| sounds(score, staff, bar)).collect()).collect();
        let hangs = (0..bars).map(|bar| hangs(score, &laid, &staves, bar)).collect();
        let mut assumed = Vec::new();
        if turns.iter().any(|turn| turn.told == Told::Assumed && turn.seconds.is_finite() && turn.seconds > 0.0) {
            assumed.push("no tempo is stated: turns are reckoned at 120 quarters a minute".to_owned());
        }
        let (heads, feet) = heads(score, measured, &mut assumed);
        let starts: Vec<usize> = movements.iter().map(|movement| movement.start).collect();
        let begins_page = |bar: usize| {
            laid.pages_known && laid.pages.iter().any(|page| page.systems.first().is_some_and(|first| first.bars.start == bar))
        };
        let own_page = (0..=bars).map(|bar| bar > 0 && starts.contains(&bar) && begins_page(bar)).collect();
        let heading = headings(measured, &starts, bars);
        let full = score.instructions.scale.map(|scale| scale.value.staff_height());
        Self {
            score,
            main: measured.staff_height.value().zip(full).map_or(1.0, |(main, full)| main / full),
            present: present(measured, &laid),
            movements,
            turns,
            back,
            hides,
            sounds,
            hangs,
            heads,
            feet,
            indents: indents(measured, staves.len()),
            own_page,
            heading,
            line_gaps: role.and_then(|role| role.staff_gaps.clone()),
            copies_are: house.copies_are,
            turns_matter: role.is_none_or(|role| role.turns.value.plays()),
            staves,
            turn_limits: ["quick", "none"].map(|limit| rules.limit(PAGE_TURN, limit, role_name).unwrap_or(NEED)),
            assumed,
        }
    }

    /// Height of a staff of full size, where most staves have this height: what a scaling states.
    pub(super) fn full_size(&self, staff: Mm) -> Mm {
        staff * (1.0 / self.main)
    }

    /// From the head of a page to the top line of its first staff: a staff height, or what hangs out of the piece's first staff and a space.
    pub(super) fn below_head(&self, page: usize, plan: &Plan) -> Mm {
        let hangs = self.hangs.first().and_then(|staves| staves.first()).map_or(0.0, |hang| hang.up.0 + CLEAR_OF_HEAD.0);
        let space = self.full_size(plan.staff) * 0.25;
        if page == 0 { plan.staff.max(space * hangs) } else { plan.staff }
    }

    /// What to call a turn of so many seconds, in the words of the rule of page turns.
    pub fn kind_of_turn(&self, seconds: f64) -> TurnKind {
        let [quick, none] = self.turn_limits;
        match seconds {
            seconds if seconds < none => TurnKind::NoTime,
            seconds if seconds < quick => TurnKind::Quick,
            seconds if seconds < EASY => TurnKind::Enough,
            _ => TurnKind::Easy,
        }
    }

    /// Whether a double bar, a rehearsal mark or the end of a repeat stands at the bar line before a bar.
    pub(super) fn is_good_break(&self, bar: usize) -> bool {
        let marks = |bar: usize| self.score.marks_at(bar).map(|mark| &mark.kind);
        let ends = |kind: &MarkKind| match kind {
            MarkKind::Barline { style, side: BarSide::Right, repeat, .. } => {
                *repeat == Some(Span::Stop) || style == "light-light" || style == "light-heavy"
            }
            _ => false,
        };
        marks(bar).any(|kind| matches!(kind, MarkKind::Rehearsal(_))) || bar.checked_sub(1).is_some_and(|before| marks(before).any(ends))
    }

    /// For every bar: it lies within an ending that begins before it.
    pub(super) fn within_endings(&self) -> Vec<bool> {
        let mut within = false;
        (0..self.score.bar_count())
            .map(|bar| {
                let mut begins = false;
                let mut ends = false;
                for kind in self.score.marks_at(bar).map(|mark| &mark.kind) {
                    if let MarkKind::Barline { ending: Some((span, _)), .. } = kind {
                        begins |= *span == Span::Start;
                        ends |= *span != Span::Start;
                    }
                }
                let inside = within && !begins;
                within = (within || begins) && !ends;
                inside
            })
            .collect()
    }
}

/// Tenths of a staff space of full size.
const SPACE: f64 = STAFF_TENTHS / 4.0;

fn same(one: &Staff, other: &Staff) -> bool {
    (one.part, one.staff) == (other.part, other.staff)
}

/// Every staff that is shown somewhere, top first, as it is where it is shown first; all staves where it is not known where systems begin.
fn staves(score: &Score, laid: &Layout) -> Vec<Staff> {
    let mut found: Vec<Staff> = Vec::new();
    for staff in laid.pages.iter().flat_map(|page| &page.systems).flat_map(|system| &system.staves) {
        if !found.iter().any(|own| same(own, staff)) {
            found.push(staff.clone());
        }
    }
    if found.is_empty() {
        let all = score.parts.iter().enumerate().flat_map(|(part, one)| (1..=one.staves).map(move |staff| (part, staff)));
        found = all.map(|(part, staff)| plain_staff(part, staff)).collect();
    }
    found.sort_by_key(|staff| (staff.part, staff.staff));
    found
}

fn plain_staff(part: usize, staff: u8) -> Staff {
    Staff {
        part,
        staff,
        room_top: Known::Absent,
        room: Tenths(STAFF_TENTHS),
        lines: 5,
        size_percent: 100.0,
        kind: None,
        gap_above: Known::Absent,
        kept: None,
        size_at: None,
        distance_factor: 1.0,
    }
}

fn sounds(score: &Score, staff: &Staff, bar: usize) -> bool {
    score.parts[staff.part].notes_of(bar).iter().any(|note| note.staff == staff.staff && !note.is_rest())
}

/// What hangs out of every staff in one bar.
fn hangs(score: &Score, laid: &Layout, staves: &[Staff], bar: usize) -> Vec<Hang> {
    let system = layout::System {
        bars: bar..bar + 1,
        at: None,
        distance: Known::Absent,
        left: Known::Absent,
        right: Known::Absent,
        staves: staves.to_vec(),
        boxes: Vec::new(),
        boxes_missing: None,
        ends_movement: false,
        begins_movement: false,
        heading_above: false,
        confidence: Confidence::High,
    };
    let axis = Axis::of(&system, None);
    let inks: Vec<down::Ink> = staves.iter().map(|staff| down::ink(score, &laid.heights, &system, staff, axis)).collect();
    let spaces = |length: Tenths| Sp(length.0 / SPACE);
    let mut found: Vec<Hang> =
        inks.iter().map(|ink| Hang { up: spaces(ink.all.most_up()), down: spaces(ink.all.most_down()), below: [Sp::ZERO; 2] }).collect();
    for (index, pair) in staves.windows(2).enumerate() {
        let between = if pair[0].part == pair[1].part { down::Between::Keyboard } else { down::Between::Parts };
        let space = pair[0].five_line_height().max(pair[1].five_line_height()).0 / 4.0;
        let need = down::need(&down::Pair { between, upper: &inks[index], lower: &inks[index + 1], space });
        // Signs between the staves of a keyboard belong to both; they must have their room all the same.
        found[index].below = [need.minimum, need.comfortable].map(|length| Sp(length.max(need.ink).0 * space / SPACE));
    }
    found
}

fn present(measured: &Measured, laid: &Layout) -> Present {
    let first = measured.pages.first();
    let paper = first.and_then(|page| Some((page.width.value()?, page.height.value()?)));
    let margins = first.and_then(|page| {
        let [left, right, top, bottom] = page.margins.map(|margin| margin.value());
        Some([left?, right?, top?, bottom?])
    });
    let systems = |page: &layout::Page| page.systems.iter().map(|system| system.bars.clone()).collect::<Vec<_>>();
    Present {
        paper,
        margins,
        staff: measured.staff_height.value(),
        first: laid.pages.first().map_or(Side::Recto, |page| page.side),
        pages: if laid.pages_known { laid.pages.iter().map(systems).collect() } else { Vec::new() },
        sides: laid.pages.iter().map(|page| (page.side, page.blank_before > 0)).collect(),
        systems: if laid.systems_known { laid.pages.iter().flat_map(systems).collect() } else { Vec::new() },
    }
}

/// Height of the heads below the top margin, and of foot lines above the lower edge.
fn heads(score: &Score, measured: &Measured, assumed: &mut Vec<String>) -> ([Mm; 2], [Mm; 2]) {
    let below = |page: &crate::measured::Page| Some((page.head.value()? - page.margins[2].value()?).max(Mm::ZERO));
    let known: Vec<Mm> = measured.pages.iter().filter_map(below).collect();
    let feet: Vec<Mm> = measured.pages.iter().filter_map(|page| page.foot.value()).collect();
    let feet = [feet.first().copied().unwrap_or_default(), usual(feet.get(1..).unwrap_or_default())];
    let titled = score.work_title.is_some() || score.movement_title.is_some() || !score.credits.is_empty();
    let Some(first) = known.first().copied() else {
        if titled {
            assumed.push(format!("a title block of {} mm is reckoned with", USUAL_TITLE.0));
        }
        return ([if titled { USUAL_TITLE } else { Mm::ZERO }, Mm::ZERO], feet);
    };
    ([first, usual(&known[1..])], feet)
}

/// Room above every bar for the heading of a movement that begins with it in the middle of a page: what its gap has now beyond the usual one.
fn headings(measured: &Measured, starts: &[usize], bars: usize) -> Vec<Mm> {
    let mut rooms: Vec<Mm> = (0..bars).map(|bar| if bar > 0 && starts.contains(&bar) { HEADING } else { Mm::ZERO }).collect();
    for page in &measured.pages {
        for gap in page.gaps.iter().filter(|gap| gap.between == Between::Systems) {
            let below = page.systems.iter().find(|system| system.number == gap.system);
            let first = below.and_then(|below| usize::try_from(below.bars.index.0).ok()?.checked_sub(1));
            let Some(room) = first.filter(|bar| starts.contains(bar)).and_then(|bar| rooms.get_mut(bar)) else { continue };
            if let (Some(usual), Some(white), Some(staff)) = (gap.usual_heights(), gap.white.value(), gap.staff_height().value()) {
                *room = (white - staff * usual).max(Mm::ZERO);
            }
        }
    }
    rooms
}

/// The usual one of some heights: a heading at the top of one page is its own.
fn usual(heights: &[Mm]) -> Mm {
    let mut heights: Vec<f64> = heights.iter().map(|height| height.0).collect();
    heights.sort_unstable_by(f64::total_cmp);
    Mm(heights.get(heights.len() / 2).copied().unwrap_or_default())
}

/// Indents of the first system of a movement and of others.
fn indents(measured: &Measured, staves: usize) -> [Mm; 2] {
    let mut found = [None, None];
    let mut others = Vec::new();
    for page in &measured.pages {
        for system in &page.systems {
            let Some(indent) = system.left.value().zip(page.margins[0].value()).map(|(left, margin)| (left - margin).max(Mm::ZERO)) else {
                continue;
            };
            if system.begins_movement && found[0].is_none() {
                found[0] = Some(indent);
            } else if !system.begins_movement {
                others.push(indent.0);
            }
        }
    }
    others.sort_unstable_by(f64::total_cmp);
    found[1] = others.get(others.len() / 2).copied().map(Mm);
    let usual = if staves > 2 { NAMES } else { [Mm::ZERO; 2] };
    if measured.systems_known { [found[0].unwrap_or_default(), found[1].unwrap_or(found[0].unwrap_or_default())] } else { usual }
}
