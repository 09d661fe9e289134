//! Staves of a system: how high they are, and whose music stands on them.

use super::Bench;
use crate::house::{Family, House, NamedStaff};
use crate::page as layout;
use crate::place::Known;
use crate::score::instructions::StaffKind;
use crate::score::{Instructions, Note, Score, Traits};
use crate::turn::has_rest_beside_small;
use crate::units::{Mm, Tenths};
use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::Arc;

/// Whose music a staff holds, as seen by the reader of the copy.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// The reader's own.
    Own,
    /// Another player's, shown to the one who accompanies: a solo line over a piano.
    Other,
    /// Another version of a passage.
    Ossia,
    /// A cue.
    Cue,
    /// For the rehearsal only.
    Rehearsal,
}

/// A part as all its staves name it.
#[derive(Debug)]
pub struct OfPart {
    /// Its index.
    pub index: u32,
    /// Its id.
    pub id: Arc<str>,
    /// Its name.
    pub name: Arc<str>,
    /// Size of its cue notes in percent of the others, where stated.
    pub cue_percent: Option<f64>,
}

/// One printed staff of one system.
#[derive(Debug)]
pub struct Staff {
    /// The part it is of.
    pub of: Arc<OfPart>,
    /// Which of the part's staves, from 1.
    pub staff: u8,
    /// Top line from the top of the sheet.
    pub top: Known<Mm>,
    /// From top line to bottom line, where its size is known at all.
    height: Mm,
    /// Height by which it is judged: of five lines at its size.
    pub five_line_height: Known<Mm>,
    /// Size in percent of the usual.
    pub size_percent: f64,
    /// What it is for, where stated.
    pub kind: Option<StaffKind>,
    /// Whose music it holds.
    pub whose: Whose,
    /// Family of its instruments, where known.
    pub family: Option<Family>,
    /// Cue-size notes stand on it.
    pub has_cue_notes: bool,
    /// White to the staff above in the system; absent for the first.
    pub gap_above: Known<Mm>,
}

impl Staff {
    /// From top line to bottom line.
    pub fn height(&self) -> Known<Mm> {
        match self.five_line_height {
            Known::Unknown(why) => Known::Unknown(why),
            _ => Known::Derived(self.height),
        }
    }

    /// Bottom line from the top of the sheet.
    pub fn bottom(&self) -> Known<Mm> {
        self.top.map(|top| top + self.height)
    }

    /// Staff height of the cue-size notes on it; absent where there are none.
    pub fn cue_notes(&self) -> Known<Mm> {
        if !self.has_cue_notes {
            return Known::Absent;
        }
        let percent = self.of.cue_percent;
        percent.map_or(Known::Unknown(NO_CUE_SIZE), |percent| self.five_line_height.map(|height| height * (percent / 100.0)))
    }
}

/// Why the size of cue notes is not known.
const NO_CUE_SIZE: &str = "the size of cue notes is not stated";
/// How a file calls the size of cue notes, and the width of staff lines, in its `appearance`.
const CUE: &str = "cue";
const STAFF_LINE: &str = "staff";

/// What the names of the parts say of their staves.
pub(super) fn names(score: &Score, house: &House) -> Vec<Option<Whose>> {
    let whose = |named| match named {
        NamedStaff::Cue => Whose::Cue,
        NamedStaff::Ossia => Whose::Ossia,
        NamedStaff::Rehearsal => Whose::Rehearsal,
    };
    // The only part of a file is what its reader has, whatever it is called.
    let several = score.parts.len() > 1;
    score.parts.iter().map(|part| house.staff_named(&part.name).filter(|_| several).map(whose)).collect()
}

/// Width of the lines of staves.
pub(super) fn line_width(instructions: &Instructions) -> Known<Tenths> {
    let stated = instructions.line_widths.iter().find(|(kind, width)| kind == STAFF_LINE && *width > Tenths::ZERO);
    stated.map_or(Known::Unknown("the width of the staff lines is not stated"), |(_, width)| Known::Derived(*width))
}

/// Size of cue notes in percent of the others.
pub(super) fn cue_percent(instructions: &Instructions) -> Option<f64> {
    instructions.note_sizes.iter().find(|(kind, percent)| kind == CUE && *percent > 0.0).map(|(_, percent)| *percent)
}

pub(super) fn measure(bench: &Bench, system: &layout::System, staff: &layout::Staff) -> Staff {
    Staff {
        of: bench.parts[staff.part].clone(),
        staff: staff.staff,
        top: bench.mm(staff.top()),
        height: bench.mm(Known::Derived(staff.height())).value().unwrap_or(Mm::ZERO),
        five_line_height: height(bench, staff),
        size_percent: staff.size_percent,
        kind: staff.kind,
        whose: bench.whose(staff),
        family: bench.families[staff.part],
        has_cue_notes: has_cue_notes(bench, system.bars.clone(), staff),
        gap_above: bench.mm(staff.gap_above),
    }
}

/// Height of a staff with the place that makes it so: its own size, else the file's scaling.
fn height(bench: &Bench, staff: &layout::Staff) -> Known<Mm> {
    let height = bench.mm(Known::Derived(staff.five_line_height()));
    match (height.value(), staff.size_at, bench.instructions.millimeters_at) {
        (Some(height), Some(at), _) => Known::Stated(height, at),
        (Some(height), None, Some(at)) => Known::Inherited(height, at),
        _ => height,
    }
}

/// Whether another player's notes are written small between the reader's own.
fn has_cue_notes(bench: &Bench, mut bars: Range<usize>, staff: &layout::Staff) -> bool {
    let part = &bench.score.parts[staff.part];
    let small = |note: &Note, beside_rest: bool| {
        let others = note.traits.contains(Traits::CUE) || beside_rest && note.traits.contains(Traits::SMALL);
        note.staff == staff.staff && others && !note.traits.intersects(Traits::GRACE | Traits::HIDDEN) && !note.is_rest()
    };
    bars.any(|bar| {
        let notes = part.notes_of(bar);
        // Small notes without a rest beside them may be the player's own cadenza.
        let beside_rest = has_rest_beside_small(notes);
        notes.iter().any(|note| small(note, beside_rest))
    })
}

impl Bench<'_> {
    /// Whose music a staff holds: as the file says, as its part is called, else by its size. A small staff of the reader's own
    /// part is an ossia; one over a keyboard another player's; any other a cue.
    pub(super) fn whose(&self, staff: &layout::Staff) -> Whose {
        match staff.kind {
            Some(StaffKind::Cue) => return Whose::Cue,
            Some(StaffKind::Ossia | StaffKind::Editorial) => return Whose::Ossia,
            _ => {}
        }
        if let Some(named) = self.names.get(staff.part).copied().flatten() {
            return named;
        }
        if !self.is_small(staff) {
            return Whose::Own;
        }
        if self.full_size.contains(&staff.part) {
            return Whose::Ossia;
        }
        let keyboard = |part: &usize| self.families[*part] == Some(Family::Keyboard);
        if self.full_size.iter().all(keyboard) { Whose::Other } else { Whose::Cue }
    }

    /// Staves that hold cues and nothing else, by part and staff.
    pub(super) fn cue_staves(&self) -> BTreeSet<(usize, u8)> {
        let staves = self.layout.pages.iter().flat_map(|page| &page.systems).flat_map(|system| &system.staves);
        staves.filter(|staff| self.whose(staff) == Whose::Cue).map(|staff| (staff.part, staff.staff)).collect()
    }
}
