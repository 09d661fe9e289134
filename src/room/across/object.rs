//! What stands at one moment on one staff: how far its signs reach to the left and right of its heads.

use super::change::{Change, ChangeKind};
use super::glyph;
use crate::score::note::{NoteValue, Stem};
use crate::score::{Note, Part, Tone, Traits};
use crate::units::{Sp, Time};

/// Staff steps apart from which two accidentals of a chord stand in one column.
const CLEAR_STEPS: i32 = 6;

/// All that stands at one moment on one staff, as far as it takes room across.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Object {
    /// When, from the beginning of the bar.
    pub onset: Time,
    /// How far it reaches to the left of the left edge of its heads.
    pub left: Sp,
    /// How far it reaches to the right of that edge.
    pub right: Sp,
    /// Left edge of its heads from the left of the bar in tenths, where the file states it for a head that stands where it should.
    pub stated_x: Option<f64>,
    /// It has exactly one head.
    pub single_head: bool,
}

/// A note that takes room, with the chord it belongs to.
#[derive(Debug, Clone, Copy)]
struct Member<'a> {
    note: &'a Note,
    /// The note that begins its chord; it alone need state stem and beams.
    chord: usize,
}

/// Whether a note fills its bar as a rest: said so, without a value, or a whole rest from one bar line to the other.
pub fn is_whole_bar_rest(note: &Note, bar_length: Time) -> bool {
    let fills = note.onset == Time::ZERO && note.duration >= bar_length;
    note.is_rest() && (note.traits.contains(Traits::WHOLE_BAR_REST) || note.value.is_none() || note.value == Some(NoteValue(0)) && fills)
}

/// The notes of a bar that stand on a staff and are shown, in their order in time, graces too.
fn members(part: &Part, bar: usize, staff: u8, bar_length: Time) -> Vec<Member<'_>> {
    let mut chord = 0;
    let mut members = Vec::new();
    for (index, note) in part.notes_of(bar).iter().enumerate() {
        if !note.traits.contains(Traits::CHORD) {
            chord = index;
        }
        let shown = note.staff == staff && !note.traits.contains(Traits::HIDDEN);
        if shown && !is_whole_bar_rest(note, bar_length) {
            members.push(Member { note, chord });
        }
    }
    members.sort_by_key(|member| member.note.onset);
    members
}

/// The objects of one staff in one bar, in their order in time; `size` is the share of the usual size of the staff, 1 at most.
pub(super) fn objects(part: &Part, bar: usize, staff: u8, bar_length: Time, changes: &[Change], size: f64) -> Vec<Object> {
    let members = members(part, bar, staff, bar_length);
    let all = part.notes_of(bar);
    let clef = |change: &&Change| change.kind == ChangeKind::Clef(staff) && change.onset > Time::ZERO;
    let mut clefs = changes.iter().filter(clef).peekable();
    let mut objects: Vec<Object> = Vec::with_capacity(members.len());
    let mut graces = Graces::default();
    let mut without_graces: Vec<Member> = Vec::new();
    for group in members.chunk_by(|one, other| one.note.onset == other.note.onset) {
        let is_grace = |member: &&Member| member.note.traits.contains(Traits::GRACE);
        let standing = if group.iter().any(|member| is_grace(&member)) {
            graces.take(group.iter().filter(is_grace));
            without_graces.clear();
            without_graces.extend(group.iter().filter(|member| !is_grace(member)));
            &without_graces
        } else {
            group
        };
        let onset = group[0].note.onset;
        if standing.is_empty() {
            continue;
        }
        let mut object = object(standing, all);
        object.left += glyph::graces(std::mem::take(&mut graces).most());
        while clefs.next_if(|clef| clef.onset <= onset).is_some() {
            object.left += glyph::CLEF_INSIDE;
        }
        objects.push(Object { left: object.left * size, right: object.right * size, ..object });
    }
    // Graces after the last note stand before the bar line.
    if let Some(last) = objects.last_mut() {
        last.right += glyph::graces(graces.most()) * size;
    }
    objects
}

/// Grace notes before a note, by voice: those of two voices stand above each other.
#[derive(Default)]
struct Graces(Vec<(u8, usize)>);

impl Graces {
    /// Counts grace notes; those of a chord once.
    fn take<'a>(&mut self, members: impl Iterator<Item = &'a Member<'a>>) {
        for note in members.map(|member| member.note).filter(|note| !note.traits.contains(Traits::CHORD)) {
            match self.0.iter_mut().find(|(voice, _)| *voice == note.voice) {
                Some((_, number)) => *number += 1,
                None => self.0.push((note.voice, 1)),
            }
        }
    }

    /// Of the voice that has most.
    fn most(&self) -> usize {
        self.0.iter().map(|(_, number)| *number).max().unwrap_or(0)
    }
}

