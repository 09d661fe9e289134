//! Spacing: the room of every system across, against what its notes need and against the rest of its movement.

use super::{Bench, Page, count, median};
use crate::page as layout;
use crate::place::Known;
use crate::room::across::{self, Bar, Cast, Content, Desk, Evenness, Line, Move, Music, Neighbours, State, Widths};
use crate::score::instructions::StaffKind;
use crate::score::{BarNumber, Traits};
use crate::units::{Sp, Tenths};
use rayon::prelude::*;
use std::sync::Arc;

/// Fewest systems of a movement from which a usual spacing is told.
const FEWEST_SYSTEMS: usize = 3;
/// Systems from which one more or less does not move the median much.
const MANY_SYSTEMS: usize = 5;
/// How far from the usual spacing a system must be before it is asked whether that could be avoided, in steps.
const WORTH_ASKING: f64 = 0.5;
/// How far from natural, in steps, the same.
const FAR_FROM_NATURAL: f64 = 1.25;
/// Systems of which it is asked together.
const ASKED_TOGETHER: usize = 16;
/// Share of its width that a line may stop short and still reach its right end: exporters round the widths of bars.
const FULL: f64 = 0.98;

/// How a system is spaced. Lengths are staff spaces of a staff of full size.
#[derive(Debug, Clone, PartialEq)]
pub struct Spacing {
    /// Room before its first note: clef, key, time.
    pub beginning: Sp,
    /// Room for its bars.
    pub available: Sp,
    /// What its bars need: the four widths, together.
    pub widths: Widths,
    /// The force under which its bars just fill it.
    pub force: f64,
    /// How far its room is from natural, in steps of half or twice the durations.
    pub steps: f64,
    /// Room against natural.
    pub of_natural: f64,
    /// Share of the way from the least to the natural width.
    pub share_of_ease: f64,
    /// How far its force is from the median of its movement's systems without the last, in the same steps; absent where there is none.
    pub relative: Known<f64>,
    /// How far its force is from the usual one, in the same steps: that median, or where few systems tell, that of the others; absent where too
    /// few do.
    pub from_usual: Known<f64>,
    /// Usual force in its movement, where enough systems tell it.
    pub usual_force: Option<f64>,
    /// Systems of its movement that tell what is usual.
    pub compared: u32,
    /// Usual room against natural in its movement; absent where too few systems tell.
    pub usual_of_natural: Known<f64>,
    /// What to call it.
    pub state: State,
    /// It reaches its right end.
    pub full: bool,
    /// Bars in it, a multi-bar rest counted as one.
    pub bars_shown: u32,
    /// Moments at which something begins.
    pub moments: u32,
    /// Share of those bars in which more stands than a rest for the whole bar.
    pub written_share: f64,
    /// The largest share of the line that one bar needs.
    pub widest_bar_share: f64,
    /// How evenly it is spaced; `None` where too few notes state their place.
    pub evenness: Option<Evenness>,
    /// Why durations do not tell the room of one of its bars.
    pub irregular: Option<&'static str>,
    /// Some of its notes are another player's.
    pub cued: bool,
    /// Notes of it state their place.
    pub places_stated: bool,
    /// Places where signs lie on each other, as far as notes state their place.
    pub collisions: Vec<Collision>,
    /// A move of a bar or two that would even it out with a neighbour.
    pub remedy: Option<Remedy>,
}

/// A place where signs lie on each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Collision {
    /// Number of the bar.
    pub bar: BarNumber,
    /// Name of the part.
    pub part: Arc<str>,
    /// By how much.
    pub overlap: Sp,
    /// Bytes before the note in the file.
    pub offset: u32,
}

/// A move of bars over a break.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    /// Where they go.
    pub go: Move,
    /// First and last of them as the file numbers them.
    pub bars: [BarNumber; 2],
    /// Room against natural, now: of this system and of the other.
    pub now: [f64; 2],
    /// The same after the move.
    pub then: [f64; 2],
    /// The other is the last of its movement, which may end short.
    pub other_is_last: bool,
}

/// The usual spacing of a movement.
#[derive(Debug, Clone, PartialEq)]
pub struct Usual {
    /// Movement, from 1.
    pub movement: u32,
    /// Median force of its systems without the last.
    pub force: f64,
    /// Median of their room against natural.
    pub of_natural: f64,
    /// Systems that tell it.
    pub systems: u32,
}

/// Why it is not known how a system compares with its movement.
const NO_SYSTEMS: &str = "it is not known how the systems of its movement are spaced";

/// One system on its way.
struct Reckoned<'a> {
    page: usize,
    number: usize,
    system: &'a layout::System,
    /// Its bars; none where its room is not known.
    bars: Vec<Bar>,
    line: Result<Line, &'static str>,
}

