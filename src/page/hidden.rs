//! Which staves are printed in which system.
//!
//! Files hide staves in three dialects. *Toggle*: `print-object="no"` holds until a `"yes"`, as the standard
//! says. *Per system*: `"no"` is repeated at the first bar of each system where the staff is hidden, and no
//! `"yes"` occurs; read as a toggle, pages would come out with far too few staves. *Implicit*: no such word at
//! all, but every printed staff except the topmost has a `staff-layout` in its system's print.

use crate::place::Place;
use crate::score::instructions::{StaffDetails, StaffKind};
use crate::score::{Instructions, Score, SignKind, Traits};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::ops::Range;

/// How a file hides staves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Dialect {
    /// It hides none.
    None,
    /// "no" holds until "yes".
    Toggle,
    /// "no" holds for its system.
    PerSystem,
}

/// A staff that is hidden although it sounds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HiddenMusic {
    /// Index of its part.
    pub part: usize,
    /// Which of the part's staves.
    pub staff: u8,
    /// The bars that sound, first and last, by index.
    pub bars: (usize, usize),
    /// Whether the staff is printed nowhere in the file.
    pub throughout: bool,
    /// Where it is hidden.
    pub at: Place,
}

/// A staff of a system as the file describes it.
#[derive(Debug, Clone)]
pub(super) struct StaffState {
    pub part: usize,
    pub staff: u8,
    pub lines: u8,
    pub size_percent: f64,
    pub size_at: Option<Place>,
    /// `staff-size` says how far distances scale: then the lines' size does not.
    pub size_has_scaling: bool,
    pub kind: Option<StaffKind>,
    /// Hidden, but its room is left.
    pub only_room: bool,
}

/// The staves of every system that take room, and what is hidden.
pub(super) struct Hiding {
    pub dialect: Dialect,
    /// For every system, its staves that are printed or keep their room, top first.
    pub systems: Vec<Vec<StaffState>>,
    /// Hidden staves by system bars, with where they are hidden.
    hidden: Vec<(usize, u8, Range<usize>, Place)>,
}

impl Hiding {
    /// The dialect that the words of a file suggest. Without a "yes" it may still be a toggle that hides for good.
    pub fn suggested(instructions: &Instructions) -> Dialect {
        let details = &instructions.staff_details;
        match (details.iter().any(|one| one.printed == Some(true)), details.iter().any(|one| one.printed == Some(false))) {
            (_, false) => Dialect::None,
            (true, true) => Dialect::Toggle,
            (false, true) => Dialect::PerSystem,
        }
    }

    /// Follows every staff through the systems in one dialect.
    pub fn read(score: &Score, instructions: &Instructions, systems: &[Range<usize>], dialect: Dialect) -> Self {
        let details = &instructions.staff_details;
        let mut hiding = Self { dialect, systems: vec![Vec::new(); systems.len()], hidden: Vec::new() };
        for (index, part) in score.parts.iter().enumerate() {
            let own: Vec<&StaffDetails> = details.iter().filter(|one| one.part == index).collect();
            let staves_stated = staves_by_bar(part);
            for staff in 1..=part.staves {
                let of_staff: Vec<&StaffDetails> =
                    own.iter().copied().filter(|one| one.staff.is_none_or(|number| number == staff)).collect();
                hiding.follow(index, staff, &of_staff, &staves_stated, systems);
            }
        }
        if instructions.staff_layouts.is_empty() {
            let systems = hiding.systems.par_iter_mut().zip(systems);
            systems.for_each(|(staves, bars)| hide_implicitly(staves, bars, score, instructions));
        }
        hiding
    }

