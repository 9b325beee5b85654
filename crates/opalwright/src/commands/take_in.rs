//! `take-in`: start a stone from an evidence file.

use super::output::{say, say_json};
use crate::args::{Args, TakeIn};
use crate::exit::Failure;
use crate::wire;
use opal_job::{Ask, NoProgress};

pub(super) fn run(args: &Args, command: &TakeIn) -> Result<(), Failure> {
    let file = wire::evidence_file(&command.evidence)?;
    let bench = wire::bench(args)?;
    let how = match &command.again {
        Some(stone) => opal_job::TakeIn::Again(bench.number(stone)?),
        None => opal_job::TakeIn::New { invented: false },
    };
    let opened = bench.take_in(file, &how)?;
    let mut job = bench.job(&opened, &bench.prices()?, Ask::default())?;
    let doc = job.show_doc(opened.record.as_ref(), &NoProgress)?;
    if command.answer.json {
        return say_json(&doc);
    }
    let text = opal_report::text::show(&doc, command.answer.detail());
    let number = opened.record.map_or(0, |record| record.no.0);
    say(&format!(
        "Taken in as number {number}.\n\n{text}\nNext: opalwright bid {number}\n"
    ))
}
