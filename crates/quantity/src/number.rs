//! Exact numbers as the trade writes them: `42`, `1.5`, `3/4`, `6-1/2`, `6 1/2`.
//!
//! Nothing here rounds.

use crate::QuantityError;

/// No quantity needs more bytes than this.
const LONGEST: usize = 64;
/// Characters of a text that a message quotes.
const QUOTED: usize = 40;

/// A number as a ratio; the denominator is above zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Ratio {
    pub(crate) numerator: i128,
    pub(crate) denominator: i128,
}

/// Makes errors about one text.
#[derive(Clone, Copy)]
pub(crate) struct Complaint<'a> {
    pub(crate) text: &'a str,
    pub(crate) expected: &'static str,
}

impl Complaint<'_> {
    fn quote(self) -> String {
        shown(self.text, QUOTED)
    }

    pub(crate) fn missing_unit(self) -> QuantityError {
        QuantityError::MissingUnit {
            text: self.quote(),
            expected: self.expected,
        }
    }

    pub(crate) fn unknown_unit(self, unit: &str) -> QuantityError {
        QuantityError::UnknownUnit {
            text: self.quote(),
            unit: shown(unit, 20),
            expected: self.expected,
        }
    }

    pub(crate) fn not_a_number(self) -> QuantityError {
        QuantityError::NotANumber {
            text: self.quote(),
            expected: self.expected,
        }
    }

    pub(crate) fn negative(self) -> QuantityError {
        QuantityError::Negative {
            text: self.quote(),
            expected: self.expected,
        }
    }

    pub(crate) fn overflow(self) -> QuantityError {
        QuantityError::Overflow {
            text: self.quote(),
            expected: self.expected,
        }
    }

    pub(crate) fn off_grid(self) -> QuantityError {
        QuantityError::OffGrid {
            text: self.quote(),
            expected: self.expected,
        }
    }

    fn divided_by_zero(self) -> QuantityError {
        QuantityError::DividedByZero {
            text: self.quote(),
            expected: self.expected,
        }
    }

    pub(crate) fn below_absolute_zero(self) -> QuantityError {
        QuantityError::BelowAbsoluteZero {
            text: self.quote(),
            expected: self.expected,
        }
    }

    pub(crate) fn zero(self) -> QuantityError {
        QuantityError::Zero {
            text: self.quote(),
            expected: self.expected,
        }
    }

    /// The text without space around it, and whether a minus stood before it.
    pub(crate) fn begin(self) -> Result<(bool, String), QuantityError> {
        if self.text.len() > LONGEST {
            return Err(QuantityError::TooLong {
                text: self.quote(),
                expected: self.expected,
            });
        }
        let text = self.text.trim().replace('\u{2212}', "-");
        if text.is_empty() {
            return Err(QuantityError::Empty {
                expected: self.expected,
            });
        }
        match text.strip_prefix('-') {
            Some(rest) => Ok((true, rest.trim_start().to_owned())),
            None => Ok((false, text)),
        }
    }

    /// Takes a number off the front of `text`; gives the number and what follows it.
    pub(crate) fn number(self, text: &str) -> Result<(Ratio, &str), QuantityError> {
        let (whole, rest) = digits(text);
        if whole.is_empty() && !rest.starts_with('.') {
            return Err(self.not_a_number());
        }
        if let Some(after) = rest.strip_prefix('.') {
            let (part, rest) = digits(after);
            if part.is_empty() {
                return Err(self.not_a_number());
            }
            if whole.len() + part.len() > 30 {
                return Err(self.overflow());
            }
            let numerator = format!("{whole}{part}").parse().map_err(|_| self.overflow())?;
            let denominator = 10_i128.pow(u32::try_from(part.len()).unwrap_or(0));
            return Ok((
                Ratio {
                    numerator,
                    denominator,
                },
                rest,
            ));
        }
        let whole = self.whole(whole)?;
        if let Some((denominator, rest)) = self.over(rest)? {
            return Ok((
                Ratio {
                    numerator: whole,
                    denominator,
                },
                rest,
            ));
        }
        // `6-1/2` and `6 1/2`, but not `6 in`.
        let joined = rest
            .strip_prefix('-')
            .or_else(|| rest.strip_prefix(' ').map(str::trim_start));
        if let Some(fraction) = joined {
            let (part, after) = digits(fraction);
            if !part.is_empty() {
                let part = self.whole(part)?;
                if let Some((denominator, rest)) = self.over(after)? {
                    let numerator = whole
                        .checked_mul(denominator)
                        .and_then(|whole| whole.checked_add(part))
                        .ok_or_else(|| self.overflow())?;
                    return Ok((
                        Ratio {
                            numerator,
                            denominator,
                        },
                        rest,
                    ));
                }
                if rest.starts_with('-') {
                    return Err(self.not_a_number());
                }
            }
        }
        Ok((
            Ratio {
                numerator: whole,
                denominator: 1,
            },
            rest,
        ))
    }

    fn whole(self, digits: &str) -> Result<i128, QuantityError> {
        if digits.len() > 30 {
            return Err(self.overflow());
        }
        digits.parse().map_err(|_| self.overflow())
    }

    /// The denominator, where a `/` and digits follow.
    fn over(self, text: &str) -> Result<Option<(i128, &str)>, QuantityError> {
        let Some(after) = text.strip_prefix('/') else {
            return Ok(None);
        };
        let (below, rest) = digits(after);
        if below.is_empty() {
            return Ok(None);
        }
        match self.whole(below)? {
            0 => Err(self.divided_by_zero()),
            below => Ok(Some((below, rest))),
        }
    }

    /// The number as a whole number of units, `unit` of them to one.
    pub(crate) fn units(self, ratio: Ratio, unit: i128) -> Result<i128, QuantityError> {
        let scaled = ratio.numerator.checked_mul(unit).ok_or_else(|| self.overflow())?;
        if scaled % ratio.denominator != 0 {
            return Err(self.off_grid());
        }
        Ok(scaled / ratio.denominator)
    }

    /// The count as it is held, below zero where a minus stood before it.
    pub(crate) fn held(self, count: i128, negative: bool) -> Result<i64, QuantityError> {
        let count = if negative {
            count.checked_neg()
        } else {
            Some(count)
        };
        count
            .and_then(|count| i64::try_from(count).ok())
            .ok_or_else(|| self.overflow())
    }
}

