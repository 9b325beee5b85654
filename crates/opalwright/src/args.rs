//! The command line. One definition gives parser, help and messages.

use crate::exit::Failure;
use crate::wire;
use clap::{
    Args as ClapArgs, CommandFactory as _, FromArgMatches as _, Parser, Subcommand, ValueEnum,
};
use opal_evidence::Faults;
use opal_job::Ask;
use opal_plan::{CutKind, Effort, Order, PinnedOutline, Wishes};
use opal_units::{Length, Seed};
use std::net::SocketAddr;
use std::path::PathBuf;

/// What to pay for a piece of rough opal, where to cut it, and what it is worth.
///
/// EVIDENCE is an evidence file (opalwright-evidence/1, TOML or JSON), or the
/// name or number of a stone that was taken in.
#[derive(Debug, Parser)]
#[command(
    name = "opalwright",
    version,
    max_term_width = 100,
    after_help = "Begin with: opalwright demo\nExit codes: 0 done, 1 internal, 2 command line, 3 faults in a file, 130 stopped."
)]
pub(crate) struct Args {
    /// The store's file [default: stones.db in this platform's data folder, or $OPALWRIGHT_STORE].
    #[arg(long, global = true, value_name = "PATH")]
    pub(crate) store: Option<PathBuf>,
    #[command(subcommand)]
    pub(crate) command: Command,
}

impl Args {
    /// What was typed. A number below 0 is read as a number wherever one is asked for, so
    /// that the command that needs it says what is wrong with it.
    pub(crate) fn typed() -> Self {
        let command = reading_negative_numbers(Self::command());
        // What is wrong with the command line is told with the exit code of clap's own.
        Self::from_arg_matches(&command.get_matches()).unwrap_or_else(|fault| fault.exit())
    }
}

fn reading_negative_numbers(command: clap::Command) -> clap::Command {
    command
        .mut_args(|arg| {
            let takes_one = arg.get_action().takes_values();
            arg.allow_negative_numbers(takes_one)
        })
        .mut_subcommands(reading_negative_numbers)
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Take a stone in from an evidence file.
    TakeIn(TakeIn),
    /// Write the card to print, by which photos get their scale.
    ScaleCard(crate::commands::scale_card::ScaleCard),
    /// Trace a stone's outline from a photo, in millimetres, for its evidence.
    Trace(crate::commands::trace::Trace),
    /// Show a stone as it was taken in, or list all stones.
    Show(Show),
    /// What may lie inside: height, thickness and chance of the bar at given places.
    Interior(Interior),
    /// Ways to cut it, the best first, each valued on every possible inside.
    Plan(Plan),
    /// The most to pay for it, and what happens at that price.
    Bid(Bid),
    /// What a bag of pieces may bring, the most to pay, and how many to look into first.
    Parcel(crate::commands::parcel::Parcel),
    /// What your own stones have taught, field by field, and how the forecasts did.
    Learned(Learned),
    /// Log what happened to a stone at the bench.
    Log(crate::commands::log::Log),
    /// What to do next at the bench, ranked, with the risk of each.
    Now(crate::commands::now::Now),
    /// Which wheel when, how deep, how long.
    Finish(crate::commands::finish::Finish),
    /// Show your wheels, or put a new set in force.
    Wheels(crate::commands::wheels::Wheels),
    /// Saw a slab of barren stock off, or grind it away: which is the cheaper.
    SawOrGrind(crate::commands::saw_or_grind::SawOrGrind),
    /// Is a piece still losing water: wait or cut, from its weights over days.
    Drying(crate::commands::drying::Drying),
    /// How heavy a finished stone is for its size: in water, or from sizes.
    Weigh(crate::commands::weigh::Weigh),
    /// What a finished stone most likely is, how sure that is, and what to look at next.
    Identify(crate::commands::identify::Identify),
    /// The words for a finished stone: card, listing, invoice, care; or look a text over.
    Disclose(crate::commands::disclose::Disclose),
    /// The books: record what happened, and see what it came to.
    Ledger(crate::commands::ledger::Ledger),
    /// What was kept at the counter: readings, photos and cards, with who and when.
    Kept(crate::commands::kept::Kept),
    /// Write the bench sheet of a plan: a PDF, true to scale.
    Sheet(Sheet),
    /// What a finished stone would fetch, what to ask, and how long it may take.
    Price(crate::commands::price::Price),
    /// Show your price book, or put a new one in force.
    PriceBook(PriceBook),
    /// Write a whole stone into one file.
    Export(Export),
    /// Take a whole stone out of such a file; never overwrites.
    Import(Import),
    /// Copy the whole store into a new file.
    Backup(Backup),
    /// Put such a copy in place of the store; what stood there is kept beside it.
    Restore(Restore),
    /// How well the program does on stones whose inside is known.
    Study(crate::commands::study::Study),
    /// Serve the workbench in the browser, on this machine or to paired devices.
    Serve(Serve),
    /// Take an invented piece through the whole job, from evidence to sheet.
    Demo(Demo),
}

