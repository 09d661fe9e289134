//! Notes, rests and what is said beside them: the smallest things of a [`super::score::Score`].

/// Ticks of a quarter note: enough for sixteenths and for triplets of eighths.
pub const QUARTER: u32 = 12;

/// Direction of a stem.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stem {
    /// Up.
    Up,
    /// Down.
    Down,
}

/// Written value of a note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Value {
    /// Sixteenth.
    Sixteenth,
    /// Eighth.
    Eighth,
    /// Quarter.
    Quarter,
    /// Half.
    Half,
    /// Whole.
    Whole,
}

impl Value {
    /// Duration without dots, in ticks.
    pub fn ticks(self) -> u32 {
        match self {
            Self::Sixteenth => QUARTER / 4,
            Self::Eighth => QUARTER / 2,
            Self::Quarter => QUARTER,
            Self::Half => QUARTER * 2,
            Self::Whole => QUARTER * 4,
        }
    }

    /// The standard's name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Sixteenth => "16th",
            Self::Eighth => "eighth",
            Self::Quarter => "quarter",
            Self::Half => "half",
            Self::Whole => "whole",
        }
    }
}

/// A note, chord or rest.
#[derive(Debug, Clone)]
pub struct Event {
    /// Written value.
    pub value: Value,
    /// Whether it has a dot.
    pub dotted: bool,
    /// First, inner or last note of a triplet.
    pub triplet: Option<Edge>,
    /// Duration in ticks.
    pub ticks: u32,
    /// Heads from the top down; none is a rest.
    pub heads: Vec<Head>,
    /// A rest that fills the bar.
    pub whole_bar: bool,
    /// A cue: printed small and silent.
    pub cue: bool,
    /// Written in the size of cues.
    pub small: bool,
    /// From the left of the bar, tenths.
    pub x: Option<f64>,
    /// Stem, filled by [`super::engrave`].
    pub stem: Option<Stem>,
    /// Beams from the outermost in, filled by [`super::engrave`].
    pub beams: Vec<&'static str>,
    /// Slurs that begin or end here.
    pub slurs: Vec<Edge>,
    /// `staccato`, `tenuto`, `accent`, or `fermata`.
    pub marks: Vec<&'static str>,
    /// A syllable below it.
    pub lyric: Option<Lyric>,
    /// Size stated at that syllable itself, points.
    pub lyric_points: Option<f64>,
    /// Directions that stand before it.
    pub directions: Vec<Direction>,
}

/// Where something that spans notes begins, goes on and ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// Begins.
    Start,
    /// Goes on.
    Inner,
    /// Ends.
    Stop,
}

/// One head of a chord.
#[derive(Debug, Clone, Copy)]
pub struct Head {
    /// Written pitch.
    pub pitch: Pitch,
    /// Tied to the next note.
    pub tie_on: bool,
    /// Tied to the note before.
    pub tie_from: bool,
    /// Whether its accidental is printed, filled by [`super::engrave`].
    pub accidental: bool,
}

/// A pitch: diatonic position (C of octave 0 is 0, a step up is 1) and alteration in semitones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pitch {
    /// Octave x 7 + step.
    pub place: i32,
    /// -1 flat, 1 sharp.
    pub alter: i32,
}

impl Pitch {
    /// The letter.
    pub fn step(self) -> &'static str {
        ["C", "D", "E", "F", "G", "A", "B"][usize::try_from(self.place.rem_euclid(7)).expect("not negative")]
    }

    /// The octave; the one of middle C is 4.
    pub fn octave(self) -> i32 {
        self.place.div_euclid(7)
    }

    /// Semitones above C of octave 0.
    pub fn semitones(self) -> i32 {
        let steps = [0, 2, 4, 5, 7, 9, 11];
        self.octave() * 12 + steps[usize::try_from(self.place.rem_euclid(7)).expect("not negative")] + self.alter
    }

    /// The pitch so many diatonic and chromatic steps away.
    pub fn moved(self, diatonic: i32, chromatic: i32) -> Self {
        let natural = Self { place: self.place + diatonic, alter: 0 };
        Self { alter: self.semitones() + chromatic - natural.semitones(), ..natural }
    }
}

/// A syllable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lyric {
    /// The letters.
    pub text: String,
    /// `single`, `begin`, `middle`, `end`.
    pub syllabic: &'static str,
}

/// Something said above or below a staff.
#[derive(Debug, Clone)]
pub struct Direction {
    /// Above the staff rather than below.
    pub above: bool,
    /// What is printed, side by side.
    pub says: Vec<Says>,
    /// Quarters a minute from here on.
    pub tempo: Option<u32>,
}

/// What a direction prints.
#[derive(Debug, Clone)]
pub enum Says {
    /// Words, in bold where they give the tempo.
    Words(String, bool),
    /// A dynamic mark.
    Dynamic(&'static str),
    /// A rehearsal mark.
    Rehearsal(String),
    /// A metronome mark: quarters a minute.
    Metronome(u32),
    /// A hairpin: `crescendo`, `diminuendo`, `stop`.
    Wedge(&'static str),
}

impl Event {
    /// A note or chord.
    pub fn note(value: Value, dotted: bool, pitches: &[Pitch]) -> Self {
        let ticks = value.ticks() + if dotted { value.ticks() / 2 } else { 0 };
        let heads = pitches.iter().map(|&pitch| Head { pitch, tie_on: false, tie_from: false, accidental: false }).collect();
        Self {
            value,
            dotted,
            triplet: None,
            ticks,
            heads,
            whole_bar: false,
            cue: false,
            small: false,
            x: None,
            stem: None,
            beams: Vec::new(),
            slurs: Vec::new(),
            marks: Vec::new(),
            lyric: None,
            lyric_points: None,
            directions: Vec::new(),
        }
    }

    /// A rest.
    pub fn rest(value: Value, dotted: bool) -> Self {
        Self::note(value, dotted, &[])
    }

    /// A rest that fills a bar of so many ticks.
    pub fn bar_rest(ticks: u32) -> Self {
        Self { whole_bar: true, ticks, ..Self::rest(Value::Whole, false) }
    }

    /// Whether it is silent.
    pub fn is_rest(&self) -> bool {
        self.heads.is_empty()
    }
}
