//! The elements of `MusicXML` 4.0 by name.

use super::word;

/// Takes the list of names and makes the enum, the table of its names and their number.
macro_rules! elements {
    ($($variant:ident $name:literal,)*) => {
        /// An element of `MusicXML`, by its name.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[repr(u16)]
        pub enum Element {
            $(#[doc = concat!("`<", $name, ">`")] $variant,)*
            /// Any other name.
            Other,
        }

        /// Every element with its name, in the order of the enum.
        const LIST: &[(Element, &str)] = &[$((Element::$variant, $name),)*];
    };
}

// Source: every `xs:element name` of the MusicXML 4.0 schema, sorted.
elements! {
    Accent "accent", Accidental "accidental", AccidentalMark "accidental-mark", AccidentalText "accidental-text", Accord "accord",
    AccordionHigh "accordion-high", AccordionLow "accordion-low", AccordionMiddle "accordion-middle",
    AccordionRegistration "accordion-registration", ActualNotes "actual-notes", Alter "alter", Appearance "appearance",
    Arpeggiate "arpeggiate", Arrow "arrow", ArrowDirection "arrow-direction", ArrowStyle "arrow-style", Arrowhead "arrowhead",
    Articulations "articulations", Artificial "artificial", Assess "assess", Attributes "attributes", Backup "backup",
    BarStyle "bar-style", Barline "barline", Barre "barre", BasePitch "base-pitch", Bass "bass", BassAlter "bass-alter",
    BassSeparator "bass-separator", BassStep "bass-step", Beam "beam", BeatRepeat "beat-repeat", BeatType "beat-type",
    BeatUnit "beat-unit", BeatUnitDot "beat-unit-dot", BeatUnitTied "beat-unit-tied", Beater "beater", Beats "beats", Bend "bend",
    BendAlter "bend-alter", Bookmark "bookmark", BottomMargin "bottom-margin", Bracket "bracket", BrassBend "brass-bend",
    BreathMark "breath-mark", Caesura "caesura", Cancel "cancel", Capo "capo", Chord "chord", Chromatic "chromatic",
    CircularArrow "circular-arrow", Clef "clef", ClefOctaveChange "clef-octave-change", Coda "coda", ConcertScore "concert-score",
    Creator "creator", Credit "credit", CreditImage "credit-image", CreditSymbol "credit-symbol", CreditType "credit-type",
    CreditWords "credit-words", Cue "cue", Damp "damp", DampAll "damp-all", Dashes "dashes", Defaults "defaults", Degree "degree",
    DegreeAlter "degree-alter", DegreeType "degree-type", DegreeValue "degree-value", DelayedInvertedTurn "delayed-inverted-turn",
    DelayedTurn "delayed-turn", DetachedLegato "detached-legato", Diatonic "diatonic", Direction "direction",
    DirectionType "direction-type", Directive "directive", DisplayOctave "display-octave", DisplayStep "display-step",
    DisplayText "display-text", Distance "distance", Divisions "divisions", Doit "doit", Dot "dot", Double "double",
    DoubleTongue "double-tongue", DownBow "down-bow", Duration "duration", Dynamics "dynamics", Effect "effect", Elevation "elevation",
    Elision "elision", Encoder "encoder", Encoding "encoding", EncodingDate "encoding-date",
    EncodingDescription "encoding-description", EndLine "end-line", EndParagraph "end-paragraph", Ending "ending", Ensemble "ensemble",
    ExceptVoice "except-voice", Extend "extend", Eyeglasses "eyeglasses", F "f", Falloff "falloff", Feature "feature",
    Fermata "fermata", Ff "ff", Fff "fff", Ffff "ffff", Fffff "fffff", Ffffff "ffffff", Fifths "fifths", Figure "figure",
    FigureNumber "figure-number", FiguredBass "figured-bass", Fingering "fingering", Fingernails "fingernails", First "first",
    FirstFret "first-fret", Flip "flip", Footnote "footnote", ForPart "for-part", Forward "forward", Fp "fp", Frame "frame",
    FrameFrets "frame-frets", FrameNote "frame-note", FrameStrings "frame-strings", Fret "fret", Function "function", Fz "fz",
    Glass "glass", Glissando "glissando", Glyph "glyph", Golpe "golpe", Grace "grace", Group "group",
    GroupAbbreviation "group-abbreviation", GroupAbbreviationDisplay "group-abbreviation-display", GroupBarline "group-barline",
    GroupLink "group-link", GroupName "group-name", GroupNameDisplay "group-name-display", GroupSymbol "group-symbol",
    GroupTime "group-time", Grouping "grouping", HalfMuted "half-muted", HammerOn "hammer-on", Handbell "handbell",
    HarmonClosed "harmon-closed", HarmonMute "harmon-mute", Harmonic "harmonic", Harmony "harmony", HarpPedals "harp-pedals",
    Haydn "haydn", Heel "heel", Hole "hole", HoleClosed "hole-closed", HoleShape "hole-shape", HoleType "hole-type", Humming "humming",
    Identification "identification", Image "image", Instrument "instrument", InstrumentAbbreviation "instrument-abbreviation",
    InstrumentChange "instrument-change", InstrumentLink "instrument-link", InstrumentName "instrument-name",
    InstrumentSound "instrument-sound", Instruments "instruments", Interchangeable "interchangeable", Inversion "inversion",
    InvertedMordent "inverted-mordent", InvertedTurn "inverted-turn", InvertedVerticalTurn "inverted-vertical-turn", Ipa "ipa",
    Key "key", KeyAccidental "key-accidental", KeyAlter "key-alter", KeyOctave "key-octave", KeyStep "key-step", Kind "kind",
    Laughing "laughing", LeftDivider "left-divider", LeftMargin "left-margin", Level "level", Line "line", LineDetail "line-detail",
    LineWidth "line-width", Link "link", Listen "listen", Listening "listening", Lyric "lyric", LyricFont "lyric-font",
    LyricLanguage "lyric-language", Measure "measure", MeasureDistance "measure-distance", MeasureLayout "measure-layout",
    MeasureNumbering "measure-numbering", MeasureRepeat "measure-repeat", MeasureStyle "measure-style", Membrane "membrane",
    Metal "metal", Metronome "metronome", MetronomeArrows "metronome-arrows", MetronomeBeam "metronome-beam",
    MetronomeDot "metronome-dot", MetronomeNote "metronome-note", MetronomeRelation "metronome-relation",
    MetronomeTied "metronome-tied", MetronomeTuplet "metronome-tuplet", MetronomeType "metronome-type", Mf "mf", MidiBank "midi-bank",
    MidiChannel "midi-channel", MidiDevice "midi-device", MidiInstrument "midi-instrument", MidiName "midi-name",
    MidiProgram "midi-program", MidiUnpitched "midi-unpitched", Millimeters "millimeters", Miscellaneous "miscellaneous",
    MiscellaneousField "miscellaneous-field", Mode "mode", Mordent "mordent", MovementNumber "movement-number",
    MovementTitle "movement-title", Mp "mp", MultipleRest "multiple-rest", MusicFont "music-font", Mute "mute", N "n",
    Natural "natural", NonArpeggiate "non-arpeggiate", NormalDot "normal-dot", NormalNotes "normal-notes", NormalType "normal-type",
    Notations "notations", Note "note", NoteSize "note-size", Notehead "notehead", NoteheadText "notehead-text", Numeral "numeral",
    NumeralAlter "numeral-alter", NumeralFifths "numeral-fifths", NumeralKey "numeral-key", NumeralMode "numeral-mode",
    NumeralRoot "numeral-root", Octave "octave", OctaveChange "octave-change", OctaveShift "octave-shift", Offset "offset",
    Open "open", OpenString "open-string", Opus "opus", Ornaments "ornaments", OtherAppearance "other-appearance",
    OtherArticulation "other-articulation", OtherDirection "other-direction", OtherDynamics "other-dynamics",
    OtherListen "other-listen", OtherListening "other-listening", OtherNotation "other-notation", OtherOrnament "other-ornament",
    OtherPercussion "other-percussion", OtherPlay "other-play", OtherTechnical "other-technical", P "p", PageHeight "page-height",
    PageLayout "page-layout", PageMargins "page-margins", PageWidth "page-width", Pan "pan", Part "part",
    PartAbbreviation "part-abbreviation", PartAbbreviationDisplay "part-abbreviation-display", PartClef "part-clef",
    PartGroup "part-group", PartLink "part-link", PartList "part-list", PartName "part-name", PartNameDisplay "part-name-display",
    PartSymbol "part-symbol", PartTranspose "part-transpose", Pedal "pedal", PedalAlter "pedal-alter", PedalStep "pedal-step",
    PedalTuning "pedal-tuning", PerMinute "per-minute", Percussion "percussion", Pf "pf", Pitch "pitch", Pitched "pitched",
    Play "play", Player "player", PlayerName "player-name", Plop "plop", Pluck "pluck", Pp "pp", Ppp "ppp", Pppp "pppp", Ppppp "ppppp",
    Pppppp "pppppp", PreBend "pre-bend", Prefix "prefix", PrincipalVoice "principal-voice", Print "print", PullOff "pull-off",
    Rehearsal "rehearsal", Relation "relation", Release "release", Repeat "repeat", Rest "rest", Rf "rf", Rfz "rfz",
    RightDivider "right-divider", RightMargin "right-margin", Rights "rights", Root "root", RootAlter "root-alter",
    RootStep "root-step", Scaling "scaling", Schleifer "schleifer", Scoop "scoop", Scordatura "scordatura",
    ScoreInstrument "score-instrument", ScorePart "score-part", ScorePartwise "score-partwise", ScoreTimewise "score-timewise",
    Second "second", Segno "segno", SemiPitched "semi-pitched", SenzaMisura "senza-misura", Sf "sf", Sffz "sffz", Sfp "sfp",
    Sfpp "sfpp", Sfz "sfz", Sfzp "sfzp", Shake "shake", Sign "sign", Slash "slash", SlashDot "slash-dot", SlashType "slash-type",
    Slide "slide", Slur "slur", Smear "smear", SnapPizzicato "snap-pizzicato", SoftAccent "soft-accent", Software "software",
    Solo "solo", Sound "sound", SoundingPitch "sounding-pitch", Source "source", Spiccato "spiccato", Staccatissimo "staccatissimo",
    Staccato "staccato", Staff "staff", StaffDetails "staff-details", StaffDistance "staff-distance", StaffDivide "staff-divide",
    StaffLayout "staff-layout", StaffLines "staff-lines", StaffSize "staff-size", StaffTuning "staff-tuning", StaffType "staff-type",
    Staves "staves", Stem "stem", Step "step", Stick "stick", StickLocation "stick-location", StickMaterial "stick-material",
    StickType "stick-type", Stopped "stopped", Straight "straight", Stress "stress", String "string", StringMute "string-mute",
    StrongAccent "strong-accent", Suffix "suffix", Supports "supports", Swing "swing", SwingStyle "swing-style",
    SwingType "swing-type", Syllabic "syllabic", Symbol "symbol", Sync "sync", SystemDistance "system-distance",
    SystemDividers "system-dividers", SystemLayout "system-layout", SystemMargins "system-margins", Tap "tap", Technical "technical",
    Tenths "tenths", Tenuto "tenuto", Text "text", ThumbPosition "thumb-position", Tie "tie", Tied "tied", Time "time",
    TimeModification "time-modification", TimeRelation "time-relation", Timpani "timpani", Toe "toe", TopMargin "top-margin",
    TopSystemDistance "top-system-distance", TouchingPitch "touching-pitch", Transpose "transpose", Tremolo "tremolo",
    TrillMark "trill-mark", TripleTongue "triple-tongue", TuningAlter "tuning-alter", TuningOctave "tuning-octave",
    TuningStep "tuning-step", Tuplet "tuplet", TupletActual "tuplet-actual", TupletDot "tuplet-dot", TupletNormal "tuplet-normal",
    TupletNumber "tuplet-number", TupletType "tuplet-type", Turn "turn", Type "type", Unpitched "unpitched", Unstress "unstress",
    UpBow "up-bow", VerticalTurn "vertical-turn", VirtualInstrument "virtual-instrument", VirtualLibrary "virtual-library",
    VirtualName "virtual-name", Voice "voice", Volume "volume", Wait "wait", WavyLine "wavy-line", Wedge "wedge", WithBar "with-bar",
    Wood "wood", WordFont "word-font", Words "words", Work "work", WorkNumber "work-number", WorkTitle "work-title",
}

/// A name in numbers: its length and its bytes, or of a longer one its first and last eight. Names of up to 16 bytes that have the same
/// are the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Key {
    length: u32,
    head: u64,
    tail: u64,
}

