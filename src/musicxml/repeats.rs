//! Notes that are written as one before them was, to the byte, as most notes of a score are: what they hold has been found well-formed
//! once, and need not be cut again.

use super::word::hashed;
use memchr::memchr;
use memchr::memmem::Finder;

/// How many texts are remembered, as a power of two. Four times as many would know one note in forty more of a large score.
const BITS: u32 = 11;
/// Longest text that is remembered, in bytes. A note with much about it is seldom written twice.
const LONGEST: usize = 1 << 10;
/// The room of a text grows by so many bytes.
const ROOM: usize = 256;
/// What a note ends with.
const END: &[u8] = b"</note>";

/// Number of a text, never used for another: its slot, and above it how many texts had been met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TextNumber(pub u32);

impl TextNumber {
    /// Its slot: there are no more numbers in force than slots.
    pub fn slot(self) -> usize {
        (self.0 % (1 << BITS)) as usize
    }
}

/// The texts of notes met last, each in a slot that hangs on its bytes alone.
pub(super) struct Repeats {
    end: Finder<'static>,
    slots: Vec<Slot>,
    /// How many texts have been met.
    met: u32,
    /// How many elements were open around the first note: what a text holds may be too deep elsewhere.
    depth: usize,
    /// A text that is being cut for the first time.
    first: Option<First>,
}

#[derive(Clone)]
struct Slot {
    /// Empty where the text has not proved sound.
    text: Vec<u8>,
    number: TextNumber,
}

/// A text that is being cut for the first time: its slot, and where it lies.
struct First {
    slot: usize,
    start: usize,
    end: usize,
}

/// What is known of a note's text when its start tag has been met.
pub(super) enum Met {
    /// It has been cut before, under this number, and ends here.
    Again(TextNumber, usize),
    /// It has not; this is its number if it proves sound.
    First(TextNumber),
    /// It is not remembered.
    Passing,
}

impl Repeats {
    /// None met yet.
    pub fn new() -> Self {
        Self { end: Finder::new(END), slots: Vec::new(), met: 0, depth: 0, first: None }
    }

    /// Forgets where the text being cut lies: a new window has begun.
    pub fn begin_window(&mut self) {
        self.first = None;
    }

    /// Looks for a note that is open with `depth` elements around it and whose content begins at `start`.
    pub fn look(&mut self, text: &[u8], start: usize, depth: usize) -> Met {
        self.first = None;
        if self.slots.is_empty() {
            self.slots.resize(1 << BITS, Slot { text: Vec::new(), number: TextNumber(0) });
            self.depth = depth;
        }
        let content = text.get(start..text.len().min(start + LONGEST)).unwrap_or_default();
        let Some(length) = self.end.find(content).map(|at| at + END.len()) else { return Met::Passing };
        let (content, end) = (content.get(..length).unwrap_or_default(), start + length);
        let index = slot(content);
        let Some(slot) = self.slots.get_mut(index).filter(|_| depth == self.depth) else { return Met::Passing };
        if slot.text == content {
            return Met::Again(slot.number, end);
        }
        // What was there goes at once: this text may turn out to be another than it looks.
        slot.text.clear();
        self.met += 1;
        let number = self.met.checked_mul(1 << BITS).zip(u32::try_from(index).ok()).map(|(above, index)| TextNumber(above + index));
        match number {
            Some(number) => {
                slot.number = number;
                self.first = Some(First { slot: index, start, end });
                Met::First(number)
            }
            // There are no more.
            None => Met::Passing,
        }
    }

    /// Remembers the text that was being cut if its end tag is the one that ends at `end`. What refers to an entity is not remembered:
    /// it is cut again by one who knows none.
    pub fn ended(&mut self, text: &[u8], end: usize) {
        let Some(first) = self.first.take_if(|first| first.end <= end) else { return };
        if first.end == end
            && let Some(content) = text.get(first.start..end)
            && memchr(b'&', content).is_none()
            && let Some(slot) = self.slots.get_mut(first.slot)
        {
            // Most texts that come into this slot later find room in it.
            slot.text.reserve(content.len().next_multiple_of(ROOM));
            slot.text.extend_from_slice(content);
        }
    }
}

