//! Numbers as the standard writes them: decimals, exactly.

use crate::units::Time;

/// An XSD `decimal`: digits with at most one point and a sign; no exponent, no `NaN`, no infinity.
/// `None` for anything else and for what is too large to be a number.
pub fn decimal(text: &str) -> Option<f64> {
    if let Some(value) = short_decimal(text.as_bytes()) {
        return Some(value);
    }
    let plain = text.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'+' | b'-'));
    if !plain {
        return None;
    }
    let value: f64 = text.parse().ok()?;
    // "-0.00" is written by real exporters and must not print as such.
    value.is_finite().then_some(value + 0.0)
}

/// A decimal of few digits, as nearly all are; `None` for others and for what is none. Both numbers of its one division are exact, so it is
/// rounded once, as it should be.
fn short_decimal(text: &[u8]) -> Option<f64> {
    /// Digits whose number a floating-point number holds exactly, and powers of ten that it does.
    const DIGITS: usize = 15;
    const POWERS: [f64; DIGITS + 1] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];
    let (negative, digits) = match text {
        [b'-', digits @ ..] => (true, digits),
        digits => (false, digits),
    };
    // One more for the point.
    if digits.is_empty() || digits.len() > DIGITS + 1 {
        return None;
    }
    let (mut number, mut decimals, mut pointed) = (0_u64, 0, false);
    for byte in digits {
        match byte {
            b'0'..=b'9' => {
                number = number * 10 + u64::from(byte - b'0');
                decimals += usize::from(pointed);
            }
            b'.' if !pointed => pointed = true,
            _ => return None,
        }
    }
    let count = digits.len() - usize::from(pointed);
    if count == 0 || count > DIGITS {
        return None;
    }
    #[expect(clippy::cast_precision_loss, reason = "of at most fifteen digits")]
    let value = number as f64 / POWERS.get(decimals)?;
    // Not "-0".
    Some(if negative && number > 0 { -value } else { value })
}

/// An XSD `decimal` as an exact fraction of whole numbers; `None` where it is not one or does not fit.
pub fn fraction(text: &str) -> Option<(i64, i64)> {
    if let Some(number) = few_digits(text.as_bytes()) {
        return Some((number, 1));
    }
    let (sign, digits) = match text.as_bytes().first()? {
        b'-' => (-1, &text[1..]),
        b'+' => (1, &text[1..]),
        _ => (1, text),
    };
    let (whole, rest) = digits.split_once('.').unwrap_or((digits, ""));
    let rest = rest.trim_end_matches('0');
    if whole.len() + rest.len() == 0 && digits.is_empty() {
        return None;
    }
    let (mut numer, mut denom) = (0_i64, 1_i64);
    for byte in whole.bytes().chain(rest.bytes()) {
        if !byte.is_ascii_digit() {
            return None;
        }
        numer = numer.checked_mul(10)?.checked_add(i64::from(byte - b'0'))?;
    }
    for _ in 0..rest.len() {
        denom = denom.checked_mul(10)?;
    }
    Some((sign * numer, denom))
}

/// A whole number of up to nine digits without a sign, as nearly all are.
fn few_digits(text: &[u8]) -> Option<i64> {
    if text.is_empty() || text.len() > 9 {
        return None;
    }
    text.iter().try_fold(0, |number, byte| byte.is_ascii_digit().then(|| number * 10 + i64::from(byte - b'0')))
}

/// The time that `duration` of divisions takes, where a quarter has `divisions`: exact, or `None`.
pub fn time(duration: (i64, i64), divisions: (i64, i64)) -> Option<Time> {
    let numer = duration.0.checked_mul(divisions.1)?;
    let denom = duration.1.checked_mul(divisions.0)?.checked_mul(4)?;
    Time::new(numer, denom)
}

/// A whole number that fits `T`, written as a decimal (`4` or `4.0`).
pub fn whole<T: TryFrom<i64>>(text: &str) -> Option<T> {
    let (numer, denom) = fraction(text)?;
    (denom == 1).then(|| T::try_from(numer).ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        /// Source: Rust's own reading of decimals, which rounds as IEEE 754 asks.
        #[test]
        fn decimals_are_rounded_once(text in "[-+]?[0-9]{0,17}[.]?[0-9]{0,9}") {
            let expected = text.parse::<f64>().ok().map(|value| (value + 0.0).to_bits());
            proptest::prop_assert_eq!(decimal(&text).map(f64::to_bits), expected);
        }
    }

    #[test]
    fn decimals_of_the_schema_and_nothing_else() {
        assert_eq!(decimal("-0.00").map(f64::to_bits), Some(0.0_f64.to_bits()));
        assert_eq!(decimal("+12.50"), Some(12.5));
        for wrong in ["", "1e3", "NaN", "inf", "1,5", "0x10", "--1", "1.2.3", "."] {
            assert_eq!(decimal(wrong), None, "{wrong}");
        }
        assert_eq!(decimal(&"9".repeat(400)), None);
    }

    #[test]
    fn fractions_are_exact() {
        assert_eq!(fraction("0.125"), Some((125, 1000)));
        assert_eq!(fraction("-3.50"), Some((-35, 10)));
        assert_eq!(fraction("7."), Some((7, 1)));
        assert_eq!(fraction(""), None);
        assert_eq!(fraction(&"9".repeat(30)), None);
        assert_eq!(time((1, 1), (3, 1)), Time::new(1, 12));
        assert_eq!(time((5, 10), (1, 1)), Time::new(1, 8));
        assert_eq!(time((1, 1), (0, 1)), None);
        assert_eq!(whole::<u8>("4.0"), Some(4));
        assert_eq!(whole::<u8>("300"), None);
    }
}
