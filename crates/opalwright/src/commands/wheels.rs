//! `wheels`: the wheels in force.

use super::finish::MOST_WHEEL_BYTES;
use super::output::{say, say_json, write_file};
use crate::args::Args;
use crate::exit::Failure;
use crate::wire;
use clap::Args as ClapArgs;
use opal_files::example_wheels;
use std::path::PathBuf;

#[derive(Debug, ClapArgs)]
pub(crate) struct Wheels {
    /// A wheel file (opalwright-wheels/1) to put in force; the older ones stay on record.
    file: Option<PathBuf>,
    /// Write the wheel file in force here, or an example where there is none.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, command: &Wheels) -> Result<(), Failure> {
    let wheels = match &command.file {
        Some(path) => {
            let text = wire::text_file(path, MOST_WHEEL_BYTES)?;
            wire::bench(args)?.set_wheels(&path.display().to_string(), &text)?
        }
        None => wire::bench_to_look(args)?.wheels()?,
    };
    if let Some(path) = &command.out {
        let text = wheels.text.as_deref().unwrap_or(example_wheels());
        write_file(path, text.as_bytes())?;
    }
    let set = &wheels.set;
    if command.json {
        return say_json(&wheels.doc());
    }
    let mut told = format!("{}, coarse to fine:\n", set.title);
    for wheel in &set.wheels {
        let rate = wheel.removal_mm3_per_min;
        let damage = wheel.damage_um.map_or("none that shows".to_owned(), |d| {
            format!("{:.0} to {:.0} µm deep", d.quantile(0.05), d.quantile(0.95))
        });
        told += &format!(
            "  {} ({})\n      damage: {damage}; takes off {:.1} to {:.1} mm³ a minute ({})\n",
            wheel.name,
            wheel.grain.words(),
            rate.quantile(0.05),
            rate.quantile(0.95),
            match rate.seen() {
                0 => "a first guess".to_owned(),
                1 => "one stint of your own".to_owned(),
                n => format!("{n} stints of your own"),
            }
        );
    }
    if command.file.is_some() {
        told += "They are in force from now on.\n";
    }
    if let Some(path) = &command.out {
        told += &format!("Written to {}.\n", path.display());
    } else if wheels.text.is_none() {
        told += "Put your own in their place: opalwright wheels --out wheels.toml, edit, then \
                 opalwright wheels wheels.toml\n";
    }
    say(&told)
}
