//! `drying`: is a piece still losing water; wait or cut. What is asked of a stone of the
//! store is kept as a forecast.

use super::output::{say, say_json};
use crate::args::Args;
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;
use opal_finish::Weighing;
use opal_job::{Ask, drying_doc};
use opal_units::{Mass, Seed};

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
    if !(command.scale > 0.0 && command.scale.is_finite()) {
        let said = format!("--scale is {}, it must be above 0 ct", command.scale);
        return Err(Failure::user(said));
    }
    let ask = Ask {
        seed: Seed(command.seed),
        ..Ask::default()
    };
    let told = command
        .weights
        .iter()
        .map(|text| weighing(text))
        .collect::<Result<Vec<_>, _>>()?;
    let scale = Mass::from_carats(command.scale);
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

fn weighing(text: &str) -> Result<Weighing, Failure> {
    let parts = text
        .split_once(':')
        .and_then(|(day, ct)| Some((day.trim().parse().ok()?, ct.trim().parse().ok()?)));
    let Some((day, ct)) = parts else {
        let said = format!("--weights has '{text}', it must be DAY:CT, such as 7:41.05");
        return Err(Failure::user(said));
    };
    Ok(Weighing {
        day,
        weight: Mass::from_carats(ct),
    })
}
