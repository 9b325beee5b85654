//! `identify`: what a finished stone most likely is, and what to look at next.

use super::output::{say, say_json};
use crate::args::Args;
use crate::exit::Failure;
use crate::{readings_argument, wire};
use clap::Args as ClapArgs;
use std::path::PathBuf;

#[derive(Debug, ClapArgs)]
pub(crate) struct Identify {
    /// The readings file (opalwright-readings/1, TOML or JSON).
    readings: PathBuf,
    /// Keep the readings with this stone of the store (name or number).
    #[arg(long, value_name = "STONE")]
    keep: Option<String>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, command: &Identify) -> Result<(), Failure> {
    let read = readings_argument::read(&command.readings)?;
    let doc = read.at.identity_doc();
    if let Some(stone) = &command.keep {
        wire::bench(args)?.keep_readings(stone, &read.file, &read.text)?;
    }
    if command.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::identity(&doc))
    }
}
