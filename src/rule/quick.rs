//! Reads a sound condition quickly: where a text might be anything else, that is left to the thorough parser.

use super::check::{Checked, check};
use super::condition::{MOST_NESTED, Node};
use super::scope::Scope;
use cel::common::ast::SourceInfo;

/// Words that the language keeps to itself: only its parser knows where they may stand.
const RESERVED: [&str; 21] = [
    "as",
    "break",
    "const",
    "continue",
    "else",
    "false",
    "for",
    "function",
    "if",
    "import",
    "in",
    "let",
    "loop",
    "namespace",
    "null",
    "package",
    "return",
    "true",
    "var",
    "void",
    "while",
];

/// Reads a sound text; none where anything is wrong with it.
///
/// `cel` has two parsers. This one takes a hundredth of the time of the other, which would take half of the time until
/// the first score is looked at. But it keeps no places, so what is wrong is read once more for the message, and it does
/// not count brackets, so a text that might have too many within one another is left to the other.
pub(super) fn quickly(text: &str, scope: &Scope) -> Option<Checked> {
    if let Some(name) = bare_name(text, scope) {
        return Some(name);
    }
    if is_odd(text) {
        return None;
    }
    let parser = cel::parser::PrattParser::new().max_recursion_depth(MOST_NESTED).error_recovery_limit(0);
    let tree = parser.parse(text).ok()?;
    check(text, &tree, &SourceInfo::default(), scope).ok()
}

/// Reads a text that is nothing but a name, as most formulas are: there is nothing to parse.
fn bare_name(text: &str, scope: &Scope) -> Option<Checked> {
    let (namespace, field) = text.split_once('.')?;
    let plain = field.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'_');
    if !plain || RESERVED.contains(&field) {
        return None;
    }
    let name = scope.resolve(namespace, field).ok()?;
    Some((Node::Name(name), scope.kind(name), vec![name]))
}

/// Whether a text has what the quick parser takes more lightly than the grammar of the language: control characters, a line end
/// within quotes, `0X`, signs one after the other; or so many brackets and choices that they might be too many within one another.
fn is_odd(text: &str) -> bool {
    let (mut in_quotes, mut openings, mut last) = (false, 0, b' ');
    for byte in text.bytes() {
        match byte {
            b'\n' if in_quotes => return true,
            b' ' | b'\n' => continue,
            b'\'' | b'"' => in_quotes = !in_quotes,
            b'(' | b'[' | b'{' | b'?' => openings += 1,
            b'!' | b'-' if matches!(last, b'!' | b'-') => return true,
            b'X' if last == b'0' => return true,
            // Those behind ASCII are two bytes.
            0x80..=0x9f if last == 0xc2 => return true,
            byte if byte.is_ascii_control() => return true,
            _ => {}
        }
        last = byte;
    }
    in_quotes || openings > MOST_NESTED
}
