//! The text of a score as pieces that can be copied one by one, and attributes that come and go.

use super::rewrite::Refused;
use quick_xml::Reader;
use quick_xml::events::Event;

/// A piece of the text: one event, as it was written.
pub(super) struct Piece<'a> {
    pub text: &'a str,
    pub kind: Kind,
}

/// What a piece is.
pub(super) enum Kind {
    Start(String),
    Empty(String),
    End(String),
    Other,
}

/// All pieces of a text in their order.
pub(super) fn pieces(text: &str) -> Result<Vec<Piece<'_>>, Refused> {
    const BROKEN: Refused = "the text is not well formed";
    let mut reader = Reader::from_str(text);
    let mut pieces = Vec::new();
    let mut from = 0;
    loop {
        let event = reader.read_event().map_err(|_| BROKEN)?;
        let name = str::to_owned;
        let kind = match &event {
            Event::Start(tag) => Kind::Start(name(tag.name().as_ref())),
            Event::Empty(tag) => Kind::Empty(name(tag.name().as_ref())),
            Event::End(tag) => Kind::End(name(tag.name().as_ref())),
            Event::Eof => return Ok(pieces),
            _ => Kind::Other,
        };
        let to = usize::try_from(reader.buffer_position()).map_err(|_| BROKEN)?;
        pieces.push(Piece { text: text.get(from..to).ok_or(BROKEN)?, kind });
        from = to;
    }
}

impl Piece<'_> {
    /// The name of the element that it begins or is.
    pub fn begins(&self) -> Option<&str> {
        match &self.kind {
            Kind::Start(name) | Kind::Empty(name) => Some(name),
            _ => None,
        }
    }

    pub fn is_end(&self, of: &str) -> bool {
        matches!(&self.kind, Kind::End(name) if name == of)
    }
}

/// The pieces of the element that begins at one, itself included: their number.
pub(super) fn length(pieces: &[Piece]) -> usize {
    let mut depth = 0_usize;
    for (index, piece) in pieces.iter().enumerate() {
        match piece.kind {
            Kind::Start(_) => depth += 1,
            Kind::End(_) => depth = depth.saturating_sub(1),
            _ => {}
        }
        if depth == 0 {
            return index + 1;
        }
    }
    pieces.len()
}

/// A tag without some attributes.
pub(super) fn without(tag: &str, names: &[&str]) -> String {
    let mut out = String::with_capacity(tag.len());
    let mut rest = tag;
    while let Some(equals) = rest.find('=') {
        let before = &rest[..equals];
        let name_from = before.trim_end().rfind(|letter: char| letter.is_whitespace() || letter == '<').map_or(0, |at| at + 1);
        let name = before[name_from..].trim();
        let value = rest[equals + 1..].trim_start();
        let Some(quote) = value.chars().next().filter(|quote| matches!(quote, '"' | '\'')) else { break };
        let from = rest.len() - value.len();
        let Some(end) = value[1..].find(quote).map(|end| from + 1 + end + 1) else { break };
        if names.contains(&name) {
            out.push_str(before[..name_from].trim_end());
        } else {
            out.push_str(&rest[..end]);
        }
        rest = &rest[end..];
    }
    out + rest
}

/// A tag with an attribute more.
pub(super) fn with(tag: &str, name: &str, value: &str) -> String {
    let end = if tag.ends_with("/>") { tag.len() - 2 } else { tag.len() - 1 };
    format!("{} {name}=\"{value}\"{}", tag[..end].trim_end(), &tag[end..])
}

/// The value of an attribute, as written.
pub(super) fn value<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let at = tag.match_indices(name).map(|(at, _)| at).find(|at| {
        let before = tag[..*at].chars().next_back();
        before.is_some_and(char::is_whitespace) && tag[at + name.len()..].trim_start().starts_with('=')
    })?;
    let value = tag[at + name.len()..].trim_start().strip_prefix('=')?.trim_start();
    let quote = value.chars().next()?;
    value[1..].split(quote).next()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn attributes_come_and_go() {
        let tag = "<note default-x=\"12.5\"  print-object = 'no' default-y='-3'>";
        assert_eq!(without(tag, &["default-x", "default-y"]), "<note  print-object = 'no'>");
        assert_eq!(without("<note a=\"b=c\" default-x=\"1\"/>", &["default-x"]), "<note a=\"b=c\"/>");
        assert_eq!(with("<measure number=\"1\">", "width", "100"), "<measure number=\"1\" width=\"100\">");
        assert_eq!(with("<print/>", "new-page", "yes"), "<print new-page=\"yes\"/>");
        assert_eq!(value("<part id = 'P1' x=\"2\">", "x"), Some("2"));
        assert_eq!(value("<part xid=\"1\" id = 'P1'>", "id"), Some("P1"));
    }
}
