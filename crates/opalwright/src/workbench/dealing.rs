//! The workbench as a dealer, on the use cases of `bid --all`, `price` and `learned`.

use super::{BenchWorkbench, Told, document_value, job_error, locked, on_a_form};
use opal_files::read_parcel;
use opal_grade::{Grade, SCALES};
use opal_job::{Ask, Finished, Lot, ParcelAnswer, PricesInForce};
use opal_plan::Effort;
use opal_server::{Dealing, FinishedForm, ScaleView, Watch, WordView, WorkbenchError};
use opal_units::{Length, Mass};
use serde_json::Value;

/// As the command line's, where many lots are bid on.
fn ask() -> Ask {
    Ask {
        effort: Effort::Quick,
        ..Ask::default()
    }
}

/// Possible parcels that are drawn: as the command line's.
const PARCEL_DRAWS: usize = 4000;

impl BenchWorkbench {
    /// The lots, and the fingerprint of what their bids rest on.
    fn lots_now(&self) -> Result<(Vec<Lot>, PricesInForce, String), WorkbenchError> {
        let lots = self.bench.lots().map_err(job_error)?;
        let prices = self.bench.prices().map_err(job_error)?;
        let inputs = self.bench.bids_inputs(&lots, &prices, &ask());
        let inputs = inputs.map_err(job_error)?;
        Ok((lots, prices, inputs))
    }
}

impl Dealing for BenchWorkbench {
    fn lots(&self) -> Result<Option<Value>, WorkbenchError> {
        let (_, _, inputs) = self.lots_now()?;
        let kept = locked(&self.lots);
        let fresh = kept.as_ref().filter(|(of, _)| *of == inputs);
        Ok(fresh.map(|(_, bids)| bids.clone()))
    }

    fn bid_on_lots(&self, watch: &dyn Watch) -> Result<(), WorkbenchError> {
        let (lots, prices, inputs) = self.lots_now()?;
        if lots.is_empty() {
            return Err(WorkbenchError::NotNow(
                "every stone that was taken in was bought: there is no lot to bid on".to_owned(),
            ));
        }
        let doc = self.bench.bids(lots, &prices, &ask(), &Told(watch));
        let bids = document_value(&doc.map_err(job_error)?)?;
        *locked(&self.lots) = Some((inputs, bids));
        Ok(())
    }

    fn parcel(&self, fields: &Value) -> Result<Value, WorkbenchError> {
        let offer = read_parcel("the parcel", fields.to_string().as_bytes());
        let offer = offer.map_err(|faults| WorkbenchError::Faults(on_a_form(faults)))?;
        let prices = self.bench.prices().map_err(job_error)?;
        let ask = Ask {
            n_interiors: PARCEL_DRAWS,
            ..Ask::default()
        };
        let answer = ParcelAnswer::new(offer, &prices.settings, ask).map_err(job_error)?;
        document_value(&answer.doc().map_err(job_error)?)
    }

    fn price(&self, finished: &FinishedForm) -> Result<Value, WorkbenchError> {
        let outline = finished.outline.as_deref().unwrap_or(Finished::OUTLINE);
        let described = Finished {
            name: finished.stone.clone(),
            origin: finished.origin.clone(),
            shape: outline.trim().to_lowercase(),
            weight: Mass::from_carats(finished.weight_ct),
            sizes: finished.sizes_mm.map(Length::from_mm),
            colour: finished.colour_mm.map(Length::from_mm),
            clean_share: finished.clean_share.unwrap_or(1.0),
            grade: Grade::default(),
            cost: finished.cost,
        };
        let marks = finished.grade.iter();
        let described = described
            .graded(
                marks.map(|(scale, words)| (scale.as_str(), words.as_str())),
                finished.note.as_deref(),
            )
            .map_err(WorkbenchError::Faults)?;
        let prices = self.bench.prices().map_err(job_error)?;
        let doc = self.bench.price(&described, &prices, &Ask::default());
        document_value(&doc.map_err(job_error)?)
    }

    fn scales(&self) -> Vec<ScaleView> {
        SCALES
            .iter()
            .map(|scale| ScaleView {
                key: scale.key,
                says: scale.says,
                several: scale.several,
                words: scale
                    .words
                    .iter()
                    .map(|word| WordView {
                        word: word.word,
                        plain: word.plain,
                    })
                    .collect(),
            })
            .collect()
    }

    fn learned(&self) -> Result<Value, WorkbenchError> {
        document_value(&self.bench.learned().map_err(job_error)?)
    }
}
