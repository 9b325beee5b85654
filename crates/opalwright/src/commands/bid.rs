//! `bid`: the most to pay.

use super::output::{say, say_json};
use super::plan::Prepared;
use crate::args::{Args, Bid};
use crate::exit::Failure;
use crate::watch::Watch;

pub(super) fn run(args: &Args, command: &Bid) -> Result<(), Failure> {
    let mut prepared = Prepared::new(args, &command.evidence, &command.planning)?;
    let watch = Watch::new();
    let doc = prepared.job.bid_doc(&watch)?;
    let text = prepared.job.bid_text(command.answer.detail(), &watch)?;
    watch.clear();
    prepared.keep("bid", &doc)?;
    if command.answer.json {
        say_json(&doc)
    } else {
        say(&text)
    }
}
