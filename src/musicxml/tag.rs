//! One scanner over the attributes of a start tag: it checks their syntax and says where each stands.

use super::element::Key;
use super::wellformed::{EXPORT_AGAIN, Fault, name_length};

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
    /// The value has a reference in it.
    pub referring: bool,
}

/// What a byte of a tag may be.
mod class {
    /// White space.
    pub const SPACE: u8 = 1;
    /// ASCII of a name, but for its first byte.
    pub const NAME: u8 = 2;
    /// ASCII that a name may begin with.
    pub const STARTS_NAME: u8 = 4;
    /// A byte at which the value of an attribute is looked at: a quote, `<`, `&`.
    pub const STOPS_VALUE: u8 = 8;

    /// The class of every byte: a look-up for each byte of a file instead of comparisons.
    pub static OF: [u8; 256] = table();

    const fn table() -> [u8; 256] {
        let mut table = [0; 256];
        let mut byte = 0_u8;
        loop {
            table[byte as usize] = match byte {
                b' ' | b'\t' | b'\n' | b'\r' => SPACE,
                b'a'..=b'z' | b'A'..=b'Z' => NAME | STARTS_NAME,
                b'0'..=b'9' | b'-' | b':' | b'_' | b'.' => NAME,
                b'"' | b'\'' | b'<' | b'&' => STOPS_VALUE,
                _ => 0,
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

/// Scans a tag from behind its name (`at`) to before its `>` or `/>` (`end`); `tag` starts at its `<`.
pub(super) fn scan(tag: &str, at: usize, end: usize, to: &mut Vec<Attribute>) -> Result<(), Fault> {
    let bytes = tag.as_bytes().get(..end).unwrap_or_default();
    let mut at = at;
    loop {
        let gap = at;
        at += spaces(bytes, at);
        let Some(first) = bytes.get(at) else { return Ok(()) };
        if at == gap {
            return Err(Fault::new("an attribute follows without a space before it", EXPORT_AGAIN, at, 1));
        }
        let start = at;
        at += name_at(tag, bytes, at);
        if at == start {
            let what = format!("a tag has an attribute without a proper name at {:?}", char::from(*first));
            return Err(Fault::new(what, EXPORT_AGAIN, at, 1));
        }
        let name = (start, at);
        at += spaces(bytes, at);
        if bytes.get(at) != Some(&b'=') {
            return Err(Fault::new("an attribute has no value", "Write name=\"value\"", start, name.1 - start));
        }
        at += 1;
        at += spaces(bytes, at);
        let Some(quote) = bytes.get(at).copied().filter(|byte| matches!(byte, b'"' | b'\'')) else {
            return Err(Fault::new("the value of an attribute is not quoted", "Write name=\"value\"", start, at - start));
        };
        at += 1;
        let value = at;
        let mut referring = false;
        loop {
            at += bytes.get(at..).unwrap_or_default().iter().take_while(|byte| !is(**byte, class::STOPS_VALUE)).count();
            match bytes.get(at) {
                Some(byte) if *byte == quote => break,
                Some(b'<') => return Err(Fault::new("\"<\" stands in the value of an attribute", "Write \"&lt;\" instead", at, 1)),
                Some(byte) => referring |= *byte == b'&',
                None => return Err(Fault::new("the value of an attribute is never closed", EXPORT_AGAIN, start, at - start)),
            }
            at += 1;
        }
        let key = Key::of(bytes.get(name.0..name.1).unwrap_or_default());
        add(tag, Attribute { key, name: span(name.0, name.1), value: span(value, at), referring }, to)?;
        at += 1;
    }
}

/// Keeps an attribute unless its name is taken.
fn add(tag: &str, attribute: Attribute, to: &mut Vec<Attribute>) -> Result<(), Fault> {
    let text = |span: (u32, u32)| tag.get(span.0 as usize..span.1 as usize).unwrap_or_default();
    let name = || text(attribute.name);
    let offset = attribute.name.0 as usize;
    if to.iter().any(|other| other.key == attribute.key && (attribute.key.is_whole() || text(other.name) == name())) {
        let what = format!("the attribute \"{}\" is there twice", name());
        return Err(Fault::new(what, "Remove one of them", offset, name().len()));
    }
    if to.len() == ATTRIBUTE_LIMIT {
        return Err(Fault::new(format!("a tag has more than {ATTRIBUTE_LIMIT} attributes"), EXPORT_AGAIN, offset, name().len()));
    }
    to.push(attribute);
    Ok(())
}

/// Length of the name at a position; 0 if none begins there.
fn name_at(tag: &str, bytes: &[u8], at: usize) -> usize {
    let rest = bytes.get(at..).unwrap_or_default();
    // Names of attributes are ASCII, or else somebody's own; the full alphabet only if it is needed.
    let plain = rest.iter().take_while(|byte| is(**byte, class::NAME)).count();
    let ascii_name = rest.first().is_some_and(|first| is(*first, class::STARTS_NAME));
    if ascii_name && rest.get(plain).is_none_or(u8::is_ascii) { plain } else { name_length(tag.get(at..bytes.len()).unwrap_or_default()) }
}

/// Number of white-space bytes at a position.
fn spaces(bytes: &[u8], at: usize) -> usize {
    bytes.get(at..).unwrap_or_default().iter().take_while(|byte| is(**byte, class::SPACE)).count()
}

/// Positions within a tag, which is never longer than 16 MiB.
fn span(start: usize, end: usize) -> (u32, u32) {
    let short = |position| u32::try_from(position).unwrap_or(u32::MAX);
    (short(start), short(end))
}
