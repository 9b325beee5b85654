//! `disclose`: the words for a finished stone, and texts looked over.

use super::output::{say, say_json};
use crate::args::Args;
use crate::exit::{Failure, Kind};
use crate::{readings_argument, wire};
use clap::{Args as ClapArgs, ValueEnum};
use opal_grade::Proof;
use opal_report::text::PaperKind;
use std::path::PathBuf;

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Look a text over: opalwright disclose READINGS --check \"TEXT\", or\n\
                        opalwright disclose --class doublet --check \"TEXT\""
)]
pub(crate) struct Disclose {
    /// The readings file (opalwright-readings/1, TOML or JSON).
    #[arg(required_unless_present = "check")]
    readings: Option<PathBuf>,
    /// Whose rules on words.
    #[arg(long, value_enum, default_value_t)]
    market: MarketWord,
    /// Which paper.
    #[arg(long = "as", value_enum, default_value_t)]
    paper: PaperWord,
    /// Look this text over instead: exit code 3 where something must not stand.
    #[arg(long, value_name = "TEXT")]
    check: Option<String>,
    /// With --check and no readings: what the stone is, by its key.
    #[arg(
        long,
        value_name = "KEY",
        requires = "check",
        conflicts_with = "readings"
    )]
    class: Option<String>,
    /// Keep the readings with this stone of the store (name or number).
    #[arg(long, value_name = "STONE", requires = "readings")]
    keep: Option<String>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, Default, Eq, PartialEq, ValueEnum)]
enum MarketWord {
    /// International.
    #[default]
    World,
    /// United States.
    Us,
    /// Australia.
    Au,
}

impl MarketWord {
    const fn key(self) -> &'static str {
        match self {
            Self::World => "international",
            Self::Us => "united-states",
            Self::Au => "australia",
        }
    }
}

#[derive(Clone, Copy, Debug, Default, Eq, PartialEq, ValueEnum)]
enum PaperWord {
    /// The card that goes with the stone.
    Card,
    /// Text of a listing.
    Listing,
    /// Line of an invoice.
    Invoice,
    /// Care instructions.
    Care,
    /// All of them, with the rules they rest on.
    #[default]
    Text,
}

pub(super) fn run(args: &Args, command: &Disclose) -> Result<(), Failure> {
    let market = command.market.key();
    let read = match &command.readings {
        Some(path) => Some(readings_argument::read(path)?),
        None => None,
    };
    if let (Some(stone), Some(read)) = (&command.keep, &read) {
        wire::bench(args)?.keep_readings(stone, &read.file, &read.text)?;
    }
    match (&command.check, read) {
        (Some(text), read) => {
            let doc = match read {
                Some(read) => read.at.wording_doc(market, text)?,
                // What was not identified is looked over as such.
                None => opal_job::wording_doc(
                    market,
                    command.class.as_deref().unwrap_or("none-of-these"),
                    Proof::default(),
                    text,
                )?,
            };
            if command.json {
                say_json(&doc)?;
            } else {
                say(&opal_report::text::wording(&doc))?;
            }
            if doc.faults.is_empty() {
                return Ok(());
            }
            Err(Failure {
                kind: Kind::Data,
                message: "the text must not go out as it is".to_owned(),
                hint: Some(
                    "say what is named beside each fault, and look it over again".to_owned(),
                ),
            })
        }
        (None, Some(read)) => {
            let doc = read.at.disclosure_doc(market)?;
            if command.json {
                return say_json(&doc);
            }
            let kind = match command.paper {
                PaperWord::Card => PaperKind::Card,
                PaperWord::Listing => PaperKind::Listing,
                PaperWord::Invoice => PaperKind::Invoice,
                PaperWord::Care => PaperKind::Care,
                PaperWord::Text => PaperKind::All,
            };
            say(&opal_report::text::papers(&doc, kind))
        }
        (None, None) => Err(Failure::user("give READINGS, or --check TEXT")),
    }
}
