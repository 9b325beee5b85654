//! EVIDENCE on the command line: a file, or a stone of the store.

use crate::args::Args;
use crate::exit::Failure;
use crate::wire;
use opal_job::{Bench, Opened};
use std::path::Path;

/// Opens it. A file that exists is read as such and nothing is stored; anything
/// else is the name or number of a stone.
pub(crate) fn open(args: &Args, evidence: &str) -> Result<(Bench, Opened), Failure> {
    let path = Path::new(evidence);
    if path.is_file() {
        let file = wire::evidence_file(path)?;
        let bench = wire::bench_to_look(args)?;
        let opened = bench.look_over(file)?;
        return Ok((bench, opened));
    }
    // An ending or a slash shows that a file was meant.
    if path.extension().is_some_and(|e| e == "toml" || e == "json") || evidence.contains('/') {
        return Err(Failure::user(format!("there is no file {evidence}"))
            .with_hint("check the path; a stone of the store is named by its name or number"));
    }
    let bench = wire::bench_to_look(args)?;
    let opened = bench.open(evidence)?;
    Ok((bench, opened))
}
