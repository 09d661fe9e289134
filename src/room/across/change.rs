//! Clefs, keys and times that change: what has to be printed beside the notes, and the key in force.

use super::glyph;
use crate::score::sign::Clef;
use crate::score::{Part, SignKind};
use crate::units::{Sp, Time};
use std::collections::BTreeMap;

/// A sign that is shown and is not the one in force before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Change {
    /// Index of the bar.
    pub bar: usize,
    /// From the beginning of the bar.
    pub onset: Time,
    /// What changes.
    pub kind: ChangeKind,
}

/// What changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum ChangeKind {
    /// The clef of a staff.
    Clef(u8),
    /// The key: sharps, or flats as a negative number.
    Key(i8),
    /// The time.
    Time,
}

/// The changes of one part, by bar.
#[derive(Debug, Default)]
pub(super) struct Changes {
    all: Vec<Change>,
    /// Key from a bar on.
    keys: Vec<(usize, i8)>,
    /// Duration of a full bar from a bar on; `None` without metre.
    metres: Vec<(usize, Option<Time>)>,
}

impl Changes {
    pub(super) fn of(part: &Part) -> Self {
        let mut changes = Self::default();
        let mut clefs: BTreeMap<u8, Clef> = BTreeMap::new();
        let mut time: Option<(&str, &str)> = None;
        for bar in 0..part.bars.len() {
            for sign in part.signs_of(bar) {
                let kind = match &sign.kind {
                    SignKind::Clef(clef) => {
                        let staff = sign.staff.unwrap_or(1);
                        let before = clefs.insert(staff, *clef);
                        (before != Some(*clef)).then_some(ChangeKind::Clef(staff))
                    }
                    SignKind::Key { fifths, unusual, .. } => {
                        let signs = if *unusual > 0 { i8::try_from(*unusual).unwrap_or(i8::MAX) } else { *fifths };
                        let same = changes.keys.last().is_some_and(|(_, key)| *key == signs);
                        if !same {
                            changes.keys.push((bar, signs));
                        }
                        (!same).then_some(ChangeKind::Key(signs))
                    }
                    SignKind::Time { bar: length, beats, beat_type, .. } => {
                        let new = Some((beats.as_str(), beat_type.as_str()));
                        let same = time == new;
                        time = new;
                        if !same {
                            changes.metres.push((bar, *length));
                        }
                        (!same).then_some(ChangeKind::Time)
                    }
                    _ => None,
                };
                if let Some(kind) = kind.filter(|_| sign.printed) {
                    changes.all.push(Change { bar, onset: sign.onset, kind });
                }
            }
        }
        changes
    }

    /// The bars in which something changes.
    pub(super) fn bars(&self) -> impl Iterator<Item = usize> {
        self.all.iter().map(|change| change.bar)
    }

    /// The changes in a bar.
    pub(super) fn in_bar(&self, bar: usize) -> &[Change] {
        let from = self.all.partition_point(|change| change.bar < bar);
        let to = self.all.partition_point(|change| change.bar <= bar);
        &self.all[from..to]
    }

    /// Sharps, or flats as a negative number, of the key in force in a bar.
    pub(super) fn key(&self, bar: usize) -> i8 {
        let known = self.keys.partition_point(|(from, _)| *from <= bar);
        known.checked_sub(1).map_or(0, |index| self.keys[index].1)
    }

    /// Duration of a full bar by the time in force; `None` without metre.
    pub(super) fn metre(&self, bar: usize) -> Option<Time> {
        let known = self.metres.partition_point(|(from, _)| *from <= bar);
        self.metres[known.checked_sub(1)?].1
    }
}

/// Room that the changes of key and time at the beginning of a bar take inside a system: the widest of its parts.
pub(super) fn inside<'a>(parts: impl Iterator<Item = &'a Changes>, bar: usize) -> Sp {
    widest(parts, bar, glyph::key_change)
}

/// Room that the signs of the next system's first bar take at the end of the one before, where they are announced.
pub(super) fn announced<'a>(parts: impl Iterator<Item = &'a Changes>, bar: usize) -> Sp {
    widest(parts, bar, glyph::key_announced)
}

fn widest<'a>(parts: impl Iterator<Item = &'a Changes>, bar: usize, key: fn(i8) -> Sp) -> Sp {
    let (mut keys, mut times) = (Sp::ZERO, Sp::ZERO);
    for change in parts.flat_map(|part| part.in_bar(bar)).filter(|change| change.onset == Time::ZERO) {
        match change.kind {
            ChangeKind::Key(signs) => keys = keys.max(key(signs)),
            ChangeKind::Time => times = glyph::TIME_CHANGE,
            ChangeKind::Clef(_) => {}
        }
    }
    keys + times
}
