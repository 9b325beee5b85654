//! The cutter's own sales: the finished stone as it was priced, and what the books
//! say it brought.

use crate::bench::Bench;
use crate::error::JobError;
use crate::records::StoneNo;
use crate::settings::Settings;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use opal_learn::Waiting;
use opal_report::json::FinishedDoc;
use opal_units::{Area, Length, Mass};
use opal_value::{Sale, StoneToPrice, WAIT_BELIEVED};
use serde::Deserialize;
use std::collections::BTreeMap;

/// A finished stone as the store keeps it.
#[derive(Clone, Debug)]
pub(crate) struct KeptPrice {
    /// When it was priced.
    at: Timestamp,
    /// The day of that.
    pub(crate) day: Date,
    /// What it is.
    pub(crate) finished: FinishedDoc,
    /// What it was forecast to fetch, by level as text.
    pub(crate) amount: BTreeMap<String, f64>,
    currency: String,
}

/// The parts of a kept price that are read again.
#[derive(Deserialize)]
struct PriceAgain {
    finished: FinishedDoc,
    amount: BTreeMap<String, f64>,
    currency: String,
}

/// Every finished stone each time it was priced, oldest first.
#[derive(Debug, Default)]
pub(crate) struct KeptPrices(BTreeMap<StoneNo, Vec<KeptPrice>>);

impl KeptPrices {
    /// When a stone was priced for the first time.
    fn first_day(&self, no: StoneNo) -> Option<Date> {
        Some(self.0.get(&no)?.first()?.day)
    }

    /// Every finished stone: when it was priced first, and as it was priced last.
    pub(crate) fn finished(&self) -> impl Iterator<Item = (StoneNo, Timestamp, &KeptPrice)> {
        self.0
            .iter()
            .filter_map(|(no, kept)| Some((*no, kept.first()?.at, kept.last()?)))
    }

    /// A stone as it was priced last, and where it was sold as it was priced last
    /// before that: a price worked out afterwards knows the sale.
    pub(crate) fn forecast(&self, no: StoneNo, sold: Option<Date>) -> Option<&KeptPrice> {
        let kept = self.0.get(&no)?;
        let last = match sold {
            // Booked for a day before any price: the first one knew no sale of it.
            Some(day) => kept.iter().rposition(|price| price.day <= day).unwrap_or(0),
            None => kept.len().saturating_sub(1),
        };
        kept.get(last)
    }
}

impl Bench {
    /// Every finished stone each time it was priced.
    pub(crate) fn kept_prices(&self) -> Result<KeptPrices, JobError> {
        let mut kept = KeptPrices::default();
        for (no, record) in self.ports().store.runs_of_kind("price")? {
            // An answer of a version that wrote it otherwise is no description.
            if let Ok(again) = serde_json::from_str::<PriceAgain>(&record.run.output) {
                kept.0.entry(no).or_default().push(KeptPrice {
                    at: record.at,
                    day: TimeZone::UTC.to_datetime(record.at).date(),
                    finished: again.finished,
                    amount: again.amount,
                    currency: again.currency,
                });
            }
        }
        Ok(kept)
    }

    /// Settings with the cutter's own sales in them, those in the price book's currency
    /// whose stone was described, and with what finished stones came to against their
    /// plans.
    ///
    /// # Errors
    /// The store fails.
    pub fn with_own_sales(&self, mut settings: Settings) -> Result<Settings, JobError> {
        let currency = settings.currency();
        let kept = self.kept_prices()?;
        settings.sales = self
            .sold()?
            .into_iter()
            .filter(|(_, _, amount)| amount.currency() == currency)
            .filter_map(|(no, day, amount)| {
                let kept = kept.forecast(no, Some(day))?;
                (kept.currency == currency.code()).then(|| Sale {
                    stone: to_price(&kept.finished),
                    origin: kept.finished.origin.clone().unwrap_or_default(),
                    amount: amount.major(),
                })
            })
            .collect();
        settings.weights = self.weight_outcomes()?;
        Ok(settings)
    }

    /// How long stones wait for a buyer: from the day they were first priced to the day
    /// they were sold, or to today. A stone that was sawn or lost waits for none.
    ///
    /// # Errors
    /// The store fails.
    pub fn waiting(&self) -> Result<Waiting, JobError> {
        let kept = self.kept_prices()?;
        let sold = self.sold()?;
        let gone = self.gone()?;
        let today = self.ports().clock.today();
        let (mut ended, mut going_on) = (Vec::new(), Vec::new());
        for stone in self.stones()? {
            let Some(first) = kept.first_day(stone.no) else {
                continue;
            };
            let sold = sold.iter().find(|(no, _, _)| *no == stone.no);
            let days = (sold.map_or(today, |(_, day, _)| *day) - first).get_days();
            match sold {
                // Sold before it was priced: nobody knows how long it was on offer.
                Some(_) if days < 0 => {}
                // Sold on the day that it was priced: half a day.
                Some(_) => ended.push(f64::from(days).max(0.5)),
                None if gone(&stone) => {}
                None => going_on.push(f64::from(days).max(0.5)),
            }
        }
        let (mean, worth) = WAIT_BELIEVED;
        Ok(Waiting::believed(mean, worth)?.after(&ended, &going_on)?)
    }
}

fn to_price(finished: &FinishedDoc) -> StoneToPrice {
    let [length, width, thickness] = finished.sizes_mm;
    StoneToPrice {
        variety: finished.variety.clone(),
        brightness: finished.brightness.clone(),
        shape: finished.shape.clone(),
        standard_size: finished.standard_size,
        weight: Mass::from_carats(finished.weight_ct),
        face: Area::from_mm2(crate::price::FILLED * length * width),
        length: Length::from_mm(length),
        thickness: Length::from_mm(thickness),
        colour_thickness: Length::from_mm(finished.colour_mm),
        clean_share: finished.clean_share,
        whole: true,
    }
}
