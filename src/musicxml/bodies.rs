//! Notes that are alike share what they are.

use super::word::hashed;
use crate::score::{NoteBody, Tone};
use std::sync::Arc;

/// How many are remembered, as a power of two. A part seldom has more kinds of notes in a few pages.
const BITS: u32 = 12;

/// The bodies met last. One that has been pushed out by another is made again: nothing hangs on it but memory.
#[derive(Debug, Default)]
pub(super) struct Bodies {
    met: Vec<Option<Arc<NoteBody>>>,
}

/// A body and where it is remembered.
#[derive(Debug)]
pub(super) struct Shared {
    pub body: Arc<NoteBody>,
    slot: usize,
}

impl Bodies {
    /// The body that is like this one, or a new one as the error.
    pub fn share(&mut self, body: NoteBody) -> Result<Shared, Shared> {
        if self.met.is_empty() {
            self.met.resize(1 << BITS, None);
        }
        let index = slot(&body);
        let slot = &mut self.met[index];
        match slot {
            Some(met) if **met == body => Ok(Shared { body: met.clone(), slot: index }),
            _ => Err(Shared { body: slot.insert(Arc::new(body)).clone(), slot: index }),
        }
    }

    /// Whether a body is still remembered: then it is what [`Self::share`] would give for one like it.
    pub fn remember(&self, shared: &Shared) -> bool {
        self.met.get(shared.slot).and_then(Option::as_ref).is_some_and(|met| Arc::ptr_eq(met, &shared.body))
    }
}

/// Where a body is remembered: by what tells most of them apart.
fn slot(body: &NoteBody) -> usize {
    let pitch = match body.tone {
        Tone::Pitch(pitch) | Tone::Unpitched(Some(pitch)) | Tone::Rest(Some(pitch)) => {
            u32::from_le_bytes([pitch.step, pitch.alter_halves.cast_unsigned(), pitch.octave.cast_unsigned(), 1])
        }
        Tone::Unpitched(None) | Tone::Rest(None) => 0,
    };
    let [onset, duration] = [body.onset, body.duration].map(|time| (time.numer().cast_unsigned(), time.denom().cast_unsigned()));
    let rest = u32::from_le_bytes([body.staff, body.voice, body.beams, body.stem as u8]);
    let words = [onset.0, onset.1, duration.0, duration.1, pitch, body.traits.bits(), rest];
    let hash = words.into_iter().fold(0, |hash, word| hashed(hash, u64::from(word)));
    usize::try_from(hash >> (u64::BITS - BITS)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::Traits;
    use crate::score::note::{Pitch, Stem};
    use crate::units::Time;

    fn body(step: u8) -> NoteBody {
        NoteBody {
            onset: Time::ZERO,
            duration: Time::ZERO,
            tone: Tone::Pitch(Pitch { step, alter_halves: 0, octave: 4 }),
            value: None,
            dots: 0,
            tuplet: (1, 1),
            accidental: None,
            stem: Stem::Up,
            beams: 0,
            tremolo: 0,
            staff: 1,
            voice: 0,
            traits: Traits::empty(),
        }
    }

    #[test]
    fn what_is_alike_is_shared_and_what_is_not_is_not() {
        let mut bodies = Bodies::default();
        let first = bodies.share(body(1)).expect_err("the first");
        assert!(bodies.share(body(1)).is_ok_and(|again| Arc::ptr_eq(&first.body, &again.body)));
        assert!(bodies.remember(&first));
        let dotted = bodies.share(NoteBody { dots: 1, ..body(1) }).expect_err("in the same slot, and another");
        assert_eq!((first.body.dots, dotted.body.dots), (0, 1));
        assert!(bodies.remember(&dotted) && !bodies.remember(&first));
        assert!(bodies.share(body(2)).is_err());
    }
}