/// The first characters of a text, without any that would break or reorder the line of a message.
fn shown(text: &str, most: usize) -> String {
    let mut shown: String = text
        .chars()
        .take(most)
        .map(|c| match c {
            c if crate::acts_on_text(c) => '\u{fffd}',
            c => c,
        })
        .collect();
    if text.chars().nth(most).is_some() {
        shown.push('\u{2026}');
    }
    shown
}

fn digits(text: &str) -> (&str, &str) {
    let end = text.bytes().take_while(u8::is_ascii_digit).count();
    text.split_at(end)
}

/// The quotient rounded to the nearest whole number, halves to the even one; none on overflow or division by 0.
pub(crate) fn divide_to_even(numerator: i128, denominator: i128) -> Option<i64> {
    if denominator == 0 {
        return None;
    }
    let (numerator, denominator) = if denominator < 0 {
        (numerator.checked_neg()?, denominator.checked_neg()?)
    } else {
        (numerator, denominator)
    };
    let (quotient, rest) = (
        numerator.div_euclid(denominator),
        numerator.rem_euclid(denominator),
    );
    let up = match (rest.checked_mul(2)?).cmp(&denominator) {
        std::cmp::Ordering::Less => false,
        std::cmp::Ordering::Greater => true,
        std::cmp::Ordering::Equal => quotient % 2 != 0,
    };
    i64::try_from(quotient + i128::from(up)).ok()
}

/// `12.5` for 12 500 of a unit that is a thousandth.
pub(crate) fn decimal(
    f: &mut std::fmt::Formatter<'_>,
    value: impl Into<i128>,
    per_one: i64,
) -> std::fmt::Result {
    let value = value.into();
    let sign = if value < 0 { "-" } else { "" };
    let (value, per_one) = (value.unsigned_abs(), u128::from(per_one.unsigned_abs()));
    let (whole, rest) = (value / per_one, value % per_one);
    if rest == 0 {
        return write!(f, "{sign}{whole}");
    }
    let width = per_one.ilog10() as usize;
    let part = format!("{rest:0width$}");
    write!(f, "{sign}{whole}.{}", part.trim_end_matches('0'))
}

/// `6-1/2`, `1/2` or `6` for a number of parts, `parts` to one.
pub(crate) fn fraction(f: &mut std::fmt::Formatter<'_>, count: u64, parts: u64) -> std::fmt::Result {
    let (whole, mut over, mut under) = (count / parts, count % parts, parts);
    while over != 0 && over.is_multiple_of(2) && under.is_multiple_of(2) {
        over /= 2;
        under /= 2;
    }
    match (whole, over) {
        (whole, 0) => write!(f, "{whole}"),
        (0, over) => write!(f, "{over}/{under}"),
        (whole, over) => write!(f, "{whole}-{over}/{under}"),
    }
}
