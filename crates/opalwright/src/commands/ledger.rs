//! `ledger`: record what happened, and see what it came to.

use super::output::{say, say_json, write_file};
use crate::args::{Args, PaperWord};
use crate::exit::Failure;
use crate::wire;
use clap::{Args as ClapArgs, Subcommand, ValueEnum};
use opal_job::{Bench, Period, SLIP_COLUMNS, slip_cells, slips_from_rows, slips_from_text};
use opal_report::books::{BooksPaper, books};
use opal_report::json::{EntriesDoc, PartDoc, SlipDoc, SlipSide, SlipWhat};
use opal_report::sheet::Paper;
use opal_report::table::{self, GroupBy};
use std::path::{Path, PathBuf};

/// Largest file of entries that is read, bytes. Chosen: because a hundred thousand
/// entries stay below it.
const MOST_BYTES: u64 = 64 * 1024 * 1024;

/// Before the name of a parcel, where a stone could stand as well.
const PARCEL: &str = "parcel:";

#[derive(Debug, ClapArgs)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "PIECE is a stone of the store, by name or number, or 'parcel:NAME' for what was bought as one\n\
                  and has no record of its own. Nothing that was booked is ever changed: 'correct' books the\n\
                  opposite."
)]
pub(crate) struct Ledger {
    #[command(subcommand)]
    what: Option<What>,
    #[command(flatten)]
    report: Report,
}

