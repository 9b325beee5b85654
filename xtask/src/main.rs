//! Checks and automation of the workspace itself.
//!
//! `cargo run -p xtask -- layers` prints the crates by layer with what each
//! uses; `-- licences` prints every third-party package with its licence.
//! The checks themselves are tests (`cargo test -p xtask`).

use std::process::ExitCode;
use xtask::{licences, map};

fn main() -> ExitCode {
    let root = xtask::root();
    let answer = match std::env::args().nth(1).as_deref() {
        Some("layers") => map::Map::read(&root).and_then(|map| {
            let crates = map::workspace_crates(&root)?;
            Ok(crates
                .iter()
                .map(|c| {
                    format!(
                        "{:>2} {:<16} {}\n",
                        map.layer(&c.name).unwrap_or(99),
                        c.name,
                        c.ours.join(" ")
                    )
                })
                .collect::<String>())
        }),
        Some("licences") => licences::packages(&root).map(|all| {
            all.iter()
                .map(|p| format!("{:<32} {}\n", p.name, p.licence))
                .collect::<String>()
        }),
        _ => Err("usage: cargo run -p xtask -- layers | licences".to_owned()),
    };
    match answer {
        Ok(text) => {
            print!("{text}");
            ExitCode::SUCCESS
        }
        Err(why) => {
            eprintln!("{why}");
            ExitCode::FAILURE
        }
    }
}
