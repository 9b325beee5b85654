//! The use cases at the bench: log what happened, ask what now.

use crate::ask::Ask;
use crate::bench::{Bench, Opened, PricesInForce, VERSION};
use crate::bench_events::{event_to_json, kept, of_record, words};
use crate::error::JobError;
use crate::event_faults;
use crate::finish::{FinishAsk, drying_doc};
use crate::parting::{self, Parted, refuse_withdrawn};
use crate::ports::{StoreError, StoreFault};
use crate::records::{Happening, NewEvent, StoneNo, StoneRecord, fingerprint};
use crate::wheels::WheelsInForce;
use jiff::Timestamp;
use opal_bench::{Event, Stage, Worked, replay};
use opal_finish::Weighing;
use opal_interior::OriginPrior;
use opal_report::json::{DryingDoc, FinishDoc, LOG_FORMAT, LogDoc, LoggedDoc, OffcutDoc};
use opal_stone::Stone;
use opal_units::Mass;

/// A stone that is being worked: as it was taken in, what happened, as it is now.
#[derive(Clone, Debug)]
pub struct AtTheBench {
    /// What was taken in.
    pub opened: Opened,
    /// The rough as it was taken in.
    pub taken_in: Stone,
    /// What happened, oldest first.
    pub events: Vec<(Timestamp, Event)>,
    /// As it is now.
    pub worked: Worked,
    /// How the cost was parted when pieces came off, oldest first.
    pub partings: Vec<Parted>,
    /// What the cutter's other stones of the same field say of its inside.
    pub origin: Option<OriginPrior>,
}

impl Bench {
    /// A stone of the store with all that was logged of it, as it is now.
    ///
    /// # Errors
    /// No such stone; the store fails; events that this version refuses.
    pub fn at_the_bench(&self, name_or_no: &str, ask: &Ask) -> Result<AtTheBench, JobError> {
        self.with_log(self.open(name_or_no)?, ask)
    }

    /// A stone of the store by its number alone, with all that was logged of it.
    ///
    /// # Errors
    /// As [`Bench::at_the_bench`].
    pub fn at_the_bench_number(&self, no: StoneNo, ask: &Ask) -> Result<AtTheBench, JobError> {
        self.with_log(self.open_number(no)?, ask)
    }

    fn with_log(&self, opened: Opened, ask: &Ask) -> Result<AtTheBench, JobError> {
        let mut events = Vec::new();
        let mut partings = Vec::new();
        if let Some(record) = &opened.record {
            let records = self.ports().store.events(record.no)?;
            refuse_withdrawn(&record.name, &records)?;
            for logged in &records {
                if let Some(event) = of_record(logged) {
                    events.push((logged.at, event?));
                }
            }
            partings = parting::partings(&records)?;
        }
        Ok(AtTheBench {
            partings,
            ..self.replayed(opened, events, ask)?
        })
    }

    fn replayed(
        &self,
        opened: Opened,
        events: Vec<(Timestamp, Event)>,
        ask: &Ask,
    ) -> Result<AtTheBench, JobError> {
        let origin = self.origin_prior_of(&opened)?;
        let at = AtTheBench::new(opened, events.clone(), ask).map_err(|error| match error {
            JobError::Faults(faults) => {
                event_faults::told(faults, &events, |at| self.ports().clock.local(at)).into()
            }
            other => other,
        })?;
        Ok(AtTheBench { origin, ..at })
    }

    /// Logs an event; refused, and nothing stored, when it cannot have happened.
    /// A piece that came off and was named becomes a stone of its own, with its
    /// share of the cost; undoing the cut withdraws it.
    ///
    /// # Errors
    /// No such stone; the store fails; what is wrong with the event.
    pub fn log(&self, name_or_no: &str, event: Event, ask: &Ask) -> Result<AtTheBench, JobError> {
        let before = self.at_the_bench(name_or_no, ask)?;
        let (at, new) = (self.ports().clock.now(), kept(&event)?);
        self.add_to_log(&before, (at, event), new, ask)
    }

    /// Adds an event, as the store is to keep it, to what was logged before.
    pub(crate) fn add_to_log(
        &self,
        before: &AtTheBench,
        (at, event): (Timestamp, Event),
        new: NewEvent,
        ask: &Ask,
    ) -> Result<AtTheBench, JobError> {
        let whole = record(&before.opened)?.clone();
        let mut events = before.events.clone();
        events.push((at, event));
        let after = self.replayed(before.opened.clone(), events, ask)?;
        let mut happening = Happening {
            events: vec![(whole.no, new)],
            ..Happening::default()
        };
        let moves = self.partings_between(&whole, before, &after, at, &mut happening)?;
        self.record_with_costs(happening, &whole, &moves, at)?;
        self.at_the_bench_number(whole.no, ask)
    }

    /// The fingerprint of everything that an answer at the bench rests on.
    ///
    /// # Errors
    /// None that is known.
    pub fn inputs_at_the_bench(
        &self,
        at: &AtTheBench,
        prices: &PricesInForce,
        wheels: &WheelsInForce,
        ask: &Ask,
    ) -> Result<String, JobError> {
        let inputs = self.inputs(&at.opened, prices, ask)?;
        let (log, wheels) = (at.log_text()?, format!("{wheels:?}"));
        Ok(fingerprint(&[&inputs, &log, &wheels].map(|t| t.as_bytes())))
    }

