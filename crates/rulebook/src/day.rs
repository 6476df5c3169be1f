//! Days of the civil calendar.

use std::fmt;
use std::str::FromStr;

/// A day, written year-month-day: `2026-11-25`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day {
    year: u16,
    month: u8,
    day: u8,
}

/// Text that is not a day.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not a day, expected a day such as `2026-11-25`")]
pub struct NotADay(String);

impl FromStr for Day {
    type Err = NotADay;

    fn from_str(text: &str) -> Result<Self, NotADay> {
        let not_a_day = || NotADay(text.chars().take(40).collect());
        let mut parts = text.split('-');
        let mut number = |digits: usize| {
            let part = parts.next().filter(|part| part.len() == digits)?;
            let is_plain = part.bytes().all(|byte| byte.is_ascii_digit());
            part.parse::<u16>().ok().filter(|_| is_plain)
        };
        let (Some(year), Some(month), Some(day), None) = (number(4), number(2), number(2), parts.next())
        else {
            return Err(not_a_day());
        };
        let is_leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        let days = match month {
            2 if is_leap => 29,
            2 => 28,
            4 | 6 | 9 | 11 => 30,
            1..=12 => 31,
            _ => 0,
        };
        if year == 0 || day == 0 || day > days {
            return Err(not_a_day());
        }
        let narrow = |wide: u16| u8::try_from(wide).map_err(|_| not_a_day());
        Ok(Self {
            year,
            month: narrow(month)?,
            day: narrow(day)?,
        })
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

impl<'de> serde::Deserialize<'de> for Day {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_those_of_the_calendar() {
        for good in ["2024-02-29", "2000-02-29", "2026-11-25", "0001-01-01"] {
            assert_eq!(
                good.parse::<Day>().map(|day| day.to_string()),
                Ok(good.to_owned())
            );
        }
        for bad in [
            "2026-02-29",
            "1900-02-29",
            "2026-11-31",
            "2026-13-01",
            "2026-00-10",
            "2026-1-1",
            "26-01-01",
            "",
            "2026-01-01-01",
            "+026-01-01",
            "2026-01-0x",
            "0000-01-01",
        ] {
            assert!(bad.parse::<Day>().is_err(), "{bad}");
        }
        assert!("2025-12-31".parse::<Day>().ok() < "2026-01-01".parse::<Day>().ok());
    }
}
