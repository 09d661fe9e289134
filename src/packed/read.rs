//! Reads the packed form, value by value, as bytes that may be wrong.

use super::Misfit;
use super::tags::{ARRAY, ESCAPED, FALSE, FLOAT, INTEGER, MOST_NESTED, TABLE, TEXT, TRUE};

/// The least bytes of a value: a tag and where it stands.
const LEAST_BYTES: usize = 3;

/// A value and where it stands in the text.
#[derive(Debug, Clone, Copy)]
pub(super) struct Value<'a> {
    pub start: usize,
    pub end: usize,
    pub kind: Kind<'a>,
}

/// What a value is.
#[derive(Debug, Clone, Copy)]
pub(super) enum Kind<'a> {
    Text(&'a str),
    Integer(i64),
    Float(f64),
    Truth(bool),
    Array(Values<'a>),
    Table(Values<'a>),
}

/// The values of a list, or the keys and values of a table, of which the next is read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Values<'a> {
    text: &'a str,
    bytes: &'a [u8],
    /// So many values, or pairs, are still to come.
    count: usize,
    /// So many lists and tables may stand in it within one another.
    may_nest: u8,
    /// A key that is passed over.
    without: Option<&'a str>,
}

/// The whole document.
pub(super) fn document<'a>(text: &'a str, bytes: &'a [u8]) -> Result<Value<'a>, Misfit> {
    Values { text, bytes, count: 1, may_nest: MOST_NESTED, without: None }.value()
}

impl<'a> Value<'a> {
    /// A table as if it had not this key.
    pub fn without(self, key: &'a str) -> Self {
        match self.kind {
            Kind::Table(entries) => Self { kind: Kind::Table(Values { without: Some(key), ..entries }), ..self },
            _ => self,
        }
    }
}

impl<'a> Values<'a> {
    /// The next value of a list.
    pub fn next(&mut self) -> Option<Result<Value<'a>, Misfit>> {
        self.count = self.count.checked_sub(1)?;
        Some(self.value())
    }

    /// The next key of a table: its string and where it stands. Its value is what [`Values::value`] gives then.
    pub fn next_key(&mut self) -> Option<Result<(&'a str, Value<'a>), Misfit>> {
        loop {
            self.count = self.count.checked_sub(1)?;
            let key = self.key();
            match (&key, self.without) {
                (Ok((name, _)), Some(without)) if *name == without => {
                    if let Err(misfit) = self.value() {
                        return Some(Err(misfit));
                    }
                }
                _ => return Some(key),
            }
        }
    }

    fn key(&mut self) -> Result<(&'a str, Value<'a>), Misfit> {
        let key = self.value()?;
        let Kind::Text(name) = key.kind else { return Err(Misfit) };
        Ok((name, key))
    }

    /// How many are still to come, at most as many as the bytes have room for.
    pub fn count(&self) -> usize {
        self.count.min(self.bytes.len() / LEAST_BYTES)
    }

    /// What comes next, whole.
    pub fn value(&mut self) -> Result<Value<'a>, Misfit> {
        let [tag] = *self.bytes.split_off(..1).ok_or(Misfit)? else { return Err(Misfit) };
        let start = self.number()?;
        let end = start.checked_add(self.number()?).ok_or(Misfit)?;
        let kind = match tag {
            TEXT => {
                let from = start.checked_add(self.number()?).ok_or(Misfit)?;
                let to = from.checked_add(self.number()?).ok_or(Misfit)?;
                Kind::Text(self.text.get(from..to).ok_or(Misfit)?)
            }
            ESCAPED => {
                let length = self.number()?;
                Kind::Text(str::from_utf8(self.take(length)?).map_err(|_| Misfit)?)
            }
            INTEGER => Kind::Integer(i64::from_le_bytes(self.eight()?)),
            FLOAT => Kind::Float(f64::from_le_bytes(self.eight()?)),
            FALSE => Kind::Truth(false),
            TRUE => Kind::Truth(true),
            ARRAY => Kind::Array(self.within()?),
            TABLE => Kind::Table(self.within()?),
            _ => return Err(Misfit),
        };
        Ok(Value { start, end, kind })
    }

    fn within(&mut self) -> Result<Self, Misfit> {
        let (size, count) = (self.number()?, self.number()?);
        let may_nest = self.may_nest.checked_sub(1).ok_or(Misfit)?;
        Ok(Self { text: self.text, bytes: self.take(size)?, count, may_nest, without: None })
    }

    fn take(&mut self, length: usize) -> Result<&'a [u8], Misfit> {
        self.bytes.split_off(..length).ok_or(Misfit)
    }

    fn eight(&mut self) -> Result<[u8; 8], Misfit> {
        self.take(8)?.try_into().map_err(|_| Misfit)
    }

    fn number(&mut self) -> Result<usize, Misfit> {
        let mut number = 0;
        // What does not fit in four bytes of seven bits is no place in a file of rules.
        for shift in [0, 7, 14, 21] {
            let byte = *self.bytes.split_off_first().ok_or(Misfit)?;
            number |= usize::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Ok(number);
            }
        }
        Err(Misfit)
    }
}
