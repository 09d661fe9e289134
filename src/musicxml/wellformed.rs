//! What XML 1.0 (fifth edition) asks of a well-formed document and the XML library does not check:
//! characters, names, comments, the XML declaration, and where each may stand.
//!
//! Everything here works on one token; the order of tokens is held by [`super::order`].

use super::damage::Damage;
use crate::place::Place;

/// A fault within a token: what is wrong, what to do, how far behind the token's start, how many bytes.
#[derive(Debug)]
pub(super) struct Fault {
    pub what: String,
    pub help: &'static str,
    pub offset: usize,
    pub length: usize,
}

impl Fault {
    /// A fault of `length` bytes, `offset` bytes behind the token's start.
    pub fn new(what: impl Into<String>, help: &'static str, offset: usize, length: usize) -> Self {
        Self { what: what.into(), help, offset, length }
    }

    /// The fault of a token that lies `base` bytes behind the document's start.
    pub fn within(self, base: u64) -> Damage {
        Damage::new(self.what, self.help).at(Place::new(base + self.offset as u64, self.length as u64))
    }
}

/// Help for faults that no editor of scores makes: somebody edited the text.
pub(super) const EXPORT_AGAIN: &str = "Export the score again, or mend the text at this place";
/// Help for text that stops too early.
pub(super) const TRUNCATED: &str = "The file was cut off: export or copy it again";

/// White space of XML (production 3).
pub(super) fn is_space(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | b'\n' | b'\r')
}

/// The same as a character.
pub(super) fn is_space_char(character: char) -> bool {
    matches!(character, ' ' | '\t' | '\n' | '\r')
}

/// A character that may stand in a document (production 2).
pub(super) fn is_char(character: char) -> bool {
    !matches!(character, '\0'..='\u{8}' | '\u{B}' | '\u{C}' | '\u{E}'..='\u{1F}' | '\u{FFFE}' | '\u{FFFF}')
}

/// Bytes of the character at a position, if it is one that may stand in a document.
pub(super) fn character_at(text: &str, at: usize) -> Option<usize> {
    text.get(at..)?.chars().next().filter(|character| is_char(*character)).map(char::len_utf8)
}

/// The first character of a text that may stand nowhere in a document, as its fault.
pub(super) fn check_characters(text: &str) -> Result<(), Fault> {
    text.find(|character| !is_char(character)).map_or(Ok(()), |at| Err(forbidden(text, at)))
}

/// The fault of such a character at a position.
pub(super) fn forbidden(text: &str, at: usize) -> Fault {
    let length = text.get(at..).and_then(|rest| rest.chars().next()).map_or(1, char::len_utf8);
    Fault::new("a control character stands in the text", "XML allows none but tab and line ends: remove it", at, length)
}

/// First character of a name (production 4).
fn starts_name(character: char) -> bool {
    matches!(character, ':' | 'A'..='Z' | '_' | 'a'..='z' | '\u{C0}'..='\u{D6}' | '\u{D8}'..='\u{F6}' | '\u{F8}'..='\u{2FF}'
        | '\u{370}'..='\u{37D}' | '\u{37F}'..='\u{1FFF}' | '\u{200C}'..='\u{200D}' | '\u{2070}'..='\u{218F}' | '\u{2C00}'..='\u{2FEF}'
        | '\u{3001}'..='\u{D7FF}' | '\u{F900}'..='\u{FDCF}' | '\u{FDF0}'..='\u{FFFD}' | '\u{10000}'..='\u{EFFFF}')
}

/// Any further character of a name (production 4a).
pub(super) fn continues_name(character: char) -> bool {
    starts_name(character) || matches!(character, '-' | '.' | '0'..='9' | '\u{B7}' | '\u{300}'..='\u{36F}' | '\u{203F}'..='\u{2040}')
}

/// A name (production 5).
pub(super) fn is_name(name: &str) -> bool {
    let mut characters = name.chars();
    characters.next().is_some_and(starts_name) && characters.all(continues_name)
}

/// Bytes of the longest name at the beginning of a text; 0 if there is none.
pub(super) fn name_length(text: &str) -> usize {
    if !text.starts_with(starts_name) {
        return 0;
    }
    text.find(|character| !continues_name(character)).unwrap_or(text.len())
}

/// A text token: `]]>` may not stand in it (production 14).
pub(super) fn check_text(text: &str) -> Result<(), Fault> {
    let bytes = text.as_bytes();
    match bytes.windows(3).position(|three| three == b"]]>") {
        Some(at) => Err(Fault::new("\"]]>\" stands in a text", "Write \"]]&gt;\" instead", at, 3)),
        None => Ok(()),
    }
}

