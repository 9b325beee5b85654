//! `import`: a whole stone out of a file.

use super::output::{say, say_json};
use crate::args::{Args, Import};
use crate::exit::Failure;
use crate::wire;
use opal_job::Imported;
use serde_json::json;

/// Largest file that is read, bytes. Chosen: because a scan of 512 MB in base64
/// stays below it.
const MOST_BYTES: u64 = 1024 * 1024 * 1024;

pub(super) fn run(args: &Args, command: &Import) -> Result<(), Failure> {
    let text = wire::text_file(&command.file, MOST_BYTES)?;
    let name = command.file.display().to_string();
    let imported = wire::bench(args)?.import(&name, &text, command.under.as_deref())?;
    let (number, added) = match imported {
        Imported::Added(no) => (no.0, true),
        Imported::AlreadyHere(no) => (no.0, false),
    };
    if command.json {
        return say_json(&json!({
            "format": "opalwright-imported/1", "number": number, "added": added,
        }));
    }
    say(&if added {
        format!("Taken in as number {number}.\n")
    } else {
        format!("It stands in the store already, the same in everything, as number {number}.\n")
    })
}
