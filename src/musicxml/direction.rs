//! Marks beside the notes: directions, chord symbols, figured bass, bar lines, sounds.

use super::damage::Damage;
use super::element::Element;
use super::number;
use super::reader::Reader;
use super::values::one_line;
use crate::place::Place;
use crate::score::mark::{Side, Span};
use crate::score::note::{NoteValue, Position};
use crate::score::{Mark, MarkKind};
use crate::units::Time;

/// Where a mark stands on its page, as its tag states.
#[derive(Clone, Copy, Default)]
struct Stands {
    above: Option<bool>,
    x: Position,
    y: Position,
    shift_x: Position,
    shift_y: Position,
    points: Option<f32>,
}

impl Reader {
    /// Position in the open tag; what it leaves out is taken from `around`.
    #[expect(clippy::cast_possible_truncation, reason = "a size in points")]
    fn stands(&self, around: Stands) -> Stands {
        let or = |name: &str, other: Position| {
            let own = self.position(name);
            if own.get().is_some() { own } else { other }
        };
        let above = match self.pull.attribute("placement") {
            Some((placement, _)) => match placement.as_ref() {
                "above" => Some(true),
                "below" => Some(false),
                _ => around.above,
            },
            None => around.above,
        };
        Stands {
            above,
            x: or("default-x", around.x),
            y: or("default-y", around.y),
            shift_x: or("relative-x", around.shift_x),
            shift_y: or("relative-y", around.shift_y),
            points: self.attribute_decimal("font-size").map(|points| points as f32).or(around.points),
        }
    }

    fn mark(&mut self, part: usize, at: Place, stands: Stands, kind: MarkKind) {
        let Stands { above, x, y, shift_x, shift_y, points } = stands;
        let onset = self.now(part);
        self.pull.keep::<Mark>();
        self.score.parts[part].marks.push(Mark { onset, at, staff: 1, above, x, y, shift_x, shift_y, points, kind });
    }

    /// Reads the direction now open: a mark for each of its signs.
    pub(super) fn direction(&mut self, part: usize) -> Result<(), Damage> {
        let around = self.stands(Stands::default());
        let first = self.score.parts[part].marks.len();
        let mut staff = 1;
        let mut offset = None;
        while let Some(element) = self.pull.child()? {
            match element {
                Element::DirectionType => {
                    while let Some(element) = self.pull.child()? {
                        self.direction_sign(part, element, around)?;
                    }
                }
                Element::Staff => staff = self.whole()?.filter(|staff| *staff > 0).unwrap_or(1),
                Element::Offset => offset = self.signed_time(part)?,
                Element::Sound => self.sound(part)?,
                _ => self.pull.skip()?,
            }
        }
        self.settle(part, first, staff, offset);
        Ok(())
    }

    /// Gives the marks read since `first` their staff and moves them by their offset.
    fn settle(&mut self, part: usize, first: usize, staff: u8, offset: Option<Time>) {
        for mark in &mut self.score.parts[part].marks[first..] {
            mark.staff = staff;
            if let Some(moved) = offset.and_then(|offset| mark.onset.plus(offset)) {
                mark.onset = moved.max(Time::ZERO);
            }
        }
    }

    /// An offset in divisions, which may be negative; what is no number is nothing.
    fn signed_time(&mut self, part: usize) -> Result<Option<Time>, Damage> {
        let (text, _) = self.pull.text()?;
        let divisions = self.states[part].divisions.unwrap_or((1, 1));
        Ok(number::fraction(text).and_then(|offset| number::time(offset, divisions)))
    }

