//! A moving window over a stream of decoded text, cut into tokens.
//!
//! The XML library finds where tags, texts and comments end; it works on slices without copying, so
//! it is handed one window after the other. What it found complete becomes a batch of tokens (spans
//! of the window); the incomplete rest stays for the next window.

use super::damage::Damage;
use super::decode;
use super::supply::Supply;
use super::wellformed;
use crate::place::Place;
use encoding_rs::{Decoder, DecoderResult, UTF_8};
use memchr::{memchr, memmem};
use quick_xml::Reader;
use quick_xml::events::Event;
use std::io::{ErrorKind, Read};

/// Bytes of a window in the common case.
const WINDOW: usize = 256 << 10;
/// Bytes asked of the stream at a time.
const CHUNK: usize = 64 << 10;
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
    /// Bytes of its name, for tags with one.
    pub name: u32,
    /// What it is.
    pub kind: Kind,
}

/// What does not occur in a window, so that no token of it need be asked for it: few files have any of it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Free {
    /// No carriage return.
    pub of_returns: bool,
    /// No `]]>`.
    pub of_section_ends: bool,
}

/// A stretch of the text and the tokens found in it.
#[derive(Debug, Default)]
pub(super) struct Batch {
    text: String,
    /// Bytes of the document before `text`.
    base: u64,
    /// What `text` is free of.
    free: Free,
    tokens: Vec<Token>,
}

impl Batch {
    /// Text of a span.
    fn text(&self, start: u32, end: u32) -> &str {
        self.text.get(start as usize..end as usize).unwrap_or_default()
    }

    /// Where a span lies in the document.
    fn place(&self, start: u32, end: u32) -> Place {
        Place::new(self.base + u64::from(start), u64::from(end.saturating_sub(start)))
    }

    /// End of its last token.
    fn end(&self) -> u32 {
        self.tokens.last().map_or(0, |last| last.end)
    }
}

/// A stream that is cut into batches.
pub(super) struct Cutter {
    stream: Box<dyn Read + Send>,
    /// Bytes of the stream on their way into the text.
    raw: Vec<u8>,
    /// Turns them into text: it keeps the first bytes of a character that has not come whole yet.
    decoder: Decoder,
    /// What the last batch left over.
    rest: String,
    /// Bytes of the document before it.
    base: u64,
    /// The stream has given all it has.
    ended: bool,
}

impl Cutter {
    /// Nothing cut yet of a stream.
    pub fn new(stream: Box<dyn Read + Send>) -> Self {
        let decoder = UTF_8.new_decoder_without_bom_handling();
        Self { stream, raw: vec![0; CHUNK], decoder, rest: String::new(), base: 0, ended: false }
    }

    /// Whether the stream may have more than has been cut.
    pub fn has_more(&self) -> bool {
        !self.ended
    }

    /// The next batch, in the room of one that is done with; `None` at the end of the document.
    pub fn next(&mut self, room: Batch) -> Result<Option<Batch>, Damage> {
        let mut batch = room;
        batch.text.clear();
        batch.text.push_str(&self.rest);
        self.rest.clear();
        batch.base = self.base;
        let mut wanted = WINDOW;
        loop {
            self.read_up_to(wanted, &mut batch)?;
            let incomplete = self.cut(&mut batch)?;
            if !batch.tokens.is_empty() {
                let end = batch.end();
                self.rest.push_str(batch.text.get(end as usize..).unwrap_or_default());
                self.base += u64::from(end);
                return Ok(Some(batch));
            }
            if self.ended {
                return Ok(None);
            }
            if incomplete && batch.text.len() >= TOKEN_LIMIT {
                return Err(Damage::new(
                    "one tag or text is longer than 8 MiB",
                    "Look for a tag or quotation mark that is never closed; a score has no such long text",
                )
                .at(batch.place(0, 1)));
            }
            wanted = (batch.text.len() * 2).clamp(WINDOW, TOKEN_LIMIT + WINDOW);
        }
    }

