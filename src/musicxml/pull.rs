//! A pull over a well-formed document: element by element, each with its place, nothing kept.
//!
//! The pull holds the order of things (one root, matching tags, nothing but white space around it);
//! [`super::wellformed`], [`super::tag`], [`super::entity`] and [`super::doctype`] check each token.

use super::damage::Damage;
use super::doctype;
use super::element::{Element, Key};
use super::entity::Entities;
use super::supply::Supply;
use super::tag::{self, Attribute};
use super::wellformed::{self, EXPORT_AGAIN, Fault, TRUNCATED, is_space_char};
use super::window::{Kind, Token, Window};
use crate::place::Place;
use std::borrow::Cow;
use std::io::Read;

/// Most elements within each other; a score needs about a dozen.
const DEPTH_LIMIT: usize = 256;
/// Most bytes of notes, bars and words that may be kept of one document: some two million notes, ten times the largest score.
const KEPT_LIMIT: usize = 96 << 20;

/// How far the document has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    /// Nothing yet but the declaration, comments, white space.
    Prolog {
        /// The document type declaration has been there.
        doctype: bool,
    },
    /// The root is open.
    Root,
    /// The root has ended.
    Epilog,
}

/// An open element.
#[derive(Debug, Clone, Copy, Default)]
struct Open {
    /// Its name in numbers.
    key: Key,
    /// End of its name in `names`, and its length there: none where the key tells it whole and the standard knows it.
    end: u32,
    length: u32,
}

/// A streaming reader of one document.
///
/// [`Pull::child`] opens an element; after that either loop over its children until `None`, or call
/// one of [`Pull::text`], [`Pull::raw_text`] and [`Pull::skip`] once. After a [`Damage`] every further
/// call gives the same one.
pub struct Pull {
    window: Window,
    stage: Stage,
    /// Names of the open elements that their keys do not tell whole, one after the other; that of the last opened one stays until the
    /// next opens.
    names: String,
    open: Vec<Open>,
    /// The element last opened.
    last: Open,
    element: Element,
    tag_place: Place,
    /// Where the tag last opened starts in the window.
    tag_start: u32,
    /// The tag last opened was `<name/>`: its end is still to come.
    empty: bool,
    attributes: Vec<Attribute>,
    entities: Entities,
    /// Text put together from several pieces.
    pieces: String,
    /// Bytes that the reader has kept of the document.
    kept: usize,
    dead: Option<Box<Damage>>,
}

impl Pull {
    /// A pull before the beginning of a stream of UTF-8 without a byte order mark.
    pub fn new(stream: impl Read + Send + 'static) -> Self {
        Self::over(Supply::new(Box::new(stream), false))
    }

    /// The same where a core is to spare: a thread of its own reads and cuts the text of a long document ahead.
    pub fn ahead(stream: impl Read + Send + 'static) -> Self {
        Self::over(Supply::new(Box::new(stream), true))
    }

    fn over(supply: Supply) -> Self {
        Self {
            window: Window::new(supply),
            stage: Stage::Prolog { doctype: false },
            names: String::new(),
            open: Vec::new(),
            last: Open::default(),
            element: Element::Other,
            tag_place: Place::default(),
            tag_start: 0,
            empty: false,
            attributes: Vec::new(),
            entities: Entities::default(),
            pieces: String::new(),
            kept: 0,
            dead: None,
        }
    }

    /// Goes to the next child of the open element; `None` at its end tag, which is consumed. Text
    /// between is passed over. The first call opens the root; after the root's end it gives `None`.
    pub fn child(&mut self) -> Result<Option<Element>, Damage> {
        self.alive()?;
        if self.stage == Stage::Epilog {
            return Ok(None);
        }
        loop {
            match self.step() {
                Ok(Some(token)) => match token.kind {
                    Kind::Start | Kind::Empty => return Ok(Some(self.element)),
                    Kind::End => return Ok(None),
                    _ => {}
                },
                Ok(None) => return Ok(None),
                Err(damage) => return Err(self.die(damage)),
            }
        }
    }

    /// Place of the start tag of the element last opened.
    pub fn tag_place(&self) -> Place {
        self.tag_place
    }

    /// Name as written of the element last opened.
    pub fn name(&self) -> &str {
        self.named(self.last, self.element)
    }

    /// An attribute of the tag last opened, with the place of its value between the quotes. Valid until
    /// the next `child`, `text`, `raw_text` or `skip`.
    pub fn attribute(&self, name: &str) -> Option<(Cow<'_, str>, Place)> {
        let key = Key::of(name.as_bytes());
        let same = |attribute: &&Attribute| attribute.key == key && (key.is_whole() || self.of_tag(attribute.name) == name);
        self.attributes.iter().find(same).map(|attribute| self.value(attribute))
    }

