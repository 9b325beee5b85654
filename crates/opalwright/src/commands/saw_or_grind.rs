//! `saw-or-grind`: which is the cheaper for a slab of barren stock.

use super::finish::wheels;
use super::output::{say, say_json};
use crate::args::Args;
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;
use opal_job::{SawOrGrindAsk, saw_or_grind_doc};
use opal_units::{Area, Length};
use std::path::PathBuf;

#[derive(Debug, ClapArgs)]
pub(crate) struct SawOrGrind {
    /// How thick the barren stock is, mm.
    #[arg(long, value_name = "MM")]
    thickness: f64,
    /// Area over which it would be ground, mm².
    #[arg(long, value_name = "MM2")]
    area: f64,
    /// Area that the blade would cut through, mm² [default: the area].
    #[arg(long, value_name = "MM2")]
    cut: Option<f64>,
    /// How hard the stone is pressed on the blade, 1 as usual.
    #[arg(long, value_name = "TIMES", default_value_t = 1.0)]
    pressure: f64,
    /// What the sawn-off piece is worth, in the price book's currency.
    #[arg(long, value_name = "AMOUNT", default_value_t = 0.0)]
    offcut_worth: f64,
    /// The wheel that would grind, by name [default: the one that roughs].
    #[arg(long, value_name = "NAME")]
    wheel: Option<String>,
    /// A wheel file to use this once, in place of the wheels in force.
    #[arg(long, value_name = "FILE")]
    wheels: Option<PathBuf>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, command: &SawOrGrind) -> Result<(), Failure> {
    let bench = wire::bench_to_look(args)?;
    let what = SawOrGrindAsk {
        thickness: Length::from_mm(command.thickness),
        area: Area::from_mm2(command.area),
        cut: Area::from_mm2(command.cut.unwrap_or(command.area)),
        pressure: command.pressure,
        offcut_worth: command.offcut_worth,
        wheel: command.wheel.clone(),
    };
    let wheels = wheels(&bench, command.wheels.as_deref())?;
    let doc = saw_or_grind_doc(&what, &wheels, &bench.prices()?.settings)?;
    if command.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::saw_or_grind(&doc))
    }
}
