//! `plan`: ways to cut, the best first. Also what `bid` and `sheet` share: a
//! job with its prices.

use super::output::{say, say_json};
use crate::args::{Args, Plan, Planning};
use crate::evidence_argument;
use crate::exit::Failure;
use crate::watch::Watch;
use crate::wire;
use opal_job::{Bench, Job, Opened, PricesInForce};
use std::path::Path;

/// Largest price file that is read, bytes. Chosen: because five hundred rows
/// stay well below it.
pub(super) const MOST_PRICE_BYTES: u64 = 4 * 1024 * 1024;

/// A job on one stone with everything that it rests on.
pub(super) struct Prepared {
    pub(super) bench: Bench,
    pub(super) opened: Opened,
    pub(super) prices: PricesInForce,
    pub(super) job: Job,
}

/// The prices of a file that is used this once, or those in force.
pub(super) fn prices_in_force(
    bench: &Bench,
    once: Option<&Path>,
) -> Result<PricesInForce, Failure> {
    let Some(path) = once else {
        return Ok(bench.prices()?);
    };
    let text = wire::text_file(path, MOST_PRICE_BYTES)?;
    let settings = bench
        .ports()
        .prices
        .read(&path.display().to_string(), &text)
        .map_err(opal_job::JobError::from)?;
    Ok(PricesInForce {
        text,
        example: false,
        settings: bench.with_own_sales(settings)?,
    })
}

impl Prepared {
    pub(super) fn new(args: &Args, evidence: &str, planning: &Planning) -> Result<Self, Failure> {
        let (bench, opened) = evidence_argument::open(args, evidence)?;
        let prices = prices_in_force(&bench, planning.prices.as_deref())?;
        let job = bench.job(&opened, &prices, planning.ask()?)?;
        Ok(Self {
            bench,
            opened,
            prices,
            job,
        })
    }

    /// Keeps an answer where the stone stands in the store.
    pub(super) fn keep(&self, what: &str, answer: &impl serde::Serialize) -> Result<(), Failure> {
        let output = serde_json::to_string(answer).map_err(opal_job::JobError::from)?;
        let inputs = self
            .bench
            .inputs(&self.opened, &self.prices, self.job.ask())?;
        Ok(self
            .bench
            .keep(&self.opened, what, &inputs, self.job.ask(), &output)?)
    }
}

pub(super) fn run(args: &Args, command: &Plan) -> Result<(), Failure> {
    let mut prepared = Prepared::new(args, &command.evidence, &command.planning)?;
    let watch = Watch::new();
    let doc = prepared.job.plan_doc(&watch)?;
    let text = prepared.job.plan_text(command.answer.detail(), &watch)?;
    watch.clear();
    prepared.keep("plan", &doc)?;
    if command.answer.json {
        say_json(&doc)
    } else {
        say(&text)
    }
}
