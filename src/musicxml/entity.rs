//! References: the five predefined ones, characters by number, and plain texts that the document's
//! own type declaration names. Nothing is ever fetched.

use super::wellformed::{self, Fault, is_char};
use std::collections::HashMap;

/// Most bytes that declared entities may add to one document.
const BUDGET: usize = 1 << 20;

/// What the document type declaration says of a name.
#[derive(Debug)]
pub(super) enum Entity {
    /// A text without markup.
    Text(String),
    /// Something with markup or further references in it.
    Nested,
}

impl Entity {
    /// Reads what stands between the quotes of a declaration (production 9). Character references are resolved now (4.5).
    pub fn read(literal: &str, offset: usize) -> Result<Self, Fault> {
        let mut text = String::new();
        let mut nested = false;
        let mut rest = literal;
        while let Some(found) = rest.find(['&', '%']) {
            let (before, behind) = rest.split_at(found);
            let at = offset + literal.len() - behind.len();
            text.push_str(before);
            let Some(behind) = behind.strip_prefix('&') else {
                let help = "Write \"&#37;\" for the sign itself";
                return Err(Fault::new("\"%\" refers to a parameter entity within a declaration", help, at, 1));
            };
            let Some((reference, after)) = behind.split_once(';') else {
                let help = "Write \"&#38;\" for the sign itself";
                return Err(Fault::new("\"&\" begins a reference that no \";\" ends", help, at, 1));
            };
            match character(reference, at)? {
                // Such a character becomes markup where the entity is used.
                Some('<' | '&') => nested = true,
                Some(character) => text.push(character),
                None if wellformed::is_name(reference) => nested = true,
                None => return Err(Fault::new("\"&\" begins no reference", "Write \"&#38;\" for the sign itself", at, 1)),
            }
            rest = after;
        }
        text.push_str(rest);
        // The end of a section may not stand in a text either (production 14).
        nested |= text.contains('<') || text.contains("]]>");
        Ok(if nested { Self::Nested } else { Self::Text(text) })
    }
}

/// The entities a document declares, and what is left of its budget.
#[derive(Debug)]
pub(super) struct Entities {
    declared: HashMap<String, Entity>,
    left: usize,
    /// There may be further declarations outside the file, which are not read.
    pub may_be_more: bool,
}

impl Default for Entities {
    fn default() -> Self {
        Self { declared: HashMap::new(), left: BUDGET, may_be_more: false }
    }
}

impl Entities {
    /// Whether none is declared.
    pub fn is_empty(&self) -> bool {
        self.declared.is_empty()
    }

    /// Declares an internal entity. The first declaration of a name counts (XML 1.0, 4.2).
    pub fn declare(&mut self, name: &str, entity: Entity) {
        self.declared.entry(name.to_owned()).or_insert(entity);
    }

    /// Checks a reference (the name between `&` and `;`) where it stands, and takes its text from the budget.
    pub fn check(&mut self, name: &str, offset: usize) -> Result<(), Fault> {
        let added = self.known(name, offset)?.map_or(0, str::len);
        match self.left.checked_sub(added) {
            Some(left) => {
                self.left = left;
                Ok(())
            }
            None => Err(Fault::new("entities add more than 1 MiB of text", "Write the text itself", offset, name.len() + 2)),
        }
    }

    /// The text of a reference to a declared entity, `None` of one that needs no declaration.
    fn known(&self, name: &str, offset: usize) -> Result<Option<&str>, Fault> {
        if predefined(name).is_some() || character(name, offset)?.is_some() {
            return Ok(None);
        }
        let length = name.len() + 2;
        if !wellformed::is_name(name) {
            return Err(Fault::new("\"&\" begins no reference", "Write \"&amp;\" for the sign itself", offset, 1));
        }
        match self.declared.get(name) {
            Some(Entity::Text(text)) => Ok(Some(text)),
            Some(Entity::Nested) => {
                let what = format!("the entity \"&{name};\" holds markup or other entities");
                Err(Fault::new(what, "Entities of a score may only hold plain text: write out what it stands for", offset, length))
            }
            None => {
                let what = format!("the entity \"&{name};\" is not defined");
                Err(Fault::new(what, "XML knows &amp; &lt; &gt; &apos; &quot; and numbers such as &#233;", offset, length))
            }
        }
    }

