//! The most to pay for many lots in one go.

use crate::ask::Ask;
use crate::bench::{Bench, Opened, PricesInForce};
use crate::error::JobError;
use crate::ports::{Progress, Stage};
use crate::records::fingerprint;
use crate::rests_on;
use opal_report::json::{BIDS_FORMAT, BidsDoc, LotDoc, LotFaultDoc, plan_key};
use opal_units::Money;

/// A lot: what was opened, or why it could not be.
#[derive(Debug)]
pub struct Lot {
    /// What the cutter calls it, or its file.
    pub name: String,
    /// The piece.
    pub opened: Result<Opened, String>,
}

impl Bench {
    /// The stones of the store as lots: those that were not bought yet, the invented
    /// example left out where the cutter has stones of their own.
    ///
    /// # Errors
    /// The store fails.
    pub fn lots(&self) -> Result<Vec<Lot>, JobError> {
        let (stones, _) = self.rough()?;
        let bought = self.bought()?;
        Ok(stones
            .into_iter()
            .filter(|stone| !bought(stone))
            .map(|stone| Lot {
                opened: self
                    .open_number(stone.no)
                    .map_err(|error| error.to_string()),
                name: stone.name,
            })
            .collect())
    }

    /// The fingerprint of everything that the bids on these lots rest on.
    ///
    /// # Errors
    /// The store fails.
    pub fn bids_inputs(
        &self,
        lots: &[Lot],
        prices: &PricesInForce,
        ask: &Ask,
    ) -> Result<String, JobError> {
        let each: Vec<String> = lots
            .iter()
            .map(|lot| match &lot.opened {
                Ok(opened) => self.inputs(opened, prices, ask),
                Err(why) => Ok(why.clone()),
            })
            .collect::<Result<_, _>>()?;
        Ok(fingerprint(
            &each.iter().map(String::as_bytes).collect::<Vec<_>>(),
        ))
    }

    /// The most to pay for each lot, the dearest first. A lot that cannot be
    /// worked out stops none of the others.
    ///
    /// Each lot is a job of its own, let go when its bid stands: forty take no
    /// more memory than one. The bid on a stone of the store is kept with it, as one
    /// that is asked for alone, save where past tenders were given.
    ///
    /// # Errors
    /// What is asked is out of its range; stopped.
    pub fn bids(
        &self,
        lots: Vec<Lot>,
        prices: &PricesInForce,
        ask: &Ask,
        progress: &dyn Progress,
    ) -> Result<BidsDoc, JobError> {
        ask.check()?;
        let settings = &prices.settings;
        let mut done = Vec::with_capacity(lots.len());
        let mut not_worked_out = Vec::new();
        let mut warnings: Vec<String> = Vec::new();
        let mut in_all = Money::from_minor(0, settings.currency());
        let n = lots.len();
        for (k, lot) in lots.into_iter().enumerate() {
            progress.at(Stage::Lots, k as f64 / n as f64);
            let worked = lot
                .opened
                .map_err(LotStop::Fault)
                .and_then(|opened| self.one(&opened, prices, ask, &StopOnly(progress)));
            match worked {
                Ok((doc, price, mind)) => {
                    in_all = in_all.plus(price)?;
                    done.push(doc);
                    for warning in mind {
                        if !warnings.contains(&warning) {
                            warnings.push(warning);
                        }
                    }
                }
                Err(LotStop::Cancelled) => return Err(JobError::Cancelled),
                Err(LotStop::Fault(why)) => not_worked_out.push(LotFaultDoc {
                    piece: lot.name,
                    why,
                }),
            }
        }
        // The same order whatever order they came in.
        done.sort_by(|a: &LotDoc, b| {
            b.major()
                .total_cmp(&a.major())
                .then_with(|| a.piece.cmp(&b.piece))
        });
        if settings
            .limits
            .capital
            .is_some_and(|capital| in_all.major() > capital)
        {
            warnings.push(
                "All of them together cost more than you work with; each bid is for that lot \
                 alone."
                    .to_owned(),
            );
        }
        Ok(BidsDoc {
            format: BIDS_FORMAT.to_owned(),
            seed: ask.seed.0,
            n_interiors: ask.n_interiors,
            prices_invented: settings.prices_invented(),
            currency: settings.currency().code().to_owned(),
            lots: done,
            not_worked_out,
            in_all: in_all.amount_text(),
            capital: settings
                .limits
                .capital
                .map(|capital| Money::from_major_rounded(capital, settings.currency()))
                .transpose()?
                .map(|capital| capital.amount_text()),
            warnings,
        })
    }

    fn one(
        &self,
        opened: &Opened,
        prices: &PricesInForce,
        ask: &Ask,
        progress: &dyn Progress,
    ) -> Result<(LotDoc, Money, Vec<String>), LotStop> {
        let mut job = self.job(opened, prices, ask.clone())?;
        let answer = job.bid(progress)?;
        // What past tenders add hangs on a file that is not kept.
        if prices.settings.tenders.is_empty() {
            let inputs = self.inputs(opened, prices, ask)?;
            let kept = serde_json::to_string(&job.bid_doc(progress)?).map_err(JobError::from)?;
            self.keep(opened, "bid", &inputs, ask, &kept)?;
        }
        let piece = &opened.evidence.piece;
        let price = answer.bid.price;
        let doc = LotDoc::new(
            &piece.name,
            opened.record.as_ref().map(|record| record.no.0),
            &answer.bid,
            plan_key(answer.plan),
            piece.asking.map(Into::into),
            answer.tender.as_ref(),
        )
        .map_err(JobError::from)?;
        let mind = answer
            .warnings
            .iter()
            .map(|warning| {
                if warning == rests_on::INVENTED_PRICES {
                    warning.clone()
                } else {
                    format!("{}: {warning}", piece.name)
                }
            })
            .collect();
        Ok((doc, price, mind))
    }
}

/// A lot's own stages are not told: its share of the whole is.
struct StopOnly<'a>(&'a dyn Progress);

impl Progress for StopOnly<'_> {
    fn at(&self, _stage: Stage, _share: f64) {}

    fn cancelled(&self) -> bool {
        self.0.cancelled()
    }
}

/// Why one lot has no bid.
enum LotStop {
    Cancelled,
    Fault(String),
}

impl From<JobError> for LotStop {
    fn from(error: JobError) -> Self {
        match error {
            JobError::Cancelled => Self::Cancelled,
            other => Self::Fault(other.to_string()),
        }
    }
}