/// How to answer.
#[derive(Clone, Copy, Debug, ClapArgs)]
pub(crate) struct Answer {
    /// Answer in the machine form.
    #[arg(long)]
    pub(crate) json: bool,
    /// Add the statistics to the plain words.
    #[arg(long, conflicts_with = "json")]
    pub(crate) figures: bool,
}

/// How to draw.
#[derive(Clone, Debug, ClapArgs)]
pub(crate) struct Drawing {
    /// How many possible insides to draw.
    #[arg(long, value_name = "N", default_value_t = 1000)]
    pub(crate) interiors: usize,
    /// What the draws start from: the same seed gives the same answer.
    #[arg(long, default_value_t = 7)]
    pub(crate) seed: u64,
    /// Distance between the nodes of the grid, mm [default: from the size].
    #[arg(long, value_name = "MM")]
    pub(crate) cell: Option<f64>,
}

/// How hard to look for plans.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum EffortWord {
    /// A first answer.
    Quick,
    /// What the bench uses.
    Settled,
    /// Several times as many candidates.
    Thorough,
}

/// How to plan.
#[derive(Clone, Debug, ClapArgs)]
pub(crate) struct Planning {
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    /// A price file to use this once, in place of the price book in force.
    #[arg(long, value_name = "FILE")]
    pub(crate) prices: Option<PathBuf>,
    /// How hard to look for plans [default: settled, quick for many lots].
    #[arg(long, value_enum)]
    pub(crate) effort: Option<EffortWord>,
    /// Levels at which quantiles are told.
    #[arg(
        long,
        value_name = "LEVELS",
        value_delimiter = ',',
        default_value = "0.05,0.25,0.5,0.75,0.95"
    )]
    pub(crate) quantiles: Vec<f64>,
    #[command(flatten)]
    pub(crate) decided: Decided,
}

/// The heading over them.
const DECIDED: &str = "What you have decided already";

