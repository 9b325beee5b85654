//! The most to pay.

use opal_units::{Draws, Money};
use thiserror::Error;

/// What the cutter asks of a purchase.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BidLimits {
    /// Wanted margin: expected gain over the price paid, 0.3 for 30 %.
    pub margin: f64,
    /// Largest chance of losing money that is accepted.
    pub chance_of_loss: f64,
    /// Which worst share the shortfall looks at, 0.1 for the worst tenth.
    pub worst_share: f64,
    /// Largest mean loss over that worst share, major units.
    pub worst_mean_loss: Option<f64>,
    /// What the cutter has to work with, major units. `None`: no stake check.
    pub capital: Option<f64>,
    /// Buyer's fee as a share of the price.
    pub fee: f64,
}

/// The limit that set the price.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Binding {
    /// The wanted margin.
    Margin,
    /// The chance of loss.
    ChanceOfLoss,
    /// The mean of the worst cases.
    WorstMean,
    /// The stake against the capital.
    Stake,
    /// Nothing is worth paying.
    NotWorthBuying,
}

/// The most to pay, and what happens at that price.
#[derive(Clone, Debug, PartialEq)]
pub struct Bid {
    /// The price.
    pub price: Money,
    /// The limit that set it.
    pub binding: Binding,
    /// What each limit alone would allow, major units, in the order of
    /// margin, chance of loss, worst mean, stake.
    pub by_limit: [(Binding, Option<f64>); 4],
    /// Chance of losing money at that price.
    pub chance_of_loss: f64,
    /// Mean gain over the worst share at that price, major units.
    pub worst_mean: f64,
    /// Mean gain at that price, major units.
    pub expected_gain: f64,
    /// The standard error of that mean that comes from the number of draws.
    pub expected_gain_error: f64,
    /// Net gain at that price, a draw for each interior.
    pub gain: Draws,
}

/// Why there is no bid.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BidError {
    /// A limit is outside its range.
    #[error("{field} is {value}; it must be {limit}")]
    Limit {
        /// Which.
        field: &'static str,
        /// What it was.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
}
