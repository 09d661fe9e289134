//! One bar on the staves that are printed: its columns, springs and rods, and how wide a force makes it.

use super::change::{self, ChangeKind, Changes};
use super::glyph;
use super::graph::{Graph, Rod};
use super::irregular;
use super::object::{self, Lanes, OnStaff, is_whole_bar_rest};
use super::rod::lane_rods;
use super::spring::{Event, Steps, springs};
use crate::page::Staff;
use crate::score::mark::{Side, Span};
use crate::score::note::NoteBody;
use crate::score::{Mark, MarkKind, Score, Traits};
use crate::units::{Scale, Sp, Time};
use std::ops::Range;

/// Events ahead among which one that is known already is looked for.
const NEAR: usize = 8;

/// Why the room of a bar is not known.
pub const NO_TIME: &str = "the exact time of a bar cannot be known";

/// What a bar holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Content {
    /// Notes, on at least one staff.
    Music(Graph),
    /// A rest for the whole bar on every staff, or nothing at all.
    Rest,
    /// The first bar of a multi-bar rest, which stands for all of them.
    MultiRest,
    /// A bar of a multi-bar rest after its first: it takes no room.
    Gathered,
}

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What it holds.
    pub content: Content,
    /// Its columns: moments at which something begins.
    pub columns: Vec<Time>,
    /// What stands on each printed staff, in the order of the staves; empty for rests.
    pub lanes: Lanes,
    /// Room of signs and bar line that no force stretches.
    pub fixed: Sp,
    /// How long it is.
    pub length: Time,
}

impl Bar {
    /// A bar in which nothing stands.
    fn nothing(content: Content) -> Self {
        Self { content, columns: Vec::new(), lanes: Lanes::default(), fixed: glyph::BAR_LINE, length: Time::ZERO }
    }

    /// Width under a force: 0 where signs all but touch, 1 where all stands naturally. `nodes` is room to reckon in.
    pub fn width(&self, force: f64, nodes: &mut Vec<Sp>) -> Sp {
        let rest = |fixed: f64, natural: f64| if force <= 1.0 { Sp(fixed + (natural - fixed) * force) } else { Sp(natural * force) };
        match &self.content {
            Content::Music(graph) => graph.end(force, nodes) + self.fixed,
            Content::Rest => rest(4.0, 8.0) + self.fixed,
            Content::MultiRest => rest(7.0, 10.0) + self.fixed,
            Content::Gathered => Sp::ZERO,
        }
    }

    /// Gives back what only the places of its notes ask for, and no width.
    pub fn forget_places(&mut self) {
        (self.columns, self.lanes) = (Vec::new(), Lanes::default());
    }

    /// How willingly it stretches.
    pub fn give(&self) -> f64 {
        match &self.content {
            Content::Music(graph) => graph.give(),
            _ => 3.0,
        }
    }

    /// Its first column from the bar line before, where all stands naturally; `None` where it has none.
    pub fn first_column(&self) -> Option<Sp> {
        match &self.content {
            Content::Music(graph) => graph.positions(1.0).first().copied(),
            _ => None,
        }
    }
}

/// Room to reckon bars in, one after the other.
#[derive(Default)]
pub struct Desk<'a> {
    events: Vec<Event>,
    /// Rests that fill the bar unless something else lasts longer.
    may_fill: Vec<(&'a NoteBody, Event)>,
    columns: Vec<Time>,
    steps: Steps,
    rods: Vec<Rod>,
    staff: object::Desk<'a>,
}

/// What is at hand for reckoning bars: the score and what changes in its parts.
#[derive(Debug)]
pub struct Music<'a> {
    pub(super) score: &'a Score,
    changes: Vec<Changes>,
    /// For every bar, whether in some part something changes in it or a repeat begins.
    has_signs: Vec<bool>,
    /// For every bar, the bar at which the multi-bar rest that holds it begins.
    rests: Vec<Option<usize>>,
    /// For every part, the bars written as repeat signs or slashes.
    shorthands: Vec<Vec<Range<usize>>>,
    /// The scale at which words stand beside the notes: text does not shrink with the staff.
    pub(super) scale: Option<Scale>,
}

impl<'a> Music<'a> {
    /// Reads the changes of clef, key and time of a score.
    pub fn of(score: &'a Score) -> Self {
        Self::at(score, score.instructions.scale.map(|scale| scale.value))
    }

    /// The same at another scale than that of the file: with smaller staves words are wider in staff spaces.
    pub fn at(score: &'a Score, scale: Option<Scale>) -> Self {
        let mut rests = vec![None; score.bar_count()];
        let mut bar = 0;
        while bar < rests.len() {
            let gathered = score.multi_rest(bar).unwrap_or(0);
            let end = bar.saturating_add(gathered).min(rests.len());
            rests[bar..end].fill(Some(bar));
            bar = end.max(bar + 1);
        }
        let changes: Vec<Changes> = score.parts.iter().map(Changes::of).collect();
        let has_signs = bars_with_signs(score, &changes);
        Self { score, changes, has_signs, rests, shorthands: irregular::shorthands(score), scale }
    }

