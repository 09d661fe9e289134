//! A moving window over a stream of decoded text, cut into tokens.
//!
//! The XML library finds where tags, texts and comments end; it works on slices without copying, so
//! it is handed one window after the other. What it found complete becomes a batch of tokens (spans
//! of the window); the incomplete rest stays for the next window.

use super::damage::Damage;
use super::wellformed;
use crate::place::Place;
use quick_xml::Reader;
use quick_xml::events::Event;
use std::io::Read;
use std::mem;

/// Bytes of a window in the common case.
const WINDOW: usize = 256 << 10;
/// Most bytes of one tag, text, comment or document type declaration.
pub(super) const TOKEN_LIMIT: usize = 8 << 20;
/// Most bytes of one document's decoded text.
const TEXT_LIMIT: u64 = u32::MAX as u64;

/// What a token is, by its first characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// `<name ...>`
    Start,
    /// `<name .../>`
    Empty,
    /// `</name>`
    End,
    /// Text up to the next `<` or `&`; white space before it may belong to the gap.
    Text,
    /// `<![CDATA[...]]>`
    CData,
    /// `&name;`
    Reference,
    /// `<!--...-->`
    Comment,
    /// `<?xml ...?>`
    Declaration,
    /// `<?target ...?>`
    Instruction,
    /// `<!DOCTYPE ...>`
    Doctype,
}

/// A span of the window.
#[derive(Debug, Clone, Copy)]
pub(super) struct Token {
    /// End of the token before it. Between `from` and `start` lies only white space.
    pub from: u32,
    /// Its first byte.
    pub start: u32,
    /// The byte behind it.
    pub end: u32,
    /// What it is.
    pub kind: Kind,
}

/// The window, the stream behind it and the tokens found in it.
pub(super) struct Window {
    stream: Box<dyn Read + Send>,
    text: String,
    /// The first bytes of a character that the stream has not given whole yet.
    partial: Vec<u8>,
    /// Bytes of the document before `text`.
    base: u64,
    /// The stream has given all it has.
    ended: bool,
    tokens: Vec<Token>,
    /// Number of tokens taken.
    taken: usize,
    /// End of the last token taken.
    at: u32,
}

impl Window {
    /// A window before the beginning of a stream.
    pub fn new(stream: Box<dyn Read + Send>) -> Self {
        Self { stream, text: String::new(), partial: Vec::new(), base: 0, ended: false, tokens: Vec::new(), taken: 0, at: 0 }
    }

    /// Takes the next token; `None` at the end of the document. Spans of earlier tokens may be void afterwards.
    pub fn next(&mut self) -> Result<Option<Token>, Damage> {
        if self.taken == self.tokens.len() && !self.refill()? {
            return Ok(None);
        }
        let token = self.tokens.get(self.taken).copied();
        if let Some(token) = token {
            self.taken += 1;
            self.at = token.end;
        }
        Ok(token)
    }

    /// The token `ahead` of the next one, if it is in this batch; takes nothing.
    pub fn peek(&self, ahead: usize) -> Option<Token> {
        self.tokens.get(self.taken + ahead).copied()
    }

    /// Text of a span of the window.
    pub fn text(&self, start: u32, end: u32) -> &str {
        self.text.get(start as usize..end as usize).unwrap_or_default()
    }

    /// End of the last token taken.
    pub fn at(&self) -> u32 {
        self.at
    }

    /// Where a position of the window lies in the document.
    pub fn offset(&self, position: u32) -> u64 {
        self.base + u64::from(position)
    }

    /// Where a span of the window lies in the document.
    pub fn place(&self, start: u32, end: u32) -> Place {
        Place::new(self.offset(start), u64::from(end.saturating_sub(start)))
    }

    /// Moves on to the next batch of tokens; false at the end of the document.
    fn refill(&mut self) -> Result<bool, Damage> {
        let mut wanted = WINDOW;
        loop {
            self.read_up_to(wanted)?;
            let incomplete = self.tokenise()?;
            if !self.tokens.is_empty() {
                return Ok(true);
            }
            if self.ended {
                return Ok(false);
            }
            if incomplete && self.text.len() >= TOKEN_LIMIT {
                return Err(Damage::new(
                    "one tag or text is longer than 8 MiB",
                    "Look for a tag or quotation mark that is never closed; a score has no such long text",
                )
                .at(self.place(0, 1)));
            }
            wanted = (self.text.len() * 2).clamp(WINDOW, TOKEN_LIMIT + WINDOW);
        }
    }

