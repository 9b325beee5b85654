//! `interior`: what may lie inside, at given places.

use super::output::{say, say_json};
use crate::args::{Args, Interior};
use crate::evidence_argument;
use crate::exit::Failure;
use crate::watch::Watch;
use crate::wire;

pub(super) fn run(args: &Args, command: &Interior) -> Result<(), Failure> {
    let points = wire::points_file(&command.at)?;
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
