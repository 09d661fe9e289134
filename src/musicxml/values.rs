//! Values: what elements and attributes hold, as text, numbers, truth, positions.

use super::damage::Damage;
use super::number;
use super::reader::Reader;
use crate::place::{Place, Stated};
use crate::score::Given;
use crate::score::note::Position;
use crate::units::Tenths;
use std::ops::RangeInclusive;

impl Reader {
    /// Text of the open element on one line: white space of any kind becomes one space.
    pub(super) fn line(&mut self) -> Result<String, Damage> {
        let (text, _) = self.pull.text()?;
        Ok(one_line(text))
    }

    /// Number in the open element; what is none is a flaw.
    pub(super) fn decimal(&mut self, what: &str) -> Result<Given<f64>, Damage> {
        let (text, at) = self.pull.text()?;
        if let Some(value) = number::decimal(text) {
            return Ok(Some(Stated::new(value, at)));
        }
        let shown = shortened(text);
        self.flaw(format!("{what} is \"{shown}\", which is no number"), "Export the file again, or write a decimal number.", at, true);
        Ok(None)
    }

    /// A length in tenths in the open element; what is none is a flaw.
    pub(super) fn tenths(&mut self, what: &str) -> Result<Given<Tenths>, Damage> {
        Ok(self.decimal(what)?.map(|stated| stated.map(Tenths)))
    }

    /// A whole number in the open element, if it is one and fits.
    pub(super) fn whole<T: TryFrom<i64>>(&mut self) -> Result<Option<T>, Damage> {
        Ok(number::whole(self.pull.text()?.0))
    }

    /// A count in the open element; what is none, or more than any music has, is a flaw.
    pub(super) fn count(&mut self, what: &str, range: &RangeInclusive<u32>) -> Result<Option<u32>, Damage> {
        let (text, at) = self.pull.text()?;
        let (count, shown) = (number::whole(text), shortened(text));
        Ok(self.within(what, range, count, &shown, at))
    }

    /// The same in an attribute of the open tag; none where the attribute does not stand.
    pub(super) fn attribute_count(&mut self, name: &str, what: &str, range: &RangeInclusive<u32>) -> Option<u32> {
        let (text, at) = self.pull.attribute(name)?;
        let (count, shown) = (number::whole(text.trim()), shortened(&text));
        self.within(what, range, count, &shown, at)
    }

    fn within(&mut self, what: &str, range: &RangeInclusive<u32>, count: Option<u32>, shown: &str, at: Place) -> Option<u32> {
        let sound = count.filter(|count| range.contains(count));
        if sound.is_none() {
            let (least, most) = (range.start(), range.end());
            let what = format!("{what} is \"{shown}\"; it is read from {least} to {most}");
            self.flaw(what, "Export the file again, or correct the number.", at, true);
        }
        sound
    }

    /// A position in an attribute of the open tag.
    #[inline]
    pub(super) fn position(&self, name: &str) -> Position {
        self.attribute_decimal(name).map_or_else(Position::default, Position::new)
    }

    /// A number in an attribute of the open tag, if it is one.
    #[inline]
    pub(super) fn attribute_decimal(&self, name: &str) -> Option<f64> {
        self.pull.value(name).and_then(|text| number::decimal(trimmed(&text)))
    }

    /// A `yes` or `no` in an attribute of the open tag.
    #[inline]
    pub(super) fn attribute_yes(&self, name: &str) -> Option<bool> {
        match trimmed(&self.pull.value(name)?) {
            "yes" => Some(true),
            "no" => Some(false),
            _ => None,
        }
    }

    /// An attribute of the open tag as text.
    #[inline]
    pub(super) fn attribute_text(&self, name: &str) -> Option<String> {
        self.pull.value(name).map(|text| trimmed(&text).to_owned())
    }

    /// A whole number in an attribute of the open tag, if it is one and fits.
    #[inline]
    pub(super) fn attribute_whole<T: TryFrom<i64>>(&self, name: &str) -> Option<T> {
        self.pull.value(name).and_then(|text| number::whole(trimmed(&text)))
    }

    /// Whether an attribute of the open tag has this value.
    #[inline]
    pub(super) fn attribute_is(&self, name: &str, value: &str) -> bool {
        self.pull.value(name).is_some_and(|text| trimmed(&text) == value)
    }
}

/// A text without the white space around it; few have any.
pub(super) fn trimmed(text: &str) -> &str {
    match text.as_bytes() {
        [first, .., last] | [first @ last] if first.is_ascii_graphic() && last.is_ascii_graphic() => text,
        _ => text.trim(),
    }
}

/// White space of any kind as one space, none at the ends.
pub(super) fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// At most 40 characters of a text, for messages.
pub(super) fn shortened(text: &str) -> String {
    const MOST: usize = 40;
    if text.chars().count() <= MOST { text.to_owned() } else { text.chars().take(MOST).chain("...".chars()).collect() }
}