    /// Every attribute of the tag last opened, as [`Pull::attribute`] gives it.
    pub fn attributes(&self) -> impl Iterator<Item = (&str, Cow<'_, str>, Place)> {
        self.attributes.iter().map(|attribute| {
            let (value, place) = self.value(attribute);
            (self.of_tag(attribute.name), value, place)
        })
    }

    /// Consumes the element last opened with all it holds.
    pub fn skip(&mut self) -> Result<(), Damage> {
        self.alive()?;
        let outer = self.open.len().saturating_sub(1);
        self.leave(outer)
    }

    /// After the root's end: checks that nothing but white space, comments and processing instructions
    /// follows. What is left of the root is passed over and checked too.
    pub fn finish(&mut self) -> Result<(), Damage> {
        self.alive()?;
        loop {
            match self.step() {
                Ok(None) => return Ok(()),
                Ok(Some(_)) => {}
                Err(damage) => return Err(self.die(damage)),
            }
        }
    }

    /// Counts a thing that the caller keeps of the document: many small tags, or a small container, may come to more than
    /// any machine holds.
    pub fn keep<T>(&mut self) {
        self.kept += size_of::<T>();
    }

    /// Bytes of the document before the place that has been reached.
    pub fn offset(&self) -> u64 {
        self.window.offset(self.window.at())
    }

    /// Steps until only `outer` elements are open.
    fn leave(&mut self, outer: usize) -> Result<(), Damage> {
        while self.open.len() > outer {
            if let Err(damage) = self.step() {
                return Err(self.die(damage));
            }
        }
        Ok(())
    }

    /// Goes one token on, with every check; `None` at the end of a whole document. An empty element is
    /// a start and then an end.
    fn step(&mut self) -> Result<Option<Token>, Damage> {
        if self.empty {
            self.empty = false;
            self.close();
            let at = self.window.at();
            return Ok(Some(Token { from: at, start: at, end: at, name: 0, kind: Kind::End }));
        }
        let Some(token) = self.window.next()? else {
            return match self.stage {
                Stage::Epilog => Ok(None),
                Stage::Root => Err(self.cut_off()),
                Stage::Prolog { .. } => {
                    Err(Damage::new("there is no element in the file", "Export the score again").at(Place::new(self.offset(), 0)))
                }
            };
        };
        let checked = match token.kind {
            Kind::Start | Kind::Empty => self.opened(token),
            Kind::End => self.closed(token),
            Kind::Comment => wellformed::check_comment(self.window.text(token.start, token.end)),
            Kind::Instruction => wellformed::check_instruction(self.window.text(token.start, token.end)),
            Kind::Declaration if self.window.offset(token.start) > 0 => Err(wellformed::misplaced_declaration()),
            Kind::Declaration => wellformed::check_declaration(self.window.text(token.start, token.end)),
            Kind::Doctype => self.doctype(token),
            Kind::Text | Kind::CData | Kind::Reference if self.open.is_empty() => Err(self.outside(token)),
            Kind::Text if self.window.free().of_section_ends => Ok(()),
            Kind::Text => wellformed::check_text(self.window.text(token.start, token.end)),
            Kind::Reference => self.entities.check(self.window.text(token.start + 1, token.end - 1), 0),
            Kind::CData => Ok(()),
        };
        match checked {
            Ok(()) => Ok(Some(token)),
            Err(fault) => {
                // What is pointed at are whole characters.
                let text = self.window.text(token.start, token.end);
                let length = text.ceil_char_boundary(fault.offset + fault.length).saturating_sub(fault.offset);
                Err(Fault { length, ..fault }.within(self.window.offset(token.start)))
            }
        }
    }

    /// A start tag.
    fn opened(&mut self, token: Token) -> Result<(), Fault> {
        let tag = self.window.text(token.start, token.end);
        if self.stage == Stage::Epilog {
            return Err(Fault::new("a second root element follows the first", "A document has one root: remove the rest", 0, tag.len()));
        }
        if self.open.len() == DEPTH_LIMIT {
            return Err(Fault::new(format!("more than {DEPTH_LIMIT} elements lie within each other"), EXPORT_AGAIN, 0, tag.len()));
        }
        if self.kept > KEPT_LIMIT {
            let what = format!("the notes, bars and words come to more than {} MiB", KEPT_LIMIT >> 20);
            return Err(Fault::new(what, "No score has so many: split it into movements or parts", 0, tag.len()));
        }
        let end = tag.len() - if token.kind == Kind::Empty { 2 } else { 1 };
        let length = token.name as usize;
        let name = tag.get(1..=length).unwrap_or_default();
        let key = Key::of(name.as_bytes());
        let element = Element::from_key(key, name);
        if element == Element::Other && !wellformed::is_name(name) {
            return Err(Fault::new("\"<\" begins no proper tag", "Write \"&lt;\" for the sign itself", 0, 1));
        }
        self.attributes.clear();
        if 1 + length < end {
            tag::scan(tag, 1 + length, end, &mut self.attributes)?;
            for attribute in &self.attributes {
                let (start, end) = attribute.value;
                if attribute.referring {
                    self.entities.check_value(tag.get(start as usize..end as usize).unwrap_or_default(), start as usize)?;
                }
                self.kept += text::counted((end - start) as usize);
            }
        }
        let before = self.open.last().map_or(0, |open| open.end);
        self.names.truncate(before as usize);
        self.last = Open { key, end: before, length: 0 };
        if element == Element::Other || !key.is_whole() {
            self.names.push_str(name);
            self.last = Open { key, end: before + token.name, length: token.name };
        }
        self.open.push(self.last);
        self.stage = Stage::Root;
        self.element = element;
        self.tag_start = token.start;
        self.tag_place = self.window.place(token.start, token.end);
        self.empty = token.kind == Kind::Empty;
        Ok(())
    }