#[derive(Debug, ClapArgs)]
struct Report {
    /// A year such as 2026, or a month such as 2026-03; left out, all days count.
    period: Option<String>,
    /// Tell it by this.
    #[arg(long, value_enum, default_value_t = ByWord::Stone)]
    by: ByWord,
    /// List what is held instead.
    #[arg(long)]
    held: bool,
    /// Write the table as CSV, too.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write it as a PDF, too: by month, origin, parcel and stone, or what is held.
    #[arg(long, value_name = "FILE")]
    pdf: Option<PathBuf>,
    /// Size of the paper.
    #[arg(long, value_enum, default_value_t, requires = "pdf")]
    paper: PaperWord,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum ByWord {
    Stone,
    Parcel,
    Origin,
    Month,
}

impl From<ByWord> for GroupBy {
    fn from(word: ByWord) -> Self {
        match word {
            ByWord::Stone => Self::Stone,
            ByWord::Parcel => Self::Parcel,
            ByWord::Origin => Self::Origin,
            ByWord::Month => Self::Month,
        }
    }
}

#[derive(Debug, Subcommand)]
enum What {
    /// A stone or a parcel was bought.
    Buy {
        /// What.
        piece: String,
        /// For how much.
        amount: String,
        #[command(flatten)]
        paid: PaidArgs,
        #[command(flatten)]
        slip: SlipArgs,
    },
    /// Something was used up: wheels, blades, polish.
    Spend {
        /// How much it cost.
        amount: String,
        /// On which piece; left out, on no single one.
        #[arg(long = "for", value_name = "PIECE")]
        piece: Option<String>,
        #[command(flatten)]
        paid: PaidArgs,
        #[command(flatten)]
        slip: SlipArgs,
    },
    /// You worked on it.
    Work {
        /// How long, whole minutes.
        minutes: u32,
        /// On which piece; left out, on no single one.
        #[arg(long = "for", value_name = "PIECE")]
        piece: Option<String>,
        /// Your rate for an hour [default: the price book's].
        #[arg(long, value_name = "AMOUNT")]
        hourly: Option<String>,
        #[command(flatten)]
        slip: SlipArgs,
    },
    /// A fee was paid.
    Fee {
        /// How much.
        amount: String,
        /// Freight, duty, buyer's premium belong to what a piece cost; commission and
        /// the like to its sale.
        #[arg(value_enum)]
        side: SideWord,
        /// For which piece; left out, for no single one.
        #[arg(long = "for", value_name = "PIECE")]
        piece: Option<String>,
        #[command(flatten)]
        paid: PaidArgs,
        #[command(flatten)]
        slip: SlipArgs,
    },
    /// A stone was sawn, or a bag opened: its cost goes to the parts.
    Split {
        /// What.
        piece: String,
        /// A part as PIECE, or PIECE=SHARE for a share of your own; repeatable. Without
        /// shares the cost goes by what each is expected to bring. Name the stone
        /// itself where some of it stays.
        #[arg(long, value_name = "PIECE[=SHARE]", required = true)]
        into: Vec<String>,
        #[command(flatten)]
        slip: SlipArgs,
    },
    /// A stone or a parcel was sold.
    Sell {
        /// What.
        piece: String,
        /// For how much, the fee included.
        amount: String,
        /// What the market kept of it.
        #[arg(long, value_name = "AMOUNT")]
        fee: Option<String>,
        #[command(flatten)]
        paid: PaidArgs,
        #[command(flatten)]
        slip: SlipArgs,
    },
    /// A stone came back, and money went back.
    Return {
        /// Number of the entry that sold it.
        sale: u64,
        /// How much was given back [default: the whole price].
        #[arg(long, value_name = "AMOUNT")]
        amount: Option<String>,
        #[command(flatten)]
        paid: PaidArgs,
        #[command(flatten)]
        slip: SlipArgs,
    },
    /// A stone is no more: broken, ground away, stolen.
    Lost {
        /// What.
        piece: String,
        #[command(flatten)]
        slip: SlipArgs,
    },
    /// An entry was wrong: book its opposite.
    Correct {
        /// Its number.
        entry: u64,
        #[command(flatten)]
        slip: SlipArgs,
    },
    /// List the entries.
    Entries {
        /// A year such as 2026, or a month such as 2026-03.
        period: Option<String>,
        /// Answer in the machine form.
        #[arg(long)]
        json: bool,
    },
    /// Write the entries to a file: CSV, or the machine form where it ends in .json.
    Export {
        /// The file.
        file: PathBuf,
    },
    /// Book the entries of such a file: all of them, or none. Where it ends in .json
    /// it goes into empty books only.
    Import {
        /// The file.
        file: PathBuf,
        /// Answer in the machine form.
        #[arg(long)]
        json: bool,
    },
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum SideWord {
    Buying,
    Selling,
}

#[derive(Debug, ClapArgs)]
struct PaidArgs {
    /// Its currency, such as USD [default: the books' own].
    #[arg(long, value_name = "CODE")]
    currency: Option<String>,
    /// What one unit of that currency was worth in the books' own on that day.
    #[arg(long, value_name = "RATE", requires = "currency")]
    rate: Option<String>,
}

#[derive(Debug, ClapArgs)]
struct SlipArgs {
    /// The day, as 2026-03-04 [default: today].
    #[arg(long, value_name = "DAY")]
    date: Option<String>,
    /// Your own words.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Answer in the machine form.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, command: &Ledger) -> Result<(), Failure> {
    match &command.what {
        None => report(args, &command.report),
        Some(What::Entries { period, json }) => {
            let doc = wire::bench_to_look(args)?.entries_doc(days(period.as_deref())?)?;
            if *json {
                say_json(&doc)
            } else {
                say(&opal_report::text::entries(&doc))
            }
        }
        Some(What::Export { file }) => export(&wire::bench_to_look(args)?, file),
        Some(What::Import { file, json }) => import(&wire::bench(args)?, file, *json),
        Some(what) => {
            let (slip, json) = slip(what)?;
            let doc = wire::bench(args)?.book(&[slip])?;
            if json {
                say_json(&doc)
            } else {
                say(&opal_report::text::recorded(&doc))
            }
        }
    }
}

fn days(period: Option<&str>) -> Result<Period, Failure> {
    match period {
        None => Ok(Period::default()),
        Some(text) => Period::parse(text).map_err(|faults| Failure::user(faults.to_string())),
    }
}

fn report(args: &Args, asked: &Report) -> Result<(), Failure> {
    let doc = wire::bench_to_look(args)?.ledger_doc(days(asked.period.as_deref())?)?;
    let by = GroupBy::from(asked.by);
    if let Some(path) = &asked.csv {
        let table = if asked.held {
            table::held(&doc.items)
        } else {
            table::groups(&doc, by)
        };
        let header: Vec<&str> = table.columns.iter().map(|(name, _)| *name).collect();
        write_file(
            path,
            opal_files::table_to_csv(&header, &table.rows).as_bytes(),
        )?;
    }
    if let Some(path) = &asked.pdf {
        let which = if asked.held {
            BooksPaper::Held
        } else {
            BooksPaper::Report
        };
        let paper = match asked.paper {
            PaperWord::A4 => Paper::A4,
            PaperWord::Letter => Paper::Letter,
        };
        let bytes = books(&doc, which, paper).map_err(|e| Failure::internal(e.to_string()))?;
        write_file(path, &bytes)?;
    }
    if asked.json {
        say_json(&doc)
    } else if asked.held {
        say(&opal_report::text::held(&doc))
    } else {
        say(&opal_report::text::ledger(&doc, by))
    }
}

/// What was typed as a slip, and whether to answer in the machine form.
fn slip(what: &What) -> Result<(SlipDoc, bool), Failure> {
    let (mut doc, with) = match what {
        What::Buy {
            piece,
            amount,
            paid,
            slip,
        } => {
            let doc = money(SlipWhat::Bought, Some(amount), paid);
            (on(doc, Some(piece)), slip)
        }
        What::Spend {
            amount,
            piece,
            paid,
            slip,
        } => {
            let doc = money(SlipWhat::Spent, Some(amount), paid);
            (on(doc, piece.as_deref()), slip)
        }
        What::Fee {
            amount,
            side,
            piece,
            paid,
            slip,
        } => {
            let mut doc = money(SlipWhat::Fee, Some(amount), paid);
            doc.side = Some(match side {
                SideWord::Buying => SlipSide::Buying,
                SideWord::Selling => SlipSide::Selling,
            });
            (on(doc, piece.as_deref()), slip)
        }
        What::Sell {
            piece,
            amount,
            fee,
            paid,
            slip,
        } => {
            let mut doc = money(SlipWhat::Sold, Some(amount), paid);
            doc.fee.clone_from(fee);
            (on(doc, Some(piece)), slip)
        }
        What::Return {
            sale,
            amount,
            paid,
            slip,
        } => {
            let mut doc = money(SlipWhat::Returned, amount.as_deref(), paid);
            doc.entry = Some(*sale);
            (doc, slip)
        }
        What::Work {
            minutes,
            piece,
            hourly,
            slip,
        } => {
            let doc = SlipDoc {
                minutes: Some(*minutes),
                hourly: hourly.clone(),
                ..of(SlipWhat::Worked)
            };
            (on(doc, piece.as_deref()), slip)
        }
        What::Split { piece, into, slip } => {
            let parts = into.iter().map(|text| part(text)).collect();
            let doc = SlipDoc {
                parts,
                ..of(SlipWhat::Split)
            };
            (on(doc, Some(piece)), slip)
        }
        What::Lost { piece, slip } => (on(of(SlipWhat::Lost), Some(piece)), slip),
        What::Correct { entry, slip } => {
            let doc = SlipDoc {
                entry: Some(*entry),
                ..of(SlipWhat::Corrected)
            };
            (doc, slip)
        }
        What::Entries { .. } | What::Export { .. } | What::Import { .. } => {
            return Err(Failure::internal("it records nothing"));
        }
    };
    doc.date.clone_from(&with.date);
    doc.note.clone_from(&with.note);
    Ok((doc, with.json))
}

fn of(what: SlipWhat) -> SlipDoc {
    SlipDoc {
        what,
        ..SlipDoc::default()
    }
}

fn money(what: SlipWhat, amount: Option<&str>, paid: &PaidArgs) -> SlipDoc {
    SlipDoc {
        amount: amount.map(str::to_owned),
        currency: paid.currency.clone(),
        rate: paid.rate.clone(),
        ..of(what)
    }
}

fn on(mut doc: SlipDoc, piece: Option<&str>) -> SlipDoc {
    (doc.stone, doc.parcel) = place(piece);
    doc
}

fn place(piece: Option<&str>) -> (Option<String>, Option<String>) {
    match piece.map(|piece| piece.strip_prefix(PARCEL).ok_or(piece)) {
        Some(Ok(parcel)) => (None, Some(parcel.to_owned())),
        Some(Err(stone)) => (Some(stone.to_owned()), None),
        None => (None, None),
    }
}

/// A part; a name with a '=' in it that no number follows is a name.
fn part(text: &str) -> PartDoc {
    let (piece, share) = match text.rsplit_once('=') {
        Some((piece, share)) => match share.trim().parse() {
            Ok(share) => (piece, Some(share)),
            Err(_) => (text, None),
        },
        None => (text, None),
    };
    let (stone, parcel) = place(Some(piece.trim()));
    PartDoc {
        stone,
        parcel,
        share,
    }
}

fn is_json(path: &Path) -> bool {
    path.extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("json"))
}

/// Entries as a table that can be taken in again.
pub(crate) fn entries_csv(doc: &EntriesDoc) -> String {
    let rows: Vec<Vec<String>> = doc.entries.iter().map(slip_cells).collect();
    opal_files::table_to_csv(&SLIP_COLUMNS, &rows)
}

fn export(bench: &Bench, path: &Path) -> Result<(), Failure> {
    let doc = bench.entries_doc(Period::default())?;
    let text = if is_json(path) {
        opal_report::json::to_text(&doc).map_err(opal_job::JobError::from)?
    } else {
        entries_csv(&doc)
    };
    write_file(path, text.as_bytes())?;
    say(&format!(
        "{} entries written to {}.\n",
        doc.entries.len(),
        path.display()
    ))
}

fn import(bench: &Bench, path: &Path, json: bool) -> Result<(), Failure> {
    let text = wire::text_file(path, MOST_BYTES)?;
    let name = path.display().to_string();
    let read = if is_json(path) {
        slips_from_text(&name, &text)
    } else {
        opal_files::read_table(&name, text.as_bytes(), &SLIP_COLUMNS)
            .and_then(|rows| slips_from_rows(&name, &rows))
    };
    let doc = bench.import_slips(&read.map_err(opal_job::JobError::from)?)?;
    if json {
        return say_json(&doc);
    }
    say(&format!(
        "{} entries booked, and safe on the disk.\n",
        doc.entries.len()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_may_carry_a_share_and_parcels_their_word() {
        let part = part("Lantern 3 = 2");
        assert_eq!(
            (part.stone.as_deref(), part.share),
            (Some("Lantern 3"), Some(2))
        );
        let part = super::part("parcel:Bag=of=March");
        assert_eq!(
            (part.parcel.as_deref(), part.share),
            (Some("Bag=of=March"), None)
        );
    }
}