    /// The changes of the parts that have one of these staves.
    pub(super) fn changes<'b>(&'b self, staves: &'b [Staff]) -> impl Iterator<Item = &'b Changes> + use<'b, 'a> {
        by_part(staves).filter_map(|same| self.changes.get(same[0].part))
    }

    /// The changes of one part.
    pub(super) fn changes_of(&self, part: usize) -> Option<&Changes> {
        self.changes.get(part)
    }

    /// Whether a bar lies in a multi-bar rest that begins before it.
    pub fn is_gathered(&self, bar: usize) -> bool {
        self.rests.get(bar).copied().flatten().is_some_and(|begins| begins != bar)
    }

    /// Room of clef, key and time where a bar opens a system.
    pub fn beginning_at(&self, staves: &[Staff], bar: usize) -> Sp {
        let parts = || self.changes(staves);
        let most_signs = parts().map(|part| part.key(bar).unsigned_abs()).max().unwrap_or(0);
        let is_time = |change: &change::Change| change.kind == ChangeKind::Time && change.onset == Time::ZERO;
        let time = parts().any(|part| part.in_bar(bar).iter().any(is_time));
        glyph::beginning(most_signs, time)
    }

    /// Room of the signs that announce a bar at the end of the system before.
    pub fn announced_at(&self, staves: &[Staff], bar: usize) -> Sp {
        change::announced(self.changes(staves), bar)
    }

    /// Whether a part writes a bar as a repeat sign or slashes.
    pub(super) fn shorthand_in(&self, part: usize, bar: usize) -> bool {
        self.shorthands.get(part).is_some_and(|ranges| ranges.iter().any(|range| range.contains(&bar)))
    }

    /// One bar on these staves; `opens` where it begins a system. `None` where its exact time cannot be known.
    pub fn bar(&self, staves: &[Staff], bar: usize, opens: bool, desk: &mut Desk<'a>) -> Option<Bar> {
        if let Some(rest) = self.of_multi_rest(staves, bar, opens) {
            return Some(rest);
        }
        let Desk { events, may_fill, columns, steps, rods, staff } = desk;
        let length = self.events(staves, bar, events, may_fill)?;
        let fixed = self.fixed(staves, bar, opens, length);
        if events.is_empty() {
            return Some(Bar { fixed, length, ..Bar::nothing(Content::Rest) });
        }
        events.sort_unstable_by_key(|event| (event.onset, event.duration));
        events.dedup();
        columns.clear();
        columns.extend(events.chunk_by(|one, other| one.onset == other.onset).map(|same| same[0].onset));
        let springs = springs(events, columns, length, steps)?;
        let lanes = self.lanes(staves, bar, columns, length, staff);
        let end = u32::try_from(columns.len() + 1).ok()?;
        rods.clear();
        for lane in lanes.iter() {
            lane_rods(lane, end, rods);
        }
        for staff in staves {
            self.lyric_rods(staff, bar, columns, end, rods);
        }
        Some(Bar { content: Content::Music(Graph::new(springs, rods)), columns: columns.clone(), lanes, fixed, length })
    }

    /// A bar that is known on such staves, in another place: where it opens a system other signs stand at its bar lines.
    pub fn elsewhere(&self, known: Bar, staves: &[Staff], bar: usize, opens: bool) -> Bar {
        self.of_multi_rest(staves, bar, opens).unwrap_or_else(|| Bar { fixed: self.fixed(staves, bar, opens, known.length), ..known })
    }

    /// A bar that lies in a multi-bar rest: its first, or the one that opens a system, stands for all.
    fn of_multi_rest(&self, staves: &[Staff], bar: usize, opens: bool) -> Option<Bar> {
        let begins = self.rests.get(bar).copied().flatten()?;
        if begins != bar && !opens {
            return Some(Bar::nothing(Content::Gathered));
        }
        Some(Bar { fixed: self.fixed(staves, bar, opens, Time::ZERO), ..Bar::nothing(Content::MultiRest) })
    }

