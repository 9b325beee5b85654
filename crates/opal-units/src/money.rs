//! Money, exact to the minor unit.

use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// A currency by its ISO 4217 code.
#[derive(Clone, Copy, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Currency([u8; 3]);

impl Currency {
    /// From an ISO 4217 code such as `"AUD"`.
    ///
    /// # Errors
    /// Not three capital letters.
    pub fn new(code: &str) -> Result<Self, MoneyError> {
        match code.as_bytes() {
            [a, b, c] if [a, b, c].iter().all(|l| l.is_ascii_uppercase()) => Ok(Self([*a, *b, *c])),
            _ => Err(MoneyError::Currency(code.to_owned())),
        }
    }

    /// The code.
    #[must_use]
    pub fn code(&self) -> &str {
        // The bytes were checked to be ASCII letters.
        std::str::from_utf8(&self.0).unwrap_or("XXX")
    }

    /// Digits after the point: ISO 4217's minor-unit exponent
    /// (the codes that do not have two digits are listed; the rest have two).
    #[must_use]
    pub fn minor_digits(&self) -> u32 {
        match self.code() {
            "BIF" | "CLP" | "DJF" | "GNF" | "ISK" | "JPY" | "KMF" | "KRW" | "PYG" | "RWF"
            | "UGX" | "UYI" | "VND" | "VUV" | "XAF" | "XOF" | "XPF" => 0,
            "BHD" | "IQD" | "JOD" | "KWD" | "LYD" | "OMR" | "TND" => 3,
            "CLF" | "UYW" => 4,
            _ => 2,
        }
    }

    fn minor_per_major(self) -> i64 {
        10_i64.pow(self.minor_digits())
    }
}

impl fmt::Debug for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl FromStr for Currency {
    type Err = MoneyError;
    fn from_str(code: &str) -> Result<Self, MoneyError> {
        Self::new(code)
    }
}

/// Why an amount was refused.
#[derive(Clone, Debug, Error, Eq, PartialEq)]
pub enum MoneyError {
    /// The code is not three capital letters.
    #[error("currency '{0}' is not an ISO 4217 code (three capital letters, such as AUD)")]
    Currency(String),
    /// The amount could not be read.
    #[error(
        "amount '{amount}' is not a number with at most {digits} digits after the point, such as 900 or 900.00"
    )]
    Amount {
        /// What stood there.
        amount: String,
        /// Digits that the currency allows.
        digits: u32,
    },
    /// Two currencies met in one sum.
    #[error("{0} and {1} do not add up without a rate")]
    Mixed(Currency, Currency),
    /// The sum does not fit.
    #[error("amount is larger than can be kept exactly")]
    TooLarge,
    /// Nothing says who gets how much.
    #[error("there is nothing to share it out by: every share is 0")]
    NoShares,
}

/// An amount of money: a whole number of minor units.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Money {
    minor: i64,
    currency: Currency,
}

impl Money {
    /// From minor units (cents, for most).
    #[must_use]
    pub const fn from_minor(minor: i64, currency: Currency) -> Self {
        Self { minor, currency }
    }

    /// From a decimal text such as `"900.00"`; exact.
    ///
    /// # Errors
    /// Not a number, or more digits after the point than the currency has.
    pub fn parse(amount: &str, currency: Currency) -> Result<Self, MoneyError> {
        let digits = currency.minor_digits();
        let refuse = || MoneyError::Amount {
            amount: amount.to_owned(),
            digits,
        };
        let text = amount.trim();
        let (negative, text) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let all_digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        if whole.is_empty()
            || !all_digits(whole)
            || !all_digits(part)
            || part.len() > digits as usize
        {
            return Err(refuse());
        }
        if text.ends_with('.') {
            return Err(refuse());
        }
        let padded = format!("{whole}{part:0<width$}", width = digits as usize);
        let minor: i64 = padded.parse().map_err(|_| MoneyError::TooLarge)?;
        Ok(Self {
            minor: if negative { -minor } else { minor },
            currency,
        })
    }

