//! Numbers with their spread, and money, in machine form.

use opal_units::{Draws, Money};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Quantiles by their level as text, such as `"0.05"`.
pub type Quantiles = BTreeMap<String, f64>;

/// A number with its spread.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Figure {
    /// The mean over all interiors.
    pub mean: f64,
    /// The quantiles, by their level as text.
    #[serde(flatten)]
    pub quantiles: Quantiles,
}

/// An amount of money: a decimal text, exact to the minor unit.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct Amount {
    /// The amount as a decimal text.
    pub amount: String,
    /// ISO 4217 code.
    pub currency: String,
}

impl From<Money> for Amount {
    fn from(money: Money) -> Self {
        Self {
            amount: money.amount_text(),
            currency: money.currency().code().to_owned(),
        }
    }
}

/// How many digits after the point a kind of figure carries. More than anyone
/// can measure, so that nothing is lost, and few enough to be read.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Digits {
    /// Lengths in mm: a thousandth.
    Length,
    /// Weights in ct: a thousandth.
    Weight,
    /// Money in major units: a hundredth.
    Money,
    /// Shares and chances: a ten-thousandth.
    Share,
    /// Areas in mm² and volumes in mm³: a hundredth.
    Size,
}

impl Digits {
    pub(crate) fn round(self, value: f64) -> f64 {
        let per = match self {
            Self::Length | Self::Weight => 1e3,
            Self::Money | Self::Size => 1e2,
            Self::Share => 1e4,
        };
        // Adding 0 turns −0 into 0.
        (value * per).round() / per + 0.0
    }
}

impl Figure {
    pub(crate) fn of(draws: &Draws, levels: &[f64], digits: Digits) -> Self {
        Self {
            mean: digits.round(draws.mean()),
            quantiles: levels
                .iter()
                .map(|&level| (level_key(level), digits.round(draws.quantile(level))))
                .collect(),
        }
    }
}

/// A level as the key under which its quantile stands.
pub(crate) fn level_key(level: f64) -> String {
    format!("{level}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_stand_under_their_level_beside_the_mean() {
        let draws = Draws::new(vec![1.0, 2.0, 3.0, 4.0, 5.0]).expect("finite");
        let figure = Figure::of(&draws, &[0.05, 0.5], Digits::Length);
        assert_eq!(
            serde_json::to_string(&figure).expect("serialises"),
            r#"{"mean":3.0,"0.05":1.2,"0.5":3.0}"#
        );
    }

    #[test]
    fn nothing_is_minus_nothing() {
        assert_eq!(Digits::Money.round(-0.001).to_string(), "0");
    }
}
