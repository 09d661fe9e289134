//! A pull over a well-formed document: element by element, each with its place, nothing kept.

use super::cutter::Cutter;
use super::damage::Damage;
use super::doctype;
use super::element::{Element, Key};
use super::entity::Entities;
use super::repeats::TextNumber;
use super::supply::{Ahead, Idle, Supply};
use super::tag::Attribute;
use super::window::{Kind, Token, Window};
use crate::place::{Lines, Place};
use std::borrow::Cow;
use std::io::Read;
use std::mem;

/// Most bytes of notes, bars and words that may be kept of one document: some two million notes, ten times the largest score.
const KEPT_LIMIT: usize = 96 << 20;

/// What those who read ahead may keep, all together.
const KEPT_AHEAD: usize = KEPT_LIMIT / 2;

/// A streaming reader of one document.
///
/// [`Pull::child`] opens an element; after that either loop over its children until `None`, or call
/// one of [`Pull::text`], [`Pull::raw_text`] and [`Pull::skip`] once. After a [`Damage`] every further
/// call gives the same one.
pub struct Pull {
    window: Window,
    /// Number of elements that are open.
    depth: usize,
    /// The root has been there.
    begun: bool,
    /// The start tag met last; it has no attributes any more once its element has ended.
    tag: Token,
    tag_place: Place,
    /// Where the token met last is in the window.
    span: (u32, u32),
    /// No tokens stand for what the element opened last holds, and its end has not been met yet.
    in_leaf: bool,
    entities: Entities,
    /// Text put together from several pieces.
    pieces: String,
    /// Bytes that the reader has kept of the document.
    kept: usize,
    /// Most that it may keep.
    limit: usize,
    /// Lines of the document, counted at the beginning of each window.
    lines: Lines,
    /// Lines that end before the place that this pull began at.
    lines_before: u64,
    dead: Option<Damage>,
}

impl Pull {
    /// A pull before the beginning of a stream of UTF-8 without a byte order mark.
    pub fn new(stream: impl Read + Send + 'static) -> Self {
        Self::over(Supply::new(Cutter::new(Box::new(stream)), Ahead::Never))
    }

    /// The same beside others who read what stands further on; who of them is idle cuts ahead.
    pub(super) fn beside(stream: impl Read + Send + 'static, idle: &Idle) -> Self {
        Self::over(Supply::new(Cutter::new(Box::new(stream)), Ahead::WhenIdle(idle.clone())))
    }

    /// Such another: over a stream that begins within the root of a partwise score, so many bytes behind the document's start; one of
    /// several.
    pub(super) fn within_score(stream: impl Read + Send + 'static, start: u64, several: usize, idle: &Idle) -> Self {
        let pull = Self::over(Supply::new(Cutter::within_score(Box::new(stream), start), Ahead::WhenIdle(idle.clone())));
        Self { depth: 1, begun: true, limit: KEPT_AHEAD / several.max(1), ..pull }
    }

    /// Goes on where another has come to, which began at the tag last opened; false where both have kept too much.
    pub fn go_on_as(&mut self, mut other: Self) -> bool {
        let kept = self.kept + other.kept;
        if kept > self.limit {
            return false;
        }
        let lines_before = self.lines_before + self.window.line_ends_before(self.tag.start);
        let mut lines = mem::take(&mut self.lines);
        lines.append(mem::take(&mut other.lines), lines_before);
        *self = Self { kept, limit: self.limit, lines, lines_before, ..other };
        true
    }

    /// Lines of the document as far as it has been read.
    pub fn lines(&mut self) -> Lines {
        mem::take(&mut self.lines)
    }

    /// Whether the document declares entities of its own.
    pub fn declares_entities(&self) -> bool {
        !self.entities.is_empty()
    }

    /// The same where a core is to spare: a thread of its own reads and cuts the text of a long document ahead.
    pub fn ahead(stream: impl Read + Send + 'static) -> Self {
        Self::over(Supply::new(Cutter::new(Box::new(stream)), Ahead::Soon))
    }

    fn over(supply: Supply) -> Self {
        Self {
            window: Window::new(supply),
            depth: 0,
            begun: false,
            tag: Token::plain(Kind::Start, 0, 0),
            tag_place: Place::default(),
            span: (0, 0),
            in_leaf: false,
            entities: Entities::default(),
            pieces: String::new(),
            kept: 0,
            limit: KEPT_LIMIT,
            lines: Lines::default(),
            lines_before: 0,
            dead: None,
        }
    }