    fn direction_sign(&mut self, part: usize, element: Element, around: Stands) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        let stands = self.stands(around);
        let span = match self.pull.value("type").as_deref() {
            Some("stop") => Span::Stop,
            Some("continue" | "change") => Span::Continue,
            _ => Span::Start,
        };
        let kind = match element {
            Element::Rehearsal => MarkKind::Rehearsal(self.line()?),
            Element::Words => MarkKind::Words(one_line(self.pull.raw_text()?.0)),
            Element::Dynamics => return self.dynamic_names(part, at, stands),
            Element::Wedge => MarkKind::Hairpin(span, self.attribute_is("type", "diminuendo")),
            Element::Dashes => MarkKind::Dashes(span),
            Element::Bracket => MarkKind::Bracket(span),
            Element::Pedal => MarkKind::Pedal(span),
            Element::OctaveShift => {
                let size = self.attribute_text("size").and_then(|text| number::whole::<i8>(&text)).unwrap_or(8);
                // A line of "8" moves notes by seven steps. "down": notes are printed lower than they sound.
                let steps = (size - 1).max(0);
                let steps = if self.attribute_is("type", "up") { -steps } else { steps };
                MarkKind::OctaveLine(span, if span == Span::Stop { 0 } else { steps })
            }
            Element::Segno => MarkKind::Segno,
            Element::Coda => MarkKind::Coda,
            Element::Metronome => {
                let kind = self.metronome()?;
                self.mark(part, at, stands, kind);
                return Ok(());
            }
            Element::StringMute => MarkKind::Mute,
            Element::Scordatura | Element::HarpPedals | Element::AccordionRegistration => MarkKind::HandWork,
            _ => MarkKind::Other,
        };
        let text = matches!(kind, MarkKind::Rehearsal(_) | MarkKind::Words(_));
        if !text {
            self.pull.skip()?;
        }
        self.mark(part, at, stands, kind);
        Ok(())
    }

    /// `dynamics` among a note's notations, now open.
    pub(super) fn dynamics(&mut self, part: usize) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        let stands = self.stands(Stands::default());
        self.dynamic_names(part, at, stands)
    }

    fn dynamic_names(&mut self, part: usize, at: Place, stands: Stands) -> Result<(), Damage> {
        let mut shown = String::new();
        while let Some(element) = self.pull.child()? {
            if element == Element::OtherDynamics {
                let (text, _) = self.pull.text()?;
                shown.push_str(text);
            } else {
                shown.push_str(self.pull.name());
                self.pull.skip()?;
            }
        }
        self.mark(part, at, stands, MarkKind::Dynamic(shown));
        Ok(())
    }

    fn metronome(&mut self) -> Result<MarkKind, Damage> {
        let (mut beat, mut dots, mut units, mut range) = (None, 0_u32, 0, None);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::BeatUnit => {
                    units += 1;
                    beat = NoteValue::from_name(self.pull.text()?.0).and_then(NoteValue::time);
                }
                Element::BeatUnitDot => {
                    dots += 1;
                    self.pull.skip()?;
                }
                Element::PerMinute => range = beats_a_minute(self.pull.text()?.0),
                _ => self.pull.skip()?,
            }
        }
        let beat = beat.and_then(|beat| dotted(beat, dots));
        Ok(match (beat, range) {
            (Some(beat), Some((from, to))) if units == 1 => MarkKind::Metronome { beat, from, to },
            _ => MarkKind::MetronomeRelation,
        })
    }

    /// Reads the sound now open: tempo and jumps for playback.
    #[expect(clippy::cast_possible_truncation, reason = "quarters a minute")]
    pub(super) fn sound(&mut self, part: usize) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        if let Some(tempo) = self.attribute_decimal("tempo").filter(|tempo| *tempo > 0.0) {
            self.mark(part, at, Stands::default(), MarkKind::Tempo(tempo as f32));
        }
        for jump in ["dacapo", "dalsegno", "tocoda", "fine", "segno", "coda"] {
            if self.pull.value(jump).is_some_and(|value| value != "no") {
                self.mark(part, at, Stands::default(), MarkKind::Jump(jump.into()));
            }
        }
        while let Some(element) = self.pull.child()? {
            if element == Element::InstrumentChange {
                self.mark(part, at, Stands::default(), MarkKind::HandWork);
            }
            self.pull.skip()?;
        }
        Ok(())
    }

    /// Reads the chord symbol now open as the text it shows.
    pub(super) fn chord_symbol(&mut self, part: usize) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        let stands = self.stands(Stands::default());
        let hidden = self.attribute_yes("print-object") == Some(false);
        let first = self.score.parts[part].marks.len();
        let (mut shown, mut staff, mut offset) = (String::new(), 1, None);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Root => shown.push_str(&self.chord_note()?),
                Element::Bass => {
                    shown.push('/');
                    shown.push_str(&self.chord_note()?);
                }
                Element::Kind => {
                    let text = self.attribute_text("text");
                    let (kind, _) = self.pull.text()?;
                    shown.push_str(text.as_deref().unwrap_or_else(|| usual_suffix(kind)));
                }
                Element::Degree => shown.push_str(&self.chord_degree()?),
                Element::Staff => staff = self.whole()?.filter(|staff| *staff > 0).unwrap_or(1),
                Element::Offset => offset = self.signed_time(part)?,
                Element::Function => shown.push_str(self.pull.text()?.0),
                _ => self.pull.skip()?,
            }
        }
        if !hidden {
            self.mark(part, at, stands, MarkKind::ChordSymbol(shown));
        }
        self.settle(part, first, staff, offset);
        Ok(())
    }

    fn chord_note(&mut self) -> Result<String, Damage> {
        let mut shown = String::new();
        while let Some(element) = self.pull.child()? {
            match element {
                Element::RootStep | Element::BassStep => shown.insert_str(0, self.pull.text()?.0),
                Element::RootAlter | Element::BassAlter => shown.push_str(match number::decimal(self.pull.text()?.0) {
                    Some(alter) if alter > 0.0 => "\u{266f}",
                    Some(alter) if alter < 0.0 => "\u{266d}",
                    _ => "",
                }),
                _ => self.pull.skip()?,
            }
        }
        Ok(shown)
    }

    fn chord_degree(&mut self) -> Result<String, Damage> {
        let mut shown = String::new();
        while let Some(element) = self.pull.child()? {
            match element {
                Element::DegreeValue => shown.push_str(self.pull.text()?.0),
                Element::DegreeAlter => {
                    let sign = match number::decimal(self.pull.text()?.0) {
                        Some(alter) if alter > 0.0 => "\u{266f}",
                        Some(alter) if alter < 0.0 => "\u{266d}",
                        _ => "",
                    };
                    shown.insert_str(0, sign);
                }
                _ => self.pull.skip()?,
            }
        }
        Ok(shown)
    }

    pub(super) fn figured_bass(&mut self, part: usize) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        let stands = self.stands(Stands::default());
        self.pull.skip()?;
        self.mark(part, at, stands, MarkKind::FiguredBass);
        Ok(())
    }

    /// Reads the bar line now open.
    pub(super) fn barline(&mut self, part: usize) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        let side = match self.attribute_text("location").as_deref() {
            Some("left") => Side::Left,
            Some("middle") => Side::Middle,
            _ => Side::Right,
        };
        let (mut style, mut repeat, mut times, mut ending, mut fermata) = (String::new(), None, None, None, false);
        while let Some(element) = self.pull.child()? {
            match element {
                Element::BarStyle => {
                    style = self.line()?;
                    continue;
                }
                Element::Repeat => {
                    let span = if self.attribute_is("direction", "forward") { Span::Start } else { Span::Stop };
                    repeat = Some(span);
                    times = self.attribute_text("times").and_then(|text| number::whole(&text));
                }
                Element::Ending => {
                    let span = if self.attribute_is("type", "start") { Span::Start } else { Span::Stop };
                    ending = Some((span, self.attribute_text("number").unwrap_or_default()));
                }
                Element::Fermata => fermata = true,
                Element::Segno => self.mark(part, at, Stands::default(), MarkKind::Segno),
                Element::Coda => self.mark(part, at, Stands::default(), MarkKind::Coda),
                _ => {}
            }
            self.pull.skip()?;
        }
        self.mark(part, at, Stands::default(), MarkKind::Barline { style, side, repeat, times, ending, fermata });
        Ok(())
    }
}

