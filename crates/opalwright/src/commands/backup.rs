//! `backup`: the whole store as a new file.

use super::output::{say, say_json};
use crate::args::{Args, Backup};
use crate::exit::Failure;
use crate::wire;
use serde_json::json;

pub(super) fn run(args: &Args, command: &Backup) -> Result<(), Failure> {
    let bench = wire::bench_to_look(args)?;
    let stones = bench.stones()?.len();
    bench.backup(&command.to)?;
    let place = command.to.display().to_string();
    if command.json {
        return say_json(&json!({
            "format": "opalwright-backup/1", "file": place, "stones": stones,
        }));
    }
    say(&format!("{stones} stone(s) copied to {place}.\n"))
}
