//! `bid`: the most to pay, for one stone or for many lots.

use super::output::{say, say_json};
use super::plan::{MOST_PRICE_BYTES, Prepared, prices_in_force};
use crate::args::{Args, Bid, EffortWord};
use crate::exit::Failure;
use crate::watch::Watch;
use crate::wire;
use opal_job::{Bench, Lot, Settings};
use std::path::{Path, PathBuf};

/// Lots in one go at most. Chosen: two hundred already take a coffee break.
const MOST_LOTS: usize = 500;

pub(super) fn run(args: &Args, command: &Bid) -> Result<(), Failure> {
    match &command.evidence {
        Some(evidence) if !command.all => one(args, command, evidence),
        folder => many(args, command, folder.as_deref()),
    }
}

fn one(args: &Args, command: &Bid, evidence: &str) -> Result<(), Failure> {
    let mut prepared = Prepared::new(args, evidence, &command.planning)?;
    if command.tenders.is_some() {
        let mut settings = prepared.job.settings().clone();
        take_tenders(command, &mut settings)?;
        prepared.job.set_settings(settings);
    }
    let watch = Watch::new();
    let doc = prepared.job.bid_doc(&watch)?;
    let text = prepared.job.bid_text(command.answer.detail(), &watch)?;
    watch.clear();
    // What past tenders add hangs on a file that is not kept.
    if command.tenders.is_none() {
        prepared.keep("bid", &doc)?;
    }
    if command.answer.json {
        say_json(&doc)
    } else {
        say(&text)
    }
}

fn many(args: &Args, command: &Bid, folder: Option<&str>) -> Result<(), Failure> {
    let bench = wire::bench_to_look(args)?;
    let lots = match folder {
        Some(folder) => lots_in(&bench, Path::new(folder))?,
        None => bench.lots()?,
    };
    if lots.is_empty() {
        return Err(Failure::user("there is no lot to bid on")
            .with_hint("take stones in, or name a folder of evidence files: bid --all FOLDER"));
    }
    if lots.len() > MOST_LOTS {
        return Err(Failure::user(format!(
            "there are {} lots; at most {MOST_LOTS} are worked out in one go",
            lots.len()
        )));
    }
    let mut prices = prices_in_force(&bench, command.planning.prices.as_deref())?;
    take_tenders(command, &mut prices.settings)?;
    let ask = command.planning.ask_with(EffortWord::Quick)?;
    let watch = Watch::new();
    let doc = bench.bids(lots, &prices, &ask, &watch)?;
    watch.clear();
    if command.answer.json {
        say_json(&doc)
    } else {
        say(&opal_report::text::bids(&doc))
    }
}

fn take_tenders(command: &Bid, settings: &mut Settings) -> Result<(), Failure> {
    if let Some(path) = &command.tenders {
        let text = wire::text_file(path, MOST_PRICE_BYTES)?;
        settings.tenders = opal_files::read_tenders(&path.display().to_string(), &text)
            .map_err(opal_job::JobError::from)?;
    }
    Ok(())
}

/// The evidence files of a folder, by name.
fn lots_in(bench: &Bench, folder: &Path) -> Result<Vec<Lot>, Failure> {
    let unreadable = |error: std::io::Error| {
        Failure::user(format!("{} cannot be read: {error}", folder.display()))
            .with_hint("bid --all takes a folder of evidence files, or none for the whole store")
    };
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .map_err(unreadable)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<Result<_, _>>()
        .map_err(unreadable)?;
    paths.retain(|path| path.extension().is_some_and(|e| e == "toml" || e == "json"));
    paths.sort();
    Ok(paths
        .iter()
        .map(|path| Lot {
            name: path
                .file_name()
                .map_or_else(String::new, |name| name.to_string_lossy().into_owned()),
            opened: wire::evidence_file(path)
                .map_err(|failure| failure.message)
                .and_then(|file| bench.look_over(file).map_err(|error| error.to_string())),
        })
        .collect())
}
