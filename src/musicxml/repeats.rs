//! Notes that are written as one before them was, to the byte, as most notes of a score are: what they hold has been found well-formed
//! once, and need not be cut again.

use memchr::memchr;
use memchr::memmem::Finder;

/// How many texts are remembered, as a power of two. Four times as many would know one note in forty more of a large score.
const BITS: u32 = 11;
/// Longest text that is remembered, in bytes. A note with much about it is seldom written twice.
const LONGEST: usize = 1 << 10;
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
        // The hash of the compiler's own tables: a turn, a sum without carry and a product.
        (hash.rotate_left(5) ^ halves).wrapping_mul(0x517c_c1b7_2722_0a95)
    };
    let hash = chunks.iter().fold(rest.len() as u64, |hash, chunk| sum(hash, u128::from_le_bytes(*chunk)));
    usize::try_from(hash >> (u64::BITS - BITS)).unwrap_or_default()
}
