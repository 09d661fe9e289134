//! Cuts a stream of text into batches of well-formed tokens.
//!
//! The text comes window by window. In each the ends of tokens are found: by the parsers of the XML library, but for tags that hold
//! nothing but a name and for plain text, which most of a score is. What is complete becomes tokens, checked in their order; the
//! incomplete rest stays for the next window.

use super::damage::Damage;
use super::decode;
use super::element::{Element, Key};
use super::order::Order;
use super::repeats::{Met, Repeats};
use super::source;
use super::tag::{self, Attribute, Ending, Scanned, class};
use super::wellformed::{self, Fault};
use super::window::{Batch, Kind, Token};
use super::word;
use crate::place::Place;
use encoding_rs::UTF_8;
use memchr::memchr;
use quick_xml::Reader;
use quick_xml::events::Event;
use quick_xml::parser::{ElementParser, Parser};
use std::io::Read;
use std::mem;

/// Bytes of a window in the common case: with its tokens it stays in the nearer caches.
pub(super) const WINDOW: usize = 64 << 10;
/// Most bytes of one tag, text, comment or document type declaration.
pub(super) const TOKEN_LIMIT: usize = 8 << 20;
/// Most bytes of one document's decoded text.
const TEXT_LIMIT: u64 = u32::MAX as u64;

/// A stream that is cut into batches.
pub(super) struct Cutter {
    stream: Box<dyn Read + Send>,
    /// What the last batch left over; its last character may not have come whole yet.
    rest: Vec<u8>,
    /// Bytes of the document before it.
    base: u64,
    /// Lines that end there.
    line_ends: u64,
    /// The stream has given all it has.
    ended: bool,
    order: Order,
    repeats: Repeats,
    /// What is wrong behind the tokens of the last batch.
    failed: Option<Damage>,
}

impl Cutter {
    /// Nothing cut yet of a stream.
    pub fn new(stream: Box<dyn Read + Send>) -> Self {
        Self { stream, rest: Vec::new(), base: 0, line_ends: 0, ended: false, order: Order::new(), repeats: Repeats::new(), failed: None }
    }

    /// The same of a stream that begins within the root of a partwise score, so many bytes behind the document's start.
    pub fn within_score(stream: Box<dyn Read + Send>, base: u64) -> Self {
        let mut cutter = Self { base, ..Self::new(stream) };
        let name = Element::ScorePartwise.known_name();
        cutter.order.open(Element::ScorePartwise, Key::of(name.as_bytes()), name);
        cutter
    }

    /// Whether the stream may have more than has been cut.
    pub fn has_more(&self) -> bool {
        !self.ended
    }

    /// The next batch, in the room of one that is done with; `None` at the end of the document.
    pub fn next(&mut self, room: Batch) -> Result<Option<Batch>, Damage> {
        if let Some(damage) = self.failed.take() {
            return Err(damage);
        }
        let mut batch = Batch { base: self.base, line_ends: self.line_ends, ..room };
        let mut wanted = WINDOW;
        loop {
            self.read_up_to(wanted, &mut batch)?;
            let incomplete = match self.cut(&mut batch) {
                Ok(incomplete) => incomplete,
                // What is sound comes first.
                Err(damage) if batch.tokens.is_empty() => return Err(damage),
                Err(damage) => {
                    self.failed = Some(damage);
                    return Ok(Some(batch));
                }
            };
            if !batch.tokens.is_empty() {
                let end = batch.end();
                let left = batch.text.as_bytes().get(end as usize..).unwrap_or_default();
                self.rest.splice(..0, left.iter().copied());
                self.base += u64::from(end);
                self.line_ends = batch.line_ends_before(end);
                return Ok(Some(batch));
            }
            if self.ended {
                return self.order.finish(self.base).map(|()| None);
            }
            if incomplete && batch.text.len() >= TOKEN_LIMIT {
                return Err(Damage::new(
                    "one tag or text is longer than 8 MiB",
                    "Look for a tag or quotation mark that is never closed; a score has no such long text",
                )
                .at(batch.place(0, 1)));
            }
            wanted = (batch.text.len() * 2).clamp(WINDOW, TOKEN_LIMIT + WINDOW);
            self.rest.splice(..0, batch.text.bytes());
        }
    }

