//! `opalwright-bids/1`: the most to pay for each of many lots.

use super::bid::{TenderDoc, amount_text, binding_key};
use super::figure::{Amount, Digits};
use opal_units::MoneyError;
use opal_value::{Bid, Shaded};
use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const BIDS_FORMAT: &str = "opalwright-bids/1";

/// The most to pay for each of many lots, the dearest first.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-bids/1")]
pub struct BidsDoc {
    /// `opalwright-bids/1`.
    pub format: String,
    /// The seed of the draws: the same seed gives the same bytes.
    pub seed: u64,
    /// How many possible insides for each lot.
    pub n_interiors: usize,
    /// True while the prices are the invented example's.
    pub prices_invented: bool,
    /// ISO 4217 code of every amount.
    pub currency: String,
    /// The lots, the dearest first.
    pub lots: Vec<LotDoc>,
    /// Lots that no bid could be worked out for, and why.
    pub not_worked_out: Vec<LotFaultDoc>,
    /// What all of them cost at these prices.
    pub in_all: String,
    /// What the cutter has to work with, where it was said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capital: Option<String>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

/// One lot.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LotDoc {
    /// What the cutter calls it.
    pub piece: String,
    /// Its number in the store, where it stands there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<i64>,
    /// The most to pay.
    pub bid: String,
    /// The limit that set it, as in `opalwright-bid/1`.
    pub set_by: String,
    /// Chance of losing money at that price, 0 to 1.
    pub chance_of_loss: f64,
    /// Mean gain over the worst tenth.
    pub worst_tenth_mean: String,
    /// Mean gain.
    pub expected_gain: String,
    /// Nine in ten of what the gain may be: its lower and upper end.
    pub gain_between: [f64; 2],
    /// The family of the plan that it is worked out on.
    pub plan: String,
    /// What is asked for it, where that is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub asking: Option<Amount>,
    /// How far to stay below the most, against others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tender: Option<TenderDoc>,
}

/// A lot without a bid.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct LotFaultDoc {
    /// What the cutter calls it, or its file.
    pub piece: String,
    /// What is wrong.
    pub why: String,
}

impl LotDoc {
    /// A lot in machine form.
    ///
    /// # Errors
    /// An amount too large to keep.
    pub fn new(
        piece: &str,
        number: Option<i64>,
        bid: &Bid,
        plan: &str,
        asking: Option<Amount>,
        tender: Option<&Shaded>,
    ) -> Result<Self, MoneyError> {
        let currency = bid.price.currency();
        let end = |level: f64| Digits::Money.round(bid.gain.quantile(level));
        Ok(Self {
            piece: piece.to_owned(),
            number,
            bid: bid.price.amount_text(),
            set_by: binding_key(bid.binding).to_owned(),
            chance_of_loss: Digits::Share.round(bid.chance_of_loss),
            worst_tenth_mean: amount_text(bid.gain.worst_mean(0.1), currency)?,
            expected_gain: amount_text(bid.expected_gain, currency)?,
            gain_between: [end(0.05), end(0.95)],
            plan: plan.to_owned(),
            asking,
            tender: tender
                .map(|shaded| TenderDoc::new(shaded, currency))
                .transpose()?,
        })
    }

    /// The bid in major units: what lots are ordered by.
    #[must_use]
    pub fn major(&self) -> f64 {
        self.bid.parse().unwrap_or(0.0)
    }
}
