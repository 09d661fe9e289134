//! One scanner over the attributes of a start tag: it checks their syntax and says where each stands.

use super::element::Key;
use super::wellformed::{self, EXPORT_AGAIN, Fault, name_length};
use super::word;

/// Most attributes of one tag; the standard's richest element has fewer than fifty.
const ATTRIBUTE_LIMIT: usize = 256;

/// An attribute; positions are bytes behind the tag's `<`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Attribute {
    /// Its name in numbers.
    pub key: Key,
    /// Where its name is.
    pub name: (u32, u32),
    /// Where its value is, between the quotes.
    pub value: (u32, u32),
    /// The value is as it is written: no reference and no white space but spaces is in it.
    pub literal: bool,
}

impl Attribute {
    /// Values up to this many bytes are not counted among what is kept: numbers, names, syllables.
    const SHORT: u32 = 32;

    /// Whether its value is longer than most.
    pub fn is_long(&self) -> bool {
        self.bytes() > Self::SHORT
    }

    /// Bytes of its value.
    pub fn bytes(&self) -> u32 {
        self.value.1 - self.value.0
    }
}

/// What a byte of markup may be.
pub(super) mod class {
    /// White space.
    pub const SPACE: u8 = 1;
    /// ASCII of a name, but for its first byte.
    pub const NAME: u8 = 2;
    /// ASCII that a name may begin with.
    pub const STARTS_NAME: u8 = 4;
    /// A byte of the value of an attribute that need not be looked at.
    pub const PLAIN_VALUE: u8 = 8;
    /// A byte of a text that need not be looked at.
    pub const TEXT: u8 = 16;
    /// Such a byte that ends no line.
    pub const LINE: u8 = 32;

    /// The class of every byte: a look-up for each byte of a file instead of comparisons.
    pub static OF: [u8; 256] = table();

    const fn table() -> [u8; 256] {
        let mut table = [0; 256];
        let mut byte = 0_u8;
        loop {
            table[byte as usize] = match byte {
                b' ' => SPACE | PLAIN_VALUE | TEXT | LINE,
                b'\t' => SPACE | TEXT | LINE,
                b'\n' | b'\r' => SPACE | TEXT,
                b'a'..=b'z' | b'A'..=b'Z' => NAME | STARTS_NAME | PLAIN_VALUE | TEXT | LINE,
                b'0'..=b'9' | b'-' | b':' | b'_' | b'.' => NAME | PLAIN_VALUE | TEXT | LINE,
                b'"' | b'\'' => TEXT | LINE,
                // What "]]>" begins with, which may not stand in a text.
                b']' => PLAIN_VALUE,
                // What no document may hold, and what U+FFFE and U+FFFF begin with.
                b'<' | b'&' | 0..b' ' | 0xEF => 0,
                _ => PLAIN_VALUE | TEXT | LINE,
            };
            if byte == u8::MAX {
                return table;
            }
            byte += 1;
        }
    }
}

/// Whether a byte is of a class.
fn is(byte: u8, of: u8) -> bool {
    class::OF[usize::from(byte)] & of != 0
}

/// Number of bytes of a class at a position.
pub(super) fn run(bytes: &[u8], at: usize, of: u8) -> usize {
    let mut end = at;
    while let Some(byte) = bytes.get(end)
        && is(*byte, of)
    {
        end += 1;
    }
    end - at
}

/// Number of white-space bytes at a position.
pub(super) fn spaces(bytes: &[u8], at: usize) -> usize {
    // Mostly a line end and a run of spaces.
    let mut end = at + usize::from(bytes.get(at) == Some(&b'\n'));
    while let Some(word) = word::word(bytes, end) {
        let others = word ^ u64::from_le_bytes([b' '; 8]);
        end += others.trailing_zeros() as usize / 8;
        if others != 0 {
            break;
        }
    }
    end - at + run(bytes, end, class::SPACE)
}

/// How the scan of a tag ended.
pub(super) enum Scanned {
    /// At its `>`, or at its `/>`.
    Whole(Ending),
    /// Where there is nothing more.
    Incomplete,
}

/// The end of a tag, and what is to be known of its attributes.
#[derive(Default)]
pub(super) struct Ending {
    /// The byte behind it.
    pub at: usize,
    /// It is its own end tag.
    pub closes: bool,
    /// An attribute has a value that is not literal.
    pub referring: bool,
    /// An attribute has a long value.
    pub long: bool,
}

