//! Turns: where a page ends that must be turned, and how long the hands are free there.

use super::{Bars, Bench, Printing, Whose, count};
use crate::house::{CopiesAre, Family, House};
use crate::page::{self as layout, Side};
use crate::place::{Confidence, Known, Place};
use crate::score::{BarNumber, Score};
use crate::turn::{self, EASY, Hands, Jump, JumpKind, Lane, Told, Turning};
use std::collections::BTreeSet;
use std::ops::Range;

/// Systems before and after a turn in which a better place for it is looked for.
const LOOKS_AROUND: usize = 2;

/// Bars that a multi-bar rest has at most; no house prints longer ones as one.
const LONGEST_REST: usize = 1_000;

/// One turn.
#[derive(Debug, Clone)]
pub struct Turn {
    /// Page that is turned, counted in the file from 1.
    pub page: u32,
    /// Its printed number, and that of the page it is turned to.
    pub labels: [String; 2],
    /// Its last system, on its page from 1.
    pub system: u32,
    /// The last bar before the turn and the first after it: of a turn back, the bar after which the music goes back.
    pub bars: Bars,
    /// Movement, from 1.
    pub movement: u32,
    /// What sends the player back over it; `None` for a turn forward.
    pub jump: Option<JumpKind>,
    /// Leaves turned at once: more than one only for a turn back.
    pub leaves: u32,
    /// Seconds to turn; infinite where there is no limit.
    pub seconds: Known<f64>,
    /// Seconds of silence before it, after it, and those that other work of the hands takes.
    pub parts: [f64; 3],
    /// One hand plays on for part of the time, which counts half.
    pub one_hand: bool,
    /// The players of a desk have different notes there.
    pub divided: bool,
    /// The player is warned to turn at once.
    pub warned: bool,
    /// The nearest easy turn within a few systems, where it is not easy itself.
    pub better: Option<Better>,
    /// Place of the first bar overleaf.
    pub at: Option<Place>,
    /// How sure its reckoning is.
    pub confidence: Confidence,
}

/// An easy turn near a bad one.
#[derive(Debug, Clone, PartialEq)]
pub struct Better {
    /// The bar with which the page would end.
    pub after: BarNumber,
    /// First and last bar of rest there; `None` where no bar rests from one bar line to the other.
    pub rests: Option<[BarNumber; 2]>,
    /// Seconds to turn there; infinite where there is no limit.
    pub seconds: f64,
    /// Where it is, in words.
    pub place: String,
}

/// The player who turns a copy, and what the music leaves free.
pub(super) fn turning<'a>(bench: &Bench<'a>) -> Turning<'a> {
    let movements = bench.layout.movements.iter().map(|movement| movement.bars.clone()).collect();
    Turning::of(bench.score, movements, hands(bench))
}

/// What turning a score depends on, wherever its pages end.
pub fn turning_of<'a>(score: &'a Score, layout: &'a layout::Layout, house: &House) -> Turning<'a> {
    turning(&Bench::of(score, &score.instructions, layout, house, &Printing::AsIs))
}

/// Whose hands turn: of all whose music the copy holds, but where one keyboard goes with voices, or with one other part, it is the
/// player at the keyboard who turns.
fn hands(bench: &Bench) -> Hands {
    let staves = || bench.layout.pages.iter().flat_map(|page| &page.systems).flat_map(|system| &system.staves);
    let others: BTreeSet<Lane> = staves().filter(|staff| bench.whose(staff) != Whose::Own).map(|staff| (staff.part, staff.staff)).collect();
    let own_too: BTreeSet<Lane> =
        staves().filter(|staff| bench.whose(staff) == Whose::Own).map(|staff| (staff.part, staff.staff)).collect();
    let parts = bench.score.parts.iter().enumerate();
    let all = parts.flat_map(|(part, one)| (1..=one.staves).map(move |staff| (part, staff)));
    let mut lanes: Vec<Lane> = all.filter(|lane| !others.contains(lane) || own_too.contains(lane)).collect();
    let is_keyboard = |part: usize| bench.families[part] == Some(Family::Keyboard) && bench.score.parts[part].staves >= 2;
    let mut playing: Vec<usize> = lanes.iter().map(|lane| lane.0).collect();
    playing.dedup();
    let keyboards: Vec<usize> = playing.iter().copied().filter(|part| is_keyboard(*part)).collect();
    let [keyboard] = keyboards[..] else { return Hands { lanes, keyboard: None } };
    let sung = |part: &usize| *part == keyboard || bench.families[*part] == Some(Family::Voice);
    if playing.len() > 2 && !playing.iter().all(sung) {
        return Hands { lanes, keyboard: None };
    }
    lanes.retain(|lane| lane.0 == keyboard);
    Hands { lanes, keyboard: Some([(keyboard, 1), (keyboard, 2)]) }
}

