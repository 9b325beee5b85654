//! `scale-card`: the card to print.

use super::output::{say, say_json, write_file};
use crate::args::PaperWord;
use crate::exit::Failure;
use clap::Args as ClapArgs;
use opal_job::JobError;
use opal_report::scale_card::scale_card_pdf;
use serde_json::json;
use std::path::PathBuf;

#[derive(Debug, ClapArgs)]
pub(crate) struct ScaleCard {
    /// Where to write it.
    #[arg(long, value_name = "FILE", default_value = "scale-card.pdf")]
    out: PathBuf,
    /// Size of the paper.
    #[arg(long, value_enum, default_value_t)]
    paper: PaperWord,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(command: &ScaleCard) -> Result<(), Failure> {
    let pdf = scale_card_pdf(command.paper.into()).map_err(JobError::from)?;
    write_file(&command.out, &pdf)?;
    let place = command.out.display().to_string();
    if command.json {
        return say_json(&json!({ "format": "opalwright-scale-card/1", "file": place }));
    }
    say(&format!(
        "The scale card is in {place}. Print it at 100 %: the 50 mm rule on it must measure 50 mm; \
         where it does not, print again, or tell trace with --rule.\n"
    ))
}
