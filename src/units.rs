//! Units: tenths, millimetres, staff spaces and exact musical time.
//!
//! The three lengths are separate types so that they cannot be mixed; [`Scale`] is the only bridge
//! between tenths (what a file says) and millimetres (what lies on paper).

use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedMul, CheckedSub};
use serde::Serialize;
use std::cmp::Ordering;
use std::hash::{Hash, Hasher};
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

/// Millimetres of a typographic point (DTP point: 72 to the inch).
pub const MM_PER_POINT: f64 = 25.4 / 72.0;

macro_rules! length {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// No length at all.
            pub const ZERO: Self = Self(0.0);

            /// The larger of two lengths.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// The smaller of two lengths.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The length without its sign.
            #[must_use]
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
                Self(all.map(|one| one.0).sum())
            }
        }
    };
}

length!(
    /// A tenth of the staff space of a full-size staff: the unit of every length in `MusicXML`.
    Tenths
);
length!(
    /// A millimetre on the page as the file states it.
    Mm
);
length!(
    /// A staff space: a quarter of the height of a five-line staff, 10 tenths at full size.
    Sp
);

/// Millimetres in an inch.
pub const MM_PER_INCH: f64 = 25.4;

/// Tenths in the height of a five-line staff of full size (`MusicXML` 4.0, `scaling`).
pub const STAFF_TENTHS: f64 = 40.0;

/// The scaling of a file: how many millimetres a tenth is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(transparent)]
pub struct Scale {
    mm_per_tenth: f64,
}

impl Scale {
    /// The scale that `millimeters` and `tenths` of a `<scaling>` state; `None` unless both are finite
    /// and positive and their quotient is too.
    pub fn new(millimeters: f64, tenths: f64) -> Option<Self> {
        let mm_per_tenth = millimeters / tenths;
        let sound = millimeters > 0.0 && tenths > 0.0 && mm_per_tenth.is_normal();
        sound.then_some(Self { mm_per_tenth })
    }

    /// Millimetres of one tenth.
    pub fn mm_per_tenth(self) -> f64 {
        self.mm_per_tenth
    }

    /// A length of the file as millimetres on its page.
    pub fn mm(self, length: Tenths) -> Mm {
        Mm(length.0 * self.mm_per_tenth)
    }

    /// A length on the page as tenths of the file.
    pub fn tenths(self, length: Mm) -> Tenths {
        Tenths(length.0 / self.mm_per_tenth)
    }

    /// The same scale for a file that is printed at a share of its size; `None` where that gives no scale.
    pub fn printed(self, share: f64) -> Option<Self> {
        Self::new(self.mm_per_tenth * share, 1.0)
    }

    /// Height of a five-line staff of full size.
    pub fn staff_height(self) -> Mm {
        self.mm(Tenths(STAFF_TENTHS))
    }
}

/// Exact musical time, in whole notes (a quarter is 1/4). Every operation is checked: `None` means
/// that the exact value does not fit, and whoever asked has to say "not judged".
#[derive(Debug, Clone, Copy, Eq)]
pub struct Time(Ratio<i32>);

impl PartialEq for Time {
    /// Term by term, since all are reduced. The fraction itself allows for others and divides.
    fn eq(&self, other: &Self) -> bool {
        (self.numer(), self.denom()) == (other.numer(), other.denom())
    }
}

impl Hash for Time {
    fn hash<H: Hasher>(&self, state: &mut H) {
        (self.numer(), self.denom()).hash(state);
    }
}

impl Ord for Time {
    /// By the products across, which fit twice the width. Dividing, as the fraction itself does, takes ten times as long.
    fn cmp(&self, other: &Self) -> Ordering {
        let across = |one: Self, denom: i32| i64::from(one.numer()) * i64::from(denom);
        across(*self, other.denom()).cmp(&across(*other, self.denom()))
    }
}

impl PartialOrd for Time {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Default for Time {
    fn default() -> Self {
        Self::ZERO
    }
}

impl Time {
    /// The beginning, or no duration.
    pub const ZERO: Self = Self(Ratio::new_raw(0, 1));

    /// `numer`/`denom` whole notes; `None` where the denominator is not positive or the reduced
    /// fraction does not fit.
    pub fn new(numer: i64, denom: i64) -> Option<Self> {
        if denom <= 0 {
            return None;
        }
        let reduced = Ratio::new(numer, denom);
        let numer = i32::try_from(*reduced.numer()).ok()?;
        let denom = i32::try_from(*reduced.denom()).ok()?;
        Some(Self(Ratio::new_raw(numer, denom)))
    }

    /// Numerator of the reduced fraction.
    pub fn numer(self) -> i32 {
        *self.0.numer()
    }