impl Key {
    /// Longest name that a key tells whole.
    const WHOLE: usize = 16;
    /// Longest name whose bytes are all in one word.
    const WORD: usize = 8;

    pub const fn of(name: &[u8]) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "a tag is never longer than 16 MiB")]
        let length = name.len() as u32;
        if length as usize > Self::WORD
            && let (Some(head), Some(tail)) = (name.first_chunk::<8>(), name.last_chunk::<8>())
        {
            return Self { length, head: u64::from_le_bytes(*head), tail: u64::from_le_bytes(*tail) };
        }
        let head = if let Some(word) = name.first_chunk::<8>() {
            u64::from_le_bytes(*word)
        } else if let (Some(first), Some(last)) = (name.first_chunk::<4>(), name.last_chunk::<4>()) {
            // Bytes that are in both are the same.
            u32::from_le_bytes(*first) as u64 | (u32::from_le_bytes(*last) as u64) << (8 * (length - 4))
        } else if let (Some(first), Some(last)) = (name.first(), name.last()) {
            *first as u64 | (name[name.len() / 2] as u64) << (8 * (length / 2)) | (*last as u64) << (8 * (length - 1))
        } else {
            0
        };
        Self { length, head, tail: 0 }
    }

    /// The key of the letters that a text begins with, as many as fit a word; `None` where there are none.
    pub fn of_letters(text: &[u8]) -> Option<Self> {
        let word = word::word(text, 0)?;
        let length = word::letters(word);
        (length > 0).then(|| Self { length, head: word & word::first_bytes(length), tail: 0 })
    }

    /// Length of the end tag that a text begins with, if it is a plain one of a name with this key.
    pub fn end_tag(self, text: &[u8]) -> Option<usize> {
        let behind = 2 + self.length as usize;
        if text.get(behind) != Some(&b'>') || !text.starts_with(b"</") {
            return None;
        }
        let same = match word::word(text, 2) {
            Some(word) if self.length as usize <= Self::WORD => word & word::first_bytes(self.length) == self.head,
            _ => Self::of(text.get(2..behind)?) == self,
        };
        same.then_some(behind + 1)
    }

    /// Bytes of its name.
    pub const fn length(self) -> u32 {
        self.length
    }

    /// Whether the key tells its name whole.
    pub const fn is_whole(self) -> bool {
        self.length as usize <= Self::WHOLE
    }

    const fn word_slot(self) -> usize {
        (self.head.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 55) as usize % WORDS
    }

    const fn slot(self) -> usize {
        // The upper bits of the product depend on every bit of the word.
        let word = self.head ^ self.tail.rotate_left(29) ^ ((self.length as u64) << 56);
        (word.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 53) as usize % SLOTS
    }
}