    /// Drops what was taken and reads until the window holds `wanted` bytes or the stream ends.
    fn read_up_to(&mut self, wanted: usize) -> Result<(), Damage> {
        let mut bytes = mem::take(&mut self.text).into_bytes();
        bytes.drain(..(self.at as usize).min(bytes.len()));
        self.base += u64::from(mem::take(&mut self.at));
        let checked = bytes.len();
        bytes.append(&mut self.partial);
        let missing = wanted.saturating_sub(bytes.len()).max(1) as u64;
        let got = (&mut self.stream).take(missing).read_to_end(&mut bytes).map_err(|error| Damage::from_io(error, "reading"))?;
        self.ended = (got as u64) < missing;
        let base = self.base;
        let malformed = |at: usize| {
            Damage::new("the text is not well-formed UTF-8", "Save the file as UTF-8 again, or declare its encoding")
                .at(Place::new(base + at as u64, 1))
        };
        self.text = match String::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                let fault = error.utf8_error();
                let valid = fault.valid_up_to();
                if self.ended || fault.error_len().is_some() {
                    return Err(malformed(valid));
                }
                let mut bytes = error.into_bytes();
                self.partial = bytes.split_off(valid);
                String::from_utf8(bytes).map_err(|_| malformed(valid))?
            }
        };
        if let Some(at) = wellformed::forbidden_character(self.text.get(checked..).unwrap_or_default()) {
            return Err(wellformed::forbidden(self.base + (checked + at) as u64));
        }
        if self.base + self.text.len() as u64 > TEXT_LIMIT {
            return Err(Damage::new("the text is longer than 4 GiB", "Split the score into movements or parts"));
        }
        Ok(())
    }

    /// Cuts the window into tokens; true if it ends within one.
    fn tokenise(&mut self) -> Result<bool, Damage> {
        self.tokens.clear();
        self.taken = 0;
        let mut from = 0_u32;
        // The library takes U+FEFF at the beginning of a slice for a byte order mark; within a document it is text.
        while self.text(from, from + 3) == "\u{FEFF}" {
            self.tokens.push(Token { from, start: from, end: from + 3, kind: Kind::Text });
            from += 3;
        }
        let skipped = from;
        let slice = self.text.get(skipped as usize..).unwrap_or_default();
        let mut reader = Reader::from_str(slice);
        let config = reader.config_mut();
        config.trim_text_start = true;
        config.check_end_names = false;
        config.allow_unmatched_ends = true;
        loop {
            let event = reader.read_event();
            let end = position(reader.buffer_position()) + skipped;
            let (kind, length) = match &event {
                Ok(Event::Start(tag)) => (Kind::Start, tag.len() + 2),
                Ok(Event::Text(text)) => {
                    if end as usize == self.text.len() && !self.ended {
                        return Ok(true);
                    }
                    (Kind::Text, text.len())
                }
                Ok(Event::End(_)) => (Kind::End, 0),
                Ok(Event::Empty(tag)) => (Kind::Empty, tag.len() + 3),
                Ok(Event::GeneralRef(name)) => (Kind::Reference, name.len() + 2),
                Ok(Event::CData(text)) => (Kind::CData, text.len() + 12),
                Ok(Event::Comment(_)) => (Kind::Comment, 0),
                Ok(Event::Decl(_)) => (Kind::Declaration, 0),
                Ok(Event::PI(_)) => (Kind::Instruction, 0),
                Ok(Event::DocType(_)) => (Kind::Doctype, 0),
                Ok(Event::Eof) => return Ok((from as usize) < self.text.len()),
                Err(_) if !self.tokens.is_empty() => return Ok(true),
                Err(_) => {
                    let start = from + white_space_at(self.text.as_bytes(), from);
                    let incomplete = end as usize == self.text.len() || self.text.len() - (start as usize) < 16;
                    if incomplete && !self.ended {
                        return Ok(true);
                    }
                    let end = self.text.len().min(start as usize + 1);
                    return Err(wellformed::not_closed(self.text.get(start as usize..).unwrap_or_default(), incomplete)
                        .at(self.place(start, position(end as u64))));
                }
            };
            // Trimming hides where a token starts: its length tells, or else the white space before it.
            let start = if length > 0 { end - position(length as u64) } else { from + white_space_at(self.text.as_bytes(), from) };
            self.tokens.push(Token { from, start, end, kind });
            from = end;
        }
    }
}

/// A position within a window, which is never longer than 16 MiB.
fn position(bytes: u64) -> u32 {
    u32::try_from(bytes).unwrap_or(u32::MAX)
}

/// Number of white-space bytes from a position on.
fn white_space_at(text: &[u8], from: u32) -> u32 {
    let count = text.get(from as usize..).unwrap_or_default().iter().take_while(|byte| wellformed::is_space(**byte)).count();
    position(count as u64)
}
