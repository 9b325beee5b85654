//! `parcel`: a bag of pieces, some of them looked into.

use super::output::{say, say_json};
use super::plan::{MOST_PRICE_BYTES, prices_in_force};
use crate::args::{Answer, Args};
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;
use opal_job::{Ask, JobError, ParcelAnswer};
use opal_units::Seed;
use std::path::PathBuf;

#[derive(Debug, ClapArgs)]
pub(crate) struct Parcel {
    /// The parcel file (opalwright-parcel/1, TOML or JSON).
    file: PathBuf,
    /// How many possible parcels to draw.
    #[arg(long, value_name = "N", default_value_t = 4000)]
    draws: usize,
    /// What the draws start from: the same seed gives the same answer.
    #[arg(long, default_value_t = 7)]
    seed: u64,
    /// A price file to use this once, in place of the price book in force.
    #[arg(long, value_name = "FILE")]
    prices: Option<PathBuf>,
    #[command(flatten)]
    answer: Answer,
}

pub(super) fn run(args: &Args, command: &Parcel) -> Result<(), Failure> {
    let ask = Ask {
        n_interiors: command.draws,
        seed: Seed(command.seed),
        ..Ask::default()
    };
    ask.check()
        .map_err(|faults| Failure::user(faults.to_string().replace("interiors", "--draws")))?;
    let text = wire::text_file(&command.file, MOST_PRICE_BYTES)?;
    let offer = opal_files::read_parcel(&command.file.display().to_string(), text.as_bytes())
        .map_err(JobError::from)?;
    let prices = prices_in_force(&wire::bench_to_look(args)?, command.prices.as_deref())?;
    let answer = ParcelAnswer::new(offer, &prices.settings, ask)?;
    if command.answer.json {
        say_json(&answer.doc()?)
    } else {
        say(&answer.text(command.answer.detail()))
    }
}
