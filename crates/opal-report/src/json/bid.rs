//! `opalwright-bid/1`: the most to pay.

use super::figure::{Amount, Digits, Figure};
use opal_units::{Currency, Money, MoneyError};
use opal_value::{Bid, BidLimits, Binding, Shaded};
use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const BID_FORMAT: &str = "opalwright-bid/1";

/// Which worst share `worst_tenth_mean` looks at.
pub(super) const WORST_TENTH: f64 = 0.1;

/// The most to pay, and what happens at that price.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-bid/1")]
pub struct BidDoc {
    /// `opalwright-bid/1`.
    pub format: String,
    /// What the cutter calls the piece.
    pub piece: String,
    /// The seed of the draws: the same seed gives the same bytes.
    pub seed: u64,
    /// How many possible insides.
    pub n_interiors: usize,
    /// True while the prices are the invented example's.
    pub prices_invented: bool,
    /// The most to pay.
    pub bid: Amount,
    /// The limit that set it: `margin`, `chance-of-loss`, `worst-mean`, `stake`
    /// or `not-worth-buying`.
    pub set_by: String,
    /// What each limit alone would allow.
    pub by_limit: Vec<LimitDoc>,
    /// Chance of losing money at that price, 0 to 1.
    pub chance_of_loss: f64,
    /// Mean gain over the worst tenth, in the bid's currency.
    pub worst_tenth_mean: String,
    /// Mean gain, in the bid's currency.
    pub expected_gain: String,
    /// Standard error of that mean from the number of draws.
    pub expected_gain_error: String,
    /// Net gain at that price, major units.
    pub gain: Figure,
    /// The plan that it is worked out on: its family and place among the plans.
    pub plan: String,
    /// What happens at the asking price, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_asking: Option<AtAskingDoc>,
    /// How far to stay below the most, against others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tender: Option<TenderDoc>,
    /// Price by the `carat` or by the `piece`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_by: Option<String>,
    /// What the number rests on, in a sentence.
    pub sentence: String,
    /// What the number rests on, strongest first.
    pub rests_on: Vec<String>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

/// What one limit alone would allow.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LimitDoc {
    /// Its key.
    pub limit: String,
    /// The price; left out where it was not set. Below 0: not even for nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price: Option<String>,
}

/// What happens at the asking price.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct AtAskingDoc {
    /// The asking price.
    pub asking: Amount,
    /// Chance of losing money at it.
    pub chance_of_loss: f64,
    /// Mean gain over the worst tenth.
    pub worst_tenth_mean: String,
    /// Mean gain.
    pub expected_gain: String,
}

/// A bid against others: below the most, because a lower price also earns.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TenderDoc {
    /// The bid.
    pub bid: String,
    /// The chance to get it at that bid, 0 to 1.
    pub chance: f64,
    /// Nine in ten of what that chance may be.
    pub chance_between: [f64; 2],
}

impl TenderDoc {
    /// In machine form.
    ///
    /// # Errors
    /// An amount too large to keep.
    pub fn new(shaded: &Shaded, currency: Currency) -> Result<Self, MoneyError> {
        let (low, high) = shaded.chance_between;
        Ok(Self {
            bid: amount_text(shaded.bid, currency)?,
            chance: Digits::Share.round(shaded.chance),
            chance_between: [low, high].map(|chance| Digits::Share.round(chance)),
        })
    }
}

/// The key of the limit that set a bid.
#[must_use]
pub fn binding_key(binding: Binding) -> &'static str {
    match binding {
        Binding::Margin => "margin",
        Binding::ChanceOfLoss => "chance-of-loss",
        Binding::WorstMean => "worst-mean",
        Binding::Stake => "stake",
        Binding::NotWorthBuying => "not-worth-buying",
    }
}

/// What a bid is told with.
#[derive(Clone, Copy, Debug)]
pub struct BidFacts<'a> {
    /// What the cutter calls the piece.
    pub piece: &'a str,
    /// The seed.
    pub seed: u64,
    /// True while the prices are the invented example's.
    pub prices_invented: bool,
    /// The bid.
    pub bid: &'a Bid,
    /// What was asked of it.
    pub limits: &'a BidLimits,
    /// The same at the asking price.
    pub at_asking: Option<&'a Bid>,
    /// How far to stay below it against others, where past tenders tell.
    pub tender: Option<&'a Shaded>,
    /// The family of the plan that it is worked out on.
    pub plan: &'a str,
    /// How to price the stone.
    pub price_by: Option<&'a str>,
    /// What it rests on, in a sentence.
    pub sentence: &'a str,
    /// What it rests on.
    pub rests_on: &'a [String],
    /// What the cutter should know.
    pub warnings: &'a [String],
}

impl BidDoc {
    /// A bid in machine form.
    ///
    /// # Errors
    /// An amount too large to keep.
    pub fn new(facts: &BidFacts<'_>, levels: &[f64]) -> Result<Self, MoneyError> {
        let bid = facts.bid;
        let currency = bid.price.currency();
        let text = |major: f64| amount_text(major, currency);
        Ok(Self {
            format: BID_FORMAT.to_owned(),
            piece: facts.piece.to_owned(),
            seed: facts.seed,
            n_interiors: bid.gain.len(),
            prices_invented: facts.prices_invented,
            bid: bid.price.into(),
            set_by: binding_key(bid.binding).to_owned(),
            by_limit: limits(bid)?,
            chance_of_loss: Digits::Share.round(bid.chance_of_loss),
            worst_tenth_mean: text(bid.gain.worst_mean(WORST_TENTH))?,
            expected_gain: text(bid.expected_gain)?,
            expected_gain_error: text(bid.expected_gain_error)?,
            gain: Figure::of(&bid.gain, levels, Digits::Money),
            plan: facts.plan.to_owned(),
            at_asking: facts.at_asking.map(at_asking).transpose()?,
            tender: facts
                .tender
                .map(|shaded| TenderDoc::new(shaded, currency))
                .transpose()?,
            price_by: facts.price_by.map(str::to_owned),
            sentence: facts.sentence.to_owned(),
            rests_on: facts.rests_on.to_vec(),
            warnings: facts.warnings.to_vec(),
        })
    }
}

/// What each limit alone would allow.
pub(super) fn limits(bid: &Bid) -> Result<Vec<LimitDoc>, MoneyError> {
    bid.by_limit
        .iter()
        .map(|&(limit, price)| {
            Ok(LimitDoc {
                limit: binding_key(limit).to_owned(),
                price: price
                    .map(|price| amount_text(price, bid.price.currency()))
                    .transpose()?,
            })
        })
        .collect()
}

/// What happens at an asking price.
pub(super) fn at_asking(at: &Bid) -> Result<AtAskingDoc, MoneyError> {
    let text = |major: f64| amount_text(major, at.price.currency());
    Ok(AtAskingDoc {
        asking: at.price.into(),
        chance_of_loss: Digits::Share.round(at.chance_of_loss),
        worst_tenth_mean: text(at.gain.worst_mean(WORST_TENTH))?,
        expected_gain: text(at.expected_gain)?,
    })
}

pub(super) fn amount_text(major: f64, currency: Currency) -> Result<String, MoneyError> {
    Ok(Money::from_major_rounded(major, currency)?.amount_text())
}
