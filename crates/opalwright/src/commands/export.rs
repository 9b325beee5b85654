//! `export`: a whole stone as one file.

use super::output::{file_stem, say, say_json, write_file};
use crate::args::{Args, Export};
use crate::exit::Failure;
use crate::wire;
use serde_json::json;
use std::path::PathBuf;

pub(super) fn run(args: &Args, command: &Export) -> Result<(), Failure> {
    let stone = wire::bench_to_look(args)?.export(&command.stone)?;
    let out = command
        .out
        .clone()
        .unwrap_or_else(|| PathBuf::from(format!("{}.opalwright.json", file_stem(&stone.name))));
    if command.out.is_none() && out.exists() {
        return Err(Failure::user(format!("{} is there already", out.display()))
            .with_hint("name another place with --out FILE"));
    }
    write_file(&out, stone.to_text().as_bytes())?;
    let place = out.display().to_string();
    if command.json {
        return say_json(&json!({
            "format": "opalwright-exported/1", "stone": stone.name, "file": place,
        }));
    }
    say(&format!(
        "{} with its evidence, results and events is in {place}.\n",
        stone.name
    ))
}
