//! The order of a document's tokens: one root, tags that match, nothing but white space around it, references that mean something.
//!
//! [`super::wellformed`], [`super::tag`], [`super::entity`] and [`super::doctype`] check what a token is in itself.

use super::damage::Damage;
use super::doctype;
use super::element::{Element, Key};
use super::entity::Entities;
use super::tag::Attribute;
use super::wellformed::{self, EXPORT_AGAIN, Fault, TRUNCATED, is_space_char};
use super::window::Kind;
use crate::place::Place;

/// Most elements within each other; a score needs about a dozen.
const DEPTH_LIMIT: usize = 256;

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
#[derive(Debug, Clone, Copy)]
struct Open {
    /// Its name in numbers.
    key: Key,
    /// End of its name in `names`, and its length there: none where the key tells it whole and the standard knows it.
    end: u32,
    length: u32,
}

/// What has been there of a document, as far as it decides what may follow.
pub(super) struct Order {
    stage: Stage,
    /// Names of the open elements that their keys do not tell whole, one after the other.
    names: String,
    open: Vec<Open>,
    entities: Entities,
}

impl Order {
    /// The order before the beginning of a document.
    pub fn new() -> Self {
        Self { stage: Stage::Prolog { doctype: false }, names: String::new(), open: Vec::new(), entities: Entities::default() }
    }

    /// The order within a note of which nothing has been read.
    pub fn within_note() -> Self {
        let mut order = Self::new();
        let name = Element::Note.known_name();
        order.open(Element::Note, Key::of(name.as_bytes()), name);
        order
    }

    /// Number of open elements.
    pub fn depth(&self) -> usize {
        self.open.len()
    }

    /// Which element a start tag of so many bytes opens, by its name and its key.
    pub fn element(&self, key: Key, name: &str, length: usize) -> Result<Element, Box<Fault>> {
        let element = Element::from_key(key, name);
        let sound = self.may_open() && (element != Element::Other || wellformed::is_name(name));
        if sound { Ok(element) } else { Err(Box::new(self.no_start(length))) }
    }

    /// Whether one more element may be opened.
    pub fn may_open(&self) -> bool {
        self.stage != Stage::Epilog && self.open.len() < DEPTH_LIMIT
    }

    /// Enters an element that may be opened.
    pub fn open(&mut self, element: Element, key: Key, name: &str) {
        let mut open = Open { key, end: self.open.last().map_or(0, |open| open.end), length: 0 };
        if element == Element::Other || !key.is_whole() {
            self.names.truncate(open.end as usize);
            self.names.push_str(name);
            open = Open { key, end: open.end + key.length(), length: key.length() };
        }
        self.open.push(open);
        self.stage = Stage::Root;
    }

    /// Why a start tag of so many bytes may not stand here, or is none.
    #[cold]
    fn no_start(&self, length: usize) -> Fault {
        if self.stage == Stage::Epilog {
            Fault::new("a second root element follows the first", "A document has one root: remove the rest", 0, length)
        } else if self.open.len() == DEPTH_LIMIT {
            Fault::new(format!("more than {DEPTH_LIMIT} elements lie within each other"), EXPORT_AGAIN, 0, length)
        } else {
            Fault::new("\"<\" begins no proper tag", "Write \"&lt;\" for the sign itself", 0, 1)
        }
    }

    /// Whether no element is open.
    pub fn is_outside(&self) -> bool {
        self.open.is_empty()
    }

    /// The references in the attributes of a tag.
    pub fn references(&mut self, tag: &str, attributes: &[Attribute]) -> Result<(), Fault> {
        for attribute in attributes.iter().filter(|attribute| !attribute.literal) {
            let (start, end) = attribute.value;
            self.entities.check_value(tag.get(start as usize..end as usize).unwrap_or_default(), start as usize)?;
        }
        Ok(())
    }

    /// Length of the end tag that a text begins with, if it is the plain one of the element now open.
    pub fn due_end(&self, text: &[u8]) -> Option<usize> {
        let open = self.open.last()?;
        let length = open.key.end_tag(text)?;
        (open.key.is_whole() || text.get(2..length - 1) == Some(self.own_name(*open).as_bytes())).then_some(length)
    }

    /// An end tag: it must bear the name of the element now open, and white space behind it at most.
    pub fn end(&mut self, tag: &str) -> Result<(), Fault> {
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
    pub fn close(&mut self) {
        self.open.pop();
        if self.open.is_empty() {
            self.stage = Stage::Epilog;
        }
    }

    /// A token that is no tag, `offset` bytes behind the document's start, with `gap` bytes of white space before it.
    pub fn other(&mut self, kind: Kind, token: &str, offset: u64, gap: u64) -> Result<(), Fault> {
        match kind {
            Kind::Comment => wellformed::check_comment(token),
            Kind::Instruction => wellformed::check_instruction(token),
            Kind::Declaration if offset > 0 => Err(wellformed::misplaced_declaration()),
            Kind::Declaration => wellformed::check_declaration(token),
            Kind::Doctype => self.doctype(token),
            _ if self.open.is_empty() => Err(self.outside(token.len(), offset == gap)),
            Kind::Reference => self.entities.check(token.get(1..token.len() - 1).unwrap_or_default(), 0),
            Kind::Start | Kind::End | Kind::Text | Kind::CData => Ok(()),
        }
    }

    /// The end of the document, so many bytes behind its start.
    pub fn finish(&self, offset: u64) -> Result<(), Damage> {
        let (what, help) = match self.stage {
            Stage::Epilog => return Ok(()),
            Stage::Root => (format!("the file ends before \"</{}>\"", self.open_name()), TRUNCATED),
            Stage::Prolog { .. } => ("there is no element in the file".to_owned(), "Export the score again"),
        };
        Err(Damage::new(what, help).at(Place::new(offset, 0)))
    }

    /// A document type declaration: once, before the root.
    fn doctype(&mut self, token: &str) -> Result<(), Fault> {
        if self.stage != (Stage::Prolog { doctype: false }) {
            return Err(Fault::new(
                "a document type declaration stands out of place",
                "It may stand once, before the root",
                0,
                token.len(),
            ));
        }
        self.entities = doctype::read(token)?;
        self.stage = Stage::Prolog { doctype: true };
        Ok(())
    }

    /// Text of so many bytes outside the root; `first` where there is nothing before it.
    fn outside(&self, length: usize, first: bool) -> Fault {
        match self.stage {
            Stage::Epilog => Fault::new("text follows the root element", "Remove everything behind the root's end tag", 0, length),
            _ if first => Fault::new("this is not XML", "Give a MusicXML file (.musicxml, .xml or .mxl)", 0, length),
            _ => Fault::new("text stands before the root element", "Remove it", 0, length),
        }
    }

    /// Name of an open element that is kept in `names`; empty for others.
    fn own_name(&self, open: Open) -> &str {
        self.names.get((open.end - open.length) as usize..open.end as usize).unwrap_or_default()
    }

    /// Name of the element now open.
    fn open_name(&self) -> &str {
        let Some(open) = self.open.last() else { return "" };
        // A name that is not kept is one of the standard, and its key tells it whole.
        if open.length > 0 { self.own_name(*open) } else { Element::from_key(open.key, "").known_name() }
    }
}