/// Scans a tag from behind its name (`at`) to its end and adds its attributes; `tag` starts at its `<` and goes on behind it.
pub(super) fn scan(tag: &str, at: usize, to: &mut Vec<Attribute>) -> Result<Scanned, Fault> {
    let bytes = tag.as_bytes();
    let earlier = to.len();
    let mut ending = Ending { at, ..Ending::default() };
    loop {
        if let Some(attribute) = plain(bytes, ending.at) {
            ending.long |= attribute.is_long();
            ending.at = attribute.value.1 as usize + 1;
            add(tag, attribute, earlier, to)?;
            continue;
        }
        let mut at = ending.at;
        let gap = at;
        at += run(bytes, at, class::SPACE);
        let first = match bytes.get(at..).unwrap_or_default() {
            [] | [b'/'] => return Ok(Scanned::Incomplete),
            [b'>', ..] => return Ok(Scanned::Whole(Ending { at: at + 1, ..ending })),
            [b'/', b'>', ..] => return Ok(Scanned::Whole(Ending { at: at + 2, closes: true, ..ending })),
            [first, ..] => *first,
        };
        if at == gap {
            return Err(Fault::new("an attribute follows without a space before it", EXPORT_AGAIN, at, 1));
        }
        let start = at;
        at += name_at(tag, at);
        if at == start {
            let what = format!("a tag has an attribute without a proper name at {:?}", char::from(first));
            return Err(Fault::new(what, EXPORT_AGAIN, at, 1));
        }
        let name = (start, at);
        at += run(bytes, at, class::SPACE);
        match bytes.get(at) {
            Some(b'=') => at += 1,
            Some(_) => return Err(Fault::new("an attribute has no value", "Write name=\"value\"", start, name.1 - start)),
            None => return Ok(Scanned::Incomplete),
        }
        at += run(bytes, at, class::SPACE);
        let quote = match bytes.get(at) {
            Some(quote @ (b'"' | b'\'')) => *quote,
            Some(_) => return Err(Fault::new("the value of an attribute is not quoted", "Write name=\"value\"", start, at - start)),
            None => return Ok(Scanned::Incomplete),
        };
        at += 1;
        let value = at;
        let mut literal = true;
        loop {
            at += run(bytes, at, class::PLAIN_VALUE);
            match bytes.get(at) {
                Some(byte) if *byte == quote => break,
                Some(b'<') => return Err(Fault::new("\"<\" stands in the value of an attribute", "Write \"&lt;\" instead", at, 1)),
                Some(b'&' | b'\t' | b'\n' | b'\r') => literal = false,
                Some(b'"' | b'\'') => {}
                Some(_) => {
                    let Some(length) = wellformed::character_at(tag, at) else { return Err(wellformed::forbidden(tag, at)) };
                    at += length - 1;
                }
                None => return Ok(Scanned::Incomplete),
            }
            at += 1;
        }
        let key = Key::of(bytes.get(name.0..name.1).unwrap_or_default());
        let attribute = Attribute { key, name: span(name.0, name.1), value: span(value, at), literal };
        ending.referring |= !literal;
        ending.long |= attribute.is_long();
        add(tag, attribute, earlier, to)?;
        ending.at = at + 1;
    }
}

/// The attribute behind one space, short and with nothing to look at in its value, as nearly all are.
#[inline]
fn plain(bytes: &[u8], at: usize) -> Option<Attribute> {
    let start = at + 1;
    if bytes.get(at) != Some(&b' ') {
        return None;
    }
    let end = start + word::name(bytes, start)?;
    let value = end + 2;
    if bytes.get(end..value) != Some(b"=\"") {
        return None;
    }
    let behind = value + word::plain_up_to::<b'"', b'<'>(bytes, value)?;
    Some(Attribute { key: Key::of(bytes.get(start..end)?), name: span(start, end), value: span(value, behind), literal: true })
}

/// Keeps an attribute unless its name is taken by one behind the `earlier` ones of other tags.
fn add(tag: &str, attribute: Attribute, earlier: usize, to: &mut Vec<Attribute>) -> Result<(), Fault> {
    let others = to.get(earlier..).unwrap_or_default();
    let text = |span: (u32, u32)| tag.get(span.0 as usize..span.1 as usize).unwrap_or_default();
    let name = || text(attribute.name);
    let offset = attribute.name.0 as usize;
    if others.iter().any(|other| other.key == attribute.key && (attribute.key.is_whole() || text(other.name) == name())) {
        let what = format!("the attribute \"{}\" is there twice", name());
        return Err(Fault::new(what, "Remove one of them", offset, name().len()));
    }
    if others.len() == ATTRIBUTE_LIMIT {
        return Err(Fault::new(format!("a tag has more than {ATTRIBUTE_LIMIT} attributes"), EXPORT_AGAIN, offset, name().len()));
    }
    to.push(attribute);
    Ok(())
}

/// Length of the name at a position; 0 if none begins there.
fn name_at(tag: &str, at: usize) -> usize {
    let bytes = tag.as_bytes();
    // Names of attributes are ASCII, or else somebody's own; the full alphabet only if it is needed.
    let plain = run(bytes, at, class::NAME);
    let ascii_name = bytes.get(at).is_some_and(|first| is(*first, class::STARTS_NAME));
    if ascii_name && bytes.get(at + plain).is_none_or(u8::is_ascii) { plain } else { name_length(tag.get(at..).unwrap_or_default()) }
}

/// Positions within a tag, which is never longer than 16 MiB.
fn span(start: usize, end: usize) -> (u32, u32) {
    let short = |position| u32::try_from(position).unwrap_or(u32::MAX);
    (short(start), short(end))
}
