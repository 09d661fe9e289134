//! Declarations of elements, attributes and notations: checked, and of no effect. Whether a document keeps to them is not asked.
//!
//! Productions are those of XML 1.0, fifth edition. Each function begins behind the word that opens its declaration.

use super::super::entity::Entities;
use super::super::wellformed::Fault;
use super::cursor::Cursor;

/// Most brackets within each other in what an element may hold; published types need about six.
pub(super) const NESTING_LIMIT: usize = 64;

/// `<!ELEMENT` (production 45).
pub(super) fn element(text: &mut Cursor) -> Result<(), Fault> {
    text.space()?;
    text.name()?;
    text.space()?;
    content(text)?;
    text.skip_space();
    text.expect(">")
}

/// What an element may hold (production 46).
fn content(text: &mut Cursor) -> Result<(), Fault> {
    if text.eat("EMPTY") || text.eat("ANY") {
        return Ok(());
    }
    if !text.eat("(") {
        return Err(text.due("EMPTY, ANY or a bracket"));
    }
    text.skip_space();
    if text.eat("#PCDATA") { mixed(text) } else { group(text, 1) }
}

/// Text and elements, behind `(#PCDATA` (production 51).
fn mixed(text: &mut Cursor) -> Result<(), Fault> {
    let mut names = false;
    loop {
        text.skip_space();
        if text.eat(")") {
            return if text.eat("*") || !names { Ok(()) } else { Err(text.due("\"*\"")) };
        }
        text.expect("|")?;
        text.skip_space();
        text.name()?;
        names = true;
    }
}

/// Elements in an order or to choose from, behind the opening bracket, so many of which are open (productions 47 to 50).
fn group(text: &mut Cursor, depth: usize) -> Result<(), Fault> {
    if depth > NESTING_LIMIT {
        let what = format!("more than {NESTING_LIMIT} brackets lie within each other in the declaration of an element");
        return Err(Fault::new(what, "Remove the declaration: a score needs none", text.at - 1, 1));
    }
    let mut separator = None;
    loop {
        text.skip_space();
        if text.eat("(") {
            group(text, depth + 1)?;
        } else {
            text.name()?;
            how_often(text);
        }
        text.skip_space();
        if text.eat(")") {
            how_often(text);
            return Ok(());
        }
        // One bracket is an order or a choice.
        let due = *separator.get_or_insert(if text.rest().starts_with('|') { "|" } else { "," });
        text.expect(due)?;
    }
}

/// How often something may come, if that is said.
fn how_often(text: &mut Cursor) {
    let _ = text.eat("?") || text.eat("*") || text.eat("+");
}

/// `<!ATTLIST` (productions 52 and 53).
pub(super) fn attributes(text: &mut Cursor, entities: &Entities) -> Result<(), Fault> {
    text.space()?;
    text.name()?;
    loop {
        let spaced = text.skip_space();
        if text.eat(">") {
            return Ok(());
        }
        if !spaced {
            return Err(text.due("white space or \">\""));
        }
        text.name()?;
        text.space()?;
        kind(text)?;
        text.space()?;
        default(text, entities)?;
    }
}

/// The type of an attribute (productions 54 to 59).
fn kind(text: &mut Cursor) -> Result<(), Fault> {
    /// A word that begins another stands behind it.
    const WORDS: [&str; 8] = ["CDATA", "IDREFS", "IDREF", "ID", "ENTITY", "ENTITIES", "NMTOKENS", "NMTOKEN"];
    if text.rest().starts_with('(') {
        return choice(text, Cursor::name_token);
    }
    if text.eat("NOTATION") {
        text.space()?;
        return choice(text, Cursor::name);
    }
    if WORDS.into_iter().any(|word| text.eat(word)) { Ok(()) } else { Err(text.due("the type of an attribute")) }
}

/// Names of one sort to choose from, with their brackets (productions 58 and 59).
fn choice<'a>(text: &mut Cursor<'a>, name: fn(&mut Cursor<'a>) -> Result<&'a str, Fault>) -> Result<(), Fault> {
    text.expect("(")?;
    loop {
        text.skip_space();
        name(text)?;
        text.skip_space();
        if text.eat(")") {
            return Ok(());
        }
        text.expect("|")?;
    }
}

/// What an attribute is where it is not written (production 60). A value that stands there is one of any attribute (production 10).
fn default(text: &mut Cursor, entities: &Entities) -> Result<(), Fault> {
    if text.eat("#REQUIRED") || text.eat("#IMPLIED") {
        return Ok(());
    }
    if text.eat("#FIXED") {
        text.space()?;
    }
    if !text.is_at_quote() {
        return Err(text.due("#REQUIRED, #IMPLIED, #FIXED or a value in quotation marks"));
    }
    let start = text.at + 1;
    let value = text.literal()?;
    if let Some(at) = value.find('<') {
        return Err(Fault::new("\"<\" stands in the value of an attribute", "Write \"&lt;\" instead", start + at, 1));
    }
    entities.check_default(value, start)
}

/// `<!NOTATION` (productions 82 and 83). Nothing is ever fetched for one.
pub(super) fn notation(text: &mut Cursor) -> Result<(), Fault> {
    text.space()?;
    text.name()?;
    text.space()?;
    if text.eat("PUBLIC") {
        text.space()?;
        text.public_literal()?;
        if text.skip_space() && text.is_at_quote() {
            text.literal()?;
        }
    } else if !text.external_id()? {
        return Err(text.due("SYSTEM or PUBLIC"));
    }
    text.skip_space();
    text.expect(">")
}