/// Where a text is remembered, by sixteen bytes at a time: the rest tells few notes apart.
fn slot(text: &[u8]) -> usize {
    let (chunks, rest) = text.as_chunks::<16>();
    let sum = |hash: u64, word: u128| {
        #[expect(clippy::cast_possible_truncation, reason = "one half, then the other")]
        let halves = word as u64 ^ ((word >> 64) as u64).rotate_left(32);
        hashed(hash, halves)
    };
    let hash = chunks.iter().fold(rest.len() as u64, |hash, chunk| sum(hash, u128::from_le_bytes(*chunk)));
    usize::try_from(hash >> (u64::BITS - BITS)).unwrap_or_default()
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::musicxml::reader::Reader;
    use crate::musicxml::{Pull, Source, read, read_together};
    use crate::score::Traits;
    use proptest::prelude::*;

    /// A note that differs from others of its slot by what stands last in it: so near its end that the slot does not hang on it.
    pub(in super::super) fn of_one_slot(last: &str) -> String {
        let mut content = format!("<duration>1</duration>{last}</note>");
        while content.len() % 16 < last.len() + END.len() {
            content.insert(0, ' ');
        }
        format!("<note>{content}")
    }

    /// What a score reads as, or why it does not.
    fn shown(text: &str) -> Vec<String> {
        let source = Source::spool("-", text.as_bytes()).expect("opens").remove(0);
        let alone = read(source.unchecked_stream().expect("opens"));
        [alone, read_together(&source)].into_iter().map(|score| format!("{score:#?}")).collect()
    }

    /// A note; `#` stands where each note of a score can be made another than all others.
    fn note() -> impl Strategy<Value = String> {
        let more = [
            "",
            "<type>quarter</type><stem default-y='12'>up</stem>",
            "<beam number='1'>begin</beam><beam number='2'>begin</beam>",
            "<chord/>",
            "<grace slash='yes'/>",
            "<lyric><text>la</text></lyric>",
            "<lyric print-object='no'><text>la</text></lyric>",
            "<notations><slur type='start'/><articulations><staccato/></articulations></notations>",
            "<notations><dynamics><p/></dynamics></notations>",
            "<x>&lt;&amp;&#65;</x>",
            "<x a='&amp;'/>",
            "<x><![CDATA[</note>]]></x>",
            "<!--</note>-->",
            "<note>#<duration>2</duration></note>",
            "<?look at?><duration>1</duration>",
            "é",
        ];
        let attributes = ["", " default-x='10'", " default-x='20.5' default-y='-3'", " print-object='no'", " print-spacing='yes'"];
        let note = (
            prop::sample::select(vec!["C", "E", "?"]),
            prop_oneof![9 => prop::sample::select(vec!["1", "2"]), 1 => Just("x")],
            prop::sample::select(vec!["<voice>1</voice>", "<voice>v</voice>", "<voice>2</voice>", "", "<voice>3</voice><voice>2</voice>"]),
            prop_oneof![1 => Just(""), 1 => prop::sample::select(more.to_vec())],
            prop::sample::select(attributes.to_vec()),
            prop_oneof![9 => Just("</note>"), 1 => Just("</note >")],
        );
        note.prop_map(|(step, duration, voice, more, attributes, end)| {
            let pitch = format!("<pitch><step>{step}</step><octave>4</octave></pitch>");
            format!("<note{attributes}>#{pitch}<duration>{duration}</duration>{voice}{more}{end}")
        })
    }

    /// Something else in a bar, or its end.
    fn other() -> impl Strategy<Value = String> {
        let sound = [
            "<attributes><divisions>2</divisions></attributes>",
            "<attributes><divisions>3</divisions></attributes>",
            "<backup><duration>2</duration></backup>",
            "<direction><direction-type><words>sweet</words></direction-type></direction>",
            "<x><note>#<pitch><step>E</step><octave>4</octave></pitch><duration>2</duration><voice>1</voice></note></x>",
            "<note/>",
            "</measure><measure number='2'>",
            "</measure></part><part id='P2'><measure number='1'>",
        ];
        let unsound = ["<note>#<duration>1</durations></note>", "<note>#\u{1}</note>", "&who;"];
        prop_oneof![30 => prop::sample::select(sound.to_vec()), 1 => prop::sample::select(unsound.to_vec())].prop_map(str::to_owned)
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 512, ..ProptestConfig::default() })]

        /// Source: the definition. A score whose notes are written alike reads as it does where a comment tells each from all others.
        #[test]
        fn a_note_written_again_reads_as_the_first_did(
            notes in prop::collection::vec(note(), 1..5),
            others in prop::collection::vec(other(), 1..5),
            order in prop::collection::vec((any::<prop::sample::Index>(), prop::bool::weighted(0.2)), 1..50),
            timewise in prop::bool::weighted(0.2),
            cut in prop::option::weighted(0.1, any::<prop::sample::Index>()),
        ) {
            let list = "<part-list><score-part id='P1'/><score-part id='P2'/></part-list>";
            let pieces = order.iter().map(|(index, other)| index.get(if *other { &others } else { &notes }).as_str());
            let music: String = pieces.collect();
            let text = if timewise {
                let music = music.replace("</measure></part><part id='P2'><measure number='1'>", "</part><part id='P2'>");
                let music = music.replace("</measure><measure number='2'>", "</part></measure><measure number='2'><part id='P1'>");
                format!("<score-timewise>{list}<measure number='1'><part id='P1'>{music}</part></measure></score-timewise>")
            } else {
                format!("<score-partwise>{list}<part id='P1'><measure number='1'>{music}</measure></part></score-partwise>")
            };
            let (first, rest) = text.split_once('#').unwrap_or((&text, ""));
            let numbered = rest.split('#').enumerate().map(|(number, piece)| format!("<!--{number:04}-->{piece}"));
            let apart = format!("{first}{}", numbered.collect::<String>());
            let alike = format!("{first}<!--0000-->{}", rest.replace('#', "<!--0000-->"));
            let cut = cut.map_or(alike.len(), |cut| alike.floor_char_boundary(cut.index(alike.len())));
            prop_assert_eq!(shown(&alike[..cut]), shown(&apart[..cut]));
        }
    }

    /// Source: the definition. Two notes whose texts share a slot; the second is first met where nobody reads it.
    #[test]
    fn what_one_note_told_is_not_told_by_another_of_its_slot() {
        let [dotted, cue] = ["<dot/>", "<cue/>"].map(of_one_slot);
        let text = format!(
            "<score-partwise><part-list><score-part id='P1'/></part-list><part id='P1'><measure number='1'>\
            {dotted}</measure><x>{cue}</x><measure number='2'>{cue}{dotted}</measure></part></score-partwise>"
        );
        let source = Source::spool("-", text.as_bytes()).expect("opens").remove(0);
        let score = read(source.unchecked_stream().expect("opens")).expect("sound");
        let found: Vec<(u8, bool)> = score.parts[0].notes.iter().map(|note| (note.dots, note.traits.contains(Traits::CUE))).collect();
        assert_eq!(found, [(1, false), (0, true), (1, false)]);
    }

    /// Source: the definition. What a document may come to is the same whether its notes are written alike or not.
    #[test]
    fn repeated_notes_count_as_others_do() {
        let kept = |numbered: bool| {
            let number = |note: usize| if numbered { note } else { 0 };
            // Those with a dot and those without push each other out of what is remembered of notes.
            let dot = |note: usize| if note.is_multiple_of(2) { "<dot/>" } else { "" };
            let note =
                |note: usize| format!("<note><chord/>{}<!--{:04}--><type>{}</type></note>", dot(note), number(note), "q".repeat(900));
            let notes: String = (0..50).map(note).collect();
            let text = format!("<score-partwise><part id='P1'><measure number='1'>{notes}</measure></part></score-partwise>");
            let mut reader = Reader::new(Pull::new(std::io::Cursor::new(text)));
            reader.root().and_then(|()| reader.children(u64::MAX)).expect("sound");
            reader.pull.kept()
        };
        assert!(kept(true) > 50 * 900);
        assert_eq!(kept(false), kept(true));
    }

    #[test]
    fn a_text_is_known_once_it_has_proved_sound_and_only_where_it_did() {
        let text = b"<type>quarter</type></note>";
        let mut repeats = Repeats::new();
        let Met::First(first) = repeats.look(text, 0, 3) else { panic!("not met before") };
        assert!(matches!(repeats.look(text, 0, 3), Met::First(number) if number != first), "it has not proved sound");
        repeats.ended(text, 20);
        repeats.ended(text, text.len());
        let Met::Again(second, 27) = repeats.look(text, 0, 3) else { panic!("it is known") };
        assert_eq!(second.slot(), first.slot());
        assert!(matches!(repeats.look(text, 0, 4), Met::Passing), "it may be too deep here");
        assert!(matches!(repeats.look(b"<type>quarter</type></notes>", 0, 3), Met::Passing), "it has no end");

        let referring = b"<words>&who;</words></note>";
        assert!(matches!(repeats.look(referring, 0, 3), Met::First(_)));
        repeats.ended(referring, referring.len());
        assert!(matches!(repeats.look(referring, 0, 3), Met::First(_)), "what refers is not remembered");

        let commented = b"<!--it ends: </note>--></note>";
        assert!(matches!(repeats.look(commented, 0, 3), Met::First(_)));
        repeats.ended(commented, commented.len());
        assert!(matches!(repeats.look(commented, 0, 3), Met::First(_)), "what looked like its end was none");

        assert!(matches!(repeats.look(text, 0, 3), Met::Again(..)), "what is in other slots stays");
        repeats.begin_window();
        assert!(matches!(repeats.look(&[b' '; 2 * LONGEST], 0, 3), Met::Passing), "too long");
    }
}
