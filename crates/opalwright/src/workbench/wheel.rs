//! The workbench at the wheel, on the use cases of `log`, `now` and `finish`.

use super::{BenchWorkbench, document_value, job_error, locked};
use crate::commands::now::{INTERIORS, LEVELS};
use opal_evidence::Fault;
use opal_job::{
    Ask, AtTheBench, FinishAsk, SawOrGrindAsk, Sent, StoneNo, Timestamp, saw_or_grind_doc,
    told_weighings,
};
use opal_server::{
    AtTheWheel, DryingQuestion, FinishQuestion, SawOrGrindQuestion, SentEvent, StoneNumber,
    WheelPage, WorkbenchError,
};
use opal_units::{Area, Length};
use serde_json::Value;

/// Stock above the wanted face where none was told, mm: as the command line's.
const STOCK_MM: f64 = 0.5;
/// How surely no wheel's damage is to reach the face: as the command line's.
const CONFIDENCE: f64 = 0.9;
/// Minutes that a change of wheel takes: as the command line's.
const CHANGE_MINUTES: f64 = 2.0;
/// One standard deviation of the scale, ct: as the command line's.
const SCALE_CT: f64 = 0.01;

fn now_ask() -> Ask {
    Ask {
        n_interiors: INTERIORS,
        levels: LEVELS.to_vec(),
        ..Ask::default()
    }
}

impl BenchWorkbench {
    fn wheel_page(&self, at: &AtTheBench) -> Result<WheelPage, WorkbenchError> {
        let log = document_value(&at.log_doc().map_err(job_error)?)?;
        let wheels = self.bench.wheels().map_err(job_error)?;
        let names = wheels.set.wheels.iter().map(|wheel| wheel.name.clone());
        let worked = &at.worked;
        Ok(WheelPage::new(
            log,
            &worked.stone,
            &worked.evidence,
            names.collect(),
        ))
    }

    fn at_the_bench(&self, stone: StoneNumber) -> Result<AtTheBench, WorkbenchError> {
        self.bench
            .at_the_bench_number(StoneNo(stone), &now_ask())
            .map_err(job_error)
    }
}

impl AtTheWheel for BenchWorkbench {
    fn wheel(&self, stone: StoneNumber) -> Result<WheelPage, WorkbenchError> {
        self.wheel_page(&self.at_the_bench(stone)?)
    }

    fn log(&self, stone: StoneNumber, sent: &SentEvent) -> Result<WheelPage, WorkbenchError> {
        let at = sent.at.as_deref().map(str::parse::<Timestamp>).transpose();
        let sent = Sent {
            once: sent.once.clone(),
            at: at.map_err(|error| {
                let told = sent.at.as_deref().unwrap_or_default();
                WorkbenchError::Faults(Fault::new("at", told, error.to_string()).into())
            })?,
            event: sent.event.clone(),
        };
        let _one_at_a_time = locked(&self.logging);
        let at = self.bench.log_once(StoneNo(stone), &sent, &now_ask());
        self.wheel_page(&at.map_err(job_error)?)
    }

    fn now(&self, stone: StoneNumber) -> Result<Value, WorkbenchError> {
        let (at, ask) = (self.at_the_bench(stone)?, now_ask());
        let prices = self.bench.prices().map_err(job_error)?;
        let wheels = self.bench.wheels().map_err(job_error)?;
        let mut insides = locked(&self.insides);
        let doc = self
            .bench
            .what_now(&at, &prices, &wheels, &ask, &mut insides);
        document_value(&doc.map_err(job_error)?)
    }

    fn finish(&self, stone: StoneNumber, what: &FinishQuestion) -> Result<Value, WorkbenchError> {
        let at = self.at_the_bench(stone)?;
        let what = FinishAsk {
            face: what
                .face_mm2
                .map_or_else(|| at.worked.stone.outline_area(), Area::from_mm2),
            stock: Length::from_mm(what.stock_mm.unwrap_or(STOCK_MM)),
            confidence: CONFIDENCE,
            change_minutes: CHANGE_MINUTES,
        };
        let wheels = self.bench.wheels().map_err(job_error)?;
        let doc = self.bench.finish(&at, &what, &wheels, &now_ask());
        document_value(&doc.map_err(job_error)?)
    }

    fn drying(&self, stone: StoneNumber, what: &DryingQuestion) -> Result<Value, WorkbenchError> {
        let scale = what.scale_ct.unwrap_or(SCALE_CT);
        let told = told_weighings(what.parts(), scale);
        let (told, scale) = told.map_err(WorkbenchError::Faults)?;
        let at = self.at_the_bench(stone)?;
        let doc = self.bench.drying(&at, &told, scale, &now_ask());
        document_value(&doc.map_err(job_error)?)
    }

