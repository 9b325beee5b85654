//! The made-up bench at the wheel: events in memory.

use super::{MadeUpBench, evidence, stone};
use opal_evidence::Fault;
use opal_server::{
    AtTheWheel, DryingQuestion, FinishQuestion, SawOrGrindQuestion, SentEvent, StoneNumber,
    WheelPage, WorkbenchError,
};
use serde_json::{Value, json};

impl AtTheWheel for MadeUpBench {
    fn wheel(&self, number: StoneNumber) -> Result<WheelPage, WorkbenchError> {
        self.place(number)?;
        let events: Vec<Value> = self
            .logged
            .lock()
            .unwrap()
            .iter()
            .enumerate()
            .map(|(k, sent)| json!({"number": k + 1, "event": sent.event, "stands": true}))
            .collect();
        let log = json!({ "format": "opalwright-log/1", "events": events });
        Ok(WheelPage::new(
            log,
            &stone(),
            &evidence(),
            vec!["A wheel".to_owned()],
        ))
    }

    fn log(&self, number: StoneNumber, sent: &SentEvent) -> Result<WheelPage, WorkbenchError> {
        self.place(number)?;
        if sent.event["kind"] == "melted" {
            let fault = Fault::new("event", "melted", "a kind that there is");
            return Err(WorkbenchError::Faults(fault.into()));
        }
        let mut logged = self.logged.lock().unwrap();
        if logged.iter().all(|there| there.once != sent.once) {
            logged.push(sent.clone());
        }
        drop(logged);
        self.wheel(number)
    }

    fn now(&self, number: StoneNumber) -> Result<Value, WorkbenchError> {
        self.place(number)?;
        Ok(json!({ "format": "opalwright-now/1", "advice": [] }))
    }

    fn finish(&self, number: StoneNumber, what: &FinishQuestion) -> Result<Value, WorkbenchError> {
        self.place(number)?;
        Ok(json!({ "format": "opalwright-finish/1", "face_mm2": what.face_mm2 }))
    }

    fn drying(&self, number: StoneNumber, what: &DryingQuestion) -> Result<Value, WorkbenchError> {
        self.place(number)?;
        Ok(json!({ "format": "opalwright-drying/1", "weighings": what.parts().count() }))
    }

    fn saw_or_grind(&self, what: &SawOrGrindQuestion) -> Result<Value, WorkbenchError> {
        Ok(json!({ "format": "opalwright-saw-or-grind/1", "area_mm2": what.area_mm2 }))
    }
}