/// What the cutter has decided already.
#[derive(Clone, Debug, ClapArgs)]
pub(crate) struct Decided {
    /// Most stones in one plan.
    #[arg(long, help_heading = DECIDED, value_name = "N", default_value_t = Ask::default().most_stones)]
    pub(crate) most_stones: usize,
    /// Sizes to cut from the piece: "a pair of 8 x 6", "one 30 x 22 pendant",
    /// "3 round 6". May be given several times, all in one plan.
    #[arg(long, help_heading = DECIDED, value_name = "WORDS")]
    pub(crate) order: Vec<String>,
    /// An outline to cut as you drew it: a CSV file with the columns x_mm and y_mm,
    /// in the stone frame. May be given several times, all in one plan.
    #[arg(long, help_heading = DECIDED, value_name = "OUTLINE.csv")]
    pub(crate) pin: Vec<PathBuf>,
    /// Ground that no stone may take in: a polygon, as for --pin.
    #[arg(long, help_heading = DECIDED, value_name = "OUTLINE.csv")]
    pub(crate) forbid: Vec<PathBuf>,
    /// What the blade takes, mm [default: from the price file].
    #[arg(long, help_heading = DECIDED, value_name = "MM")]
    pub(crate) kerf: Option<f64>,
    /// The thickest piece that your saw cuts through, mm [default: from the price file].
    #[arg(long, help_heading = DECIDED, value_name = "MM")]
    pub(crate) saw_reach: Option<f64>,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct TakeIn {
    /// The evidence file; a scan that it names lies beside it.
    pub(crate) evidence: PathBuf,
    /// It is newer evidence of this stone (name or number); the older stays on record.
    #[arg(long, value_name = "STONE")]
    pub(crate) again: Option<String>,
    #[command(flatten)]
    pub(crate) answer: Answer,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Show {
    /// The stone; left out, all stones are listed.
    pub(crate) evidence: Option<String>,
    #[command(flatten)]
    pub(crate) answer: Answer,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Interior {
    /// The stone.
    pub(crate) evidence: String,
    /// Places: a CSV file with the columns x_mm and y_mm, in the stone frame.
    #[arg(long, value_name = "POINTS.csv")]
    pub(crate) at: PathBuf,
    /// Levels at which quantiles are told.
    #[arg(
        long,
        value_name = "LEVELS",
        value_delimiter = ',',
        default_value = "0.05,0.25,0.5,0.75,0.95"
    )]
    pub(crate) quantiles: Vec<f64>,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    #[command(flatten)]
    pub(crate) answer: Answer,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Plan {
    /// The stone.
    pub(crate) evidence: String,
    #[command(flatten)]
    pub(crate) planning: Planning,
    #[command(flatten)]
    pub(crate) answer: Answer,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Bid {
    /// The stone; with --all a folder of evidence files, left out for every stone
    /// that was not bought yet.
    #[arg(required_unless_present = "all")]
    pub(crate) evidence: Option<String>,
    /// Bid on all of them in one go: a table, the dearest first.
    #[arg(long)]
    pub(crate) all: bool,
    /// Your own past tenders (CSV: most,bid,ended,price; ended is won or lost, price
    /// what it went for where that was told): also say how far to stay below.
    #[arg(long, value_name = "FILE")]
    pub(crate) tenders: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) planning: Planning,
    #[command(flatten)]
    pub(crate) answer: Answer,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Learned {
    /// Answer in the machine form.
    #[arg(long)]
    pub(crate) json: bool,
}

/// Size of the sheet.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq, ValueEnum)]
pub(crate) enum PaperWord {
    /// 210 × 297 mm.
    #[default]
    A4,
    /// 8.5 × 11 inches.
    Letter,
}

impl From<PaperWord> for opal_job::Paper {
    fn from(word: PaperWord) -> Self {
        match word {
            PaperWord::A4 => Self::A4,
            PaperWord::Letter => Self::Letter,
        }
    }
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Sheet {
    /// The stone.
    pub(crate) evidence: String,
    /// Which plan, counted from 1, the best first.
    #[arg(long, value_name = "K", default_value_t = 1)]
    pub(crate) plan: usize,
    /// Where to write it [default: the stone's name with -sheet.pdf, here].
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Size of the paper.
    #[arg(long, value_enum, default_value_t)]
    pub(crate) paper: PaperWord,
    #[command(flatten)]
    pub(crate) planning: Planning,
    /// Answer in the machine form.
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct PriceBook {
    /// A price file (opalwright-prices/1) to put in force; left out, the one in force is shown.
    pub(crate) file: Option<PathBuf>,
    /// Write the price book in force here, to be edited.
    #[arg(long, value_name = "FILE", conflicts_with = "file")]
    pub(crate) out: Option<PathBuf>,
    /// Answer in the machine form.
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Export {
    /// The stone, by name or number.
    pub(crate) stone: String,
    /// Where to write it [default: the stone's name with .opalwright.json, here].
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Answer in the machine form.
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Import {
    /// The file (opalwright-stone/1).
    pub(crate) file: PathBuf,
    /// Take it in under this name.
    #[arg(long = "as", value_name = "NAME")]
    pub(crate) under: Option<String>,
    /// Answer in the machine form.
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Backup {
    /// The new file.
    pub(crate) to: PathBuf,
    /// Answer in the machine form.
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Restore {
    /// The backup.
    pub(crate) from: PathBuf,
    /// Answer in the machine form.
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Serve {
    /// Where to listen; a port of 0 takes any free one.
    #[arg(long, value_name = "ADDRESS", default_value_t = opal_server::DEFAULT_ADDRESS)]
    pub(crate) address: SocketAddr,
    /// Open it to the shop's network too, for devices that are paired by a code.
    #[arg(long)]
    pub(crate) lan: bool,
    /// Say the address in the machine form.
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct Demo {
    /// Replay an invented session at the bench instead: the advice changes as the
    /// face opens.
    #[arg(long)]
    pub(crate) bench: bool,
    /// End after the sheet instead of serving the workbench.
    #[arg(long)]
    pub(crate) no_serve: bool,
    /// Where to write the bench sheet.
    #[arg(long, value_name = "FILE", default_value = "opalwright-demo-sheet.pdf")]
    pub(crate) out: PathBuf,
    /// Where to listen; a port of 0 takes any free one.
    #[arg(long, value_name = "ADDRESS", default_value_t = opal_server::DEFAULT_ADDRESS)]
    pub(crate) address: SocketAddr,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    #[command(flatten)]
    pub(crate) answer: Answer,
}

impl Drawing {
    /// What is asked; the command line's own faults are told as such.
    pub(crate) fn ask(&self, levels: &[f64]) -> Result<Ask, Failure> {
        checked(self.unchecked(levels))
    }

    fn unchecked(&self, levels: &[f64]) -> Ask {
        Ask {
            n_interiors: self.interiors,
            seed: Seed(self.seed),
            cell: self.cell.map(Length::from_mm),
            levels: levels.to_vec(),
            ..Ask::default()
        }
    }
}

impl EffortWord {
    pub(crate) fn effort(self) -> Effort {
        match self {
            Self::Quick => Effort::Quick,
            Self::Settled => Effort::Settled,
            Self::Thorough => Effort::Thorough,
        }
    }
}

impl Planning {
    /// What is asked, outlines read from their files.
    pub(crate) fn ask(&self) -> Result<Ask, Failure> {
        self.ask_with(EffortWord::Settled)
    }

    /// As [`Planning::ask`], with the effort that holds where none is named.
    pub(crate) fn ask_with(&self, unnamed: EffortWord) -> Result<Ask, Failure> {
        let decided = &self.decided;
        checked(Ask {
            effort: self.effort.unwrap_or(unnamed).effort(),
            most_stones: decided.most_stones,
            wishes: decided.wishes()?,
            kerf: decided.kerf.map(Length::from_mm),
            saw_reach: decided.saw_reach.map(Length::from_mm),
            ..self.drawing.unchecked(&self.quantiles)
        })
    }
}

fn checked(ask: Ask) -> Result<Ask, Failure> {
    ask.check()
        .map_err(|faults| Failure::user(faults.to_string()))?;
    Ok(ask)
}

impl Decided {
    fn wishes(&self) -> Result<Wishes, Failure> {
        let mut faults = Vec::new();
        let mut orders = Vec::new();
        for words in &self.order {
            match Order::from_words(words) {
                Ok(order) => orders.push(order),
                Err(fault) => faults.push(fault),
            }
        }
        if !faults.is_empty() {
            return Err(Failure::user(Faults(faults).to_string()));
        }
        let pinned = self.pin.iter().map(|path| {
            Ok(PinnedOutline {
                kind: CutKind::Freeform,
                outline_mm: wire::points_file(path)?,
                bar: None,
            })
        });
        Ok(Wishes {
            pinned: pinned.collect::<Result<_, Failure>>()?,
            forbidden: self
                .forbid
                .iter()
                .map(|path| wire::points_file(path))
                .collect::<Result<_, _>>()?,
            orders,
        })
    }
}

impl Answer {
    pub(crate) fn detail(self) -> opal_report::text::Detail {
        if self.figures {
            opal_report::text::Detail::Figures
        } else {
            opal_report::text::Detail::Plain
        }
    }
}
