//! `finish`: which wheel when, how deep, how long.

use super::output::{say, say_json};
use crate::args::Args;
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;
use opal_job::{Ask, Bench, FinishAsk, WheelsInForce};
use opal_units::{Area, Length, Seed};
use std::path::{Path, PathBuf};

#[derive(Debug, ClapArgs)]
pub(crate) struct Finish {
    /// The stone, by name or number.
    stone: String,
    /// A wheel file to use this once, in place of the wheels in force.
    #[arg(long, value_name = "FILE")]
    wheels: Option<PathBuf>,
    /// Area of the face, mm² [default: the stone's outline as it is now].
    #[arg(long, value_name = "MM2")]
    face: Option<f64>,
    /// Stock above the wanted face when the first wheel starts, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.5)]
    stock: f64,
    /// How surely no wheel's damage is to reach the face.
    #[arg(long, value_name = "SHARE", default_value_t = 0.9)]
    confidence: f64,
    /// Minutes that a change of wheel takes, with cleaning and a look.
    #[arg(long, value_name = "MIN", default_value_t = 2.0)]
    change: f64,
    /// What the draws start from: the same seed gives the same answer.
    #[arg(long, default_value_t = 7)]
    seed: u64,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, command: &Finish) -> Result<(), Failure> {
    let bench = wire::bench(args)?;
    let ask = Ask {
        seed: Seed(command.seed),
        ..Ask::default()
    };
    let at = bench.at_the_bench(&command.stone, &ask)?;
    let face = command
        .face
        .map_or_else(|| at.worked.stone.outline_area(), Area::from_mm2);
    let what = FinishAsk {
        face,
        stock: Length::from_mm(command.stock),
        confidence: command.confidence,
        change_minutes: command.change,
    };
    let wheels = wheels(&bench, command.wheels.as_deref())?;
    let doc = bench.finish(&at, &what, &wheels, &ask)?;
    if command.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::finish(&doc))
    }
}

/// Largest wheel file that is read, bytes. Chosen: thirty wheels fit many times.
pub(super) const MOST_WHEEL_BYTES: u64 = 1024 * 1024;

/// The wheels in a file, or those in force.
pub(super) fn wheels(bench: &Bench, file: Option<&Path>) -> Result<WheelsInForce, Failure> {
    Ok(match file {
        Some(path) => {
            let text = wire::text_file(path, MOST_WHEEL_BYTES)?;
            bench.wheels_from(&path.display().to_string(), &text)?
        }
        None => bench.wheels()?,
    })
}
