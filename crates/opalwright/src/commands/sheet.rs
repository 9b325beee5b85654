//! `sheet`: the bench sheet of a plan.

use super::output::{file_stem, say, say_json, write_file};
use super::plan::Prepared;
use crate::args::{Args, Sheet};
use crate::exit::Failure;
use crate::watch::Watch;
use opal_job::SheetPrint;
use serde_json::json;
use std::path::PathBuf;

pub(super) fn run(args: &Args, command: &Sheet) -> Result<(), Failure> {
    let mut prepared = Prepared::new(args, &command.evidence, &command.planning)?;
    let k = command.plan.checked_sub(1).ok_or_else(|| {
        Failure::user("plan 0 was asked for; plans are counted from 1, the best first")
    })?;
    let now = prepared.bench.ports().clock.now().to_string();
    let day = now.get(..10).unwrap_or(&now);
    let invented = prepared
        .opened
        .record
        .as_ref()
        .is_some_and(|record| record.invented);
    let watch = Watch::new();
    let print = SheetPrint {
        wheels: &prepared.bench.wheels()?,
        paper: command.paper.into(),
        date: day,
        invented,
    };
    let pdf = prepared.job.sheet_pdf(k, &print, &watch)?;
    watch.clear();
    let name = &prepared.opened.evidence.piece.name;
    let out = command
        .out
        .clone()
        .unwrap_or_else(|| PathBuf::from(format!("{}-sheet.pdf", file_stem(name))));
    write_file(&out, &pdf)?;
    let place = out.display().to_string();
    if command.json {
        return say_json(&json!({
            "format": "opalwright-sheet/1", "piece": name, "plan": command.plan, "file": place,
        }));
    }
    say(&format!(
        "The bench sheet of plan {} is in {place}. Print it at 100 %: the 50 mm rule on it must \
         measure 50 mm.\n",
        command.plan
    ))
}