/// A comment token with its brackets: no `--` within, no `-` at its end (production 15).
pub(super) fn check_comment(token: &str) -> Result<(), Fault> {
    let inner = token.strip_prefix("<!--").and_then(|rest| rest.strip_suffix("-->"));
    match inner {
        Some(text) if !text.contains("--") && !text.ends_with('-') => Ok(()),
        _ => {
            let at = inner.and_then(|text| text.find("--")).unwrap_or(0);
            Err(Fault::new("\"--\" stands in a comment", "Remove one of the hyphens, or the comment", 4 + at, 2))
        }
    }
}

/// A processing instruction with its brackets: its target is a name other than `xml` (productions 16, 17).
pub(super) fn check_instruction(token: &str) -> Result<(), Fault> {
    let inner = token.strip_prefix("<?").and_then(|rest| rest.strip_suffix("?>")).unwrap_or_default();
    let length = name_length(inner);
    let (target, rest) = inner.split_at(length);
    if target.eq_ignore_ascii_case("xml") {
        return Err(misplaced_declaration());
    }
    if length == 0 || !(rest.is_empty() || rest.starts_with(is_space_char)) {
        return Err(Fault::new("a processing instruction has no proper name", EXPORT_AGAIN, 0, 2 + length));
    }
    Ok(())
}

/// An XML declaration anywhere but at the very start.
pub(super) fn misplaced_declaration() -> Fault {
    Fault::new(
        "an XML declaration stands within the document",
        "It may only be the very first thing of the file: remove what is before it",
        0,
        5,
    )
}

/// The XML declaration with its brackets: version, encoding, standalone, in that order (production 23).
pub(super) fn check_declaration(token: &str) -> Result<(), Fault> {
    let mut rest = token.strip_prefix("<?xml").and_then(|rest| rest.strip_suffix("?>")).unwrap_or_default();
    let fault = |rest: &str| {
        let offset = token.len() - 2 - rest.len();
        Fault::new("the XML declaration is malformed", "It should read: <?xml version=\"1.0\" encoding=\"UTF-8\"?>", offset, 1)
    };
    for (key, needed, good) in [
        (
            "version",
            true,
            (|value| value.strip_prefix("1.").is_some_and(|minor| !minor.is_empty() && minor.bytes().all(|b| b.is_ascii_digit())))
                as fn(&str) -> bool,
        ),
        ("encoding", false, |value| {
            value.starts_with(|first: char| first.is_ascii_alphabetic())
                && value.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"._-".contains(&byte))
        }),
        ("standalone", false, |value| matches!(value, "yes" | "no")),
    ] {
        let trimmed = rest.trim_start_matches(is_space_char);
        let Some(after) = trimmed.strip_prefix(key) else {
            if needed {
                return Err(fault(trimmed));
            }
            continue;
        };
        if trimmed.len() == rest.len() {
            return Err(fault(rest));
        }
        let value = after.trim_start_matches(is_space_char).strip_prefix('=').map(|value| value.trim_start_matches(is_space_char));
        let quote = value.and_then(|value| value.chars().next()).filter(|quote| matches!(quote, '"' | '\''));
        let parts = value.zip(quote).and_then(|(value, quote)| value.get(1..)?.split_once(quote));
        match parts {
            Some((value, behind)) if good(value) => rest = behind,
            _ => return Err(fault(after)),
        }
    }
    let rest = rest.trim_start_matches(is_space_char);
    if rest.is_empty() { Ok(()) } else { Err(fault(rest)) }
}

/// The damage of markup that the XML library could not bring to an end: cut off by the end of the
/// document, or no markup at all.
pub(super) fn not_closed(rest: &str, cut_off: bool) -> Damage {
    let thing = match rest.as_bytes() {
        [b'&', ..] => return Damage::new("\"&\" begins a reference that no \";\" ends", "Write \"&amp;\" for the sign itself"),
        [b'<', b'!', b'-', b'-', ..] => "comment",
        [b'<', b'!', b'[', ..] => "CDATA section",
        [b'<', b'!', b'D', ..] => "document type declaration",
        [b'<', b'?', ..] => "processing instruction",
        [b'<', b'!', ..] if !cut_off => return Damage::new("\"<!\" begins nothing that XML knows", EXPORT_AGAIN),
        _ => "tag",
    };
    if cut_off {
        Damage::new(format!("the file ends within a {thing}"), TRUNCATED)
    } else {
        Damage::new(format!("a {thing} is malformed"), EXPORT_AGAIN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_by_definition() {
        for code in (0..0x300).chain(0xFFF0..0x1_0010) {
            let Some(character) = char::from_u32(code) else { continue };
            let text = format!("ab{character}c");
            let found = check_characters(&text).err().map(|fault| (fault.offset, fault.length));
            assert_eq!(found, (!is_char(character)).then_some((2, character.len_utf8())), "U+{code:04X}");
            assert_eq!(character_at(&text, 2), is_char(character).then_some(character.len_utf8()), "U+{code:04X}");
        }
    }
}
