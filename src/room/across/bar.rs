//! One bar on the staves that are printed: its columns, springs and rods, and how wide a force makes it.

use super::change::{self, ChangeKind, Changes};
use super::glyph;
use super::graph::{Graph, Rod};
use super::irregular;
use super::lyric::{self, Syllable};
use super::object::{Desk, Lanes, Object, OnStaff, is_whole_bar_rest};
use super::spring::{Event, springs};
use crate::page::Staff;
use crate::score::mark::{Side, Span};
use crate::score::note::NoteBody;
use crate::score::{MarkKind, Score, Traits};
use crate::units::{Scale, Sp, Time};
use std::ops::Range;

/// Between objects of one staff: below the first signs touch, the second reads comfortably.
const APART: (Sp, Sp) = (Sp(0.25), Sp(0.65));

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

    /// Gives back what only the place of its notes in their system asks for.
    pub fn forget_lanes(&mut self) {
        self.lanes = Lanes::default();
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

/// What is at hand for reckoning bars: the score and what changes in its parts.
#[derive(Debug)]
pub struct Music<'a> {
    pub(super) score: &'a Score,
    changes: Vec<Changes>,
    /// For every bar, the bar at which the multi-bar rest that holds it begins.
    rests: Vec<Option<usize>>,
    /// For every part, the bars written as repeat signs or slashes.
    shorthands: Vec<Vec<Range<usize>>>,
    /// The scale at which words stand beside the notes: text does not shrink with the staff.
    scale: Option<Scale>,
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
        Self { score, changes: score.parts.iter().map(Changes::of).collect(), rests, shorthands: irregular::shorthands(score), scale }
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
    pub fn bar(&self, staves: &[Staff], bar: usize, opens: bool) -> Option<Bar> {
        if let Some(rest) = self.of_multi_rest(staves, bar, opens) {
            return Some(rest);
        }
        let (mut events, length) = self.events(staves, bar)?;
        let fixed = self.fixed(staves, bar, opens, length);
        if events.is_empty() {
            return Some(Bar { fixed, length, ..Bar::nothing(Content::Rest) });
        }
        events.sort_unstable_by_key(|event| (event.onset, event.duration));
        // Most staves of a score move together.
        events.dedup();
        let mut columns: Vec<Time> = Vec::with_capacity(events.len());
        columns.extend(events.chunk_by(|one, other| one.onset == other.onset).map(|same| same[0].onset));
        let springs = springs(&mut events, &columns, length)?;
        let lanes = self.lanes(staves, bar, &columns, length);
        let end = u32::try_from(columns.len() + 1).ok()?;
        let mut rods = Vec::with_capacity(lanes.objects().len() + staves.len());
        for lane in lanes.iter() {
            lane_rods(lane, end, &mut rods);
        }
        for staff in staves {
            self.lyric_rods(staff, bar, &columns, end, &mut rods);
        }
        Some(Bar { content: Content::Music(Graph::new(springs, rods)), columns, lanes, fixed, length })
    }

    /// A bar that is known on such staves, in another place: where it opens a system other signs stand at its bar lines.
    pub(super) fn elsewhere(&self, known: &Bar, staves: &[Staff], bar: usize, opens: bool) -> Bar {
        self.of_multi_rest(staves, bar, opens)
            .unwrap_or_else(|| Bar { fixed: self.fixed(staves, bar, opens, known.length), ..known.clone() })
    }

    /// A bar that lies in a multi-bar rest: its first, or the one that opens a system, stands for all.
    fn of_multi_rest(&self, staves: &[Staff], bar: usize, opens: bool) -> Option<Bar> {
        let begins = self.rests.get(bar).copied().flatten()?;
        if begins != bar && !opens {
            return Some(Bar::nothing(Content::Gathered));
        }
        Some(Bar { fixed: self.fixed(staves, bar, opens, Time::ZERO), ..Bar::nothing(Content::MultiRest) })
    }

    /// The notes and rests that make columns, and the end of the last note or rest of the parts printed; `None` where it cannot be known.
    fn events(&self, staves: &[Staff], bar: usize) -> Option<(Vec<Event>, Time)> {
        let mut length = Time::ZERO;
        let mut events: Vec<Event> = Vec::new();
        // Rests that fill the bar unless something else lasts longer.
        let mut may_fill: Vec<(&NoteBody, Event)> = Vec::new();
        for same in by_part(staves) {
            let part = &self.score.parts[same[0].part];
            // A bar whose time was lost on the way says so.
            part.bars.get(bar).map_or(Some(Time::ZERO), |bar| bar.length)?;
            let mut last = Event { onset: Time::ZERO, end: Time::ZERO, duration: Time::ZERO };
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
                } else if events.last() != Some(&last) {
                    events.push(last);
                }
            }
        }
        events.extend(may_fill.into_iter().filter(|(note, _)| !is_whole_bar_rest(note, length)).map(|(_, event)| event));
        Some((events, length))
    }

    /// What stands on each staff.
    fn lanes(&self, staves: &[Staff], bar: usize, columns: &[Time], length: Time) -> Lanes {
        let mut desk = Desk::default();
        let mut lanes = Lanes::with_capacity(staves.len());
        for same in by_part(staves) {
            let notes = self.score.parts[same[0].part].notes_of(bar);
            let changes = self.changes[same[0].part].in_bar(bar);
            for staff in same {
                let size = (staff.size_percent / 100.0).min(1.0);
                let lane = OnStaff { notes, staff: staff.staff, length, columns, changes, size };
                lanes.add(|into| lane.objects(&mut desk, into));
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
        let begins = |kind: &MarkKind| matches!(kind, MarkKind::Barline { side: Side::Left, repeat: Some(Span::Start), .. });
        let (mut clef_before, mut clef_after, mut repeat, mut changing) = (false, false, false, false);
        for same in by_part(staves) {
            let changes = self.changes[same[0].part].in_bar(bar);
            changing |= !changes.is_empty();
            for staff in same.iter().filter(|_| !changes.is_empty()) {
                for change in changes.iter().filter(|change| change.kind == ChangeKind::Clef(staff.staff)) {
                    clef_before |= change.onset == Time::ZERO;
                    clef_after |= change.onset > Time::ZERO && self.nothing_after(staff, bar, change.onset, length);
                }
            }
            repeat = repeat || !opens && self.score.parts[same[0].part].marks_of(bar).iter().any(|mark| begins(&mark.kind));
        }
        let mut room = if clef_after { glyph::CLEF_AT_BAR_LINE } else { Sp::ZERO };
        if opens {
            return room;
        }
        if clef_before {
            room += glyph::CLEF_AT_BAR_LINE;
        }
        if repeat {
            room += glyph::FORWARD_REPEAT;
        }
        if changing { room + change::inside(self.changes(staves), bar) } else { room }
    }

    /// Nothing stands on a staff at a moment or after it, up to the bar line.
    fn nothing_after(&self, staff: &Staff, bar: usize, onset: Time, length: Time) -> bool {
        let notes = self.score.parts[staff.part].notes_of(bar);
        !notes.iter().any(|note| note.staff == staff.staff && note.onset >= onset && makes_column(note, length))
    }

    fn lyric_rods(&self, staff: &Staff, bar: usize, columns: &[Time], end: u32, rods: &mut Vec<Rod>) {
        let part = &self.score.parts[staff.part];
        let lyrics = part.lyrics_of(bar);
        if lyrics.is_empty() {
            return;
        }
        let instructions = &self.score.instructions;
        let scale = self.scale;
        let mut sung: Vec<(&str, Syllable)> = Vec::with_capacity(lyrics.len());
        for lyric in lyrics {
            let Some(note) = part.notes.get(lyric.note as usize) else { continue };
            let shown = note.staff == staff.staff && !note.traits.intersects(Traits::HIDDEN | Traits::GRACE);
            let Some(column) = shown.then(|| node_of(columns, note.onset)).flatten() else { continue };
            sung.push((&lyric.verse, lyric::syllable(lyric, column - 1, instructions, scale)));
        }
        sung.sort_by_key(|(verse, syllable)| (*verse, syllable.column));
        for verse in sung.chunk_by(|one, other| one.0 == other.0) {
            let mut syllables: Vec<Syllable> = Vec::with_capacity(verse.len());
            for (_, syllable) in verse {
                match syllables.last_mut().filter(|last| last.column == syllable.column) {
                    // Of two voices that sing at once the wider counts.
                    Some(last) if syllable.width > last.width => *last = *syllable,
                    Some(_) => {}
                    None => syllables.push(*syllable),
                }
            }
            lyric::rods(&syllables, end, rods);
        }
    }
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

/// The node of a column; `None` where there is none at that moment.
fn node_of(columns: &[Time], onset: Time) -> Option<u32> {
    let column = columns.binary_search(&onset).ok()?;
    u32::try_from(column + 1).ok()
}

/// What the objects of one staff keep apart.
fn lane_rods(lane: &[Object], end: u32, rods: &mut Vec<Rod>) {
    let node = |object: &Object| object.column + 1;
    if let Some(first) = lane.first() {
        let hard = Sp(0.80).max(Sp(0.30) + first.left);
        let comfortable = Sp(1.30).max(Sp(0.60) + first.left);
        rods.push(Rod { from: 0, to: node(first), hard, comfortable });
    }
    for pair in lane.windows(2) {
        let [one, next] = pair else { continue };
        let touching = one.right + next.left;
        rods.push(Rod { from: node(one), to: node(next), hard: touching + APART.0, comfortable: touching + APART.1 });
    }
    if let Some(last) = lane.last() {
        rods.push(Rod { from: node(last), to: end, hard: last.right + Sp(0.50), comfortable: last.right + Sp(1.30) });
    }
}
