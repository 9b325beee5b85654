//! `interior`: what may lie inside, at given places.

use super::output::{say, say_json};
use crate::args::{Args, Interior};
use crate::evidence_argument;
use crate::exit::Failure;
use crate::points;
use crate::watch::Watch;
use crate::wire;

/// Largest table of places that is read, bytes. Chosen: because a million
/// places stay below it.
const MOST_BYTES: u64 = 64 * 1024 * 1024;

pub(super) fn run(args: &Args, command: &Interior) -> Result<(), Failure> {
    let places = wire::text_file(&command.at, MOST_BYTES)?;
    let points = points::read(&command.at.display().to_string(), &places)
        .map_err(opal_job::JobError::from)?;
    let (bench, opened) = evidence_argument::open(args, &command.evidence)?;
    let ask = command.drawing.ask(&command.quantiles)?;
    let mut job = bench.job(&opened, &bench.prices()?, ask)?;
    let watch = Watch::new();
    let doc = job.interior_doc(&points, &watch)?;
    watch.clear();
    if command.answer.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::interior(&doc, command.answer.detail()))
    }
}