    /// Reads until a batch holds `wanted` bytes or the stream ends.
    fn read_up_to(&mut self, wanted: usize, batch: &mut Batch) -> Result<(), Damage> {
        let checked = batch.text.len();
        batch.text.reserve((wanted + CHUNK).saturating_sub(checked));
        while batch.text.len() < wanted && !self.ended {
            self.read_chunk(batch)?;
        }
        let new = batch.text.get(checked..).unwrap_or_default();
        if let Some(at) = wellformed::forbidden_character(new) {
            let length = new.get(at..).and_then(|rest| rest.chars().next()).map_or(1, char::len_utf8);
            return Err(wellformed::forbidden(batch.base + (checked + at) as u64, length));
        }
        let bytes = batch.text.as_bytes();
        batch.free = Free { of_returns: memchr(b'\r', bytes).is_none(), of_section_ends: memmem::find(bytes, b"]]>").is_none() };
        if batch.base + batch.text.len() as u64 > TEXT_LIMIT {
            return Err(Damage::new("the text is longer than 4 GiB", "Split the score into movements or parts"));
        }
        Ok(())
    }

    /// Adds one chunk of the stream to the text, checked to be UTF-8 on the way.
    fn read_chunk(&mut self, batch: &mut Batch) -> Result<(), Damage> {
        let got = match self.stream.read(&mut self.raw) {
            Err(error) if error.kind() == ErrorKind::Interrupted => return Ok(()),
            read => read.map_err(|error| Damage::from_io(error, "reading"))?,
        };
        self.ended = got == 0;
        let mut rest = self.raw.get(..got).unwrap_or_default();
        loop {
            // One character may be waiting in the decoder.
            batch.text.reserve(rest.len() + 4);
            let (result, read) = self.decoder.decode_to_string_without_replacement(rest, &mut batch.text, self.ended);
            rest = rest.get(read..).unwrap_or_default();
            match result {
                DecoderResult::InputEmpty => return Ok(()),
                DecoderResult::OutputFull => {}
                DecoderResult::Malformed(..) => {
                    return Err(decode::malformed(UTF_8, batch.base + batch.text.len() as u64));
                }
            }
        }
    }

    /// Cuts a batch into tokens; true if it ends within one.
    fn cut(&self, batch: &mut Batch) -> Result<bool, Damage> {
        let Batch { text, tokens, base, .. } = batch;
        let place = |start: u32, end: u32| Place::new(*base + u64::from(start), u64::from(end - start));
        tokens.clear();
        let mut from = 0_u32;
        // The library takes U+FEFF at the beginning of a slice for a byte order mark; within a document it is text.
        while text.get(from as usize..from as usize + 3) == Some("\u{FEFF}") {
            tokens.push(Token { from, start: from, end: from + 3, name: 0, kind: Kind::Text });
            from += 3;
        }
        let skipped = from;
        let slice = text.get(skipped as usize..).unwrap_or_default();
        let mut reader = Reader::from_str(slice);
        let config = reader.config_mut();
        config.trim_text_start = true;
        config.check_end_names = false;
        config.allow_unmatched_ends = true;
        loop {
            let event = reader.read_event();
            let end = position(reader.buffer_position()) + skipped;
            // What it is, how long, and how long its name.
            let (kind, length, name) = match &event {
                Ok(Event::Start(tag)) => (Kind::Start, tag.len() + 2, tag.name().as_ref().len()),
                Ok(Event::Text(found)) => {
                    if end as usize == text.len() && !self.ended {
                        return Ok(true);
                    }
                    (Kind::Text, found.len(), 0)
                }
                Ok(Event::End(tag)) => (Kind::End, tag.len() + 3, tag.len()),
                Ok(Event::Empty(tag)) => (Kind::Empty, tag.len() + 3, tag.name().as_ref().len()),
                Ok(Event::GeneralRef(name)) => (Kind::Reference, name.len() + 2, 0),
                Ok(Event::CData(text)) => (Kind::CData, text.len() + 12, 0),
                Ok(Event::Comment(_)) => (Kind::Comment, 0, 0),
                Ok(Event::Decl(_)) => (Kind::Declaration, 0, 0),
                Ok(Event::PI(_)) => (Kind::Instruction, 0, 0),
                Ok(Event::DocType(_)) => (Kind::Doctype, 0, 0),
                Ok(Event::Eof) => return Ok((from as usize) < text.len()),
                Err(_) if !tokens.is_empty() => return Ok(true),
                Err(_) => {
                    let start = from + white_space_at(text.as_bytes(), from);
                    let incomplete = end as usize == text.len() || text.len() - (start as usize) < 16;
                    if incomplete && !self.ended {
                        return Ok(true);
                    }
                    let end = text.len().min(start as usize + 1);
                    return Err(wellformed::not_closed(text.get(start as usize..).unwrap_or_default(), incomplete)
                        .at(place(start, position(end as u64))));
                }
            };
            // Trimming hides where a token starts: its length tells, or else the white space before it. An
            // end tag is longer than its name tells if white space follows the name.
            let mut start = end - position(length as u64);
            if length == 0 || (kind == Kind::End && text.as_bytes().get(start as usize) != Some(&b'<')) {
                start = from + white_space_at(text.as_bytes(), from);
            }
            tokens.push(Token { from, start, end, name: position(name as u64), kind });
            from = end;
        }
    }
}