    /// Goes to the next child of the open element; `None` at its end tag, which is consumed. Text
    /// between is passed over. The first call opens the root; after the root's end it gives `None`.
    pub fn child(&mut self) -> Result<Option<Element>, Damage> {
        if self.in_leaf {
            if !self.tag.is_repeat() {
                self.close_leaf();
                return Ok(None);
            }
            self.cut_repeat()?;
        }
        self.alive()?;
        if self.begun && self.depth == 0 {
            return Ok(None);
        }
        while let Some(kind) = self.step()? {
            match kind {
                Kind::Start => return Ok(Some(self.tag.element)),
                Kind::End => return Ok(None),
                _ => {}
            }
        }
        Ok(None)
    }

    /// Place of the start tag of the element last opened.
    pub fn tag_place(&self) -> Place {
        self.tag_place
    }

    /// Name as written of the element last opened. Valid as long as an attribute.
    pub fn name(&self) -> &str {
        self.of_tag((1, 1 + self.tag.name))
    }

    /// An attribute of the tag last opened, with the place of its value between the quotes. Valid until
    /// the next `child`, `text`, `raw_text` or `skip`.
    #[inline]
    pub fn attribute(&self, name: &str) -> Option<(Cow<'_, str>, Place)> {
        self.find(name).map(|attribute| (self.written(attribute), self.place_of(attribute)))
    }