    /// The amount in major units, rounded to the nearest minor unit (ties away
    /// from zero): for figures that come out of a forecast, not for books.
    ///
    /// # Errors
    /// Not finite, or too large to keep.
    pub fn from_major_rounded(major: f64, currency: Currency) -> Result<Self, MoneyError> {
        let minor = (major * currency.minor_per_major() as f64).round();
        // 2^53: above it a float no longer holds every whole number.
        if !minor.is_finite() || minor.abs() > 9_007_199_254_740_992.0 {
            return Err(MoneyError::TooLarge);
        }
        Ok(Self {
            minor: minor as i64,
            currency,
        })
    }

    /// Minor units.
    #[must_use]
    pub const fn minor(self) -> i64 {
        self.minor
    }

    /// Major units as a float, for forecasts.
    #[must_use]
    pub fn major(self) -> f64 {
        self.minor as f64 / self.currency.minor_per_major() as f64
    }

    /// The currency.
    #[must_use]
    pub const fn currency(self) -> Currency {
        self.currency
    }

    /// The sum.
    ///
    /// # Errors
    /// Two currencies, or a sum that does not fit.
    pub fn plus(self, other: Self) -> Result<Self, MoneyError> {
        if self.currency != other.currency {
            return Err(MoneyError::Mixed(self.currency, other.currency));
        }
        let minor = self
            .minor
            .checked_add(other.minor)
            .ok_or(MoneyError::TooLarge)?;
        Ok(Self {
            minor,
            currency: self.currency,
        })
    }

    /// The other way round: what was paid, as received.
    ///
    /// # Errors
    /// The lowest amount that can be kept has no opposite.
    pub fn negated(self) -> Result<Self, MoneyError> {
        let minor = self.minor.checked_neg().ok_or(MoneyError::TooLarge)?;
        Ok(Self { minor, ..self })
    }

    /// The amount alone, as text: `"900.00"`.
    #[must_use]
    pub fn amount_text(self) -> String {
        let per = self.currency.minor_per_major().unsigned_abs();
        let size = self.minor.unsigned_abs();
        let sign = if self.minor < 0 { "-" } else { "" };
        match self.currency.minor_digits() as usize {
            0 => format!("{sign}{size}"),
            digits => format!("{sign}{}.{:0digits$}", size / per, size % per),
        }
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.amount_text(), self.currency)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn aud() -> Currency {
        Currency::new("AUD").expect("a code")
    }

    #[test]
    fn text_goes_round() {
        for text in ["0.00", "900.00", "-3.05", "12345678901.99"] {
            assert_eq!(
                Money::parse(text, aud()).expect("reads").amount_text(),
                text
            );
        }
        assert_eq!(Money::parse("900", aud()).expect("reads").minor(), 90_000);
        let yen = Currency::new("JPY").expect("a code");
        assert_eq!(
            Money::parse("900", yen).expect("reads").amount_text(),
            "900"
        );
    }

    #[test]
    fn refuses_what_is_not_an_amount() {
        for text in ["", ".", "1.", "1.234", "1,000", "abc", "--1", "1e3"] {
            assert!(Money::parse(text, aud()).is_err(), "{text}");
        }
        assert!(Currency::new("aud").is_err());
    }

    /// Every code of ISO 4217 that has minor units, against the standard's list as the
    /// crate `iso_currency` carries it. Metals, funds and test codes have none.
    #[test]
    fn minor_units_are_those_of_iso_4217() {
        use iso_currency::IntoEnumIterator as _;
        let mut seen = 0;
        for listed in iso_currency::Currency::iter() {
            if let Some(digits) = listed.exponent() {
                let ours = Currency::new(listed.code()).expect("a code");
                assert_eq!(ours.minor_digits(), u32::from(digits), "{ours}");
                seen += 1;
            }
        }
        assert!(seen > 150, "{seen}");
    }

    #[test]
    fn currencies_do_not_mix() {
        let usd = Currency::new("USD").expect("a code");
        assert!(
            Money::from_minor(1, aud())
                .plus(Money::from_minor(1, usd))
                .is_err()
        );
    }
}