/// A beat with its dots, where it fits.
fn dotted(beat: Time, dots: u32) -> Option<Time> {
    let mut sum = beat;
    let mut dot = beat;
    for _ in 0..dots {
        dot = Time::new(i64::from(dot.numer()), i64::from(dot.denom()) * 2)?;
        sum = sum.plus(dot)?;
    }
    Some(sum)
}

/// Beats a minute out of `96`, `96-104`, `c. 80`: the slowest and the fastest.
fn beats_a_minute(text: &str) -> Option<(f32, f32)> {
    let mut numbers = text
        .split(|sign: char| !(sign.is_ascii_digit() || sign == '.'))
        .filter_map(|one| one.trim_matches('.').parse::<f32>().ok())
        .filter(|beats| beats.is_finite() && *beats > 0.0);
    let first = numbers.next()?;
    let last = numbers.next_back().unwrap_or(first);
    Some((first.min(last), first.max(last)))
}

/// What is usually written behind the root for a `kind` that states no text (common practice, no source).
fn usual_suffix(kind: &str) -> &'static str {
    match kind {
        "minor" => "m",
        "augmented" => "+",
        "diminished" => "dim",
        "dominant" => "7",
        "major-seventh" => "maj7",
        "minor-seventh" => "m7",
        "diminished-seventh" => "dim7",
        "augmented-seventh" => "+7",
        "half-diminished" => "m7\u{266d}5",
        "major-minor" => "m(maj7)",
        "major-sixth" => "6",
        "minor-sixth" => "m6",
        "dominant-ninth" => "9",
        "major-ninth" => "maj9",
        "minor-ninth" => "m9",
        "dominant-11th" => "11",
        "dominant-13th" => "13",
        "suspended-second" => "sus2",
        "suspended-fourth" => "sus4",
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beats_a_minute_in_the_wild() {
        assert_eq!(beats_a_minute("96"), Some((96.0, 96.0)));
        assert_eq!(beats_a_minute("96-104"), Some((96.0, 104.0)));
        assert_eq!(beats_a_minute("c. 72.5"), Some((72.5, 72.5)));
        assert_eq!(beats_a_minute("ca."), None);
    }

    #[test]
    fn dots_add_halves() {
        let quarter = Time::new(1, 4).expect("fits");
        assert_eq!(dotted(quarter, 1), Time::new(3, 8));
        assert_eq!(dotted(quarter, 2), Time::new(7, 16));
    }
}
