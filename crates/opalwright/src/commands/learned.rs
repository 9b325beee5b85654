//! `learned`: what the cutter's own stones have taught.

use super::output::{say, say_json};
use crate::args::{Args, Learned};
use crate::exit::Failure;
use crate::wire;

pub(super) fn run(args: &Args, command: &Learned) -> Result<(), Failure> {
    let doc = wire::bench_to_look(args)?.learned()?;
    if command.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::learned(&doc))
    }
}