    /// Finds the notes and rests that make columns; the end of the last note or rest of the parts printed, `None` where it cannot be known.
    fn events(&self, staves: &[Staff], bar: usize, events: &mut Vec<Event>, may_fill: &mut Vec<(&'a NoteBody, Event)>) -> Option<Time> {
        let mut length = Time::ZERO;
        events.clear();
        may_fill.clear();
        for same in by_part(staves) {
            let part = &self.score.parts[same[0].part];
            // A bar whose time was lost on the way says so.
            part.bars.get(bar).map_or(Some(Time::ZERO), |bar| bar.length)?;
            let mut last = Event { onset: Time::ZERO, end: Time::ZERO, duration: Time::ZERO };
            // Most parts of a score move as one before them: what is known already mostly stands behind what was met last.
            let mut met = 0;
            for note in part.notes_of(bar).iter().map(|note| &*note.body) {
                // The notes of a chord share their time.
                if (note.onset, note.duration) != (last.onset, last.duration) {
                    let end = note.onset.plus(note.duration)?;
                    length = length.max(end);
                    last = Event { onset: note.onset, end, duration: note.duration };
                }
                if is_unshown(note) || !same.iter().any(|staff| staff.staff == note.staff) {
                    continue;
                }
                if is_whole_bar_rest(note, last.end) {
                    may_fill.push((note, last));
                    continue;
                }
                let near = events[met..].iter().take(NEAR).position(|event| *event == last);
                met = near.map_or(events.len(), |near| met + near);
                if near.is_none() {
                    events.push(last);
                }
            }
        }
        events.extend(may_fill.iter().filter(|(note, _)| !is_whole_bar_rest(note, length)).map(|(_, event)| event));
        Some(length)
    }

    /// What stands on each staff.
    fn lanes(&self, staves: &[Staff], bar: usize, columns: &[Time], length: Time, desk: &mut object::Desk<'a>) -> Lanes {
        let score: &'a Score = self.score;
        let notes = |part: usize| score.parts[part].notes_of(bar);
        let all = by_part(staves).map(|same| notes(same[0].part).len()).sum();
        let mut lanes = Lanes::with_capacity(staves.len(), all);
        for same in by_part(staves) {
            let notes = notes(same[0].part);
            let changes = if self.has_signs(bar) { self.changes[same[0].part].in_bar(bar) } else { &[] };
            for staff in same {
                let size = (staff.size_percent / 100.0).min(1.0);
                let lane = OnStaff { notes, staff: staff.staff, length, columns, changes, size };
                lanes.add(|into| lane.objects(desk, into));
            }
        }
        lanes
    }

    /// Room of signs and bar line that no force stretches.
    fn fixed(&self, staves: &[Staff], bar: usize, opens: bool, length: Time) -> Sp {
        glyph::BAR_LINE + self.signs(staves, bar, opens, length)
    }

    /// Room of what stands at the bar lines: clefs, and inside a system changes of key and time and a repeat that begins.
    fn signs(&self, staves: &[Staff], bar: usize, opens: bool, length: Time) -> Sp {
        if !self.has_signs(bar) {
            return Sp::ZERO;
        }
        let (mut clef_before, mut clef_after) = (false, false);
        for staff in staves {
            let own = |kind: ChangeKind| kind == ChangeKind::Clef(staff.staff);
            for change in self.changes[staff.part].in_bar(bar).iter().filter(|change| own(change.kind)) {
                clef_before |= change.onset == Time::ZERO;
                clef_after |= change.onset > Time::ZERO && self.nothing_after(staff, bar, change.onset, length);
            }
        }
        let mut room = if clef_after { glyph::CLEF_AT_BAR_LINE } else { Sp::ZERO };
        if opens {
            return room;
        }
        if clef_before {
            room += glyph::CLEF_AT_BAR_LINE;
        }
        let mut printed = by_part(staves).flat_map(|same| self.score.parts[same[0].part].marks_of(bar));
        if printed.any(begins_repeat) {
            room += glyph::FORWARD_REPEAT;
        }
        room + change::inside(self.changes(staves), bar)
    }

    fn has_signs(&self, bar: usize) -> bool {
        self.has_signs.get(bar).copied().unwrap_or_default()
    }

    /// Nothing stands on a staff at a moment or after it, up to the bar line.
    fn nothing_after(&self, staff: &Staff, bar: usize, onset: Time, length: Time) -> bool {
        let notes = self.score.parts[staff.part].notes_of(bar);
        !notes.iter().any(|note| note.staff == staff.staff && note.onset >= onset && makes_column(note, length))
    }
}

/// For every bar, whether in some part something changes in it or a repeat begins.
fn bars_with_signs(score: &Score, changes: &[Changes]) -> Vec<bool> {
    let mut found = vec![false; score.bar_count()];
    for bar in changes.iter().flat_map(Changes::bars) {
        found[bar] = true;
    }
    for (bar, found) in found.iter_mut().enumerate() {
        *found = *found || score.marks_at(bar).any(begins_repeat);
    }
    found
}

/// Whether a mark at the left bar line begins a repeat.
fn begins_repeat(mark: &Mark) -> bool {
    matches!(mark.kind, MarkKind::Barline { side: Side::Left, repeat: Some(Span::Start), .. })
}

/// Some staves, part by part: those of one part follow each other.
fn by_part(staves: &[Staff]) -> impl Iterator<Item = &[Staff]> {
    staves.chunk_by(|one, other| one.part == other.part)
}

/// Whether a note or rest makes a column.
fn makes_column(note: &NoteBody, bar_length: Time) -> bool {
    !is_unshown(note) && !is_whole_bar_rest(note, bar_length)
}

/// Whether a note has no place of its own in time, or is not shown.
fn is_unshown(note: &NoteBody) -> bool {
    note.traits.intersects(Traits::GRACE | Traits::HIDDEN)
}
