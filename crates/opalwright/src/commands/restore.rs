//! `restore`: a backup in place of the store.

use super::output::{say, say_json};
use crate::args::{Args, Restore};
use crate::exit::Failure;
use crate::wire;
use crate::workbench::SETTINGS_OF_THIS_BENCH;
use serde_json::json;

pub(super) fn run(args: &Args, command: &Restore) -> Result<(), Failure> {
    let bench = wire::bench(args)?;
    let kept = bench.restore(&command.from, &SETTINGS_OF_THIS_BENCH)?;
    let stones = bench.stones()?.len();
    let kept = kept.display().to_string();
    if command.json {
        return say_json(&json!({
            "format": "opalwright-restored/1", "stones": stones, "kept": kept,
        }));
    }
    say(&format!(
        "{stones} stone(s) are back. What stood there before is kept in {kept}.\n"
    ))
}
