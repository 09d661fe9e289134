//! Notes, rests and syllables.

use super::damage::Damage;
use super::element::{Element, Key};
use super::number;
use super::reader::{MOST_NOTES_A_BAR, Reader};
use super::repeats::TextNumber;
use super::told::Told;
use super::values::trimmed;
use crate::score::note::{Accidental, NoteHeight, NoteValue, Pitch, Position, Stem, Syllabic};
use crate::score::{Lyric, Note, NoteBody, Tone, Traits};
use crate::units::Time;

/// Semitones (or another number) in halves; `None` where they do not fit or are finer.
pub(super) fn halves<T: TryFrom<i64>>(text: &str) -> Option<T> {
    let (numer, denom) = number::fraction(text)?;
    let doubled = numer.checked_mul(2)?;
    (doubled % denom == 0).then(|| T::try_from(doubled / denom).ok()).flatten()
}

/// A `step` as a number from C.
fn step_number(step: &str) -> Option<u8> {
    let letter = step.as_bytes().first()?;
    "CDEFGAB".bytes().position(|name| name == *letter).and_then(|step| u8::try_from(step).ok())
}

impl Reader {
    /// Reads the note now open into `part`.
    pub(super) fn note(&mut self, part: usize) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        let begun = self.score.parts[part].bars.last().map_or(0, |bar| bar.first_note as usize);
        if self.score.parts[part].notes.len() - begun >= MOST_NOTES_A_BAR {
            let what = format!("more than {MOST_NOTES_A_BAR} notes in one bar");
            return Err(Damage::new(what, "No bar holds so many; export the file again.").at(at));
        }
        let (x, y, shown) = self.stands_and_shows();
        let (Told { mut body, duration, stem_end, .. }, number) = self.told(part)?;
        body.traits |= shown;
        let chord = body.traits.contains(Traits::CHORD);
        body.onset = if chord { self.states[part].onset.unwrap_or_default() } else { self.now(part) };
        if !chord {
            self.states[part].onset = self.states[part].cursor;
            if !body.traits.contains(Traits::GRACE) {
                self.shift_by(part, duration, false);
            }
        }
        self.pull.keep::<Note>();
        // Only while it is remembered, too: what a document may come to does not hang on how it is written.
        let known = number.and_then(|number| self.told.last_like(number, &body)).filter(|last| self.bodies.remember(last));
        let known = known.map(|last| last.body.clone());
        let body = known.unwrap_or_else(|| {
            let shared = self.bodies.share(body).unwrap_or_else(|new| {
                self.pull.keep::<NoteBody>();
                new
            });
            let body = shared.body.clone();
            if let Some(number) = number {
                self.told.keep_last(number, shared);
            }
            body
        });
        let part = &mut self.score.parts[part];
        if y.get().or(stem_end.get()).is_some() {
            self.pull.keep::<NoteHeight>();
            part.note_heights.resize(part.notes.len(), NoteHeight::default());
            part.note_heights.push(NoteHeight { y, stem_end });
        }
        part.notes.push(Note { offset: at.offset, x, body });
        Ok(())
    }

    /// Where the note now open stands, and whether it is shown: all that is read of its tag, in one go.
    fn stands_and_shows(&self) -> (Position, Position, Traits) {
        const DEFAULT_X: Key = Key::of(b"default-x");
        const DEFAULT_Y: Key = Key::of(b"default-y");
        const PRINT_OBJECT: Key = Key::of(b"print-object");
        const PRINT_SPACING: Key = Key::of(b"print-spacing");
        let (mut x, mut y, mut shown) = (Position::default(), Position::default(), Traits::empty());
        for (key, value) in self.pull.values() {
            let value = trimmed(&value);
            let position = || number::decimal(value).map_or_else(Position::default, Position::new);
            match key {
                DEFAULT_X => x = position(),
                DEFAULT_Y => y = position(),
                PRINT_OBJECT => shown.set(Traits::HIDDEN, value == "no"),
                PRINT_SPACING => shown.set(Traits::ROOM_KEPT, value == "yes"),
                _ => {}
            }
        }
        (x, y, shown)
    }

    /// What the note now open tells within itself: read, or as a note that was written the same told it; with the number of its text if it
    /// may be recalled again.
    fn told(&mut self, part: usize) -> Result<(Told, Option<TextNumber>), Damage> {
        let number = self.pull.remembered();
        if let Some(number) = number.filter(|_| self.pull.is_repeat())
            && let Some(told) = self.told.recall(number, self.states[part].divisions, &self.score.parts[part].voices)
        {
            self.pull.skip()?;
            // What a document may come to does not hang on how it is read.
            self.pull.keep_bytes(told.kept);
            return Ok((told, Some(number)));
        }
        let (told, alone) = self.content(part)?;
        let number = number.filter(|_| alone);
        if let Some(number) = number {
            self.told.remember(number, &told, self.states[part].divisions, &self.score.parts[part].voices);
        }
        Ok((told, number))
    }

    /// Reads what the note now open holds; true if it told nothing but what is given back here.
    fn content(&mut self, part: usize) -> Result<(Told, bool), Damage> {
        let mut note = NoteBody {
            onset: Time::ZERO,
            duration: Time::ZERO,
            tone: Tone::Rest(None),
            value: None,
            dots: 0,
            tuplet: (1, 1),
            accidental: None,
            stem: Stem::Unstated,
            beams: 0,
            tremolo: 0,
            staff: 1,
            voice: 0,
            traits: Traits::empty(),
        };
        let mut stem_end = Position::default();
        let mut duration = Some(Time::ZERO);
        let (mut alone, mut has_voice) = (true, false);
        let first_lyric = self.score.parts[part].lyrics.len();
        let kept = self.pull.kept();
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Duration => {
                    duration = self.duration(part)?;
                    // Else a flaw was noted.
                    alone &= duration.is_some();
                }
                Element::Lyric => self.lyric(part)?,
                Element::Voice => {
                    // A first one, now in the list of voices, would not be told again.
                    alone &= !std::mem::replace(&mut has_voice, true);
                    note.voice = self.voice(part)?;
                }
                Element::Notations => self.notations(part, &mut note)?,
                Element::Stem => {
                    stem_end = self.position("default-y");
                    note.stem = stem(self.pull.text()?.0);
                }
                _ => self.note_child(element, &mut note)?,
            }
        }
        note.traits.set(Traits::SUNG, self.score.parts[part].lyrics.len() > first_lyric);
        alone &= !note.traits.intersects(Traits::SUNG | Traits::DYNAMIC);
        note.duration = if note.traits.contains(Traits::GRACE) { Time::ZERO } else { duration.unwrap_or_default() };
        let kept = self.pull.kept() - kept;
        Ok((Told { body: note, duration, stem_end, kept }, alone))
    }

    /// A child of a note that needs nothing but the note.
    fn note_child(&mut self, element: Element, note: &mut NoteBody) -> Result<(), Damage> {
        match element {
            Element::Pitch => note.tone = self.pitch()?.map_or(Tone::Unpitched(None), Tone::Pitch),
            Element::Unpitched => note.tone = Tone::Unpitched(self.pitch()?),
            Element::Rest => {
                note.traits.set(Traits::WHOLE_BAR_REST, self.attribute_yes("measure") == Some(true));
                note.tone = Tone::Rest(self.pitch()?);
            }
            Element::Type => {
                let small = self.attribute_is("size", "cue") || self.attribute_is("size", "grace-cue");
                note.traits.set(Traits::SMALL, small);
                note.value = NoteValue::from_name(self.pull.text()?.0);
            }
            Element::Accidental => {
                let enclosed = ["parentheses", "bracket"].iter().any(|name| self.attribute_yes(name) == Some(true));
                note.traits.set(Traits::ACCIDENTAL_ENCLOSED, enclosed);
                note.accidental = Some(accidental(self.pull.text()?.0));
            }
            Element::Staff => note.staff = self.whole()?.filter(|staff| *staff > 0).unwrap_or(1),
            Element::Beam => {
                let level = self.attribute_whole("number").unwrap_or(1_u8);
                note.beams = note.beams.max(level);
                if level == 1 {
                    let (continues, goes_on) = match self.pull.text()?.0 {
                        "begin" => (false, true),
                        "continue" => (true, true),
                        "end" => (true, false),
                        _ => (false, false),
                    };
                    note.traits.set(Traits::BEAM_CONTINUES, continues);
                    note.traits.set(Traits::BEAM_GOES_ON, goes_on);
                } else {
                    self.pull.skip()?;
                }
            }
            Element::TimeModification => note.tuplet = self.tuplet_ratio()?,
            Element::Grace => {
                note.traits.insert(Traits::GRACE);
                note.traits.set(Traits::SLASHED, self.attribute_yes("slash") == Some(true));
                self.pull.skip()?;
            }
            Element::Chord | Element::Cue | Element::Dot => {
                match element {
                    Element::Chord => note.traits.insert(Traits::CHORD),
                    Element::Cue => note.traits.insert(Traits::CUE),
                    _ => note.dots = note.dots.saturating_add(1),
                }
                self.pull.skip()?;
            }
            _ => self.pull.skip()?,
        }
        Ok(())
    }

    /// `pitch`, or the `display-` pair of `unpitched` and `rest`.
    fn pitch(&mut self) -> Result<Option<Pitch>, Damage> {
        let (mut step, mut octave, mut alter_halves) = (None, None, 0);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Step | Element::DisplayStep => step = step_number(self.pull.text()?.0),
                Element::Octave | Element::DisplayOctave => octave = self.whole()?,
                Element::Alter => alter_halves = halves(self.pull.text()?.0).unwrap_or(0),
                _ => self.pull.skip()?,
            }
        }
        Ok(step.zip(octave).map(|(step, octave)| Pitch { step, alter_halves, octave }))
    }

    fn tuplet_ratio(&mut self) -> Result<(u8, u8), Damage> {
        let mut ratio = (1, 1);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::ActualNotes => ratio.0 = self.whole()?.filter(|notes| *notes > 0).unwrap_or(1),
                Element::NormalNotes => ratio.1 = self.whole()?.filter(|notes| *notes > 0).unwrap_or(1),
                _ => self.pull.skip()?,
            }
        }
        Ok(ratio)
    }

    fn voice(&mut self, part: usize) -> Result<u8, Damage> {
        let (text, _) = self.pull.text()?;
        let voices = &mut self.score.parts[part].voices;
        let index = voices.iter().position(|voice| **voice == *text).unwrap_or_else(|| {
            // Beyond 255 voices (no real file) the rest share the last.
            if u8::try_from(voices.len()).is_ok() {
                voices.push(text.into());
            }
            voices.len() - 1
        });
        Ok(u8::try_from(index).unwrap_or(u8::MAX))
    }

    fn notations(&mut self, part: usize, note: &mut NoteBody) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            let starts = self.attribute_is("type", "start");
            let stops = self.attribute_is("type", "stop");
            let (start, stop) = match element {
                Element::Tied => (Traits::TIE_START, Traits::TIE_STOP),
                Element::Slur => (Traits::SLUR_START, Traits::SLUR_STOP),
                Element::Tuplet => (Traits::TUPLET_START, Traits::TUPLET_STOP),
                Element::Glissando | Element::Slide => (Traits::GLIDE, Traits::GLIDE),
                Element::Ornaments => {
                    self.ornaments(note)?;
                    continue;
                }
                Element::Articulations => {
                    self.articulations(note)?;
                    continue;
                }
                Element::Dynamics => {
                    note.traits.insert(Traits::DYNAMIC);
                    self.dynamics(part)?;
                    continue;
                }
                other => {
                    match other {
                        Element::Fermata => note.traits.insert(Traits::FERMATA),
                        Element::Arpeggiate | Element::NonArpeggiate => note.traits.insert(Traits::ARPEGGIO),
                        Element::Technical => note.traits.insert(Traits::TECHNICAL),
                        _ => {}
                    }
                    self.pull.skip()?;
                    continue;
                }
            };
            if starts {
                note.traits.insert(start);
            }
            if stops {
                note.traits.insert(stop);
            }
            self.pull.skip()?;
        }
        Ok(())
    }

    fn ornaments(&mut self, note: &mut NoteBody) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            if element == Element::Tremolo {
                let double = self.attribute_is("type", "start") || self.attribute_is("type", "stop");
                note.traits.set(Traits::DOUBLE_TREMOLO, double);
                note.tremolo = self.whole()?.unwrap_or(0);
            } else {
                if element != Element::AccidentalMark {
                    note.traits.insert(Traits::ORNAMENT);
                }
                self.pull.skip()?;
            }
        }
        Ok(())
    }

    fn articulations(&mut self, note: &mut NoteBody) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            let breath = matches!(element, Element::BreathMark | Element::Caesura);
            note.traits.insert(if breath { Traits::BREATH } else { Traits::ARTICULATION });
            self.pull.skip()?;
        }
        Ok(())
    }

    #[expect(clippy::cast_possible_truncation, reason = "a size in points")]
    fn lyric(&mut self, part: usize) -> Result<(), Damage> {
        // A shift counts from the stated height.
        let shift = self.position("relative-y").get().unwrap_or_default();
        let y = self.position("default-y").get().map(|y| Position::new((y + shift).0)).unwrap_or_default();
        let mut lyric = Lyric {
            note: u32::try_from(self.score.parts[part].notes.len()).unwrap_or(u32::MAX),
            verse: self.attribute_text("number").or_else(|| self.attribute_text("name")).unwrap_or_default(),
            text: String::new(),
            syllabic: Syllabic::Single,
            extends: false,
            y,
            points: None,
            above: self.attribute_is("placement", "above"),
            at: self.pull.tag_place(),
        };
        let shown = self.attribute_yes("print-object") != Some(false);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Text => {
                    lyric.points = lyric.points.or(self.attribute_decimal("font-size").map(|points| points as f32));
                    lyric.text.push_str(self.pull.text()?.0);
                }
                Element::Elision => {
                    let (between, _) = self.pull.text()?;
                    lyric.text.push_str(if between.is_empty() { "\u{203f}" } else { between });
                }
                Element::Syllabic => {
                    lyric.syllabic = match self.pull.text()?.0 {
                        "begin" => Syllabic::Begin,
                        "middle" => Syllabic::Middle,
                        "end" => Syllabic::End,
                        _ => Syllabic::Single,
                    }
                }
                Element::Extend => {
                    lyric.extends = true;
                    self.pull.skip()?;
                }
                _ => self.pull.skip()?,
            }
        }
        if shown {
            self.pull.keep::<Lyric>();
            self.score.parts[part].lyrics.push(lyric);
        }
        Ok(())
    }
}

fn stem(direction: &str) -> Stem {
    match direction {
        "up" => Stem::Up,
        "down" => Stem::Down,
        "double" => Stem::Double,
        "none" => Stem::None,
        _ => Stem::Unstated,
    }
}

fn accidental(name: &str) -> Accidental {
    match name {
        "sharp" => Accidental::Sharp,
        "flat" => Accidental::Flat,
        "natural" => Accidental::Natural,
        "double-sharp" | "sharp-sharp" => Accidental::DoubleSharp,
        "flat-flat" | "double-flat" => Accidental::DoubleFlat,
        _ => Accidental::Other,
    }
}
