//! `demo --bench`: an invented session at the bench, replayed; the advice
//! changes as the face opens. Nothing is kept.

use super::now::{INTERIORS, LEVELS};
use super::output::{say, say_json};
use crate::args::{Answer, Drawing};
use crate::exit::Failure;
use crate::wire;
use opal_job::{EvidenceFile, HeldInsides, JobError, Syntax, TakeIn, event_from_json};
use opal_report::json::NowDoc;
use serde_json::Value;

/// The invented piece and what happens to it; both say so themselves.
const EVIDENCE: &str = include_str!("../../../../examples/bench.toml");
const SESSION: &str = include_str!("../../../../examples/bench-session.json");

/// How many actions are told at each halt.
const TOLD: usize = 4;

pub(super) fn run(drawing: &Drawing, answer: Answer) -> Result<(), Failure> {
    let bench = wire::bench_in_memory()?;
    let file = EvidenceFile {
        file_name: "bench.toml".to_owned(),
        syntax: Syntax::Toml,
        text: EVIDENCE.to_owned(),
        meshes: Vec::new(),
    };
    let opened = bench.take_in(file, &TakeIn::New { invented: true })?;
    let name = opened.evidence.piece.name;
    let prices = bench.prices()?;
    let currency = prices.settings.currency();
    // A thousand insides are for a bid; the bench wants its answer at once.
    let ask = Drawing {
        interiors: drawing.interiors.min(INTERIORS),
        ..drawing.clone()
    }
    .ask(&LEVELS)?;
    let steps: Vec<Value> = serde_json::from_str(SESSION).map_err(JobError::from)?;
    let mut halts: Vec<NowDoc> = Vec::new();
    let mut held = HeldInsides::default();
    if !answer.json {
        say("An invented session at the bench, replayed. No such stone exists.\n")?;
    }
    for step in &steps {
        if let Some(event) = step.get("event") {
            let event = event_from_json(event).map_err(JobError::from)?;
            let at = bench.log(&name, event, &ask)?;
            if let (false, Some(last)) = (answer.json, at.log_doc()?.events.last()) {
                say(&format!("{:>4}  {}\n", last.number, last.words))?;
            }
        }
        if let Some(halt) = step.get("now").and_then(Value::as_str) {
            let mut doc = bench.at_the_bench(&name, &ask)?.now_doc(
                &prices,
                &bench.wheels()?,
                &ask,
                &mut held,
            )?;
            if answer.json {
                halts.push(doc);
                continue;
            }
            doc.advice.truncate(TOLD);
            if !answer.figures {
                doc.facing = None;
                doc.notes.clear();
            }
            say(&format!(
                "\n──── {halt}\n{}\n",
                opal_report::text::now(&doc, currency)
            ))?;
        }
    }
    if answer.json {
        say_json(&halts)
    } else {
        Ok(())
    }
}