    /// Follows one staff through the systems.
    fn follow(&mut self, part: usize, staff: u8, details: &[&StaffDetails], staves_stated: &[(usize, u8)], systems: &[Range<usize>]) {
        let mut state =
            StaffState { part, staff, lines: 5, size_percent: 100.0, size_at: None, size_has_scaling: false, kind: None, only_room: false };
        let mut details = details.iter().peekable();
        let mut hidden_since: Option<&StaffDetails> = None;
        for (index, bars) in systems.iter().enumerate() {
            if self.dialect == Dialect::PerSystem {
                hidden_since = None;
            }
            let mut printed_somewhere = false;
            let mut begun = false;
            while let Some(one) = details.next_if(|one| one.bar < bars.end) {
                // What stands at the first bar holds from there; a later word leaves the bars before it as they were.
                if one.bar > bars.start && !begun {
                    begun = true;
                    printed_somewhere |= hidden_since.is_none();
                }
                apply(&mut state, one);
                let at_start = one.bar <= bars.start;
                match one.printed {
                    Some(false) if at_start || self.dialect == Dialect::Toggle => hidden_since = Some(one),
                    Some(true) => {
                        hidden_since = None;
                        printed_somewhere |= !at_start;
                    }
                    _ => {}
                }
            }
            printed_somewhere |= hidden_since.is_none();
            let staves = staves_stated.iter().take_while(|(bar, _)| *bar < bars.end).last().map_or(1, |(_, staves)| *staves);
            if staff > staves.max(1) {
                continue;
            }
            if printed_somewhere {
                self.systems[index].push(StaffState { only_room: false, ..state.clone() });
            } else if let Some(hider) = hidden_since {
                self.hidden.push((part, staff, bars.clone(), hider.at));
                if hider.keeps_room {
                    self.systems[index].push(StaffState { only_room: true, ..state.clone() });
                }
            }
        }
    }

    /// The hidden staves that sound, those of neighbouring systems of a movement as one. Movements begin with some bars.
    pub fn hidden_music(&self, score: &Score, movements: &[usize]) -> Vec<HiddenMusic> {
        let states = self.systems.iter().flatten().filter(|state| !state.only_room);
        let printed: BTreeSet<(usize, u8)> = states.map(|state| (state.part, state.staff)).collect();
        let mut found: Vec<HiddenMusic> = Vec::new();
        for (part, staff, bars, at) in &self.hidden {
            let mut sounding = bars.clone().filter(|bar| sounds(score, *part, *staff, &(*bar..bar + 1)));
            let Some(first) = sounding.next() else { continue };
            let last = sounding.next_back().unwrap_or(first);
            match found.last_mut() {
                Some(before)
                    if (before.part, before.staff) == (*part, *staff)
                        && before.bars.1 + 1 >= bars.start
                        && !movements.contains(&bars.start) =>
                {
                    before.bars.1 = last;
                }
                _ => found.push(HiddenMusic {
                    part: *part,
                    staff: *staff,
                    bars: (first, last),
                    throughout: !printed.contains(&(*part, *staff)),
                    at: *at,
                }),
            }
        }
        found
    }
}

fn apply(state: &mut StaffState, one: &StaffDetails) {
    if let Some(lines) = one.lines {
        state.lines = lines;
    }
    if let Some(size) = one.size_percent {
        state.size_percent = size.value;
        state.size_at = Some(size.at);
        state.size_has_scaling = one.size_scaling.is_some();
    }
    if one.kind.is_some() {
        state.kind = one.kind;
    }
}

/// How many staves a part has from which bar on.
fn staves_by_bar(part: &crate::score::Part) -> Vec<(usize, u8)> {
    let mut staves = Vec::new();
    for bar in 0..part.bars.len() {
        for sign in part.signs_of(bar) {
            if let SignKind::Staves(count) = sign.kind {
                staves.push((bar, count));
            }
        }
    }
    staves
}

/// Whether a staff sounds (and shows it) in any of the bars.
fn sounds(score: &Score, part: usize, staff: u8, bars: &Range<usize>) -> bool {
    let part = &score.parts[part];
    bars.clone()
        .any(|bar| part.notes_of(bar).iter().any(|note| note.staff == staff && note.sounds() && !note.traits.contains(Traits::HIDDEN)))
}

/// The implicit dialect: of the staves above the first that has a distance of its own in this system, only the topmost
/// printed one can lack it. Several may be left that sound; then nothing can be concluded about them.
fn hide_implicitly(staves: &mut Vec<StaffState>, bars: &Range<usize>, score: &Score, instructions: &Instructions) {
    let prints = instructions.prints_at(bars.start);
    let stated: Vec<(usize, u8)> = prints.flat_map(|print| print.staff_layouts().iter().map(|layout| (print.part, layout.staff))).collect();
    let own: Vec<bool> = staves.iter().map(|state| stated.contains(&(state.part, state.staff))).collect();
    let Some(first) = own.iter().position(|own| *own) else { return };
    let sounding: Vec<bool> = staves.iter().map(|state| sounds(score, state.part, state.staff, bars)).collect();
    let any_above = sounding[..first].iter().any(|sounds| *sounds);
    let mut index = 0;
    staves.retain(|_| {
        let this = index;
        index += 1;
        let topmost = this + 1 == first && !any_above;
        own[this] || sounding[this] || topmost
    });
}
