//! The use case of a parcel: what it may bring, what to pay, how many to look into.

use crate::ask::Ask;
use crate::error::JobError;
use crate::rests_on::INVENTED_PRICES;
use crate::settings::Settings;
use opal_report::json::{ParcelDoc, ParcelFacts};
use opal_report::text::{self, Detail};
use opal_units::Money;
use opal_value::parcel::{Looks, ParcelForecast, ParcelOffer, Stake, Terms, forecast, looks};
use opal_value::{Bid, BidLimits, at_price, bid};

/// Pieces looked into below which the cutter's own belief says most of it. Chosen.
const FEW: usize = 5;

/// What a parcel may bring, what to pay for it, and how many pieces to look into first.
#[derive(Clone, Debug)]
pub struct ParcelAnswer {
    offer: ParcelOffer,
    limits: BidLimits,
    minutes_a_look: f64,
    forecast: ParcelForecast,
    bid: Bid,
    at_asking: Option<Bid>,
    looks: Looks,
    prices_invented: bool,
    rests_on: Vec<String>,
    warnings: Vec<String>,
    ask: Ask,
}

impl ParcelAnswer {
    /// Works it out, with the labour, the market and the limits of the price book.
    ///
    /// Looking is valued at the asking price, or where there is none at the bid.
    ///
    /// # Errors
    /// A limit out of its range; an asking price in another currency than the book.
    pub fn new(offer: ParcelOffer, settings: &Settings, ask: Ask) -> Result<Self, JobError> {
        let (limits, currency) = (settings.limits, settings.currency());
        let minutes_a_look = offer
            .minutes_a_look
            .unwrap_or(settings.costs.minutes_a_piece);
        let look_cost = minutes_a_look / 60.0 * settings.costs.labour_per_hour;
        let terms = Terms {
            look_cost,
            market_log_sd: settings.book.parts().market_log_sd,
        };
        let forecast = forecast(&offer.parcel, terms, ask.n_interiors, ask.seed)?;
        let bid = bid(&forecast.worth, &limits, currency)?;
        let at_asking = offer
            .asking
            .map(|asking| {
                // Adding nothing in the book's currency refuses a price in another one.
                let asking = asking.plus(Money::from_minor(0, currency))?;
                Ok::<_, JobError>(at_price(&forecast.worth, &limits, asking)?)
            })
            .transpose()?;
        let price = at_asking.as_ref().map_or(bid.price, |at| at.price);
        let stake = Stake {
            look_cost,
            outlay: price.major() * (1.0 + limits.fee),
        };
        let looks = looks(&offer.parcel, stake, ask.n_interiors, ask.seed);
        let prices_invented = settings.prices_invented();
        Ok(Self {
            rests_on: rests_on(&offer, settings),
            warnings: warnings(&offer, prices_invented),
            offer,
            limits,
            minutes_a_look,
            forecast,
            bid,
            at_asking,
            looks,
            prices_invented,
            ask,
        })
    }

    /// In machine form.
    ///
    /// # Errors
    /// An amount too large to keep.
    pub fn doc(&self) -> Result<ParcelDoc, JobError> {
        Ok(ParcelDoc::new(&self.facts(), &self.ask.levels)?)
    }

    /// In plain words.
    #[must_use]
    pub fn text(&self, detail: Detail) -> String {
        text::parcel(&self.facts(), detail)
    }

    fn facts(&self) -> ParcelFacts<'_> {
        ParcelFacts {
            offer: &self.offer,
            seed: self.ask.seed.0,
            prices_invented: self.prices_invented,
            minutes_a_look: self.minutes_a_look,
            forecast: &self.forecast,
            bid: &self.bid,
            limits: &self.limits,
            at_asking: self.at_asking.as_ref(),
            looks: &self.looks,
            rests_on: &self.rests_on,
            warnings: &self.warnings,
        }
    }
}

fn rests_on(offer: &ParcelOffer, settings: &Settings) -> Vec<String> {
    let parcel = &offer.parcel;
    let paying = parcel.looked.iter().filter(|p| p.pays()).count();
    let looked = match parcel.looked.len() {
        0 => "No piece was looked into.".to_owned(),
        1 => format!("1 piece looked into; {paying} pays to cut."),
        n => format!(
            "{n} pieces looked into; {paying} {} to cut.",
            if paying == 1 { "pays" } else { "pay" }
        ),
    };
    vec![
        looked,
        format!(
            "Your belief that {:.0} in 100 such pieces pay and bring {} a carat; it counts as \
             much as {} pieces looked into.",
            100.0 * parcel.usual.pays,
            text::rate(parcel.usual.per_carat, settings.currency()),
            parcel.usual.counts_as,
        ),
        format!(
            "The rest of the weight, {:.0} ct, shared among {} pieces as unevenly as those looked \
             into.",
            parcel.unseen_weight().carats(),
            parcel.unseen(),
        ),
        format!(
            "Labour, market and limits of '{}'.",
            settings.book.parts().title
        ),
    ]
}

fn warnings(offer: &ParcelOffer, prices_invented: bool) -> Vec<String> {
    let mut warnings = Vec::new();
    if !offer.taken_blindly && !offer.parcel.looked.is_empty() {
        warnings.push(
            "The pieces looked into were picked by their looks: the rest is likely worse than \
             they say. Take some out blindly before you trust this."
                .to_owned(),
        );
    }
    if offer.parcel.looked.len() < FEW {
        warnings
            .push("So few pieces were looked into that this is mostly your own belief.".to_owned());
    }
    if prices_invented {
        warnings.push(INVENTED_PRICES.to_owned());
    }
    warnings
}
