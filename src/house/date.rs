//! Days of the calendar, as TOML writes them: no time, no zone.

use std::fmt;
use std::time::{SystemTime, UNIX_EPOCH};

/// A day of the Gregorian calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

impl Date {
    /// The day, if there is such a one.
    pub fn new(year: u16, month: u8, day: u8) -> Option<Self> {
        let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
        let days = match month {
            2 => 28 + u8::from(leap),
            4 | 6 | 9 | 11 => 30,
            1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
            _ => return None,
        };
        (1..=days).contains(&day).then_some(Self { year, month, day })
    }

    /// Today, by universal time; the last day of the calendar where the clock shows none.
    pub fn today() -> Self {
        let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs());
        Self::of_day(seconds / 86_400)
    }

    /// The day so many days after the first of January 1970. By years of 400, 100, 4 and 1, counted from the first of March.
    fn of_day(days: u64) -> Self {
        let days = days + 719_468;
        let (era, of_era) = (days / 146_097, days % 146_097);
        let year_of_era = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let month = (5 * of_year + 2) / 153;
        let day = of_year - (153 * month + 2) / 5 + 1;
        let (year, month) = (era * 400 + year_of_era, if month < 10 { month + 3 } else { month - 9 });
        let year = year + u64::from(month <= 2);
        let date = || Self::new(u16::try_from(year).ok()?, u8::try_from(month).ok()?, u8::try_from(day).ok()?);
        date().unwrap_or(Self { year: u16::MAX, month: 12, day: 31 })
    }
}

/// `2027-03-31`
impl fmt::Display for Date {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_days_that_exist() {
        assert!(Date::new(2024, 2, 29).is_some() && Date::new(2000, 2, 29).is_some());
        for (year, month, day) in [(2025, 2, 29), (1900, 2, 29), (2025, 4, 31), (2025, 13, 1), (2025, 0, 1), (2025, 1, 0)] {
            assert_eq!(Date::new(year, month, day), None, "{year}-{month}-{day}");
        }
    }

    /// Days of POSIX time: 1 January 1970 is day 0 (IEEE Std 1003.1), 1 January 2000 day 10,957, 29 February 2024 day 19,782
    /// (GNU date: `date -u -d 2024-02-29 +%s` divided by 86,400).
    #[test]
    fn days_of_the_clock() {
        for (day, name) in
            [(0, "1970-01-01"), (10_957, "2000-01-01"), (19_782, "2024-02-29"), (19_783, "2024-03-01"), (20_819, "2027-01-01")]
        {
            assert_eq!(Date::of_day(day).to_string(), name);
        }
    }
}