    /// Fills a batch with what was left over and what follows in the stream, up to `wanted` bytes, or to its end.
    fn read_up_to(&mut self, wanted: usize, batch: &mut Batch) -> Result<(), Damage> {
        // The room is written over, not cleared.
        let mut bytes = mem::take(&mut batch.text).into_bytes();
        let mut filled = self.rest.len();
        bytes.resize(if self.ended { filled } else { wanted.max(filled) }, 0);
        let (left_over, room) = bytes.split_at_mut_checked(filled).unwrap_or_default();
        left_over.copy_from_slice(&self.rest);
        self.rest.clear();
        if !self.ended {
            let (read, ended) = source::fill(&mut self.stream, room);
            self.ended = ended.map_err(|error| Damage::from_io(error, "reading"))?;
            filled += read;
        }
        bytes.truncate(filled);
        batch.text = self.checked(bytes)?;
        if batch.base + batch.text.len() as u64 > TEXT_LIMIT {
            return Err(Damage::new("the text is longer than 4 GiB", "Split the score into movements or parts"));
        }
        Ok(())
    }

    /// Bytes as text; the first bytes of a character that has not come whole are left over.
    fn checked(&mut self, bytes: Vec<u8>) -> Result<String, Damage> {
        let error = match String::from_utf8(bytes) {
            Ok(text) => return Ok(text),
            Err(error) => error,
        };
        let sound = error.utf8_error().valid_up_to();
        if error.utf8_error().error_len().is_some() || self.ended {
            return Err(decode::malformed(UTF_8, self.base + sound as u64));
        }
        let mut bytes = error.into_bytes();
        self.rest = bytes.split_off(sound);
        // What is sound has just been found so.
        Ok(String::from_utf8(bytes).unwrap_or_default())
    }

    /// Cuts a batch into tokens; true if it ends within one.
    fn cut(&mut self, batch: &mut Batch) -> Result<bool, Damage> {
        let Batch { text, tokens, attributes, base, .. } = batch;
        tokens.clear();
        attributes.clear();
        self.repeats.begin_window();
        let repeats = Some(&mut self.repeats);
        let mut cutting = Cutting { text, ended: self.ended, order: &mut self.order, repeats, base: *base, tokens, attributes };
        let mut from = 0;
        loop {
            match cutting.token(from)? {
                Some(end) => from = end,
                None => return Ok(from < text.len()),
            }
        }
    }
}

/// Cuts what a repeated note holds, up to its end tag: tokens, whose attributes follow those that are there.
pub(super) fn cut_note(text: &str, tag: &Token, base: u64, attributes: &mut Vec<Attribute>) -> Result<Vec<Token>, Damage> {
    let text = text.get(..tag.leaf.1 as usize).unwrap_or_default();
    let (mut order, mut tokens) = (Order::within_note(), Vec::new());
    let mut cutting = Cutting { text, ended: true, order: &mut order, repeats: None, base, tokens: &mut tokens, attributes };
    let mut from = tag.end as usize;
    while let Some(end) = cutting.token(from)? {
        from = end;
    }
    Ok(tokens)
}

/// A text that is being cut.
struct Cutting<'a> {
    text: &'a str,
    /// Nothing follows it.
    ended: bool,
    order: &'a mut Order,
    /// The notes met before, where they are remembered.
    repeats: Option<&'a mut Repeats>,
    /// Bytes of the document before it.
    base: u64,
    tokens: &'a mut Vec<Token>,
    attributes: &'a mut Vec<Attribute>,
}

impl<'a> Cutting<'a> {
    /// Cuts the next token and checks it; the byte behind it, or `None` where there is no whole one.
    fn token(&mut self, from: usize) -> Result<Option<usize>, Damage> {
        let bytes = self.text.as_bytes();
        let start = from + tag::spaces(bytes, from);
        match bytes.get(start) {
            None => Ok(None),
            Some(b'<') => match bytes.get(start + 1) {
                Some(b'/') => self.end_tag(start),
                Some(b'!' | b'?') => self.by_the_library(from, start),
                _ => self.start_tag(start),
            },
            Some(b'&') => self.by_the_library(from, start),
            Some(_) => self.plain_text(from, start),
        }
    }

    fn plain_text(&mut self, from: usize, start: usize) -> Result<Option<usize>, Damage> {
        let bytes = self.text.as_bytes();
        let mut end = start;
        let mut may_end_section = false;
        loop {
            end += tag::run(bytes, end, class::TEXT);
            match bytes.get(end) {
                None if !self.ended => return Ok(None),
                None | Some(b'<' | b'&') => break,
                Some(b']') => {
                    may_end_section = true;
                    end += 1;
                }
                Some(_) => match wellformed::character_at(self.text, end) {
                    Some(length) => end += length,
                    None => return Err(self.damage(start, wellformed::forbidden(self.span(start, bytes.len()), end - start))),
                },
            }
        }
        if self.order.is_outside() || may_end_section {
            let text = self.span(start, end);
            let checked = self.order.other(Kind::Text, text, self.offset(start), (start - from) as u64);
            checked.and_then(|()| wellformed::check_text(text)).map_err(|fault| self.damage(start, fault))?;
        }
        self.push(Token::plain(Kind::Text, position(start), position(end)))
    }

