//! What notes told that may be written again.

use super::repeats::TextNumber;
use crate::score::NoteBody;
use crate::score::note::Position;
use crate::units::Time;
use std::sync::Arc;

/// What a note tells within itself.
#[derive(Debug, Clone)]
pub(super) struct Told {
    /// What it is, as if at the beginning of its bar.
    pub body: NoteBody,
    /// The time it says it takes; `None` where that cannot be known.
    pub duration: Option<Time>,
    /// End of its stem.
    pub stem_end: Position,
    /// Bytes that were counted as kept while it was read.
    pub kept: usize,
}

/// By the slot of its text, what a note told that told nothing beside.
#[derive(Default)]
pub(super) struct ToldBefore {
    notes: Vec<Option<Remembered>>,
}

struct Remembered {
    number: TextNumber,
    told: Told,
    /// What it hung on beside its text.
    divisions: Divisions,
    voice: Option<Arc<str>>,
}

type Divisions = Option<(i64, i64)>;

impl ToldBefore {
    /// What the note of this text told before, if a quarter had as many divisions and its voice was the same as it would be now.
    pub fn recall(&self, number: TextNumber, divisions: Divisions, voices: &[Arc<str>]) -> Option<Told> {
        let known = self.notes.get(number.slot())?.as_ref()?;
        let voice = voices.get(usize::from(known.told.body.voice));
        let same = known.number == number && known.divisions == divisions && known.voice.as_ref() == voice;
        same.then(|| known.told.clone())
    }

    /// Remembers what the note of this text has told.
    pub fn remember(&mut self, number: TextNumber, told: &Told, divisions: Divisions, voices: &[Arc<str>]) {
        // The last voice stands for several.
        if told.body.voice == u8::MAX {
            return;
        }
        let slot = number.slot();
        if self.notes.len() <= slot {
            self.notes.resize_with(slot + 1, || None);
        }
        let voice = voices.get(usize::from(told.body.voice)).cloned();
        self.notes[slot] = Some(Remembered { number, told: told.clone(), divisions, voice });
    }
}