/// Slots of the hash table; a power of two, five times the number of names.
const SLOTS: usize = 2048;

/// Open addressing: number in `LIST` plus one, 0 is an empty slot.
static TABLE: [u16; SLOTS] = table();

const fn table() -> [u16; SLOTS] {
    let mut table = [0; SLOTS];
    let mut number = 0_u16;
    while (number as usize) < LIST.len() {
        let mut slot = KEYS[number as usize].slot();
        while table[slot] != 0 {
            slot = (slot + 1) % SLOTS;
        }
        number += 1;
        table[slot] = number;
    }
    table
}

/// The key of every name of `LIST`.
static KEYS: [Key; LIST.len()] = keys();

const fn keys() -> [Key; LIST.len()] {
    let mut keys = [Key { length: 0, head: 0, tail: 0 }; LIST.len()];
    let mut number = 0;
    while number < LIST.len() {
        keys[number] = Key::of(LIST[number].1.as_bytes());
        number += 1;
    }
    keys
}

/// The elements of `LIST`, closer together.
static ELEMENTS: [Element; LIST.len()] = {
    let mut elements = [Element::Other; LIST.len()];
    let mut number = 0;
    while number < LIST.len() {
        elements[number] = LIST[number].0;
        number += 1;
    }
    elements
};

/// Slots of the table of names that fit a word; three times their number.
const WORDS: usize = 512;