    /// Adds the text of a checked reference.
    pub fn push(&self, name: &str, to: &mut String) {
        if let Some(character) = predefined(name).or_else(|| character(name, 0).ok().flatten()) {
            to.push(character);
        } else if let Some(Entity::Text(text)) = self.declared.get(name) {
            to.push_str(text);
        }
    }

    /// Checks every reference of an attribute value that stands `offset` bytes behind the tag's start.
    pub fn check_value(&mut self, value: &str, offset: usize) -> Result<(), Fault> {
        references(value, offset, |name, at| self.check(name, at))
    }

    /// The same of a value that stands in a declaration only and is never applied: it adds nothing.
    pub fn check_default(&self, value: &str, offset: usize) -> Result<(), Fault> {
        references(value, offset, |name, at| {
            let elsewhere = self.may_be_more && wellformed::is_name(name) && !self.declared.contains_key(name);
            if elsewhere { Ok(()) } else { self.known(name, at).map(|_| ()) }
        })
    }

    /// A checked attribute value that is not literal as XML means it: references resolved, each line end or tab one space (3.3.3).
    pub fn value(&self, value: &str) -> String {
        let mut text = String::with_capacity(value.len());
        let mut rest = value;
        while let Some((before, behind)) = rest.split_once('&') {
            push_spaced(before, &mut text);
            let (name, after) = behind.split_once(';').unwrap_or((behind, ""));
            self.push(name, &mut text);
            rest = after;
        }
        push_spaced(rest, &mut text);
        text
    }
}

/// Hands on what stands between `&` and `;` of every reference in a value, and where it begins.
fn references(value: &str, offset: usize, mut each: impl FnMut(&str, usize) -> Result<(), Fault>) -> Result<(), Fault> {
    let mut at = 0;
    while let Some(ampersand) = value.get(at..).and_then(|rest| rest.find('&')) {
        at += ampersand;
        let name = value.get(at + 1..).and_then(|rest| rest.split_once(';'));
        let Some((name, _)) = name else {
            return Err(Fault::new("\"&\" begins a reference that no \";\" ends", "Write \"&amp;\" for the sign itself", offset + at, 1));
        };
        each(name, offset + at)?;
        at += name.len() + 2;
    }
    Ok(())
}

/// Adds a part of an attribute value with white space as spaces.
fn push_spaced(part: &str, to: &mut String) {
    let mut characters = part.chars().peekable();
    while let Some(character) = characters.next() {
        match character {
            '\r' => {
                characters.next_if_eq(&'\n');
                to.push(' ');
            }
            '\n' | '\t' => to.push(' '),
            other => to.push(other),
        }
    }
}

/// The five names that every document may use (XML 1.0, 4.6).
fn predefined(name: &str) -> Option<char> {
    match name {
        "amp" => Some('&'),
        "lt" => Some('<'),
        "gt" => Some('>'),
        "apos" => Some('\''),
        "quot" => Some('"'),
        _ => None,
    }
}

/// A character by its number, `#233` or `#xE9`; `None` if it is no such reference (production 66).
fn character(name: &str, offset: usize) -> Result<Option<char>, Fault> {
    let Some(number) = name.strip_prefix('#') else { return Ok(None) };
    let (digits, radix) = number.strip_prefix('x').map_or((number, 10), |digits| (digits, 16));
    let sound = !digits.is_empty() && digits.bytes().all(|byte| char::from(byte).is_digit(radix));
    let code = sound.then(|| u32::from_str_radix(digits, radix).ok()).flatten();
    match code.and_then(char::from_u32).filter(|character| is_char(*character)) {
        Some(character) => Ok(Some(character)),
        None => Err(Fault::new(
            format!("\"&{name};\" is no character that XML allows"),
            "Remove it, or write the character itself",
            offset,
            name.len() + 2,
        )),
    }
}