    fn start_tag(&mut self, start: usize) -> Result<Option<usize>, Damage> {
        let bytes = self.text.as_bytes();
        let name_starts = start + 1;
        let known = self.known_name(name_starts);
        let mut name_ends = name_starts + known.map_or_else(|| tag::run(bytes, name_starts, class::NAME), |(_, key)| key.length() as usize);
        let first = self.attributes.len();
        let ending = match (bytes.get(name_ends), bytes.get(name_ends + 1)) {
            (Some(b'>'), _) => Ending { at: name_ends + 1 - start, ..Ending::default() },
            (Some(b'/'), Some(b'>')) => Ending { at: name_ends + 2 - start, closes: true, ..Ending::default() },
            (None, _) => return self.incomplete(start),
            (Some(byte), _) => {
                if !wellformed::is_space(*byte) {
                    // A name of other letters, or none.
                    let Some(length) = ElementParser::default().feed(bytes.get(name_ends..).unwrap_or_default()) else {
                        return self.incomplete(start);
                    };
                    let inner = self.span(name_ends, name_ends + length);
                    let inner = inner.strip_suffix('/').unwrap_or(inner);
                    name_ends += inner.find(wellformed::is_space_char).unwrap_or(inner.len());
                }
                match tag::scan(self.span(start, bytes.len()), name_ends - start, self.attributes) {
                    Ok(Scanned::Whole(ending)) => ending,
                    Ok(Scanned::Incomplete) => {
                        self.attributes.truncate(first);
                        return self.incomplete(start);
                    }
                    // Whether such an element may be here at all comes first.
                    Err(fault) => {
                        let name = self.span(name_starts, name_ends);
                        let element = self.order.element(Key::of(name.as_bytes()), name, fault.offset);
                        return Err(self.damage(start, element.err().map_or(fault, |misplaced| *misplaced)));
                    }
                }
            }
        };
        let name = self.span(name_starts, name_ends);
        let (element, key) = if let Some(known) = known {
            known
        } else {
            let key = Key::of(name.as_bytes());
            (self.order.element(key, name, ending.at).map_err(|fault| self.damage(start, *fault))?, key)
        };
        let end = start + ending.at;
        let attributes = self.attributes.len() - first;
        if ending.referring {
            let own = self.attributes.get(first..).unwrap_or_default();
            self.order.references(self.span(start, end), own).map_err(|fault| self.damage(start, fault))?;
        }
        let tag = Token {
            element,
            name: position(name_ends - name_starts),
            first_attribute: position(first),
            attributes: u16::try_from(attributes).unwrap_or(u16::MAX),
            long: ending.long,
            ..Token::plain(Kind::Start, position(start), position(end))
        };
        Ok(Some(self.opening(tag, key, ending.closes)))
    }

    /// The short name of the standard that stands at a position, as most do, where such an element may be opened.
    fn known_name(&self, at: usize) -> Option<(Element, Key)> {
        let text = self.text.as_bytes().get(at..)?;
        let key = Key::of_letters(text)?;
        let ends = matches!(text.get(key.length() as usize..)?, [b'>' | b' ', ..] | [b'/', b'>', ..]);
        if ends && self.order.may_open() { Some((Element::of_word(key)?, key)) } else { None }
    }

    /// Takes in a start tag: the byte behind it, or behind its element if that is a leaf.
    fn opening(&mut self, tag: Token, key: Key, closes: bool) -> usize {
        let mut tag = tag;
        let whole = if closes { Some((tag.end, tag.end)) } else { self.leaf(tag.end as usize, key) };
        if let Some(leaf) = whole {
            tag.leaf = leaf;
        } else if tag.element == Element::Note {
            self.remember(&mut tag);
        }
        if !tag.is_whole() || self.order.is_outside() {
            let name = tag.start as usize + 1;
            self.order.open(tag.element, key, self.span(name, name + tag.name as usize));
            if closes {
                self.order.close();
            }
        }
        self.tokens.push(tag);
        (if tag.is_whole() { tag.leaf.1 } else { tag.end }) as usize
    }

    /// Sees whether a note has been met before.
    fn remember(&mut self, tag: &mut Token) {
        let depth = self.order.depth();
        let Some(repeats) = self.repeats.as_mut().filter(|_| depth > 0) else { return };
        let (number, end) = match repeats.look(self.text.as_bytes(), tag.end as usize, depth) {
            Met::Again(number, end) => (number, position(end)),
            Met::First(number) => (number, 0),
            Met::Passing => return,
        };
        tag.remembered = true;
        tag.leaf = (number.0, end);
    }