    /// Denominator of the reduced fraction, positive.
    pub fn denom(self) -> i32 {
        *self.0.denom()
    }

    /// The sum, where it fits.
    pub fn plus(self, other: Self) -> Option<Self> {
        if self.is_binary() && other.is_binary() { self.binary_sum(other, 1) } else { self.0.checked_add(&other.0).map(Self) }
    }

    /// The difference, where it fits.
    pub fn minus(self, other: Self) -> Option<Self> {
        if self.is_binary() && other.is_binary() { self.binary_sum(other, -1) } else { self.0.checked_sub(&other.0).map(Self) }
    }

    /// Whether the denominator, which is positive, is a power of two, as nearly all are.
    fn is_binary(self) -> bool {
        self.denom() & (self.denom() - 1) == 0
    }

    /// The sum with as many times another: of two such times shifts do what divisions would, and nothing outgrows twice the width.
    fn binary_sum(self, other: Self, sign: i64) -> Option<Self> {
        let halvings = |time: Self| time.denom().trailing_zeros();
        let finest = halvings(self).max(halvings(other));
        let scaled = |time: Self| i64::from(time.numer()) << (finest - halvings(time));
        let numer = scaled(self) + sign * scaled(other);
        let shared = if numer == 0 { finest } else { numer.trailing_zeros().min(finest) };
        i32::try_from(numer >> shared).ok().map(|numer| Self(Ratio::new_raw(numer, 1 << (finest - shared))))
    }

    /// The product with a whole number, where it fits.
    pub fn times(self, factor: i32) -> Option<Self> {
        self.0.checked_mul(&Ratio::from_integer(factor)).map(Self)
    }

    /// Whole notes as a floating-point number, for formulas that are not exact anyway.
    pub fn whole_notes(self) -> f64 {
        f64::from(self.numer()) / f64::from(self.denom())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Source: fractions of four times the width, by the crate num-rational.
        #[test]
        fn time_is_the_fraction_it_says(
            (a, b) in (prop_oneof![-64..64_i32, any::<i32>()], prop_oneof![1..40_i32, (0..31_u32).prop_map(|power| 1 << power), 1..i32::MAX]),
            (c, d) in (prop_oneof![-64..64_i32, any::<i32>()], prop_oneof![1..40_i32, (0..31_u32).prop_map(|power| 1 << power), 1..i32::MAX]),
        ) {
            let exact = |numer: i32, denom: i32| Ratio::new(i128::from(numer), i128::from(denom));
            let time = |ratio: Ratio<i128>| Time::new(i64::try_from(*ratio.numer()).ok()?, i64::try_from(*ratio.denom()).ok()?);
            let (one, other) = (exact(a, b), exact(c, d));
            if let (Some(left), Some(right)) = (time(one), time(other)) {
                prop_assert_eq!(left.cmp(&right), one.cmp(&other));
                for (found, wanted) in [(left.plus(right), time(one + other)), (left.minus(right), time(one - other))] {
                    // Where denominators have other factors than two, what fits may outgrow the width on the way.
                    let may_miss = !(left.is_binary() && right.is_binary());
                    prop_assert!(found == wanted || may_miss && found.is_none(), "{:?}, wanted {:?}", found, wanted);
                }
            }
        }
    }

    /// `MusicXML` 4.0, `scaling`: "a 7 mm staff has millimeters 7 and tenths 40".
    #[test]
    fn the_standards_own_staff_height() {
        let scale = Scale::new(7.0, 40.0).expect("both positive");
        assert!((scale.staff_height().0 - 7.0).abs() < 1e-12);
        assert!((scale.mm_per_tenth() - 0.175).abs() < 1e-12);
        assert!((scale.tenths(Mm(7.0)).0 - 40.0).abs() < 1e-12);
    }

    #[test]
    fn no_scale_from_nonsense() {
        for (mm, tenths) in [(0.0, 40.0), (7.0, 0.0), (-7.0, 40.0), (-7.0, -40.0), (f64::NAN, 40.0), (7.0, f64::INFINITY), (1e308, 1e-308)]
        {
            assert_eq!(Scale::new(mm, tenths), None, "{mm} / {tenths}");
        }
    }

    #[test]
    fn time_is_exact_and_says_when_it_cannot_be() {
        let third = Time::new(1, 12).expect("fits");
        assert_eq!(third.times(3), Time::new(1, 4));
        assert_eq!(third.plus(third).and_then(|two| two.minus(third)), Some(third));
        assert_eq!(Time::new(1, 0), None);
        assert_eq!(Time::new(i64::MAX, 3), None);
        let small = Time::new(1, i64::from(i32::MAX)).expect("fits");
        assert_eq!(small.plus(Time::new(1, 2).expect("fits")), None);
    }
}
