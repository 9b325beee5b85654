//! `show`: a stone as it was taken in, or all stones.

use super::output::{say, say_json};
use crate::args::{Args, Show};
use crate::evidence_argument;
use crate::exit::Failure;
use crate::wire;
use opal_job::{Ask, NoProgress, list_doc};

pub(super) fn run(args: &Args, command: &Show) -> Result<(), Failure> {
    let Some(evidence) = &command.evidence else {
        let doc = list_doc(&wire::bench_to_look(args)?.stones()?);
        return if command.answer.json {
            say_json(&doc)
        } else {
            say(&opal_report::text::list(&doc))
        };
    };
    let (bench, opened) = evidence_argument::open(args, evidence)?;
    let mut job = bench.job(&opened, &bench.prices()?, Ask::default())?;
    let doc = job.show_doc(opened.record.as_ref(), &NoProgress)?;
    if command.answer.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::show(&doc, command.answer.detail()))
    }
}
