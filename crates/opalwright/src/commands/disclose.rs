//! `disclose`: the words for a finished stone, and texts looked over.

use super::output::{say, say_json, write_file};
use crate::args::{Args, PaperWord as PaperSize};
use crate::exit::{Failure, Kind};
use crate::readings_argument::{self, KeepWith};
use crate::wire;
use clap::{Args as ClapArgs, ValueEnum};
use opal_grade::Proof;
use opal_job::PrintedCard;
use opal_report::text::PaperKind;
use std::path::{Path, PathBuf};

#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Look a text over: opalwright disclose READINGS --check \"TEXT\", or\n\
                        opalwright disclose --class doublet --check \"TEXT\""
)]
pub(crate) struct Disclose {
    /// The readings file (opalwright-readings/1, TOML or JSON).
    #[arg(required_unless_present_any = ["check", "reprint"])]
    readings: Option<PathBuf>,
    /// Whose rules on words.
    #[arg(long, value_enum, default_value_t)]
    market: MarketWord,
    /// Which paper; all of them where it is left out.
    #[arg(long = "as", value_enum)]
    kind: Option<PaperWord>,
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
    /// Write the paper as a PDF; a card where --as names none.
    #[arg(long, value_name = "FILE")]
    pdf: Option<PathBuf>,
    /// What to print on; a card takes half a sheet of it.
    #[arg(long, value_name = "PAPER", value_enum, default_value_t)]
    paper: PaperSize,
    #[command(flatten)]
    keep: KeepWith,
    /// The last card that was kept with this stone for the market, as it was printed.
    #[arg(long, value_name = "STONE", requires = "pdf", conflicts_with_all = ["readings", "check"])]
    reprint: Option<String>,
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

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
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
    #[value(alias = "text")]
    All,
}

impl PaperWord {
    const fn kind(self) -> PaperKind {
        match self {
            Self::Card => PaperKind::Card,
            Self::Listing => PaperKind::Listing,
            Self::Invoice => PaperKind::Invoice,
            Self::Care => PaperKind::Care,
            Self::All => PaperKind::All,
        }
    }
}

pub(super) fn run(args: &Args, command: &Disclose) -> Result<(), Failure> {
    let market = command.market.key();
    if let (Some(stone), Some(path)) = (&command.reprint, &command.pdf) {
        return reprint(args, stone, market, path, command.json);
    }
    let read = match &command.readings {
        Some(path) => Some(readings_argument::read(path)?),
        None => None,
    };
    if command.keep.is_wanted() && read.is_none() {
        return Err(Failure::user("give READINGS to keep"));
    }
    let kept = match &read {
        Some(read) if command.keep.is_wanted() => {
            let bench = wire::bench(args)?;
            let no = read.keep(&bench, &command.keep)?;
            Some((bench, no))
        }
        _ => None,
    };
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
            if let Some(path) = &command.pdf {
                let kind = command.kind.unwrap_or(PaperWord::Card);
                let bytes = opal_report::card::paper_pdf(&doc, kind.kind(), command.paper.into())
                    .map_err(opal_job::JobError::from)?;
                write_file(path, &bytes)?;
                if let Some((bench, no)) = kept.filter(|_| kind == PaperWord::Card) {
                    let card = PrintedCard::new(&doc, &read.text, &bytes)?;
                    bench.keep_card(no, &card)?;
                }
            }
            if command.json {
                return say_json(&doc);
            }
            let kind = command.kind.unwrap_or(PaperWord::All).kind();
            say(&opal_report::text::papers(&doc, kind))
        }
        (None, None) => Err(Failure::user("give READINGS, or --check TEXT")),
    }
}

/// The card's own bytes: a card that was given out is never made anew.
fn reprint(args: &Args, stone: &str, market: &str, path: &Path, json: bool) -> Result<(), Failure> {
    let bench = wire::bench_to_look(args)?;
    let cards = bench.cards(bench.number(stone)?)?;
    let Some((at, card)) = cards.iter().rev().find(|(_, card)| card.market == market) else {
        return Err(
            Failure::user(format!("no card of '{stone}' was kept for this market")).with_hint(
                "print and keep one: opalwright disclose READINGS --market M --pdf FILE --keep STONE",
            ),
        );
    };
    write_file(path, &card.bytes()?)?;
    if json {
        let document: serde_json::Value =
            serde_json::from_str(&card.document).map_err(opal_job::JobError::from)?;
        return say_json(&document);
    }
    say(&format!(
        "The card as it was printed on {at}, fingerprint {}.\n",
        card.fingerprint
    ))
}
