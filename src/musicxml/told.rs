//! What notes told that may be written again.

use super::bodies::Shared;
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
    /// The last note of this text as it stood in its bar. Many stand at the same moment: a rest for a whole bar.
    last: Option<Shared>,
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
        let slot = number.slot();
        if self.notes.len() <= slot {
            self.notes.resize_with(slot + 1, || None);
        }
        let voice = voices.get(usize::from(told.body.voice)).cloned();
        // The last voice stands for several. What the same text told in another voice is forgotten too.
        self.notes[slot] = (told.body.voice != u8::MAX).then(|| Remembered { number, told: told.clone(), divisions, voice, last: None });
    }

    /// The last note of this text, which was just recalled or remembered, if it stood in its bar as this one does.
    pub fn last_like(&self, number: TextNumber, body: &NoteBody) -> Option<&Shared> {
        let known = self.notes.get(number.slot())?.as_ref().filter(|known| known.number == number)?;
        // In all else a note is what its text tells.
        let last = known.last.as_ref().filter(|last| last.body.onset == body.onset && last.body.traits == body.traits)?;
        debug_assert!(*last.body == *body, "{last:?} is not {body:?}");
        Some(last)
    }

    /// Keeps the note of this text for [`Self::last_like`].
    pub fn keep_last(&mut self, number: TextNumber, last: Shared) {
        let known = self.notes.get_mut(number.slot()).and_then(Option::as_mut);
        if let Some(known) = known.filter(|known| known.number == number) {
            known.last = Some(last);
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::musicxml::{Source, read};
    use crate::score::NoteBody;
    use std::sync::Arc;

    /// The notes of each part, of bars of some voices.
    fn read_notes(parts: &[&[Vec<String>]]) -> Vec<Vec<Arc<NoteBody>>> {
        let note = |voice: &String| {
            format!("<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration><voice>{voice}</voice></note>")
        };
        let bar = |voices: &Vec<String>| format!("<measure number='1'>{}</measure>", voices.iter().map(note).collect::<Vec<_>>().concat());
        let part = |(index, bars): (usize, &&[Vec<String>])| {
            format!("<part id='P{index}'>{}</part>", bars.iter().map(bar).collect::<Vec<_>>().concat())
        };
        let parts: Vec<String> = parts.iter().enumerate().map(part).collect();
        let text = format!("<score-partwise version='4.0'>{}</score-partwise>", parts.concat());
        let source = Source::spool("-", text.as_bytes()).expect("it is a score").remove(0);
        let score = read(source.unchecked_stream().expect("it opens")).expect("it is well-formed");
        score.parts.iter().map(|part| part.notes.iter().map(|note| note.body.clone()).collect()).collect()
    }

    #[test]
    fn alike_at_one_moment_is_one_note_and_at_another_is_another() {
        let bar = || vec!["1".to_owned(), "1".to_owned()];
        let notes = read_notes(&[&[bar(), bar(), bar()]]).remove(0);
        assert!(Arc::ptr_eq(&notes[0], &notes[2]) && Arc::ptr_eq(&notes[3], &notes[5]));
        assert_ne!(notes[2].onset, notes[3].onset);
    }

    /// Beyond 255 voices the rest share the last, whatever a note of the same text was in another part.
    #[test]
    fn the_last_voice_is_not_that_of_another_part() {
        // Several, for the text of one may be pushed out by another.
        let bars = || (0..9).map(|voice| vec![format!("last {voice}")]);
        let many = (0..300).map(|voice| format!("v{voice}")).collect();
        let first: Vec<_> = bars().chain(bars()).collect();
        let second: Vec<_> = std::iter::once(many).chain(bars()).collect();
        let notes = read_notes(&[&first, &second]);
        assert!(notes[0].iter().all(|note| note.voice < 9));
        assert!(notes[1].iter().rev().take(9).all(|note| note.voice == u8::MAX));
    }
}
