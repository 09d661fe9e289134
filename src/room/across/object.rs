//! What stands at one moment on one staff: how far its signs reach to the left and right of its heads.

use super::change::{Change, ChangeKind};
use super::glyph;
use crate::score::note::{NoteBody, NoteValue, Position, Stem};
use crate::score::{Note, Tone, Traits};
use crate::units::{Sp, Time};

/// Staff steps apart from which two accidentals of a chord stand in one column.
const CLEAR_STEPS: i32 = 6;

/// All that stands at one moment on one staff, as far as it takes room across.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Object {
    /// When, from the beginning of the bar.
    pub onset: Time,
    /// Index of the column of its bar at which it stands.
    pub column: u32,
    /// How far it reaches to the left of the left edge of its heads.
    pub left: Sp,
    /// How far it reaches to the right of that edge.
    pub right: Sp,
    /// Left edge of its heads from the left of the bar in tenths, where the file states it for a head that stands where it should.
    pub stated_x: Option<f64>,
    /// It has exactly one head.
    pub single_head: bool,
}

/// What stands on the staves of a bar, staff by staff.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lanes {
    objects: Vec<Object>,
    /// Where the objects of each staff end.
    ends: Vec<usize>,
}

impl Lanes {
    pub(super) fn with_capacity(staves: usize, objects: usize) -> Self {
        Self { objects: Vec::with_capacity(objects), ends: Vec::with_capacity(staves) }
    }

    /// Adds what stands on the next staff.
    pub(super) fn add(&mut self, objects: impl FnOnce(&mut Vec<Object>)) {
        objects(&mut self.objects);
        self.ends.push(self.objects.len());
    }

    /// What stands on all staves.
    pub fn objects(&self) -> &[Object] {
        &self.objects
    }

    /// What stands on each staff, in its order in time.
    pub fn iter(&self) -> impl Iterator<Item = &[Object]> {
        let begins = std::iter::once(0).chain(self.ends.iter().copied());
        begins.zip(&self.ends).map(|(begin, end)| &self.objects[begin..*end])
    }
}

/// A note that takes room, with the chord it belongs to.
#[derive(Debug, Clone, Copy)]
struct Member<'a> {
    note: &'a NoteBody,
    x: Position,
    /// The note that begins its chord; it alone need state stem and beams.
    chord: usize,
}

/// Whether a note fills its bar as a rest: said so, without a value, or a whole rest from one bar line to the other.
pub fn is_whole_bar_rest(note: &NoteBody, bar_length: Time) -> bool {
    let fills = || note.onset == Time::ZERO && note.duration >= bar_length;
    note.is_rest() && (note.traits.contains(Traits::WHOLE_BAR_REST) || note.value.is_none() || note.value == Some(NoteValue(0)) && fills())
}

/// One staff of a bar.
pub(super) struct OnStaff<'a, 'b> {
    /// The notes of the bar on all staves of the part.
    pub notes: &'a [Note],
    /// Which staff of the part, from 1.
    pub staff: u8,
    /// How long the bar is.
    pub length: Time,
    /// The columns of the bar: every note that is shown and takes time stands at one, unless it is a rest for the whole bar.
    pub columns: &'b [Time],
    /// What changes in the bar.
    pub changes: &'b [Change],
    /// Share of the usual size of the staff, 1 at most.
    pub size: f64,
}

/// Room to reckon in, for one staff after the other.
#[derive(Default)]
pub(super) struct Desk<'a> {
    members: Vec<Member<'a>>,
    without_graces: Vec<Member<'a>>,
    graces: Graces,
    of_moment: OfMoment,
}

impl<'a> OnStaff<'a, '_> {
    /// The notes that are shown, in their order in time, graces too.
    fn members(&self, members: &mut Vec<Member<'a>>) {
        members.clear();
        let mut chord = 0;
        let mut in_order = true;
        for (index, Note { x, body, .. }) in self.notes.iter().enumerate() {
            let note: &NoteBody = body;
            if !note.traits.contains(Traits::CHORD) {
                chord = index;
            }
            let shown = note.staff == self.staff && !note.traits.contains(Traits::HIDDEN);
            if shown && !is_whole_bar_rest(note, self.length) {
                in_order &= members.last().is_none_or(|last| last.note.onset <= note.onset);
                members.push(Member { note, x: *x, chord });
            }
        }
        if !in_order {
            members.sort_by_key(|member| member.note.onset);
        }
    }

    /// What stands on it, in its order in time.
    pub fn objects(&self, desk: &mut Desk<'a>, into: &mut Vec<Object>) {
        let Desk { members, without_graces, graces, of_moment } = desk;
        self.members(members);
        let begin = into.len();
        let clef = |change: &&Change| change.kind == ChangeKind::Clef(self.staff) && change.onset > Time::ZERO;
        let mut clefs = self.changes.iter().filter(clef).peekable();
        let mut column = 0;
        for group in members.chunk_by(|one, other| one.note.onset == other.note.onset) {
            let is_grace = |member: &&Member| member.note.traits.contains(Traits::GRACE);
            let standing = if group.iter().any(|member| is_grace(&member)) {
                graces.take(group.iter().filter(is_grace));
                without_graces.clear();
                without_graces.extend(group.iter().filter(|member| !is_grace(member)));
                &without_graces[..]
            } else {
                group
            };
            let onset = group[0].note.onset;
            if standing.is_empty() {
                continue;
            }
            while self.columns.get(column).is_some_and(|at| *at < onset) {
                column += 1;
            }
            let mut object = of_moment.object(standing, self.notes);
            object.column = u32::try_from(column).unwrap_or(u32::MAX);
            object.left += glyph::graces(graces.most());
            graces.0.clear();
            while clefs.next_if(|clef| clef.onset <= onset).is_some() {
                object.left += glyph::CLEF_INSIDE;
            }
            into.push(Object { left: object.left * self.size, right: object.right * self.size, ..object });
        }
        // Graces after the last note stand before the bar line.
        if let Some(last) = into[begin..].last_mut() {
            last.right += glyph::graces(graces.most()) * self.size;
        }
        graces.0.clear();
    }
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
fn steps(note: &NoteBody) -> Option<i32> {
    match note.tone {
        Tone::Pitch(pitch) | Tone::Unpitched(Some(pitch)) => Some(pitch.diatonic()),
        Tone::Unpitched(None) | Tone::Rest(_) => None,
    }
}