    fn saw_or_grind(&self, what: &SawOrGrindQuestion) -> Result<Value, WorkbenchError> {
        let area = Area::from_mm2(what.area_mm2);
        let what = SawOrGrindAsk {
            thickness: Length::from_mm(what.thickness_mm),
            area,
            cut: what.cut_mm2.map_or(area, Area::from_mm2),
            pressure: 1.0,
            offcut_worth: what.offcut_worth.unwrap_or(0.0),
            wheel: None,
        };
        let wheels = self.bench.wheels().map_err(job_error)?;
        let prices = self.bench.prices().map_err(job_error)?;
        let doc = saw_or_grind_doc(&what, &wheels, &prices.settings);
        document_value(&doc.map_err(job_error)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire;
    use opal_server::Workbench;
    use serde_json::json;

    fn sent(once: &str, event: Value) -> SentEvent {
        SentEvent {
            once: once.to_owned(),
            at: Some("2026-01-02T03:04:05Z".to_owned()),
            event,
        }
    }

    /// The example's piece on a bench that keeps nothing.
    fn with_a_stone() -> BenchWorkbench {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
        let file = wire::evidence_file(path.as_ref());
        let (Ok(bench), Ok(file)) = (wire::bench_in_memory(), file) else {
            unreachable!("the example is readable");
        };
        let how = opal_job::TakeIn::New { invented: true };
        bench.take_in(file, &how).expect("takes in");
        BenchWorkbench::new(bench)
    }

    fn words(page: &WheelPage) -> Vec<&str> {
        let events = page.log["events"].as_array().expect("events");
        events
            .iter()
            .filter_map(|event| event["words"].as_str())
            .collect()
    }

    #[test]
    fn an_event_sent_again_stands_once_and_an_undo_finds_it_by_its_mark() {
        let bench = with_a_stone();
        let ground = sent(
            "a",
            json!({"kind": "ground", "place": "flat", "depth_mm": 0.5}),
        );
        let first = bench.log(1, &ground).expect("logs");
        let again = bench.log(1, &ground).expect("is there already");
        assert_eq!(first.log, again.log);
        assert_eq!(words(&again).len(), 1);
        let undo = sent("b", json!({"kind": "undone", "once": "a"}));
        let undone = bench.log(1, &undo).expect("undoes");
        assert_eq!(undone.log["events"][0]["stands"], false);
        assert_eq!(
            bench.log(1, &undo).expect("is there already").log,
            undone.log
        );
        assert_eq!(words(&bench.wheel(1).expect("the page")), words(&undone));
    }

    #[test]
    fn an_undo_of_what_is_undone_is_done_already() {
        let bench = with_a_stone();
        let ground = json!({"kind": "ground", "place": "flat", "depth_mm": 0.5});
        bench.log(1, &sent("a", ground)).expect("logs");
        // Two devices, each of which saw the entry stand.
        let undo = |mark| sent(mark, json!({"kind": "undone", "event": 1}));
        let first = bench.log(1, &undo("b")).expect("undoes");
        let second = bench.log(1, &undo("c")).expect("is undone already");
        assert_eq!(second.log, first.log);
        assert_eq!(words(&second).len(), 2);
        // What is no event, or none yet, is refused as before.
        for event in [0, 9] {
            let undo = sent("d", json!({"kind": "undone", "event": event}));
            assert!(bench.log(1, &undo).is_err(), "{event}");
        }
    }

    #[test]
    fn too_few_weighings_are_told_as_faults() {
        let bench = with_a_stone();
        let ask = |weights: Option<&str>, scale_ct| {
            let weights = weights.map(str::to_owned);
            bench.drying(1, &DryingQuestion { weights, scale_ct })
        };
        let fields = |answer: Result<Value, WorkbenchError>| match answer {
            Err(WorkbenchError::Faults(faults)) => faults.0.into_iter().map(|f| f.field).collect(),
            other => vec![format!("{other:?}")],
        };
        assert_eq!(fields(ask(None, None)), ["weights"]);
        assert_eq!(fields(ask(Some("0:41,7:40"), None)), ["weights"]);
        assert_eq!(fields(ask(Some("0:41,7:40,7:39"), None)), ["weights[2]"]);
        assert_eq!(
            fields(ask(Some("0:41,seven:40"), Some(0.0))),
            ["weights[1]", "scale_ct"]
        );
        assert!(ask(Some("0:41.2,7:41.05,14:41.02"), None).is_ok());
    }

    #[test]
    fn an_event_that_cannot_be_is_refused_with_its_place_and_not_kept() {
        let bench = with_a_stone();
        for (event, field) in [
            (json!({"kind": "undone", "once": "never sent"}), "once"),
            (
                json!({"kind": "ground", "place": "side", "depth_mm": 0.2}),
                "toward",
            ),
            (
                json!({"kind": "ground", "place": "flat", "depth_mm": 900.0}),
                "",
            ),
            (json!({"kind": "melted"}), "event"),
        ] {
            let refused = bench.log(1, &sent("c", event.clone())).map(|page| page.log);
            let named = matches!(&refused, Err(WorkbenchError::Faults(faults))
                if faults.0[0].field.contains(field));
            assert!(named, "{event}: {refused:?}");
        }
        let unmarked = sent("", json!({"kind": "dropped"}));
        assert!(bench.log(1, &unmarked).is_err());
        assert!(words(&bench.wheel(1).expect("the page")).is_empty());
        assert!(bench.stone(1).is_ok());
    }

    #[test]
    fn devices_that_send_the_same_at_once_add_it_once() {
        let bench = with_a_stone();
        let weighed = sent("d", json!({"kind": "weighed", "weight_ct": 14.4}));
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| bench.log(1, &weighed).expect("logs"));
            }
        });
        assert_eq!(
            words(&bench.wheel(1).expect("the page")),
            ["weighed: 14.40 ct"]
        );
    }
}
