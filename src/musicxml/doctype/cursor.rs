//! A position in a document type declaration, and the small things that all its declarations are made of.

use super::super::wellformed::{EXPORT_AGAIN, Fault, continues_name, is_space_char, name_length};

/// A position in the token.
pub(super) struct Cursor<'a> {
    token: &'a str,
    /// Bytes before it.
    pub at: usize,
}

impl<'a> Cursor<'a> {
    /// The beginning of a token.
    pub fn new(token: &'a str) -> Self {
        Self { token, at: 0 }
    }

    /// What follows.
    pub fn rest(&self) -> &'a str {
        self.token.get(self.at..).unwrap_or_default()
    }

    /// The fault that something else stands here than what is due.
    pub fn due(&self, what: &str) -> Fault {
        if self.rest().starts_with('%') {
            return self.parameter_entity();
        }
        Fault::new(format!("the document type declaration is malformed: {what} is due here"), EXPORT_AGAIN, self.at, 1)
    }

    /// The fault that a parameter entity is referred to here: between declarations we read none, within them none may stand (2.8).
    pub fn parameter_entity(&self) -> Fault {
        Fault::new("the document type declaration uses a parameter entity", "Remove it: a score needs none", self.at, 1)
    }

    /// Passes over a word, if it is there.
    pub fn eat(&mut self, expected: &str) -> bool {
        let there = self.rest().starts_with(expected);
        if there {
            self.at += expected.len();
        }
        there
    }

    /// Passes over a word that must be there.
    pub fn expect(&mut self, expected: &str) -> Result<(), Fault> {
        if self.eat(expected) { Ok(()) } else { Err(self.due(&format!("\"{expected}\""))) }
    }

    /// Passes over white space; tells whether there was any.
    pub fn skip_space(&mut self) -> bool {
        let rest = self.rest();
        let length = rest.len() - rest.trim_start_matches(is_space_char).len();
        self.at += length;
        length > 0
    }

    /// White space (production 3).
    pub fn space(&mut self) -> Result<(), Fault> {
        if self.skip_space() { Ok(()) } else { Err(self.due("white space")) }
    }

    /// A name (production 5).
    pub fn name(&mut self) -> Result<&'a str, Fault> {
        let length = name_length(self.rest());
        self.take(length).ok_or_else(|| self.due("a name"))
    }

    /// A name that may begin with any of its characters (production 7).
    pub fn name_token(&mut self) -> Result<&'a str, Fault> {
        let rest = self.rest();
        let length = rest.find(|character| !continues_name(character)).unwrap_or(rest.len());
        self.take(length).ok_or_else(|| self.due("a name"))
    }

    /// Whether a quoted text begins here.
    pub fn is_at_quote(&self) -> bool {
        self.rest().starts_with(['"', '\''])
    }

    /// A quoted text, without its quotes (productions 9 to 11).
    pub fn literal(&mut self) -> Result<&'a str, Fault> {
        let rest = self.rest();
        let quote = rest.chars().next().filter(|quote| matches!(quote, '"' | '\'')).ok_or_else(|| self.due("a text in quotation marks"))?;
        let quoted = rest.get(1..).and_then(|rest| rest.split_once(quote));
        let (text, _) = quoted.ok_or_else(|| self.due("a text with a quotation mark at its end"))?;
        self.at += text.len() + 2;
        Ok(text)
    }

    /// A quoted public identifier (productions 12 and 13).
    pub fn public_literal(&mut self) -> Result<(), Fault> {
        let start = self.at + 1;
        let text = self.literal()?;
        let allowed = |character: char| character.is_ascii_alphanumeric() || " \r\n-'()+,./:=?;!*#@$_%".contains(character);
        match text.char_indices().find(|(_, character)| !allowed(*character)) {
            None => Ok(()),
            Some((at, wrong)) => {
                let what = format!("\"{}\" stands in a public identifier", wrong.escape_default());
                Err(Fault::new(
                    what,
                    "Letters of English, digits and a few signs are all it may hold: remove it",
                    start + at,
                    wrong.len_utf8(),
                ))
            }
        }
    }

    /// `SYSTEM "..."` or `PUBLIC "..." "..."`, if it is there (production 75).
    pub fn external_id(&mut self) -> Result<bool, Fault> {
        let public = self.eat("PUBLIC");
        if !public && !self.eat("SYSTEM") {
            return Ok(false);
        }
        if public {
            self.space()?;
            self.public_literal()?;
        }
        self.space()?;
        self.literal()?;
        Ok(true)
    }

    /// Everything through the next `end` that lies at least `least` bytes on.
    pub fn through(&mut self, end: &str, least: usize) -> Result<&'a str, Fault> {
        let found = self.rest().get(least..).and_then(|rest| rest.find(end));
        let length = found.map(|at| least + at + end.len()).ok_or_else(|| self.due(&format!("markup with \"{end}\" at its end")))?;
        Ok(self.take(length).unwrap_or_default())
    }

    /// Passes over so many bytes, if they are not none.
    fn take(&mut self, length: usize) -> Option<&'a str> {
        let taken = self.rest().get(..length).filter(|taken| !taken.is_empty())?;
        self.at += length;
        Some(taken)
    }
}
