//! One measured value as a rule sees it: rounded, and either there, absent or unknown.
//!
//! *Absent* says that the question does not arise (the first staff of a system has no gap above it): a
//! case that reads it does not apply, silently. *Unknown* says that it arises and cannot be answered:
//! the case is not judged, and the report says why. Every number is a finite double; what is not becomes
//! unknown on the way in, so no condition ever meets a NaN.

use crate::place::Known;
use crate::units::{Mm, Sp, Tenths};
use std::borrow::Cow;
use std::sync::Arc;

/// Decimal places to which lengths (mm, staff spaces, tenths), seconds and other measures are judged.
pub const MEASURE_PLACES: i32 = 3;
/// Decimal places to which ratios are judged.
pub const RATIO_PLACES: i32 = 4;

/// A value of one field of one thing.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// The question does not arise here.
    Absent,
    /// The question arises and cannot be answered; the reason is for the reader of the report.
    Unknown(Cow<'static, str>),
    /// A finite number.
    Number(f64),
    /// A word or a text.
    Text(Arc<str>),
    /// Yes or no.
    Truth(bool),
    /// Several texts, in the order of the score.
    Texts(Arc<[Arc<str>]>),
    /// Several finite numbers, in the order of the score.
    Numbers(Arc<[f64]>),
}

/// A value that is looked at where it lies: conditions meet millions, and copy none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Seen<'a> {
    Absent,
    Unknown(&'a str),
    Number(f64),
    Text(&'a str),
    Truth(bool),
    Texts(&'a [Arc<str>]),
    Numbers(&'a [f64]),
}

impl Seen<'_> {
    /// A number as it is; unknown if it is not finite.
    pub fn number(number: f64) -> Self {
        if number.is_finite() { Self::Number(number) } else { Self::Unknown(NOT_FINITE) }
    }

    /// A count. Counts past 2^53 would not be exact; nothing in a score is that many.
    #[allow(clippy::cast_precision_loss)]
    pub fn count(count: usize) -> Self {
        Self::Number(count as f64)
    }
}

/// Why a number that is none is unknown.
const NOT_FINITE: &str = "the reckoning gives no finite number";

impl Value {
    /// The value as conditions look at it.
    pub(super) fn seen(&self) -> Seen<'_> {
        match self {
            Self::Absent => Seen::Absent,
            Self::Unknown(why) => Seen::Unknown(why),
            Self::Number(number) => Seen::Number(*number),
            Self::Text(text) => Seen::Text(text),
            Self::Truth(truth) => Seen::Truth(*truth),
            Self::Texts(texts) => Seen::Texts(texts),
            Self::Numbers(numbers) => Seen::Numbers(numbers),
        }
    }

    /// A value that cannot be known, and why.
    pub fn unknown(why: impl Into<Cow<'static, str>>) -> Self {
        Self::Unknown(why.into())
    }

    /// A number as it is; unknown if it is not finite.
    pub fn number(number: f64) -> Self {
        if number.is_finite() { Self::Number(number) } else { Self::unknown(NOT_FINITE) }
    }

    /// A measure without a unit type of its own (seconds, points), to 0.001.
    pub fn measure(number: f64) -> Self {
        Self::number(rounded(number, MEASURE_PLACES))
    }

    /// Millimetres, to 0.001.
    pub fn mm(length: Mm) -> Self {
        Self::measure(length.0)
    }

    /// Staff spaces, to 0.001.
    pub fn sp(length: Sp) -> Self {
        Self::measure(length.0)
    }

    /// Tenths, to 0.001.
    pub fn tenths(length: Tenths) -> Self {
        Self::measure(length.0)
    }

    /// A ratio, to 0.0001.
    pub fn ratio(ratio: f64) -> Self {
        Self::number(rounded(ratio, RATIO_PLACES))
    }

    /// A count. Counts past 2^53 would not be exact; nothing in a score is that many.
    #[allow(clippy::cast_precision_loss)]
    pub fn count(count: usize) -> Self {
        Self::Number(count as f64)
    }

    /// A text.
    pub fn text(text: &str) -> Self {
        Self::Text(text.into())
    }

    /// Several texts.
    pub fn texts<T: Into<Arc<str>>>(texts: impl IntoIterator<Item = T>) -> Self {
        Self::Texts(texts.into_iter().map(Into::into).collect())
    }

    /// Several measures, each to 0.001; unknown if one of them is not finite.
    pub fn numbers(numbers: impl IntoIterator<Item = f64>) -> Self {
        let numbers: Arc<[f64]> = numbers.into_iter().map(|one| rounded(one, MEASURE_PLACES)).collect();
        if numbers.iter().all(|one| one.is_finite()) { Self::Numbers(numbers) } else { Self::unknown(NOT_FINITE) }
    }

    /// What is known of a value that is read in some other way than its type says: a ratio, for one.
    pub fn of<T: Copy>(known: &Known<T>, make: impl FnOnce(T) -> Self) -> Self {
        match known {
            Known::Stated(value, _) | Known::Inherited(value, _) | Known::Derived(value) => make(*value),
            Known::Absent => Self::Absent,
            Known::Unknown(why) => Self::Unknown(Cow::Borrowed(why)),
        }
    }
}

/// A number to so many decimal places, never negative zero.
pub fn rounded(number: f64, places: i32) -> f64 {
    let scale = 10_f64.powi(places);
    // Past 2^53 / 1000 a double has no thousandths; multiplying could only overflow.
    if number.abs() > 1e12 { number } else { (number * scale).round() / scale + 0.0 }
}

impl From<Mm> for Value {
    fn from(length: Mm) -> Self {
        Self::mm(length)
    }
}

impl From<Sp> for Value {
    fn from(length: Sp) -> Self {
        Self::sp(length)
    }
}

impl From<Tenths> for Value {
    fn from(length: Tenths) -> Self {
        Self::tenths(length)
    }
}

impl From<bool> for Value {
    fn from(truth: bool) -> Self {
        Self::Truth(truth)
    }
}

impl From<usize> for Value {
    fn from(count: usize) -> Self {
        Self::count(count)
    }
}

impl From<u32> for Value {
    fn from(count: u32) -> Self {
        Self::Number(f64::from(count))
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Self::text(text)
    }
}

impl From<Arc<str>> for Value {
    fn from(text: Arc<str>) -> Self {
        Self::Text(text)
    }
}

impl<T: Into<Value>> From<Option<T>> for Value {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Absent, Into::into)
    }
}

