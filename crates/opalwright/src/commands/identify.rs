//! `identify`: what a finished stone most likely is, and what to look at next.

use super::output::{say, say_json};
use crate::args::Args;
use crate::exit::Failure;
use crate::readings_argument::{self, KeepWith};
use crate::wire;
use clap::Args as ClapArgs;
use std::path::PathBuf;

#[derive(Debug, ClapArgs)]
pub(crate) struct Identify {
    /// The readings file (opalwright-readings/1, TOML or JSON).
    readings: PathBuf,
    #[command(flatten)]
    keep: KeepWith,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, command: &Identify) -> Result<(), Failure> {
    let read = readings_argument::read(&command.readings)?;
    let doc = read.at.identity_doc();
    if command.keep.is_wanted() {
        read.keep(&wire::bench(args)?, &command.keep)?;
    }
    if command.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::identity(&doc))
    }
}
