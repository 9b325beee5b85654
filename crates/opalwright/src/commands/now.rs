//! `now`: what to do next at the bench.

use super::output::{say, say_json};
use crate::args::{Args, Drawing};
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;
use opal_job::{Ask, Bench, HeldInsides};

#[derive(Debug, ClapArgs)]
pub(crate) struct Now {
    /// The stone, by name or number.
    stone: String,
    /// How many possible insides to draw: fewer than for a bid, so that the
    /// answer is there before the hands are dry.
    #[arg(long, value_name = "N", default_value_t = INTERIORS)]
    interiors: usize,
    /// What the draws start from: the same seed gives the same answer.
    #[arg(long, default_value_t = 7)]
    seed: u64,
    /// Distance between the nodes of the grid, mm [default: from the size].
    #[arg(long, value_name = "MM")]
    cell: Option<f64>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

/// Chosen: a chance of 1 in 10 is then known to about 2 in 100.
pub(crate) const INTERIORS: usize = 240;
/// The levels at which `now` tells quantiles.
pub(crate) const LEVELS: [f64; 5] = [0.05, 0.25, 0.5, 0.75, 0.95];

pub(super) fn run(args: &Args, command: &Now) -> Result<(), Failure> {
    let bench = wire::bench(args)?;
    let ask = Drawing {
        interiors: command.interiors,
        seed: command.seed,
        cell: command.cell,
    }
    .ask(&LEVELS)?;
    answer(&bench, &command.stone, &ask, command.json)
}

/// Ranks, keeps the forecast as it stood, and tells.
pub(super) fn answer(bench: &Bench, stone: &str, ask: &Ask, json: bool) -> Result<(), Failure> {
    let prices = bench.prices()?;
    let at = bench.at_the_bench(stone, ask)?;
    let wheels = bench.wheels()?;
    let doc = bench.what_now(&at, &prices, &wheels, ask, &mut HeldInsides::default())?;
    if json {
        say_json(&doc)
    } else {
        say(&opal_report::text::now(&doc, prices.settings.currency()))
    }
}
