//! `serve`: the workbench in the browser.

use super::output::say;
use crate::args::{Args, Serve};
use crate::exit::Failure;
use crate::wire;
use crate::workbench::BenchWorkbench;
use opal_job::Bench;
use opal_server::ServeError;
use std::net::SocketAddr;
use std::sync::Arc;

pub(super) fn run(args: &Args, command: &Serve) -> Result<(), Failure> {
    serve(wire::bench(args)?, command.address, |address| {
        // The address is all that a caller waits for; a closed pipe is no fault.
        let _ = say(&if command.json {
            format!("{}\n", serde_json::json!({ "address": address }))
        } else {
            format!("The workbench is open at {address} (Ctrl-C closes it).\n")
        });
    })
}

/// Serves a bench until Ctrl-C.
pub(super) fn serve(
    bench: Bench,
    address: SocketAddr,
    ready: impl FnOnce(&str),
) -> Result<(), Failure> {
    opal_server::serve(Arc::new(BenchWorkbench::new(bench)), address, ready).map_err(|error| {
        match error {
            ServeError::NotLoopback(_) => Failure::user(error.to_string()),
            ServeError::Listen { .. } => Failure::user(error.to_string()).with_hint(
                "close what uses it, or let any free port be taken: --address 127.0.0.1:0",
            ),
            ServeError::Io(_) => Failure::internal(error.to_string()),
        }
    })
}