/// The batch that is being taken from, and where further ones come from.
pub(super) struct Window {
    supply: Supply,
    batch: Batch,
    /// Number of tokens taken.
    taken: usize,
    /// End of the last token taken.
    at: u32,
}

impl Window {
    /// A window before the beginning of a stream.
    pub fn new(supply: Supply) -> Self {
        Self { supply, batch: Batch::default(), taken: 0, at: 0 }
    }

    /// Takes the next token; `None` at the end of the document. Spans of earlier tokens may be void afterwards.
    pub fn next(&mut self) -> Result<Option<Token>, Damage> {
        if self.taken == self.batch.tokens.len() && !self.refill()? {
            return Ok(None);
        }
        let token = self.batch.tokens.get(self.taken).copied();
        if let Some(token) = token {
            self.taken += 1;
            self.at = token.end;
        }
        Ok(token)
    }

    /// The token `ahead` of the next one, if it is in this batch; takes nothing.
    pub fn peek(&self, ahead: usize) -> Option<Token> {
        self.batch.tokens.get(self.taken + ahead).copied()
    }

    /// Takes so many tokens of this batch, which have been looked at.
    pub fn take(&mut self, tokens: usize) {
        self.taken += tokens;
        self.at = self.taken.checked_sub(1).and_then(|last| self.batch.tokens.get(last)).map_or(self.at, |last| last.end);
    }

    /// What the window is free of.
    pub fn free(&self) -> Free {
        self.batch.free
    }

    /// Text of a span of the window.
    pub fn text(&self, start: u32, end: u32) -> &str {
        self.batch.text(start, end)
    }

    /// End of the last token taken.
    pub fn at(&self) -> u32 {
        self.at
    }

    /// Where a position of the window lies in the document.
    pub fn offset(&self, position: u32) -> u64 {
        self.batch.base + u64::from(position)
    }

    /// Where a span of the window lies in the document.
    pub fn place(&self, start: u32, end: u32) -> Place {
        self.batch.place(start, end)
    }

    /// Moves on to the next batch; false at the end of the document, where the last one stays.
    fn refill(&mut self) -> Result<bool, Damage> {
        let more = self.supply.next(&mut self.batch)?;
        if more {
            self.taken = 0;
            self.at = 0;
        }
        Ok(more)
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