impl<T: Into<Value>> From<Known<T>> for Value {
    fn from(known: Known<T>) -> Self {
        match known {
            Known::Stated(value, _) | Known::Inherited(value, _) | Known::Derived(value) => value.into(),
            Known::Absent => Self::Absent,
            Known::Unknown(why) => Self::Unknown(Cow::Borrowed(why)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_judged_is_rounded_and_finite() {
        assert_eq!(Value::mm(Mm(6.999_51)), Value::Number(7.0));
        assert_eq!(Value::sp(Sp(0.000_4)), Value::Number(0.0));
        assert_eq!(Value::ratio(0.941_16), Value::Number(0.9412));
        for odd in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(matches!(Value::mm(Mm(odd)), Value::Unknown(_)), "{odd}");
            assert!(matches!(Value::numbers([1.0, odd]), Value::Unknown(_)), "{odd}");
        }
        let Value::Number(zero) = Value::mm(Mm(-0.000_1)) else { panic!("a number") };
        assert!(zero.is_sign_positive());
        assert_eq!(Value::mm(Mm(1e300)), Value::Number(1e300));
    }

    #[test]
    fn absent_and_unknown_stay_apart() {
        assert_eq!(Value::from(Known::<Mm>::Absent), Value::Absent);
        assert_eq!(Value::from(Known::<Mm>::Unknown("no scaling")), Value::unknown("no scaling"));
        assert_eq!(Value::from(Known::Derived(Mm(1.0))), Value::Number(1.0));
        assert_eq!(Value::of(&Known::Derived(0.123_46), Value::ratio), Value::Number(0.1235));
        assert_eq!(Value::from(None::<bool>), Value::Absent);
    }
}