/// The turns of a copy, forward and back, in the order of its pages. None where it is not known where pages begin.
pub(super) fn all(bench: &Bench, house: &House, turning: &Turning) -> Vec<Turn> {
    let pages = &bench.layout.pages;
    if !bench.layout.pages_known || pages.len() < 2 {
        return Vec::new();
    }
    let turned: Vec<bool> = (0..pages.len()).map(|index| is_turned(pages, index, house.copies_are)).collect();
    let ends: Vec<usize> = pages.iter().filter_map(|page| page.systems.last()).map(|last| last.bars.end).collect();
    let systems: Vec<Range<usize>> = pages.iter().flat_map(|page| &page.systems).map(|system| system.bars.clone()).collect();
    let mut turns = Vec::new();
    for (index, page) in pages.iter().enumerate().filter(|(index, page)| turned[*index] && !page.systems.is_empty()) {
        let bar = ends[index];
        let reckoned = turning.at(bar);
        let better = reckoned.as_ref().ok().filter(|turn| turn.seconds() < EASY).and_then(|_| better(bench, turning, &systems, bar));
        let made = make(bench, [index, index + 1], page, (bar - 1, bar), reckoned);
        turns.push(Turn { better, divided: turning.divided_at(bar), warned: turning.warned_at(bar), ..made });
    }
    // Turned pages before each page.
    let before: Vec<usize> = std::iter::once(0)
        .chain(turned.iter().scan(0, |sum, turned| {
            *sum += usize::from(*turned);
            Some(*sum)
        }))
        .collect();
    let page_of = |bar: usize| ends.partition_point(|end| *end <= bar);
    for movement in &bench.layout.movements {
        for Jump { kind, from, to } in turn::jumps(bench.score, movement.bars.clone()) {
            let (here, there) = (page_of(from), page_of(to));
            if here >= pages.len() || before[here] == before[there] {
                continue;
            }
            let leaves = before[here] - before[there];
            let made = make(bench, [here, there], &pages[here], (from, to), turning.over(from + 1, to));
            turns.push(Turn { jump: Some(kind), leaves: count(leaves), at: bench.score.bar_place(from), ..made });
        }
    }
    turns.sort_by_key(|turn| (turn.page, turn.bars.index));
    turns
}

/// Whether a page must be turned, or moved, to see the next one.
fn is_turned(pages: &[layout::Page], index: usize, copies_are: CopiesAre) -> bool {
    let Some(next) = pages.get(index + 1) else { return false };
    match copies_are.in_view() {
        Some(in_view) => (index + 1).is_multiple_of(in_view),
        None => !(pages[index].side == Side::Verso && next.side == Side::Recto && next.blank_before == 0),
    }
}

fn make(
    bench: &Bench,
    pages: [usize; 2],
    page: &layout::Page,
    (left, entered): (usize, usize),
    reckoned: Result<turn::Turn, &'static str>,
) -> Turn {
    let label = |index: usize| bench.layout.pages[index].label.clone();
    let system = page.systems.partition_point(|system| system.bars.end <= left);
    let known = reckoned.as_ref().ok().copied();
    let words = known.is_some_and(|turn| turn.told == Told::Words && turn.seconds() > 0.0);
    Turn {
        page: count(pages[0] + 1),
        labels: pages.map(label),
        system: count(system + 1),
        bars: Bars {
            index: (count(left + 1), count(entered + 1)),
            numbers: [bench.score.bar_number(left), bench.score.bar_number(entered)],
        },
        movement: bench.movement(left),
        jump: None,
        leaves: 1,
        seconds: match reckoned.and_then(|turn| turn.known()) {
            Ok(seconds) => Known::Derived(seconds),
            Err(why) => Known::Unknown(why),
        },
        parts: known.map_or([0.0; 3], |turn| [turn.before, turn.after, turn.work]),
        one_hand: known.is_some_and(|turn| turn.one_hand),
        divided: false,
        warned: false,
        better: None,
        at: bench.score.bar_place(entered),
        confidence: if words { Confidence::Low } else { Confidence::High },
    }
}

/// The easy turn nearest to a page that ends before a bar, within a few systems of it.
fn better(bench: &Bench, turning: &Turning, systems: &[Range<usize>], end: usize) -> Option<Better> {
    let last = systems.partition_point(|system| system.end < end);
    let first = systems.get((last + 1).saturating_sub(LOOKS_AROUND + 1))?.start;
    let until = systems.get((last + LOOKS_AROUND).min(systems.len() - 1))?.end;
    // No page ends inside a multi-bar rest.
    let rest_end = |bar: usize| bar.saturating_add(bench.score.multi_rest(bar).unwrap_or(0));
    let mut resting_until = (first.saturating_sub(LONGEST_REST)..first).map(rest_end).max().unwrap_or(0);
    let mut rests_over = |bar: usize| {
        resting_until = resting_until.max(rest_end(bar - 1));
        resting_until > bar
    };
    let mut places: Vec<usize> = (first + 1..until).filter(|bar| !rests_over(*bar) && *bar != end).collect();
    places.sort_by_key(|bar| bar.abs_diff(end));
    places.into_iter().find_map(|bar| {
        let turn = turning.at(bar).ok().filter(|turn| turn.seconds() >= EASY && turn.known().is_ok())?;
        let holds = systems.partition_point(|system| system.end < bar);
        let number = |bar: usize| bench.score.bar_number(bar);
        Some(Better {
            after: number(bar - 1),
            rests: turn.rests.map(|(first, last)| [number(first), number(last)]),
            seconds: turn.seconds(),
            place: place(holds, last, systems.get(holds).is_some_and(|system| system.end == bar)),
        })
    })
}

/// Where a bar line is, seen from the end of a page: the system that ends with it or holds it, against the last of the page.
fn place(holds: usize, last: usize, at_end: bool) -> String {
    let number = |systems: usize| match systems {
        1 => "one system".to_owned(),
        2 => "two systems".to_owned(),
        more => format!("{more} systems"),
    };
    match (holds.cmp(&last), at_end) {
        (std::cmp::Ordering::Less, true) => format!("{} earlier", number(last - holds)),
        (std::cmp::Ordering::Less, false) => format!("within the system that stands {} earlier", number(last - holds)),
        (std::cmp::Ordering::Equal, _) => "within the last system of the page".to_owned(),
        (std::cmp::Ordering::Greater, true) => format!("{} later", number(holds - last)),
        (std::cmp::Ordering::Greater, false) => {
            format!("within the {} overleaf", if holds - last == 1 { "first system" } else { "second system" })
        }
    }
}