/// Measures the spacing of every system; the usual spacing of each movement that has one.
pub(super) fn measure<'a>(bench: &Bench<'a>, pages: &mut [Page]) -> Vec<Usual> {
    let music = Music::of(bench.score);
    let laid: Vec<(usize, usize, &layout::System)> = bench
        .layout
        .pages
        .iter()
        .enumerate()
        .flat_map(|(page, laid)| laid.systems.iter().enumerate().map(move |(number, system)| (page, number, system)))
        .collect();
    let mut usual = Vec::new();
    for movement in laid.chunk_by(|(.., one), (.., other)| bench.movement(one.bars.start) == bench.movement(other.bars.start)) {
        let reckon = |desk: &mut Desk<'a>, index: usize| {
            let (.., system) = movement[index];
            let next = movement.get(index + 1).map(|(.., next)| *next);
            let mut bars = match music.bars(system, desk) {
                Ok(bars) => bars,
                Err(why) => return (Vec::new(), Vec::new(), Err(why), Err(why)),
            };
            let needs: Vec<Widths> = bars.iter().map(Widths::of).collect();
            let line = music.line(system, &bars, &needs, next);
            let spacing = line.as_ref().map_err(|why| *why).map(|line| {
                let widest = needs.iter().map(|widths| widths.natural).fold(Sp::ZERO, Sp::max);
                Spacing { widest_bar_share: widest / line.available, ..describe(bench, &music, system, &bars, line) }
            });
            // Moves are tried with them, where the room is known.
            if line.is_err() {
                bars = Vec::new();
            }
            bars.iter_mut().for_each(Bar::forget_places);
            (bars, needs, line, spacing)
        };
        let all: Vec<_> = (0..movement.len()).into_par_iter().map_init(Desk::default, reckon).collect();
        let mut reckoned = Vec::with_capacity(movement.len());
        for ((page, number, system), (bars, needs, line, spacing)) in movement.iter().zip(all) {
            let measured = &mut pages[*page].systems[*number];
            (measured.needs, measured.spacing) = (needs, spacing);
            reckoned.push(Reckoned { page: *page, number: *number, system, bars, line });
        }
        let Some(first) = movement.first() else { continue };
        let telling = telling(&reckoned, pages);
        compare(pages, &reckoned, &telling);
        ask_what_is_avoidable(bench, &music, pages, &reckoned);
        if let Some((force, of_natural)) = middle(telling.iter()).filter(|_| telling.len() >= FEWEST_SYSTEMS) {
            usual.push(Usual { movement: bench.movement(first.2.bars.start), force, of_natural, systems: count(telling.len()) });
        }
    }
    usual
}

fn describe(bench: &Bench, music: &Music, system: &layout::System, bars: &[Bar], line: &Line) -> Spacing {
    let shown = || bars.iter().filter(|bar| bar.content != Content::Gathered);
    let bars_shown = count(shown().count());
    let written = count(shown().filter(|bar| matches!(bar.content, Content::Music(_))).count());
    let width: Tenths = system.boxes.iter().map(|one| one.width).sum();
    let ends = system.right.value().zip(system.left.value()).map(|(right, left)| right - left);
    let collisions = music.collisions(system).into_iter().map(|found| Collision {
        bar: bench.score.bar_number(found.bar),
        part: bench.part_name(found.part),
        overlap: found.overlap,
        offset: found.offset,
    });
    Spacing {
        beginning: line.beginning,
        available: line.available,
        widths: line.widths,
        force: line.force,
        steps: line.steps(),
        of_natural: line.of_natural(),
        share_of_ease: line.share_of_ease(),
        relative: Known::Absent,
        from_usual: Known::Absent,
        usual_force: None,
        compared: 0,
        usual_of_natural: Known::Absent,
        state: State::of(line),
        full: ends.is_none_or(|ends| width.0 >= FULL * ends.0),
        bars_shown,
        moments: count(bars.iter().map(|bar| bar.columns.len()).sum()),
        written_share: f64::from(written) / f64::from(bars_shown.max(1)),
        widest_bar_share: 0.0,
        evenness: across::evenness(bars, line.force),
        irregular: music.irregular(&system.staves, system.bars.clone()),
        cued: is_cued(bench, system),
        places_stated: bars.iter().flat_map(|bar| bar.lanes.objects()).any(|object| object.stated_x.is_some()),
        collisions: collisions.collect(),
        remedy: None,
    }
}

/// Another player's notes stand in a system: on a staff of their own, or among the reader's.
fn is_cued(bench: &Bench, system: &layout::System) -> bool {
    let small = |staff: &layout::Staff| staff.kind == Some(StaffKind::Cue);
    let cues = |staff: &layout::Staff| {
        let part = &bench.score.parts[staff.part];
        system.bars.clone().any(|bar| part.notes_of(bar).iter().any(|note| note.traits.contains(Traits::CUE)))
    };
    system.staves.iter().any(|staff| small(staff) || cues(staff))
}

/// The systems of a movement that tell its usual spacing, as force and room against natural. The last may be left short and does not tell,
/// unless there are too few others and it reaches its right end.
fn telling(systems: &[Reckoned], pages: &[Page]) -> Vec<Telling> {
    let full = |one: &Reckoned| pages[one.page].systems[one.number].spacing.as_ref().is_ok_and(|spacing| spacing.full);
    let tells = |with_last: bool| -> Vec<Telling> {
        let telling = systems.iter().enumerate().filter(|(_, one)| !one.system.ends_movement || with_last && full(one));
        let known = telling.filter_map(|(index, one)| Some((index, one.line.as_ref().ok()?)));
        known.map(|(index, line)| Telling { index, force: line.force, of_natural: line.of_natural() }).collect()
    };
    let inner = tells(false);
    if inner.len() < FEWEST_SYSTEMS { tells(true) } else { inner }
}

