//! Serves the page over a made-up stone, to look at it while it is written:
//! `cargo run -p opal-server --example look_at_page -- 127.0.0.1:7118`

#[path = "../tests/bench/mod.rs"]
mod bench;

use std::sync::Arc;
use std::time::Duration;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let address = std::env::args()
        .nth(1)
        .unwrap_or_else(|| "127.0.0.1:0".to_owned())
        .parse()?;
    let mut bench = bench::MadeUpBench::with_one();
    bench.dawdle = Duration::from_secs(2);
    opal_server::serve(Arc::new(bench), address, false, |at| {
        println!("{}", at.address)
    })?;
    Ok(())
}
