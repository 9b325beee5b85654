//! The made-up bench as a dealer.

use super::MadeUpBench;
use opal_evidence::Fault;
use opal_server::{Dealing, FinishedForm, ScaleView, Watch, WordView, WorkbenchError};
use serde_json::{Value, json};

impl Dealing for MadeUpBench {
    fn lots(&self) -> Result<Option<Value>, WorkbenchError> {
        let worked_out = self.taken.lock().unwrap().iter().any(|(_, ran)| *ran);
        Ok(worked_out.then(|| json!({ "format": "opalwright-bids/1", "lots": [] })))
    }

    fn bid_on_lots(&self, watch: &dyn Watch) -> Result<(), WorkbenchError> {
        watch.at("bidding on one lot after the other", 0.5);
        self.taken
            .lock()
            .unwrap()
            .iter_mut()
            .for_each(|one| one.1 = true);
        Ok(())
    }

    fn parcel(&self, fields: &Value) -> Result<Value, WorkbenchError> {
        if fields["parcel"]["pieces"].as_u64().is_none() {
            let fault = Fault::new("parcel.pieces", "missing", "it must be there");
            return Err(WorkbenchError::Faults(fault.into()));
        }
        Ok(json!({ "format": "opalwright-parcel-forecast/1" }))
    }

    fn price(&self, finished: &FinishedForm) -> Result<Value, WorkbenchError> {
        if finished.weight_ct <= 0.0 {
            let fault = Fault::new("the weight in ct", finished.weight_ct, "above 0");
            return Err(WorkbenchError::Faults(fault.into()));
        }
        Ok(json!({ "format": "opalwright-price/1", "piece": finished.stone }))
    }

    fn scales(&self) -> Vec<ScaleView> {
        vec![ScaleView {
            key: "brightness",
            says: "how strong the colour is",
            several: false,
            words: vec![WordView {
                word: "bright",
                plain: "clear in ordinary light",
            }],
        }]
    }

    fn learned(&self) -> Result<Value, WorkbenchError> {
        Ok(json!({ "format": "opalwright-learned/1", "origins": [] }))
    }
}
