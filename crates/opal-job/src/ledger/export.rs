//! Slips out of files.

use super::Period;
use crate::bench::Bench;
use crate::error::JobError;
use opal_evidence::{Fault, Faults};
use opal_ledger::Entry;
use opal_report::json::{ENTRIES_FORMAT, EntriesDoc, EntryDoc, SlipDoc};
use opal_units::Money;
use serde_json::{Map, Value};

/// The columns of a table of slips, in the order in which they are written. Reading,
/// any order will do, and those that are not needed may be left out.
pub const SLIP_COLUMNS: [&str; 16] = [
    "number",
    "what",
    "date",
    "stone",
    "parcel",
    "amount",
    "currency",
    "rate",
    "fee",
    "side",
    "minutes",
    "hourly",
    "entry",
    "parts",
    "shares_by",
    "note",
];

/// Entries that were read from a file.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct ReadSlips {
    slips: Vec<SlipDoc>,
    /// The entries as they stood in the books that the file was written from.
    booked: Option<EntriesDoc>,
}

/// Slips out of the rows of a table: for each its line, and its cells by column.
/// Where the table has numbers it was written from books.
///
/// # Errors
/// Every row that cannot be read, with its line.
pub fn slips_from_rows(
    file: &str,
    rows: &[(u32, Vec<(String, String)>)],
) -> Result<ReadSlips, Faults> {
    let mut faults = Vec::new();
    let mut slips = Vec::new();
    for (line, cells) in rows {
        match slip_of_row(cells) {
            Ok(slip) => slips.push(slip),
            Err(mut fault) => {
                fault.file = Some(file.to_owned());
                fault.line = Some(*line);
                faults.push(fault);
            }
        }
    }
    if faults.is_empty() {
        Ok(ReadSlips {
            slips,
            booked: None,
        })
    } else {
        Err(Faults(faults))
    }
}

fn slip_of_row(cells: &[(String, String)]) -> Result<SlipDoc, Fault> {
    let mut slip = Map::new();
    for (column, cell) in cells {
        let cell = cell.trim();
        if cell.is_empty() || column == "number" {
            continue;
        }
        let value = match column.as_str() {
            "minutes" | "entry" => cell.parse::<u64>().ok().map(Value::from),
            "parts" => serde_json::from_str(cell).ok(),
            _ => Some(Value::from(cell)),
        };
        let Some(value) = value else {
            let limit = if column == "parts" {
                r#"it must be a list such as [{"stone":"Lantern 3","share":2}]"#
            } else {
                "it must be a whole number"
            };
            return Err(Fault::new(column, format!("'{cell}'"), limit));
        };
        slip.insert(column.clone(), value);
    }
    let what = slip.get("what").cloned();
    serde_json::from_value(Value::Object(slip))
        .map_err(|error| Fault::new("row", what.unwrap_or(Value::Null), error.to_string()))
}

/// Slips out of a document of entries.
///
/// # Errors
/// It is none, with the line.
pub fn slips_from_text(file: &str, text: &str) -> Result<ReadSlips, Faults> {
    let unreadable = |line: Option<u32>, value: String, limit: String| {
        Faults::from(Fault {
            file: Some(file.to_owned()),
            line,
            field: "the file".to_owned(),
            value,
            limit,
            place: None,
        })
    };
    let doc: EntriesDoc = serde_json::from_str(text).map_err(|error| {
        let line = u32::try_from(error.line()).ok();
        unreadable(line, "not readable".to_owned(), error.to_string())
    })?;
    if doc.format != ENTRIES_FORMAT {
        let limit = format!("it must be '{ENTRIES_FORMAT}'");
        return Err(unreadable(None, format!("'{}'", doc.format), limit));
    }
    Ok(ReadSlips {
        slips: doc.entries.iter().map(|entry| entry.slip.clone()).collect(),
        booked: Some(doc),
    })
}

impl Bench {
    /// Records the slips of a file: all of them, or nothing. A document of entries
    /// goes into empty books only, and must come to the very same postings there.
    ///
    /// # Errors
    /// As [`Bench::book`]; the books have entries already.
    pub fn import_slips(&self, read: &ReadSlips) -> Result<EntriesDoc, JobError> {
        let Some(booked) = &read.booked else {
            return self.book(&read.slips);
        };
        let here = self.entries_doc(Period::default())?;
        if !here.entries.is_empty() {
            return Err(Faults::from(Fault::new(
                "the books",
                format!("{} entries long", here.entries.len()),
                "whole books go into empty ones only, so that nothing is booked twice",
            ))
            .into());
        }
        if here.currency != booked.currency {
            return Err(Faults::from(Fault::new(
                "currency",
                &booked.currency,
                format!(
                    "empty books are in the price book's currency, which is {}",
                    here.currency
                ),
            ))
            .into());
        }
        self.book_checked(&read.slips, None, |k, entry| {
            differs(entry, &booked.entries[k])
        })
    }
}

/// Where an entry does not come to what it came to when it was booked.
fn differs(entry: &Entry, booked: &EntryDoc) -> Vec<Fault> {
    if entry.number != booked.number {
        let limit = format!("it must be {}: the books have no gaps", entry.number);
        return vec![Fault::new("number", booked.number, limit)];
    }
    let amounts: Vec<String> = entry
        .postings
        .iter()
        .map(|posting| Money::amount_text(posting.amount))
        .collect();
    let there: Vec<&str> = booked.postings.iter().map(|p| p.amount.as_str()).collect();
    if amounts == there {
        Vec::new()
    } else {
        let limit = format!("by the rules of the books it moves {}", amounts.join(", "));
        vec![Fault::new("postings", there.join(", "), limit)]
    }
}

/// The cells of an entry under [`SLIP_COLUMNS`].
#[must_use]
pub fn slip_cells(entry: &EntryDoc) -> Vec<String> {
    let slip = serde_json::to_value(&entry.slip).unwrap_or(Value::Null);
    SLIP_COLUMNS
        .iter()
        .map(|column| match (*column, &slip[*column]) {
            ("number", _) => entry.number.to_string(),
            (_, Value::Null) => String::new(),
            (_, Value::String(text)) => text.clone(),
            (_, other) => other.to_string(),
        })
        .collect()
}
