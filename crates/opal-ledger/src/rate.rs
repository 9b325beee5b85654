//! What was paid, in whatever currency, and the rate of that day.

use opal_units::{Currency, Money, MoneyError};
use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// Most digits of a rate. Chosen: central banks publish seven at most.
const MOST_DIGITS: usize = 15;

/// How much of the books' currency one unit of another was worth; exact.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Rate {
    digits: u64,
    /// How many of the digits stand after the point.
    after_point: u32,
}

/// Why what was paid cannot be booked.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
pub enum PaidError {
    /// The rate could not be read.
    #[error("it must be a number above 0 with at most {MOST_DIGITS} digits, such as 1.5312")]
    Rate,
    /// Another currency without a rate.
    #[error("the books are in {home}: say what one {paid} was worth in {home} on that day")]
    NoRate {
        /// The currency of the books.
        home: Currency,
        /// The currency that was paid.
        paid: Currency,
    },
    /// A rate for the books' own currency.
    #[error("the books are in {0}: its own currency takes no rate")]
    OwnRate(Currency),
    /// The amount does not fit.
    #[error(transparent)]
    Money(#[from] MoneyError),
}

impl FromStr for Rate {
    type Err = PaidError;
    fn from_str(text: &str) -> Result<Self, PaidError> {
        let text = text.trim();
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let joined = format!("{whole}{part}");
        let readable = !whole.is_empty()
            && !text.ends_with('.')
            && joined.len() <= MOST_DIGITS
            && joined.bytes().all(|b| b.is_ascii_digit());
        match joined.parse() {
            Ok(digits) if readable && digits > 0 => Ok(Self {
                digits,
                after_point: u32::try_from(part.len()).map_err(|_| PaidError::Rate)?,
            }),
            _ => Err(PaidError::Rate),
        }
    }
}

impl fmt::Display for Rate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let per = 10_u64.pow(self.after_point);
        match self.after_point as usize {
            0 => write!(f, "{}", self.digits),
            n => write!(f, "{}.{:0n$}", self.digits / per, self.digits % per),
        }
    }
}

/// An amount as it was paid.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Paid {
    /// In the currency that changed hands.
    pub amount: Money,
    /// The rate of the day, where that is not the books' currency.
    pub rate: Option<Rate>,
}

impl Paid {
    /// In the books' own currency.
    #[must_use]
    pub const fn plain(amount: Money) -> Self {
        Self { amount, rate: None }
    }

    /// The amount in the currency of the books, to the nearest minor unit, ties
    /// away from zero; worked out in whole numbers.
    ///
    /// # Errors
    /// A rate is missing or out of place; the amount does not fit.
    pub fn in_home(&self, home: Currency) -> Result<Money, PaidError> {
        let paid = self.amount.currency();
        let rate = match self.rate {
            None if paid == home => return Ok(self.amount),
            None => return Err(PaidError::NoRate { home, paid }),
            Some(_) if paid == home => return Err(PaidError::OwnRate(home)),
            Some(rate) => rate,
        };
        let top = i128::from(self.amount.minor())
            .checked_mul(i128::from(rate.digits))
            .and_then(|n| n.checked_mul(10_i128.pow(home.minor_digits())))
            .ok_or(MoneyError::TooLarge)?;
        let bottom = 10_i128.pow(rate.after_point + paid.minor_digits());
        let half = if top < 0 { -bottom } else { bottom };
        // Twice both, so that half a unit is a whole number.
        let rounded = (2 * top + half) / (2 * bottom);
        let minor = i64::try_from(rounded).map_err(|_| MoneyError::TooLarge)?;
        Ok(Money::from_minor(minor, home))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn money(text: &str, code: &str) -> Money {
        Money::parse(text, Currency::new(code).expect("a code")).expect("an amount")
    }

    /// Worked with Python's `decimal` (ROUND_HALF_UP), see `tests/reference/ledger.py`.
    #[test]
    fn rates_are_applied_to_the_nearest_minor_unit() {
        for (amount, code, rate, home, there) in [
            ("500.00", "USD", "1.5312", "AUD", "765.60"),
            ("0.01", "USD", "1.5", "AUD", "0.02"),
            ("-0.01", "USD", "1.5", "AUD", "-0.02"),
            ("0.01", "USD", "1.49", "AUD", "0.01"),
            ("12345", "JPY", "0.0101", "AUD", "124.68"),
            ("100.00", "AUD", "98.765", "JPY", "9877"),
            ("1.234", "KWD", "4.98765", "AUD", "6.15"),
        ] {
            let paid = Paid {
                amount: money(amount, code),
                rate: Some(rate.parse().expect("a rate")),
            };
            let home = Currency::new(home).expect("a code");
            let booked = paid.in_home(home).expect("fits");
            assert_eq!(booked.amount_text(), there, "{amount} {code} at {rate}");
        }
    }

    #[test]
    fn a_rate_is_asked_for_exactly_where_it_is_needed() {
        let aud = Currency::new("AUD").expect("a code");
        let foreign = Paid::plain(money("5.00", "USD"));
        assert!(matches!(
            foreign.in_home(aud),
            Err(PaidError::NoRate { .. })
        ));
        let own = Paid {
            amount: money("5.00", "AUD"),
            rate: Some("1.0".parse().expect("a rate")),
        };
        assert!(matches!(own.in_home(aud), Err(PaidError::OwnRate(_))));
    }

    #[test]
    fn rates_keep_their_digits_and_refuse_the_rest() {
        for text in ["1.5312", "0.0101", "98", "1.50"] {
            assert_eq!(text.parse::<Rate>().expect("a rate").to_string(), text);
        }
        for text in [
            "",
            "0",
            "0.00",
            "-1",
            "1.",
            "1e3",
            ".5",
            "1,5",
            "1234567890.123456",
        ] {
            assert!(text.parse::<Rate>().is_err(), "{text}");
        }
    }
}
