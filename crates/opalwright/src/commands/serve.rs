//! `serve`: the workbench in the browser.

use super::output::say;
use crate::args::{Args, Serve};
use crate::exit::Failure;
use crate::wire;
use crate::workbench::BenchWorkbench;
use opal_job::Bench;
use opal_server::{Opened, ServeError};
use serde_json::json;
use std::net::SocketAddr;
use std::sync::Arc;

pub(super) fn run(args: &Args, command: &Serve) -> Result<(), Failure> {
    serve(wire::bench(args)?, command.address, command.lan, |opened| {
        // The address is all that a caller waits for; a closed pipe is no fault.
        let _ = say(&if command.json {
            let lan = opened.lan.as_ref();
            let lan = lan.map(|lan| json!({ "address": lan.address, "code": lan.code }));
            format!("{}\n", json!({ "address": opened.address, "lan": lan }))
        } else {
            words(opened)
        });
    })
}

fn words(opened: &Opened) -> String {
    let here = format!(
        "The workbench is open at {} (Ctrl-C closes it).\n",
        opened.address
    );
    let Some(lan) = &opened.lan else { return here };
    let (first, second) = lan.code.split_at(lan.code.len() / 2);
    format!(
        "{here}On the shop's network it is at {}, for paired devices only.\n\n{}\n\n\
         Pair one: point its camera here, or open that address and type {first}-{second}.\n\
         The code is good once, for ten minutes; Help, Devices on this computer makes another.\n\
         What goes over the network is not encrypted: use one that you trust.\n",
        lan.address, lan.picture
    )
}

/// Serves a bench until Ctrl-C.
pub(super) fn serve(
    bench: Bench,
    address: SocketAddr,
    lan: bool,
    ready: impl FnOnce(&Opened),
) -> Result<(), Failure> {
    opal_server::serve(Arc::new(BenchWorkbench::new(bench)), address, lan, ready).map_err(|error| {
        match error {
            ServeError::NotLoopback(_) => Failure::user(error.to_string()),
            ServeError::Listen { .. } => Failure::user(error.to_string()).with_hint(
                "close what uses it, or let any free port be taken: --address 127.0.0.1:0",
            ),
            ServeError::NoNetwork => Failure::user(error.to_string())
                .with_hint("name its address: --lan --address 192.168.1.5:7117"),
            ServeError::Devices(_) | ServeError::Io(_) => Failure::internal(error.to_string()),
        }
    })
}