/// The same for these, each with its element: nearly all tags bear one of them, and this table stays near.
static BY_WORD: [(u64, Element); WORDS] = {
    let mut words = [(0, Element::Other); WORDS];
    let mut number = 0;
    while number < LIST.len() {
        let key = KEYS[number];
        if key.length as usize <= Key::WORD {
            let mut slot = key.word_slot();
            while words[slot].0 != 0 {
                slot = (slot + 1) % WORDS;
            }
            words[slot] = (key.head, LIST[number].0);
        }
        number += 1;
    }
    words
};

impl Element {
    /// The element of a name that fits a word, by its key.
    #[inline]
    pub(super) fn of_word(key: Key) -> Option<Self> {
        let mut slot = key.word_slot();
        loop {
            let (head, element) = *BY_WORD.get(slot)?;
            if head == key.head || head == 0 {
                return (head != 0).then_some(element);
            }
            slot = (slot + 1) % WORDS;
        }
    }

    /// The element of that name; [`Element::Other`] if the standard has none.
    pub fn from_name(name: &str) -> Self {
        Self::from_key(Key::of(name.as_bytes()), name)
    }

    /// The same where the key of the name is known.
    pub(super) fn from_key(key: Key, name: &str) -> Self {
        let mut slot = key.slot();
        while let Some(number) = TABLE.get(slot).and_then(|number| usize::from(*number).checked_sub(1)) {
            if KEYS.get(number) == Some(&key)
                && let Some(element) = ELEMENTS.get(number)
                && (key.is_whole() || element.known_name() == name)
            {
                return *element;
            }
            slot = (slot + 1) % SLOTS;
        }
        Self::Other
    }