    /// Its value alone.
    #[inline]
    pub fn value(&self, name: &str) -> Option<Cow<'_, str>> {
        self.find(name).map(|attribute| self.written(attribute))
    }

    /// The value of every attribute of the tag last opened, by the key of its name.
    pub(super) fn values(&self) -> impl Iterator<Item = (Key, Cow<'_, str>)> {
        self.window.attributes(&self.tag).iter().map(|attribute| (attribute.key, self.written(attribute)))
    }

    #[inline]
    fn find(&self, name: &str) -> Option<&Attribute> {
        // Most tags have none, and nearly all names asked for are known when this is compiled.
        if self.tag.attributes == 0 { None } else { self.find_key(Key::of(name.as_bytes()), name) }
    }

    fn find_key(&self, key: Key, name: &str) -> Option<&Attribute> {
        let same = |attribute: &&Attribute| attribute.key == key && (key.is_whole() || self.of_tag(attribute.name) == name);
        self.window.attributes(&self.tag).iter().find(same)
    }

    /// Number of the text of the note last opened, if it is remembered.
    pub(super) fn remembered(&self) -> Option<TextNumber> {
        self.tag.remembered.then_some(TextNumber(self.tag.leaf.0))
    }

    /// Whether that note is written as one before it.
    pub(super) fn is_repeat(&self) -> bool {
        self.tag.is_repeat()
    }

    /// Every attribute of the tag last opened, as [`Pull::attribute`] gives it.
    pub fn attributes(&self) -> impl Iterator<Item = (&str, Cow<'_, str>, Place)> {
        self.window
            .attributes(&self.tag)
            .iter()
            .map(|attribute| (self.of_tag(attribute.name), self.written(attribute), self.place_of(attribute)))
    }

    /// Consumes the element last opened with all it holds.
    pub fn skip(&mut self) -> Result<(), Damage> {
        if self.in_leaf {
            self.close_leaf();
            return Ok(());
        }
        self.alive()?;
        let outer = self.depth.saturating_sub(1);
        while self.depth > outer && self.step()?.is_some() {}
        Ok(())
    }

    /// After the root's end: checks that nothing but white space, comments and processing instructions
    /// follows. What is left of the root is passed over and checked too.
    pub fn finish(&mut self) -> Result<(), Damage> {
        self.alive()?;
        while self.step()?.is_some() {}
        Ok(())
    }

    /// Counts a thing that the caller keeps of the document: many small tags, or a small container, may come to more than
    /// any machine holds.
    pub fn keep<T>(&mut self) {
        self.kept += size_of::<T>();
    }

    /// Counts so many bytes more.
    pub(super) fn keep_bytes(&mut self, bytes: usize) {
        self.kept += bytes;
    }

    /// Bytes counted so far.
    pub(super) fn kept(&self) -> usize {
        self.kept
    }

    /// Bytes of the document before the place that has been reached.
    pub fn offset(&self) -> u64 {
        self.window.offset(self.window.at())
    }

    /// Goes one token on; `None` at the end of a whole document.
    #[inline]
    fn step(&mut self) -> Result<Option<Kind>, Damage> {
        if self.in_leaf {
            if self.tag.is_repeat() {
                self.cut_repeat()?;
            } else {
                self.close_leaf();
                self.span = (self.window.at(), self.window.at());
                return Ok(Some(Kind::End));
            }
        }
        let token = match self.window.next() {
            Some(token) => token,
            None => match self.next_batch()? {
                Some(token) => token,
                None => return Ok(None),
            },
        };
        self.span = (token.start, token.end);
        match token.kind {
            Kind::Start => self.opened(token)?,
            Kind::End => self.closed(),
            Kind::Doctype => self.doctype(),
            _ => {}
        }
        Ok(Some(token.kind))
    }

    /// The first token of the next batch.
    #[cold]
    fn next_batch(&mut self) -> Result<Option<Token>, Damage> {
        if self.window.end_repeat()
            && let Some(token) = self.window.next()
        {
            return Ok(Some(token));
        }
        match self.window.refill() {
            Ok(true) => {
                let (start, line_ends) = self.window.start();
                self.lines.add(start, self.lines_before + line_ends);
                Ok(self.window.next())
            }
            Ok(false) => Ok(None),
            Err(damage) => Err(self.die(damage)),
        }
    }

    #[inline]
    fn opened(&mut self, token: Token) -> Result<(), Damage> {
        self.depth += 1;
        self.begun = true;
        self.in_leaf = token.is_whole();
        self.tag = token;
        self.tag_place = self.window.place(token.start, token.end);
        if token.long {
            self.keep_long();
        }
        if self.kept > self.limit { Err(self.too_much()) } else { Ok(()) }
    }

    /// Counts the long values of the tag last opened.
    #[cold]
    fn keep_long(&mut self) {
        let long = self.window.attributes(&self.tag).iter().filter(|attribute| attribute.is_long());
        self.kept += long.map(|attribute| attribute.bytes() as usize).sum::<usize>();
    }

    #[cold]
    fn too_much(&mut self) -> Damage {
        let what = format!("the notes, bars and words come to more than {} MiB", KEPT_LIMIT >> 20);
        let damage = Damage::new(what, "No score has so many: split it into movements or parts").at(self.tag_place);
        self.die(damage)
    }

    /// It has been read once to be checked.
    #[cold]
    fn doctype(&mut self) {
        self.entities = doctype::read(self.window.text(self.span.0, self.span.1)).unwrap_or_default();
    }

    #[inline]
    fn closed(&mut self) {
        self.depth = self.depth.saturating_sub(1);
        self.tag.attributes = 0;
    }

    /// Cuts the repeated note now open, as somebody wants to know what it holds.
    #[cold]
    fn cut_repeat(&mut self) -> Result<(), Damage> {
        self.in_leaf = false;
        self.window.cut_again(&self.tag).map_err(|damage| self.die(damage))
    }

    /// Passes over what the leaf now open holds, and its end.
    #[inline]
    fn close_leaf(&mut self) {
        self.in_leaf = false;
        self.window.pass(self.tag.leaf.1);
        self.closed();
    }

    /// Text of a span of the tag last opened.
    fn of_tag(&self, (start, end): (u32, u32)) -> &str {
        self.window.text(self.tag.start + start, self.tag.start + end)
    }

    /// Value of an attribute, with its references resolved.
    fn written(&self, attribute: &Attribute) -> Cow<'_, str> {
        let written = self.of_tag(attribute.value);
        if attribute.literal { Cow::Borrowed(written) } else { Cow::Owned(self.entities.value(written)) }
    }

    fn place_of(&self, attribute: &Attribute) -> Place {
        let (start, end) = attribute.value;
        Place::new(u64::from(self.tag_place.offset) + u64::from(start), u64::from(end - start))
    }

    /// The damage that ended this pull, if one has.
    #[inline]
    fn alive(&self) -> Result<(), Damage> {
        if self.dead.is_none() { Ok(()) } else { self.dead_as_before() }
    }

    #[cold]
    fn dead_as_before(&self) -> Result<(), Damage> {
        self.dead.clone().map_or(Ok(()), Err)
    }

    #[cold]
    fn die(&mut self, damage: Damage) -> Damage {
        self.tag.attributes = 0;
        self.dead = Some(damage.clone());
        damage
    }
}

mod text;

#[cfg(test)]
mod tests;