    /// An end tag: it must bear the name of the element now open.
    fn closed(&mut self, token: Token) -> Result<(), Fault> {
        let tag = self.window.text(token.start, token.end);
        let found = tag.get(2..tag.len() - 1).unwrap_or_default();
        let Some(open) = self.open.last() else {
            return Err(Fault::new("an end tag stands outside the root element", EXPORT_AGAIN, 0, tag.len()));
        };
        let same = |found: &str| open.key == Key::of(found.as_bytes()) && (open.key.is_whole() || self.own_name(*open) == found);
        if !same(found) && !same(found.trim_end_matches(is_space_char)) {
            let expected = self.open_name();
            let what = format!("\"</{}>\" stands where \"</{expected}>\" is due", found.chars().take(60).collect::<String>());
            return Err(Fault::new(what, EXPORT_AGAIN, 0, tag.len()));
        }
        self.close();
        Ok(())
    }

    /// Leaves the element now open.
    fn close(&mut self) {
        self.open.pop();
        self.attributes.clear();
        if self.open.is_empty() {
            self.stage = Stage::Epilog;
        }
    }

    /// A document type declaration: once, before the root.
    fn doctype(&mut self, token: Token) -> Result<(), Fault> {
        let text = self.window.text(token.start, token.end);
        if self.stage != (Stage::Prolog { doctype: false }) {
            return Err(Fault::new("a document type declaration stands out of place", "It may stand once, before the root", 0, text.len()));
        }
        self.entities = doctype::read(text)?;
        self.stage = Stage::Prolog { doctype: true };
        Ok(())
    }

    /// Text outside the root.
    fn outside(&self, token: Token) -> Fault {
        let length = (token.end - token.start) as usize;
        match self.stage {
            Stage::Epilog => Fault::new("text follows the root element", "Remove everything behind the root's end tag", 0, length),
            _ if self.window.offset(token.from) == 0 => {
                Fault::new("this is not XML", "Give a MusicXML file (.musicxml, .xml or .mxl)", 0, length)
            }
            _ => Fault::new("text stands before the root element", "Remove it", 0, length),
        }
    }

    /// The document ends with elements still open.
    fn cut_off(&self) -> Damage {
        let name = self.open_name();
        Damage::new(format!("the file ends before \"</{name}>\""), TRUNCATED).at(Place::new(self.offset(), 0))
    }

    /// Name of an open element that is kept in `names`; empty for others.
    fn own_name(&self, open: Open) -> &str {
        self.names.get((open.end - open.length) as usize..open.end as usize).unwrap_or_default()
    }

    fn named(&self, open: Open, element: Element) -> &str {
        if open.length > 0 { self.own_name(open) } else { element.known_name() }
    }

    /// Name of the element now open.
    fn open_name(&self) -> &str {
        let Some(open) = self.open.last() else { return "" };
        // A name that is not kept is one of the standard, and its key tells it whole.
        self.named(*open, Element::from_key(open.key, ""))
    }

    /// Text of a span of the tag last opened.
    fn of_tag(&self, (start, end): (u32, u32)) -> &str {
        self.window.text(self.tag_start + start, self.tag_start + end)
    }

    fn value(&self, attribute: &Attribute) -> (Cow<'_, str>, Place) {
        let (start, end) = attribute.value;
        let place = Place::new(u64::from(self.tag_place.offset) + u64::from(start), u64::from(end - start));
        (self.entities.value(self.of_tag(attribute.value)), place)
    }

    /// The damage that ended this pull, if one has.
    fn alive(&self) -> Result<(), Damage> {
        self.dead.as_ref().map_or(Ok(()), |damage| Err(Damage::clone(damage)))
    }

    #[cold]
    fn die(&mut self, damage: Damage) -> Damage {
        self.attributes.clear();
        self.dead = Some(Box::new(damage.clone()));
        damage
    }
}

mod text;

#[cfg(test)]
mod tests;