    /// Its name in the standard; empty for [`Element::Other`].
    pub fn known_name(self) -> &'static str {
        LIST.get(self as usize).map_or("", |(_, name)| name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_whole_key_is_its_name(one in "[a-c-]{0,17}", other in "[a-c-]{0,17}") {
            let (key, its) = (Key::of(one.as_bytes()), Key::of(other.as_bytes()));
            prop_assert_eq!(key == its && key.is_whole(), one == other && one.len() <= 16);
            let end = format!("</{other}>");
            prop_assert_eq!(key.is_whole().then(|| key.end_tag(end.as_bytes())).flatten(), (one == other && one.len() <= 16).then_some(end.len()));
        }

        #[test]
        fn a_word_of_letters_has_its_key(name in "[a-zA-Z]{0,9}", behind in "[->/ .\\PC]?") {
            let text = format!("{name}{behind}        ");
            match Key::of_letters(text.as_bytes()) {
                Some(key) => {
                    prop_assert_eq!(key, Key::of(&text.as_bytes()[..key.length() as usize]));
                    prop_assert!(key.length() as usize >= name.len().min(8));
                }
                None => prop_assert!(name.is_empty()),
            }
        }
    }

    #[test]
    fn every_name_finds_its_element_and_no_other_does() {
        for (number, (element, name)) in LIST.iter().enumerate() {
            assert_eq!(Element::from_name(name), *element);
            let fits = name.len() <= 8;
            assert_eq!(Element::of_word(Key::of(name.as_bytes())).filter(|_| fits), fits.then_some(*element));
            assert_eq!(*element as usize, number);
            assert_eq!(element.known_name(), *name);
            assert_eq!(Element::from_name(&format!("{name}x")), Element::Other);
        }
        for name in ["", "Note", "no", "ns:note", "score", "fz-", "f.f", "measure-distancE", "group-abbreviation-displax"] {
            assert_eq!(Element::from_name(name), Element::Other, "{name}");
        }
    }
}
