//! The stets of a house style, checked.

use super::Pattern;
use super::file::StetTable;
use super::place;
use crate::house::data::{DataError, DataFile};
use crate::house::{Date, Stet};
use toml::Spanned;

/// A stet, if it says all it must.
///
/// # Errors
/// No reason, a day that is none, bars that are none, a pattern that is none.
pub(super) fn check(stet: &StetTable, data: DataFile) -> Result<Stet, DataError> {
    let Some(reason) = &stet.reason else {
        return Err(data.wrong(&stet.rule, "a stet needs a reason; add `reason = \"...\"`"));
    };
    if reason.get_ref().trim().is_empty() {
        return Err(data.wrong(reason, "a stet needs a reason: say why this may stand"));
    }
    if let Some(file) = &stet.file {
        Pattern::new(file.get_ref()).map_err(|why| data.wrong(file, why))?;
    }
    Ok(Stet {
        rule: stet.rule.get_ref().clone(),
        file: stet.file.as_ref().map(|file| file.get_ref().clone()),
        part: stet.part.clone(),
        movement: stet.movement,
        bars: stet.bars.as_ref().map(|bars| bars_of(bars, data)).transpose()?,
        reason: reason.get_ref().clone(),
        by: stet.by.clone(),
        until: stet.until.as_ref().map(|until| day_of(until, data)).transpose()?,
        written_in: data.name.to_owned(),
        at: place(stet.rule.span()),
    })
}

/// `12`, `"12"` or `"12-15"`. A number that holds a hyphen, and a stretch that ends with a lower number than it begins with, can only be
/// written as two: `["60", "1"]`.
fn bars_of(bars: &Spanned<toml::Value>, data: DataFile) -> Result<[String; 2], DataError> {
    let wrong = || data.wrong(bars, "these are no bars; write `bars = \"12-15\"`, as the file numbers them");
    match bars.get_ref() {
        toml::Value::Integer(number) => Ok([number.to_string(), number.to_string()]),
        toml::Value::String(text) => {
            let (first, last) = text.split_once(['-', '\u{2013}']).map_or((text.trim(), text.trim()), |(a, b)| (a.trim(), b.trim()));
            if first.is_empty() || last.is_empty() {
                return Err(wrong());
            }
            if let (Ok(first), Ok(last)) = (first.parse::<i64>(), last.parse::<i64>())
                && first > last
            {
                return Err(wrong());
            }
            Ok([first.to_owned(), last.to_owned()])
        }
        toml::Value::Array(ends) => match ends.as_slice() {
            [toml::Value::String(first), toml::Value::String(last)] => Ok([first.clone(), last.clone()]),
            _ => Err(wrong()),
        },
        _ => Err(wrong()),
    }
}

/// A day as TOML writes one, or the same as a text. A time of day is refused: the day is valid to its end.
fn day_of(until: &Spanned<toml::Value>, data: DataFile) -> Result<Date, DataError> {
    let text = match until.get_ref() {
        toml::Value::Datetime(day) if day.time.is_none() && day.offset.is_none() => day.to_string(),
        toml::Value::String(text) => text.trim().to_owned(),
        _ => String::new(),
    };
    let mut numbers = text.splitn(3, '-');
    let mut next = |digits: usize| numbers.next().filter(|word| word.len() == digits && word.bytes().all(|byte| byte.is_ascii_digit()));
    let parts = (next(4), next(2), next(2));
    let day = match parts {
        (Some(year), Some(month), Some(day)) => {
            year.parse().ok().zip(month.parse().ok()).zip(day.parse().ok()).and_then(|((year, month), day)| Date::new(year, month, day))
        }
        _ => None,
    };
    day.ok_or_else(|| data.wrong(until, "this is no day; write `until = 2027-03-31`"))
}
