//! The document type declaration: checked for its outline, read for the entities it declares.
//!
//! An external identifier is ignored, as every reader that does not validate may do; entities that
//! would have to be fetched are refused, used or not. Declarations of elements, attributes and
//! notations are passed over: defaults of attributes declared there are not applied.

use super::entity::Entities;
use super::wellformed::{EXPORT_AGAIN, Fault, check_comment, check_instruction, is_space_char, name_length};

/// Reads a whole `<!DOCTYPE ...>` token.
pub(super) fn read(token: &str) -> Result<Entities, Fault> {
    let mut entities = Entities::default();
    let mut text = Cursor { token, at: 0 };
    text.expect("<!DOCTYPE")?;
    text.space()?;
    text.name()?;
    let spaced = text.skip_space();
    if spaced && text.external_id()? {
        text.skip_space();
    }
    if text.eat("[") {
        while !text.eat("]") {
            declaration(&mut text, &mut entities)?;
        }
        text.skip_space();
    }
    text.expect(">")?;
    if text.rest().is_empty() { Ok(entities) } else { Err(text.fault()) }
}

/// One declaration of the internal subset, or white space.
fn declaration(text: &mut Cursor, entities: &mut Entities) -> Result<(), Fault> {
    if text.skip_space() {
        return Ok(());
    }
    let start = text.at;
    let shift = |fault: Fault| Fault { offset: fault.offset + start, ..fault };
    if text.rest().starts_with("<!--") {
        return check_comment(text.through("-->", 4)?).map_err(shift);
    }
    if text.rest().starts_with("<?") {
        return check_instruction(text.through("?>", 2)?).map_err(shift);
    }
    if text.eat("<!ENTITY") {
        return entity(text, entities, start);
    }
    if text.rest().starts_with('%') {
        return Err(Fault::new("the document type declaration uses a parameter entity", "Remove it: a score needs none", start, 1));
    }
    if text.eat("<!ELEMENT") || text.eat("<!ATTLIST") || text.eat("<!NOTATION") {
        text.space()?;
        text.name()?;
        loop {
            if text.eat(">") {
                return Ok(());
            }
            match text.rest().chars().next() {
                Some('"' | '\'') => {
                    text.literal()?;
                }
                Some('<') | None => return Err(text.fault()),
                Some(other) => text.at += other.len_utf8(),
            }
        }
    }
    Err(text.fault())
}

/// An entity declaration from behind `<!ENTITY`.
fn entity(text: &mut Cursor, entities: &mut Entities, start: usize) -> Result<(), Fault> {
    text.space()?;
    let parameter = text.eat("%");
    if parameter {
        text.space()?;
    }
    let name = text.name()?;
    text.space()?;
    if text.external_id()? {
        let what = format!("the entity \"{name}\" is declared to lie outside the file");
        return Err(Fault::new(what, "Nothing outside the file is read: remove the declaration", start, text.at - start));
    }
    let at = text.at + 1;
    let literal = text.literal()?;
    text.skip_space();
    text.expect(">")?;
    if parameter { Ok(()) } else { entities.declare(name, literal, at) }
}

/// A position in the token.
struct Cursor<'a> {
    token: &'a str,
    at: usize,
}

impl<'a> Cursor<'a> {
    fn rest(&self) -> &'a str {
        self.token.get(self.at..).unwrap_or_default()
    }

    fn fault(&self) -> Fault {
        Fault::new("the document type declaration is malformed", EXPORT_AGAIN, self.at, 1)
    }

    fn eat(&mut self, expected: &str) -> bool {
        let there = self.rest().starts_with(expected);
        if there {
            self.at += expected.len();
        }
        there
    }

    fn expect(&mut self, expected: &str) -> Result<(), Fault> {
        if self.eat(expected) { Ok(()) } else { Err(self.fault()) }
    }

    /// Passes over white space; tells whether there was any.
    fn skip_space(&mut self) -> bool {
        let rest = self.rest();
        let length = rest.len() - rest.trim_start_matches(is_space_char).len();
        self.at += length;
        length > 0
    }

    fn space(&mut self) -> Result<(), Fault> {
        if self.skip_space() { Ok(()) } else { Err(self.fault()) }
    }

    fn name(&mut self) -> Result<&'a str, Fault> {
        let length = name_length(self.rest());
        let name = self.rest().get(..length).filter(|name| !name.is_empty()).ok_or_else(|| self.fault())?;
        self.at += length;
        Ok(name)
    }

    /// A quoted text, without its quotes.
    fn literal(&mut self) -> Result<&'a str, Fault> {
        let rest = self.rest();
        let quote = rest.chars().next().filter(|quote| matches!(quote, '"' | '\'')).ok_or_else(|| self.fault())?;
        let (text, _) = rest.get(1..).and_then(|rest| rest.split_once(quote)).ok_or_else(|| self.fault())?;
        self.at += text.len() + 2;
        Ok(text)
    }

    /// `SYSTEM "..."` or `PUBLIC "..." "..."`, if it is there.
    fn external_id(&mut self) -> Result<bool, Fault> {
        let public = self.eat("PUBLIC");
        if !public && !self.eat("SYSTEM") {
            return Ok(false);
        }
        if public {
            self.space()?;
            self.literal()?;
        }
        self.space()?;
        self.literal()?;
        Ok(true)
    }

    /// Everything through the next `end` that lies at least `least` bytes on.
    fn through(&mut self, end: &str, least: usize) -> Result<&'a str, Fault> {
        let rest = self.rest();
        let length = rest.get(least..).and_then(|rest| rest.find(end)).map(|at| least + at + end.len()).ok_or_else(|| self.fault())?;
        self.at += length;
        Ok(rest.get(..length).unwrap_or_default())
    }
}