    /// Where one line of plain text ends, and the byte behind the end tag of this key that follows it at once.
    fn leaf(&self, content: usize, key: Key) -> Option<(u32, u32)> {
        if self.order.is_outside() || !key.is_whole() {
            return None;
        }
        let bytes = self.text.as_bytes();
        // What holds other elements mostly begins with the end of a line.
        if bytes.get(content) == Some(&b'\n') {
            return None;
        }
        let end = content + word::plain_up_to::<b'<', b']'>(bytes, content).unwrap_or_else(|| tag::run(bytes, content, class::LINE));
        let length = key.end_tag(bytes.get(end..)?)?;
        Some((position(end), position(end + length)))
    }

    fn end_tag(&mut self, start: usize) -> Result<Option<usize>, Damage> {
        let rest = self.text.as_bytes().get(start..).unwrap_or_default();
        let end = if let Some(length) = self.order.due_end(rest) {
            self.order.close();
            start + length
        } else {
            let Some(length) = memchr(b'>', rest) else { return self.incomplete(start) };
            let end = start + length + 1;
            self.order.end(self.span(start, end)).map_err(|fault| self.damage(start, fault))?;
            end
        };
        if let Some(repeats) = &mut self.repeats {
            repeats.ended(self.text.as_bytes(), end);
        }
        self.push(Token::plain(Kind::End, position(start), position(end)))
    }

    /// Everything else: the library says what it is and where it ends.
    fn by_the_library(&mut self, from: usize, start: usize) -> Result<Option<usize>, Damage> {
        let mut reader = Reader::from_str(self.text.get(start..).unwrap_or_default());
        let kind = match reader.read_event() {
            Ok(Event::GeneralRef(_)) => Kind::Reference,
            Ok(Event::CData(_)) => Kind::CData,
            Ok(Event::Comment(_)) => Kind::Comment,
            Ok(Event::Decl(_)) => Kind::Declaration,
            Ok(Event::PI(_)) => Kind::Instruction,
            Ok(Event::DocType(_)) => Kind::Doctype,
            found => {
                let rest = self.text.len() - start;
                let whole = found.is_ok() || (usize::try_from(reader.buffer_position()).is_ok_and(|at| at < rest) && rest >= 16);
                return if whole { Err(self.not_closed(start, false)) } else { self.incomplete(start) };
            }
        };
        let end = start + usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX);
        let token = self.span(start, end);
        wellformed::check_characters(token).map_err(|fault| self.damage(start, fault))?;
        self.order.other(kind, token, self.offset(start), (start - from) as u64).map_err(|fault| self.damage(start, fault))?;
        self.push(Token::plain(kind, position(start), position(end)))
    }

    #[expect(clippy::unnecessary_wraps, reason = "what every way to cut a token ends with")]
    fn push(&mut self, token: Token) -> Result<Option<usize>, Damage> {
        self.tokens.push(token);
        Ok(Some(token.end as usize))
    }

    /// Markup that does not end in this text: more may follow, or the document is cut off.
    fn incomplete(&self, start: usize) -> Result<Option<usize>, Damage> {
        if self.ended { Err(self.not_closed(start, true)) } else { Ok(None) }
    }

    fn not_closed(&self, start: usize, cut_off: bool) -> Damage {
        let rest = self.text.get(start..).unwrap_or_default();
        wellformed::not_closed(rest, cut_off).at(Place::new(self.offset(start), u64::from(!rest.is_empty())))
    }

    fn span(&self, start: usize, end: usize) -> &'a str {
        self.text.get(start..end).unwrap_or_default()
    }

    fn offset(&self, start: usize) -> u64 {
        self.base + start as u64
    }

    /// The damage that a fault of a token makes. What it points at are whole characters; one that may stand nowhere comes first.
    #[cold]
    fn damage(&self, start: usize, fault: Fault) -> Damage {
        let token = self.text.get(start..).unwrap_or_default();
        let end = token.ceil_char_boundary(fault.offset + fault.length);
        let length = end.saturating_sub(fault.offset);
        let forbidden = wellformed::check_characters(token.get(..end).unwrap_or_default()).err();
        forbidden.unwrap_or(Fault { length, ..fault }).within(self.offset(start))
    }
}

/// A position within a window, which is never longer than 16 MiB.
fn position(bytes: usize) -> u32 {
    u32::try_from(bytes).unwrap_or(u32::MAX)
}
