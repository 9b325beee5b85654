//! `drying`: is a piece still losing water; wait or cut. What is asked of a stone of the
//! store is kept as a forecast.

use super::output::{say, say_json};
use crate::args::Args;
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;
use opal_job::{Ask, JobError, drying_doc, told_weighings};
use opal_units::Seed;

#[derive(Debug, ClapArgs)]
pub(crate) struct Drying {
    /// The stone, by name or number: what `log weighed` kept since it was last worked.
    #[arg(required_unless_present = "weights")]
    stone: Option<String>,
    /// Weights in place of the log's: days and carats, such as 0:41.20,7:41.05,14:41.01.
    #[arg(long, value_name = "DAY:CT", value_delimiter = ',')]
    weights: Vec<String>,
    /// One standard deviation of the scale, ct.
    #[arg(long, value_name = "CT", default_value_t = 0.01)]
    scale: f64,
    /// What the draws start from: the same seed gives the same answer.
    #[arg(long, default_value_t = 7)]
    seed: u64,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, command: &Drying) -> Result<(), Failure> {
    let ask = Ask {
        seed: Seed(command.seed),
        ..Ask::default()
    };
    let parts = command.weights.iter().map(String::as_str);
    let (told, scale) = told_weighings(parts, command.scale)
        .map_err(|faults| Failure::from(JobError::from(faults)).of_the_command())?;
    let doc = match &command.stone {
        Some(stone) => {
            let bench = wire::bench(args)?;
            bench.drying(&bench.at_the_bench(stone, &ask)?, &told, scale, &ask)?
        }
        None => drying_doc("The piece", &told, scale, &ask)?,
    };
    if command.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::drying(&doc))
    }
}