/// Share of its usual size at which a note is drawn.
fn drawn(note: &NoteBody) -> f64 {
    if note.traits.intersects(Traits::CUE | Traits::SMALL) { glyph::CUE_SHARE } else { 1.0 }
}

/// To which side of a stem a head is pushed.
#[derive(Debug, Clone, Copy, Default)]
struct Pushed {
    left: bool,
    right: bool,
}

/// Whether a note bears a flag that points up; a stem of which nothing is said counts as up.
fn has_flag_up(member: &Member, all: &[Note]) -> bool {
    let (note, begins) = (member.note, &all[member.chord]);
    let short = note.value.is_some_and(|value| value <= NoteValue(-3));
    let stem = if note.stem == Stem::Unstated { begins.stem } else { note.stem };
    short && !note.is_rest() && begins.beams == 0 && note.beams == 0 && !matches!(stem, Stem::Down | Stem::None)
}

/// Room to reckon in what stands at one moment.
#[derive(Default)]
struct OfMoment {
    /// Staff steps of heads, the chord of each, and whether its stem points down.
    heads: Vec<(i32, usize, bool)>,
    /// Staff steps of accidentals, and their widths.
    signs: Vec<(i32, Sp)>,
    /// Of each column of accidentals the lowest, and how wide it is.
    lowest: Vec<i32>,
    widths: Vec<Sp>,
}

impl OfMoment {
    /// All that stands at one moment: notes and rests of all voices, without graces.
    fn object(&mut self, standing: &[Member], all: &[Note]) -> Object {
        let (mut head, mut rest, mut flag, mut dots) = (Sp::ZERO, Sp::ZERO, Sp::ZERO, Sp::ZERO);
        let mut heads = 0;
        let mut stated_x: Option<f64> = None;
        let (mut arpeggio, mut altered) = (false, false);
        for member in standing {
            let note = member.note;
            let drawn = drawn(note);
            if note.is_rest() {
                rest = rest.max(glyph::rest(note.value) * drawn);
            } else {
                head = head.max(glyph::head(note.value) * drawn);
                heads += 1;
                if let Some(x) = member.x.get() {
                    stated_x = Some(stated_x.map_or(x.0, |least| least.min(x.0)));
                }
            }
            if has_flag_up(member, all) {
                flag = flag.max(glyph::FLAG_UP_REACH * drawn);
            }
            dots = dots.max(glyph::dots(note.dots) * drawn);
            arpeggio |= note.traits.contains(Traits::ARPEGGIO);
            altered |= note.accidental.is_some();
        }
        let pushed = self.pushed(standing);
        let right = rest.max(if pushed.right { head + head } else { head }).max(flag) + dots;
        let mut left = if pushed.left { head } else { Sp::ZERO };
        left += if altered { self.accidentals(standing) } else { Sp::ZERO };
        left += if arpeggio { glyph::ARPEGGIO } else { Sp::ZERO };
        let stated_x = stated_x.filter(|_| !pushed.left);
        Object { onset: standing[0].note.onset, column: 0, left, right, stated_x, single_head: heads == 1 }
    }

    /// Heads a step apart cannot stand above each other: within a chord the stem says to which side one gives way, between
    /// two voices it is the right.
    fn pushed(&mut self, standing: &[Member]) -> Pushed {
        let mut pushed = Pushed::default();
        if standing.len() < 2 {
            return pushed;
        }
        self.heads.clear();
        self.heads.extend(standing.iter().filter_map(|member| Some((steps(member.note)?, member.chord, member.note.stem == Stem::Down))));
        self.heads.sort_unstable();
        for (index, (lower, chord, down)) in self.heads.iter().enumerate() {
            let near = self.heads[index + 1..].iter().take_while(|(steps, ..)| steps - lower <= 1);
            for (_, of, _) in near.filter(|(steps, ..)| steps - lower == 1) {
                if chord == of && *down {
                    pushed.left = true;
                } else {
                    pushed.right = true;
                }
            }
        }
        pushed
    }

    /// Room of the accidentals of all voices, which share columns: from the top, each in the first column where it has room.
    fn accidentals(&mut self, standing: &[Member]) -> Sp {
        let Self { signs, lowest, widths, .. } = self;
        signs.clear();
        signs.extend(standing.iter().filter_map(|member| {
            let note = member.note;
            let enclosed = if note.traits.contains(Traits::ACCIDENTAL_ENCLOSED) { glyph::PARENTHESES } else { Sp::ZERO };
            Some((steps(note).unwrap_or_default(), (glyph::accidental(note.accidental?) + enclosed) * drawn(note)))
        }));
        signs.sort_by_key(|(steps, _)| std::cmp::Reverse(*steps));
        lowest.clear();
        widths.clear();
        for (steps, width) in signs.iter().copied() {
            if let Some(column) = lowest.iter().position(|above| above - steps >= CLEAR_STEPS) {
                lowest[column] = steps;
                widths[column] = widths[column].max(width);
            } else {
                lowest.push(steps);
                widths.push(width);
            }
        }
        glyph::accidental_columns(widths)
    }
}
