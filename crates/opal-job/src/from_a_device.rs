//! Events from a device that may have been out of reach when they happened.

use crate::ask::Ask;
use crate::at_the_bench::AtTheBench;
use crate::bench::Bench;
use crate::bench_events::{ONCE, event_from_json, kept, of_record};
use crate::error::JobError;
use crate::records::{EventRecord, StoneNo};
use jiff::Timestamp;
use opal_bench::Event;
use opal_evidence::Fault;
use serde_json::{Value, json};

/// Longest mark. Chosen: twice a UUID's text.
const ONCE_CHARS_MAX: usize = 72;

/// An event as a device sends it, perhaps late, perhaps more than once.
#[derive(Clone, Debug, PartialEq)]
pub struct Sent {
    /// The mark that the device gave it: sent again, it is kept once.
    pub once: String,
    /// When it happened, by the device's clock.
    pub at: Option<Timestamp>,
    /// The event. An undo may name the mark of what it undoes (`once`) where the
    /// device never learnt that event's number.
    pub event: Value,
}

impl Bench {
    /// Logs what a device sent, exactly once; refused, and nothing stored, when
    /// it cannot have happened. An undo of what another device undid already is done
    /// already: what that device sends next does not wait behind it.
    ///
    /// # Errors
    /// No such stone; the store fails; what is wrong with the event.
    pub fn log_once(&self, no: StoneNo, sent: &Sent, ask: &Ask) -> Result<AtTheBench, JobError> {
        if sent.once.is_empty() || sent.once.chars().count() > ONCE_CHARS_MAX {
            let limit =
                format!("a mark of 1 to {ONCE_CHARS_MAX} characters, another for each event");
            let count = format!("{} characters", sent.once.chars().count());
            return Err(JobError::Faults(Fault::new("once", count, limit).into()));
        }
        let store = &self.ports().store;
        let marks = marks(&store.events(no)?);
        if marks.contains(&Some(sent.once.clone())) {
            return self.at_the_bench_number(no, ask);
        }
        let event = event_from_json(&numbered(&sent.event, &marks)?)?;
        let before = self.at_the_bench_number(no, ask)?;
        if matches!(event, Event::Undone { event } if before.is_undone(event)) {
            return Ok(before);
        }
        let at = self.happened(sent.at, &before);
        let mut new = kept(&event)?;
        let mut body: Value = serde_json::from_str(&new.body)?;
        body[ONCE] = json!(sent.once);
        new.body = body.to_string();
        self.add_to_log(&before, (at, event), new, ask)
    }

    /// The device's time where it can be, else ours: not in the future, and not
    /// before the stone was here.
    fn happened(&self, told: Option<Timestamp>, before: &AtTheBench) -> Timestamp {
        let now = self.ports().clock.now();
        let taken_in = before.opened.record.as_ref().map(|record| record.taken_in);
        told.filter(|told| *told <= now && taken_in.is_none_or(|from| *told >= from))
            .unwrap_or(now)
    }
}

/// The marks of the bench events, in order: the first is that of event 1.
fn marks(records: &[EventRecord]) -> Vec<Option<String>> {
    records
        .iter()
        .filter(|record| of_record(record).is_some())
        .map(|record| {
            let body: Value = serde_json::from_str(&record.event.body).ok()?;
            body[ONCE].as_str().map(str::to_owned)
        })
        .collect()
}

/// An undo by mark becomes one by number.
fn numbered(event: &Value, marks: &[Option<String>]) -> Result<Value, JobError> {
    let Some(mark) = event[ONCE].as_str().filter(|_| event["kind"] == "undone") else {
        return Ok(event.clone());
    };
    let place = marks
        .iter()
        .position(|there| there.as_deref() == Some(mark));
    let place = place.ok_or_else(|| {
        JobError::Faults(Fault::new("once", mark, "the mark of an event that was kept").into())
    })?;
    Ok(json!({ "kind": "undone", "event": place + 1 }))
}
