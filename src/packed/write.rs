//! Writes the packed form of a TOML document, in the build script.

use super::tags::{ARRAY, ESCAPED, FALSE, FLOAT, INTEGER, MOST_NESTED, TABLE, TEXT, TRUE};
use std::fmt;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// What cannot be packed, and where it stands in the text.
#[derive(Debug)]
pub(super) struct Refused {
    at: Range<usize>,
    what: &'static str,
}

impl fmt::Display for Refused {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "{} at the bytes {} to {}", self.what, self.at.start, self.at.end)
    }
}

/// The packed form of what stands in a text.
pub(super) fn pack(text: &str, root: &Spanned<DeTable>) -> Result<Vec<u8>, Refused> {
    let mut writer = Writer { text, bytes: Vec::new(), nested: 0 };
    writer.table(root.span(), root.get_ref())?;
    Ok(writer.bytes)
}

struct Writer<'a> {
    text: &'a str,
    bytes: Vec<u8>,
    nested: u8,
}

impl Writer<'_> {
    fn number(&mut self, number: usize) {
        let mut rest = number;
        while rest > 0x7f {
            self.bytes.push(rest.to_le_bytes()[0] | 0x80);
            rest >>= 7;
        }
        self.bytes.push(rest.to_le_bytes()[0]);
    }

    fn head(&mut self, tag: u8, at: &Range<usize>) {
        self.bytes.push(tag);
        self.number(at.start);
        self.number(at.len());
    }

    fn string(&mut self, at: &Range<usize>, string: &str) {
        if let Some(before) = self.text.get(at.clone()).and_then(|written| written.find(string)) {
            self.head(TEXT, at);
            self.number(before);
            self.number(string.len());
        } else {
            self.head(ESCAPED, at);
            self.number(string.len());
            self.bytes.extend(string.bytes());
        }
    }

    fn value(&mut self, value: &Spanned<DeValue>) -> Result<(), Refused> {
        let at = value.span();
        let refused = |what| Refused { at: at.clone(), what };
        match value.get_ref() {
            DeValue::String(string) => self.string(&at, string),
            DeValue::Integer(integer) => {
                let integer = i64::from_str_radix(integer.as_str(), integer.radix()).map_err(|_| refused("a number too large"))?;
                self.head(INTEGER, &at);
                self.bytes.extend(integer.to_le_bytes());
            }
            DeValue::Float(float) => {
                let number: f64 = float.as_str().parse().map_err(|_| refused("no number"))?;
                if number.is_infinite() && !float.as_str().contains("inf") {
                    return Err(refused("a number too large"));
                }
                self.head(FLOAT, &at);
                self.bytes.extend(number.to_le_bytes());
            }
            DeValue::Boolean(truth) => self.head(if *truth { TRUE } else { FALSE }, &at),
            DeValue::Datetime(_) => return Err(refused("a date, which cannot be packed,")),
            DeValue::Array(array) => {
                self.head(ARRAY, &at);
                self.within(&at, array.len(), |writer| array.iter().try_for_each(|value| writer.value(value)))?;
            }
            DeValue::Table(table) => self.table(at, table)?,
        }
        Ok(())
    }

    fn table(&mut self, at: Range<usize>, table: &DeTable) -> Result<(), Refused> {
        self.head(TABLE, &at);
        self.within(&at, table.len(), |writer| {
            table.iter().try_for_each(|(key, value)| {
                writer.string(&key.span(), key.get_ref());
                writer.value(value)
            })
        })
    }

    /// What stands in a list or a table, behind its size and count.
    fn within(&mut self, at: &Range<usize>, count: usize, write: impl FnOnce(&mut Self) -> Result<(), Refused>) -> Result<(), Refused> {
        if self.nested == MOST_NESTED {
            return Err(Refused { at: at.clone(), what: "too many lists and tables within one another" });
        }
        let mut inner = Self { text: self.text, bytes: Vec::new(), nested: self.nested + 1 };
        write(&mut inner)?;
        self.number(inner.bytes.len());
        self.number(count);
        self.bytes.extend(inner.bytes);
        Ok(())
    }
}