    /// The turns of the wheels for a face, kept as a forecast.
    ///
    /// # Errors
    /// As [`AtTheBench::finish_doc`]; the store fails.
    pub fn finish(
        &self,
        at: &AtTheBench,
        what: &FinishAsk,
        wheels: &WheelsInForce,
        ask: &Ask,
    ) -> Result<FinishDoc, JobError> {
        let doc = at.finish_doc(what, wheels, ask)?;
        let inputs = [
            at.opened.file.fingerprint(),
            at.log_text()?,
            format!("{what:?} {wheels:?} {ask:?} {VERSION}"),
        ];
        let inputs = fingerprint(&inputs.each_ref().map(|text| text.as_bytes()));
        let text = serde_json::to_string(&doc)?;
        self.keep(&at.opened, "finish", &inputs, ask, &text)?;
        Ok(doc)
    }

    /// Is a stone still losing water, by its log or by weights that are told, kept as a
    /// forecast.
    ///
    /// # Errors
    /// As [`drying_doc`]; the store fails.
    pub fn drying(
        &self,
        at: &AtTheBench,
        told: &[Weighing],
        scale: Mass,
        ask: &Ask,
    ) -> Result<DryingDoc, JobError> {
        let logged = at.weighings();
        let weighings = if told.is_empty() { &logged } else { told };
        let doc = drying_doc(&at.opened.evidence.piece.name, weighings, scale, ask)?;
        let inputs = format!("{weighings:?} {scale:?} {ask:?} {VERSION}");
        let inputs = fingerprint(&[inputs.as_bytes()]);
        let text = serde_json::to_string(&doc)?;
        self.keep(&at.opened, "drying", &inputs, ask, &text)?;
        Ok(doc)
    }
}

fn record(opened: &Opened) -> Result<&StoneRecord, StoreError> {
    opened
        .record
        .as_ref()
        .ok_or_else(|| StoreError::new(StoreFault::NoStone, "the stone was not taken in"))
}

impl AtTheBench {
    /// From what was taken in and what happened since.
    ///
    /// # Errors
    /// A shape or events that cannot be.
    pub fn new(
        opened: Opened,
        events: Vec<(Timestamp, Event)>,
        ask: &Ask,
    ) -> Result<Self, JobError> {
        let taken_in = Stone::from_evidence(&opened.evidence, ask.bench_grid())?;
        let plain: Vec<Event> = events.iter().map(|(_, event)| event.clone()).collect();
        let worked = replay(&opened.evidence, &taken_in, &plain)?;
        Ok(Self {
            opened,
            taken_in,
            events,
            worked,
            partings: Vec::new(),
            origin: None,
        })
    }

    /// True when the event of this number, counted from 1, was undone.
    pub(crate) fn is_undone(&self, number: usize) -> bool {
        let standing = number.checked_sub(1).map(|k| self.worked.standing.get(k));
        standing == Some(Some(&false))
    }

    /// How the cost was parted by the cuts that were not undone, oldest first: the
    /// shares of each are those of what was left of the cost before it.
    pub fn standing_partings(&self) -> impl Iterator<Item = &Parted> {
        let stands = |parted: &&Parted| self.worked.standing.get(parted.event - 1) == Some(&true);
        self.partings.iter().filter(stands)
    }

    /// The share of the whole cost that went with each piece that came off, by
    /// the cut that made it.
    fn share_of_cost(&self, event: usize) -> Option<f64> {
        let mut left = 1.0;
        for parted in self.standing_partings() {
            if parted.event == event {
                return Some(left * parted.share(1));
            }
            left *= parted.share(0);
        }
        None
    }

    /// What happened, as a text that tells one log from another.
    fn log_text(&self) -> Result<String, JobError> {
        let mut log = String::new();
        for (_, event) in &self.events {
            log += &event_to_json(event)?.to_string();
        }
        Ok(log)
    }

    /// What happened, in machine form.
    ///
    /// # Errors
    /// None that is known.
    pub fn log_doc(&self) -> Result<LogDoc, JobError> {
        let worked = &self.worked;
        let events = self
            .events
            .iter()
            .enumerate()
            .map(|(k, (at, event))| {
                Ok(LoggedDoc {
                    number: k + 1,
                    at: at.to_string(),
                    event: event_to_json(event)?,
                    words: words(event),
                    stands: worked.standing[k],
                })
            })
            .collect::<Result<Vec<_>, JobError>>()?;
        let round = |ct: f64| (ct * 1000.0).round() / 1000.0;
        Ok(LogDoc {
            format: LOG_FORMAT.to_owned(),
            piece: worked.evidence.piece.name.clone(),
            stage: match worked.stage {
                Stage::Rough => "rough",
                Stage::Sawn => "sawn",
                Stage::FaceOpen => "face-open",
            }
            .to_owned(),
            weight_ct: round(worked.stone.weight.0.carats()),
            wheel: worked.wheel.clone(),
            events,
            offcuts: worked
                .offcuts
                .iter()
                .map(|offcut| OffcutDoc {
                    event: offcut.event,
                    name: offcut.name.clone(),
                    weight_ct: round(offcut.stone.weight.0.carats()),
                    share_of_cost: self.share_of_cost(offcut.event).map(round),
                })
                .collect(),
            notes: worked.notes.clone(),
        })
    }
}
