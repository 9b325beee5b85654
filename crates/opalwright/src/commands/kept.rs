//! `kept`: what was kept at the counter.

use super::output::{say, say_json};
use crate::args::Args;
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;

#[derive(Debug, ClapArgs)]
#[command(after_help = "A card as it was printed: opalwright disclose --reprint STONE --pdf FILE")]
pub(crate) struct Kept {
    /// Only stones whose name, number or customer has this in it.
    #[arg(value_name = "STONE-OR-CUSTOMER")]
    words: Option<String>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, command: &Kept) -> Result<(), Failure> {
    let doc = wire::bench_to_look(args)?.kept(command.words.as_deref())?;
    if command.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::kept(&doc))
    }
}
