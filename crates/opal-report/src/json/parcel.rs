//! `opalwright-parcel-forecast/1`: what a parcel may bring.

use super::LimitDoc;
use super::bid::{AtAskingDoc, amount_text, at_asking, binding_key, limits};
use super::figure::{Amount, Digits, Figure};
use opal_units::MoneyError;
use opal_value::parcel::{LookPlan, Looks, ParcelForecast, ParcelOffer};
use opal_value::{Bid, BidLimits};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// The name of the format, with its version.
pub const PARCEL_FORECAST_FORMAT: &str = "opalwright-parcel-forecast/1";

/// What a parcel may bring, what to pay for it, and how many pieces to look into first.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-parcel-forecast/1")]
pub struct ParcelDoc {
    /// `opalwright-parcel-forecast/1`.
    pub format: String,
    /// What the cutter calls it.
    pub parcel: String,
    /// The seed of the draws: the same seed gives the same bytes.
    pub seed: u64,
    /// How many possible truths.
    pub n_draws: usize,
    /// True while the prices are the invented example's.
    pub prices_invented: bool,
    /// Pieces in it.
    pub pieces: usize,
    /// Pieces looked into.
    pub looked: usize,
    /// Pieces looked into that pay to cut.
    pub looked_paying: usize,
    /// What those looked into bring, major units.
    pub known: f64,
    /// How many of the pieces that nobody looked into pay.
    pub unseen_paying: CountDoc,
    /// What the parcel brings net of looking into the rest, major units.
    pub worth: Figure,
    /// The most to pay.
    pub bid: Amount,
    /// The limit that set it.
    pub set_by: String,
    /// What each limit alone would allow.
    pub by_limit: Vec<LimitDoc>,
    /// Chance of losing money at that price, 0 to 1.
    pub chance_of_loss: f64,
    /// Mean gain at that price.
    pub expected_gain: String,
    /// Mean gain over the worst tenth at that price.
    pub worst_tenth_mean: String,
    /// What happens at the asking price, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_asking: Option<AtAskingDoc>,
    /// Looking into more pieces before deciding, at the asking price or else the bid.
    pub looking: LookingDoc,
    /// What the numbers rest on, strongest first.
    pub rests_on: Vec<String>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

/// A whole number with its spread, exact.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CountDoc {
    /// Of how many.
    pub of: usize,
    /// The mean.
    pub mean: f64,
    /// Chance that it is none.
    pub none: f64,
    /// The quantiles, by their level as text.
    pub quantiles: BTreeMap<String, usize>,
}

/// What looking into more pieces is worth.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LookingDoc {
    /// Minutes to look into one piece.
    pub minutes_a_look: f64,
    /// Mean gain of buying now, major units.
    pub buying_now: f64,
    /// What knowing every piece at no cost would be worth, major units: an upper bound.
    pub knowing: f64,
    /// The number to look into.
    pub best: LookDoc,
    /// Every number tried.
    pub tried: Vec<LookDoc>,
}

/// Looking into some more pieces, and then deciding.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LookDoc {
    /// Further pieces.
    pub pieces: usize,
    /// What that takes.
    pub minutes: f64,
    /// Mean gain over deciding now, its cost counted in, major units.
    pub gain: f64,
    /// Standard error of that mean from the number of draws.
    pub gain_error: f64,
    /// Chance that the parcel is bought in the end.
    pub bought: f64,
}

/// What a parcel is told with.
#[derive(Clone, Copy, Debug)]
pub struct ParcelFacts<'a> {
    /// The parcel as it is offered.
    pub offer: &'a ParcelOffer,
    /// The seed.
    pub seed: u64,
    /// True while the prices are the invented example's.
    pub prices_invented: bool,
    /// Minutes to look into one piece.
    pub minutes_a_look: f64,
    /// What it may bring.
    pub forecast: &'a ParcelForecast,
    /// The bid.
    pub bid: &'a Bid,
    /// What was asked of it.
    pub limits: &'a BidLimits,
    /// The same at the asking price.
    pub at_asking: Option<&'a Bid>,
    /// What looking further is worth.
    pub looks: &'a Looks,
    /// What it rests on.
    pub rests_on: &'a [String],
    /// What the cutter should know.
    pub warnings: &'a [String],
}

impl ParcelDoc {
    /// A parcel in machine form.
    ///
    /// # Errors
    /// An amount too large to keep.
    pub fn new(facts: &ParcelFacts<'_>, levels: &[f64]) -> Result<Self, MoneyError> {
        let (bid, parcel) = (facts.bid, &facts.offer.parcel);
        let text = |major: f64| amount_text(major, bid.price.currency());
        let paying = facts.forecast.paying;
        let look = |plan: &LookPlan| LookDoc {
            pieces: plan.pieces,
            minutes: Digits::Size.round(plan.pieces as f64 * facts.minutes_a_look),
            gain: Digits::Money.round(plan.gain),
            gain_error: Digits::Money.round(plan.gain_error),
            bought: Digits::Share.round(plan.bought),
        };
        Ok(Self {
            format: PARCEL_FORECAST_FORMAT.to_owned(),
            parcel: facts.offer.name.clone(),
            seed: facts.seed,
            n_draws: facts.forecast.worth.len(),
            prices_invented: facts.prices_invented,
            pieces: parcel.pieces,
            looked: parcel.looked.len(),
            looked_paying: parcel.looked.iter().filter(|p| p.pays()).count(),
            known: Digits::Money.round(facts.forecast.known),
            unseen_paying: CountDoc {
                of: paying.trials,
                mean: Digits::Share.round(paying.mean()),
                none: Digits::Share.round(paying.chance(0)),
                quantiles: levels
                    .iter()
                    .map(|&level| (super::figure::level_key(level), paying.quantile(level)))
                    .collect(),
            },
            worth: Figure::of(&facts.forecast.worth, levels, Digits::Money),
            bid: bid.price.into(),
            set_by: binding_key(bid.binding).to_owned(),
            by_limit: limits(bid)?,
            chance_of_loss: Digits::Share.round(bid.chance_of_loss),
            expected_gain: text(bid.expected_gain)?,
            worst_tenth_mean: text(bid.gain.worst_mean(super::bid::WORST_TENTH))?,
            at_asking: facts.at_asking.map(at_asking).transpose()?,
            looking: LookingDoc {
                minutes_a_look: facts.minutes_a_look,
                buying_now: Digits::Money.round(facts.looks.buying_now),
                knowing: Digits::Money.round(facts.looks.knowing),
                best: look(&facts.looks.best),
                tried: facts.looks.plans.iter().map(look).collect(),
            },
            rests_on: facts.rests_on.to_vec(),
            warnings: facts.warnings.to_vec(),
        })
    }
}