/// Staff steps of what a note shows, for comparing heads and accidentals.
fn steps(note: &Note) -> Option<i32> {
    match note.tone {
        Tone::Pitch(pitch) | Tone::Unpitched(Some(pitch)) => Some(pitch.diatonic()),
        Tone::Unpitched(None) | Tone::Rest(_) => None,
    }
}

/// Share of its usual size at which a note is drawn.
fn drawn(note: &Note) -> f64 {
    if note.traits.intersects(Traits::CUE | Traits::SMALL) { glyph::CUE_SHARE } else { 1.0 }
}

/// All that stands at one moment: notes and rests of all voices, without graces.
fn object(standing: &[Member], all: &[Note]) -> Object {
    let notes = || standing.iter().map(|member| member.note);
    let head = notes().filter(|note| !note.is_rest()).map(|note| glyph::head(note.value) * drawn(note)).fold(Sp::ZERO, Sp::max);
    let rest = notes().filter(|note| note.is_rest()).map(|note| glyph::rest(note.value) * drawn(note)).fold(Sp::ZERO, Sp::max);
    let pushed = pushed(standing);
    let mut right = rest.max(if pushed.right { head + head } else { head });
    for member in standing {
        if has_flag_up(member, all) {
            right = right.max(glyph::FLAG_UP_REACH * drawn(member.note));
        }
    }
    right += notes().map(|note| glyph::dots(note.dots) * drawn(note)).fold(Sp::ZERO, Sp::max);
    let mut left = if pushed.left { head } else { Sp::ZERO };
    left += accidentals(standing);
    if standing.iter().any(|member| member.note.traits.contains(Traits::ARPEGGIO)) {
        left += glyph::ARPEGGIO;
    }
    let heads = || notes().filter(|note| !note.is_rest());
    let stated_x = heads().filter_map(|note| note.x.get()).map(|x| x.0).reduce(f64::min).filter(|_| !pushed.left);
    Object { onset: standing[0].note.onset, left, right, stated_x, single_head: heads().count() == 1 }
}

/// To which side of a stem a head is pushed.
#[derive(Debug, Clone, Copy, Default)]
struct Pushed {
    left: bool,
    right: bool,
}

/// Heads a step apart cannot stand above each other: within a chord the stem says to which side one gives way, between
/// two voices it is the right.
fn pushed(standing: &[Member]) -> Pushed {
    let mut pushed = Pushed::default();
    if standing.len() < 2 {
        return pushed;
    }
    let mut heads: Vec<(i32, &Member)> = standing.iter().filter_map(|member| Some((steps(member.note)?, member))).collect();
    if heads.len() < 2 {
        return pushed;
    }
    heads.sort_by_key(|(steps, _)| *steps);
    for (index, (lower, one)) in heads.iter().enumerate() {
        for (_, other) in heads[index + 1..].iter().take_while(|(steps, _)| steps - lower <= 1).filter(|(steps, _)| steps - lower == 1) {
            if one.chord == other.chord && one.note.stem == Stem::Down {
                pushed.left = true;
            } else {
                pushed.right = true;
            }
        }
    }
    pushed
}

/// Whether a note bears a flag that points up; a stem of which nothing is said counts as up.
fn has_flag_up(member: &Member, all: &[Note]) -> bool {
    let (note, begins) = (member.note, &all[member.chord]);
    let short = note.value.is_some_and(|value| value <= NoteValue(-3));
    let stem = if note.stem == Stem::Unstated { begins.stem } else { note.stem };
    short && !note.is_rest() && begins.beams == 0 && note.beams == 0 && !matches!(stem, Stem::Down | Stem::None)
}

/// Room of the accidentals of all voices, which share columns: from the top, each in the first column where it has room.
fn accidentals(standing: &[Member]) -> Sp {
    if standing.iter().all(|member| member.note.accidental.is_none()) {
        return Sp::ZERO;
    }
    let signs = standing.iter().filter_map(|member| {
        let note = member.note;
        let enclosed = if note.traits.contains(Traits::ACCIDENTAL_ENCLOSED) { glyph::PARENTHESES } else { Sp::ZERO };
        Some((steps(note).unwrap_or_default(), (glyph::accidental(note.accidental?) + enclosed) * drawn(note)))
    });
    let mut signs: Vec<(i32, Sp)> = signs.collect();
    signs.sort_by_key(|(steps, _)| std::cmp::Reverse(*steps));
    let mut lowest: Vec<i32> = Vec::new();
    let mut widths: Vec<Sp> = Vec::new();
    for (steps, width) in signs {
        if let Some(column) = lowest.iter().position(|above| above - steps >= CLEAR_STEPS) {
            lowest[column] = steps;
            widths[column] = widths[column].max(width);
        } else {
            lowest.push(steps);
            widths.push(width);
        }
    }
    glyph::accidental_columns(&widths)
}