/// One system that tells the usual spacing of its movement.
#[derive(Debug, Clone, Copy)]
struct Telling {
    index: usize,
    force: f64,
    of_natural: f64,
}

/// Median force and room against natural.
fn middle<'a>(telling: impl Iterator<Item = &'a Telling> + Clone) -> Option<(f64, f64)> {
    Some((median(telling.clone().map(|one| one.force).collect())?, median(telling.map(|one| one.of_natural).collect())?))
}

/// Sets every system of a movement against the usual spacing. Among few systems a system is set against the others: it would be its own measure.
fn compare(pages: &mut [Page], systems: &[Reckoned], telling: &[Telling]) {
    let all = middle(telling.iter());
    let inner: Vec<f64> =
        systems.iter().filter(|one| !one.system.ends_movement).filter_map(|one| Some(one.line.as_ref().ok()?.force)).collect();
    let inner = median(inner).filter(|force| *force > 0.0);
    for (index, one) in systems.iter().enumerate() {
        let (Ok(line), Ok(spacing)) = (&one.line, &mut pages[one.page].systems[one.number].spacing) else { continue };
        spacing.relative = inner.map_or(Known::Absent, |inner| Known::Derived(across::relative(line.force, inner)));
        let usual = match telling.len() {
            0..MANY_SYSTEMS => middle(telling.iter().filter(|other| other.index != index)),
            _ => all,
        };
        // Where most systems have no room left at all, none can be told from the others.
        if let Some((force, of_natural)) = usual.filter(|(force, _)| *force > 0.0) {
            spacing.from_usual = Known::Derived(across::relative(line.force, force));
            spacing.usual_of_natural = Known::Derived(of_natural);
            spacing.usual_force = Some(force);
            spacing.compared = count(telling.len());
        }
    }
}

/// Asks of every system that stands out what moving a bar or two would do. Where nothing is usual, it is worth what it brings nearer to natural.
fn ask_what_is_avoidable(bench: &Bench, music: &Music, pages: &mut [Page], systems: &[Reckoned]) {
    // Where the room of a system is not known, nothing is moved to it or from it.
    let known = systems.chunk_by(|one, other| one.line.is_ok() && other.line.is_ok());
    for run in known.filter(|run| run[0].line.is_ok()) {
        let casts: Vec<Cast> = run
            .iter()
            .filter_map(|one| {
                let needs = &pages[one.page].systems[one.number].needs;
                Some(Cast { system: one.system, bars: &one.bars, needs, line: one.line.as_ref().ok()?, last: one.system.ends_movement })
            })
            .collect();
        let may_move: Vec<bool> = run.iter().map(|one| !keeps_its_break(&pages[one.page], one.number)).collect();
        let asked: Vec<(usize, f64)> = run.iter().enumerate().filter_map(|(index, one)| Some((index, worth_asking(pages, one)?))).collect();
        // Neighbours share what they reckon, so cores take stretches of them.
        let found: Vec<(usize, Option<across::Remedy>)> = asked
            .par_chunks(ASKED_TOGETHER)
            .flat_map_iter(|asked| {
                let mut neighbours = Neighbours::new(music, &casts, &may_move);
                asked.iter().map(|(index, aim)| (*index, neighbours.remedy(*index, *aim))).collect::<Vec<_>>()
            })
            .collect();
        let number = |bar: usize| bench.score.bar_number(bar);
        for (index, found) in found {
            let one = &run[index];
            let Ok(spacing) = &mut pages[one.page].systems[one.number].spacing else { continue };
            spacing.remedy = found.map(|found| Remedy {
                go: found.go,
                bars: [number(found.bars.start), number(found.bars.end.saturating_sub(1))],
                now: found.now,
                then: found.then,
                other_is_last: found.other_is_last,
            });
        }
    }
}

/// The force that a system should have, where it stands out enough to ask what could be done.
fn worth_asking(pages: &[Page], one: &Reckoned) -> Option<f64> {
    let spacing = pages[one.page].systems[one.number].spacing.as_ref().ok()?;
    let off = spacing.from_usual.value().is_some_and(|off| off.abs() > WORTH_ASKING) || spacing.steps.abs() > FAR_FROM_NATURAL;
    off.then_some(spacing.usual_force.unwrap_or(1.0))
}

/// The break after a system stays where it is: the page was left there for the turn, or a blank page follows.
fn keeps_its_break(page: &Page, number: usize) -> bool {
    number + 1 == page.systems.len() && (page.turns_at_rest || page.blank_after)
}

impl Spacing {
    /// Why nothing is known of a system before it is measured.
    pub(super) const NOT_YET: &'static str = NO_SYSTEMS;
}
