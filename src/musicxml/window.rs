//! The tokens of a document, batch by batch: spans of a moving window over its text.

use super::cutter;
use super::damage::Damage;
use super::element::Element;
use super::supply::Supply;
use super::tag::Attribute;
use crate::place::Place;
use memchr::memchr_iter;
use std::mem;

/// What a token is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// `<name ...>`, or `<name .../>`, behind which stands an end of no length.
    Start,
    /// `</name>`
    End,
    /// Text up to the next `<` or `&`, without the white space before it.
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

/// A span of the window that has been found well-formed where it stands. Between it and the one before lies only white space.
#[derive(Debug, Clone, Copy)]
pub(super) struct Token {
    /// Its first byte.
    pub start: u32,
    /// The byte behind it.
    pub end: u32,
    /// What it is.
    pub kind: Kind,
    /// Of a start tag: which element it opens.
    pub element: Element,
    /// Of a start tag: bytes of its name.
    pub name: u32,
    /// Of a start tag: its first attribute among those of the batch.
    pub first_attribute: u32,
    /// Of a start tag: how many it has.
    pub attributes: u16,
    /// Of a start tag: one of its attributes has a long value.
    pub long: bool,
    /// Of a start tag whose element holds nothing but one line of plain text: where that text ends, and the byte behind its end tag.
    /// Of a note whose text is remembered: the number of that text, and, where it was met before, the byte behind its end tag. No tokens
    /// stand for either. 0 for all others.
    pub leaf: (u32, u32),
    /// Of the start tag of a note: whether its text is remembered.
    pub remembered: bool,
}

impl Token {
    /// A token with nothing to say but what and where it is.
    pub fn plain(kind: Kind, start: u32, end: u32) -> Self {
        Self {
            start,
            end,
            kind,
            element: Element::Other,
            name: 0,
            first_attribute: 0,
            attributes: 0,
            long: false,
            leaf: (0, 0),
            remembered: false,
        }
    }

    /// Whether no tokens stand for what its element holds.
    pub fn is_whole(&self) -> bool {
        self.leaf.1 > 0
    }

    /// Whether it is the start tag of a note that is written as one before it.
    pub fn is_repeat(&self) -> bool {
        self.remembered && self.leaf.1 > 0
    }
}

/// A stretch of the text and the tokens found in it.
#[derive(Debug, Default)]
pub(super) struct Batch {
    pub text: String,
    /// Bytes of the document before `text`.
    pub base: u64,
    /// Lines of it that end before `text`.
    pub line_ends: u64,
    pub tokens: Vec<Token>,
    /// Attributes of all its start tags, one tag after the other.
    pub attributes: Vec<Attribute>,
}

impl Batch {
    /// Text of a span.
    pub fn text(&self, start: u32, end: u32) -> &str {
        self.text.get(start as usize..end as usize).unwrap_or_default()
    }

    /// Where a span lies in the document.
    pub fn place(&self, start: u32, end: u32) -> Place {
        Place::new(self.base + u64::from(start), u64::from(end.saturating_sub(start)))
    }

    /// Lines that end before a position of its text.
    pub fn line_ends_before(&self, position: u32) -> u64 {
        let passed = self.text.as_bytes().get(..position as usize).unwrap_or_default();
        self.line_ends + memchr_iter(b'\n', passed).count() as u64
    }

    /// End of its last token.
    pub fn end(&self) -> u32 {
        self.tokens.last().map_or(0, |last| last.end.max(last.leaf.1))
    }
}

/// The batch that is being taken from, and where further ones come from.
pub(super) struct Window {
    supply: Supply,
    batch: Batch,
    /// Number of tokens taken.
    taken: usize,
    /// End of the last token taken but one.
    from: u32,
    /// End of the last token taken.
    at: u32,
    /// While tokens of a repeated note are taken, those of the batch, and how many of them have been.
    around: Option<(Vec<Token>, usize)>,
}

impl Window {
    /// A window before the beginning of a stream.
    pub fn new(supply: Supply) -> Self {
        Self { supply, batch: Batch::default(), taken: 0, from: 0, at: 0, around: None }
    }

    /// Takes the next token of this batch.
    pub fn next(&mut self) -> Option<Token> {
        let token = *self.batch.tokens.get(self.taken)?;
        self.taken += 1;
        self.from = self.at;
        self.at = token.end;
        Some(token)
    }

    /// Cuts the repeated note of this tag after all: its tokens are the next ones.
    pub fn cut_again(&mut self, tag: &Token) -> Result<(), Damage> {
        let Batch { text, attributes, base, .. } = &mut self.batch;
        let tokens = cutter::cut_note(text, tag, *base, attributes)?;
        self.around = Some((mem::replace(&mut self.batch.tokens, tokens), self.taken));
        self.taken = 0;
        Ok(())
    }

    /// Goes back to the tokens of the batch when those of a repeated note have been taken; false where none were.
    pub fn end_repeat(&mut self) -> bool {
        let Some((tokens, taken)) = self.around.take() else { return false };
        self.batch.tokens = tokens;
        self.taken = taken;
        true
    }

    /// Moves on to the next batch; false at the end of the document, where the last one stays. Spans of earlier tokens are void
    /// afterwards.
    pub fn refill(&mut self) -> Result<bool, Damage> {
        let more = self.supply.next(&mut self.batch)?;
        if more {
            self.taken = 0;
            self.at = 0;
        }
        Ok(more)
    }

    /// Takes what a leaf holds; it ends at `end`.
    pub fn pass(&mut self, end: u32) {
        self.from = self.at;
        self.at = end;
    }

    /// Attributes of a start tag of the window.
    pub fn attributes(&self, tag: &Token) -> &[Attribute] {
        let first = tag.first_attribute as usize;
        self.batch.attributes.get(first..first + usize::from(tag.attributes)).unwrap_or_default()
    }

    /// Text of a span of the window.
    pub fn text(&self, start: u32, end: u32) -> &str {
        self.batch.text(start, end)
    }

    /// Where the white space before the last token taken begins.
    pub fn from(&self) -> u32 {
        self.from
    }

    /// End of the last token taken.
    pub fn at(&self) -> u32 {
        self.at
    }

    /// Bytes of the document before the window, and lines that end there.
    pub fn start(&self) -> (u64, u64) {
        (self.batch.base, self.batch.line_ends)
    }

    /// Lines that end before a position of the window.
    pub fn line_ends_before(&self, position: u32) -> u64 {
        self.batch.line_ends_before(position)
    }

    /// Where a position of the window lies in the document.
    pub fn offset(&self, position: u32) -> u64 {
        self.batch.base + u64::from(position)
    }

    /// Where a span of the window lies in the document.
    pub fn place(&self, start: u32, end: u32) -> Place {
        self.batch.place(start, end)
    }
}
