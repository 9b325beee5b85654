//! What to pay for a piece of rough opal, where to cut it, when to stop, and
//! what it is worth.
//!
//! Layer 12: commands, exit codes, wiring.

mod args;
mod commands;
mod counter_bench;
mod evidence_argument;
mod exit;
mod place;
mod readings_argument;
mod study_words;
mod watch;
mod wire;
mod workbench;

use std::process::ExitCode;

fn main() -> ExitCode {
    let args = args::Args::typed();
    match commands::run(&args) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprint!("{failure}");
            failure.kind.code()
        }
    }
}
