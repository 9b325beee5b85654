//! The books, told.

use super::listed;
use crate::json::{EntriesDoc, HeldDoc, LedgerDoc, OutcomeDoc};
use crate::table::{self, GroupBy, Table};

/// What the books come to.
#[must_use]
pub fn ledger(doc: &LedgerDoc, by: GroupBy) -> String {
    if doc.entries == 0 && doc.held.pieces == 0 {
        return "Nothing is booked for these days. Begin with: opalwright ledger buy STONE AMOUNT\n"
            .to_owned();
    }
    let mut out = format!("{}\n", period_words(doc));
    for line in sum_words(&doc.outcome, &doc.held, &doc.currency) {
        out.push_str(&format!("  {line}\n"));
    }
    out.push('\n');
    out.push_str(&columns(&table::groups(doc, by).without_empty_columns()));
    out.push_str(&listed("Rests on", &doc.rests_on));
    out.push_str(&listed("Mind", &doc.warnings));
    out
}

/// The days that count, in words.
pub(crate) fn period_words(doc: &LedgerDoc) -> String {
    let of = format!("The books in {}", doc.currency);
    match (&doc.from, &doc.to) {
        (Some(from), Some(to)) => format!("{of}, {from} to {to}"),
        (Some(from), None) => format!("{of}, from {from}"),
        (None, Some(to)) => format!("{of}, up to {to}"),
        (None, None) => format!("{of}, from the first day"),
    }
}

/// What was earned and what is held, in sentences.
pub(crate) fn sum_words(outcome: &OutcomeDoc, held: &HeldDoc, currency: &str) -> Vec<String> {
    let mut lines = vec![
        format!(
            "Profit {} {currency} after all costs; {} {currency} when your own time costs nothing.",
            outcome.profit, outcome.profit_before_time
        ),
        format!(
            "{} sold for {}; they had cost {}. Fees {}, lost {}, no single stone's {}.",
            outcome.sold,
            outcome.sales,
            outcome.cost.total,
            outcome.fees,
            outcome.lost,
            outcome.overhead
        ),
    ];
    let mut there = format!("{} held at cost {}", held.pieces, held.cost.total);
    if let Some(expected) = &held.expected {
        there.push_str(&format!(
            "; they should still bring {}, nine times in ten between {} and {}",
            expected.mean, expected.low, expected.high
        ));
        if held.not_worked_out > 0 {
            there.push_str(&format!(" ({} not worked out)", held.not_worked_out));
        }
    }
    there.push('.');
    lines.push(there);
    lines
}

/// What is held, piece by piece.
#[must_use]
pub fn held(doc: &LedgerDoc) -> String {
    if doc.items.is_empty() {
        return "Nothing is held.\n".to_owned();
    }
    let mut out = format!("Held, in {}\n\n", doc.currency);
    out.push_str(&columns(&table::held(&doc.items).without_empty_columns()));
    out.push_str(&listed("Rests on", &doc.rests_on));
    out.push_str(&listed("Mind", &doc.warnings));
    out
}

/// Entries in the order of the books.
#[must_use]
pub fn entries(doc: &EntriesDoc) -> String {
    if doc.entries.is_empty() {
        return "Nothing is booked for these days.\n".to_owned();
    }
    columns(&table::entries(doc))
}

/// Entries that were just recorded.
#[must_use]
pub fn recorded(doc: &EntriesDoc) -> String {
    let mut out = String::from("Booked, and safe on the disk:\n");
    out.push_str(&entries(doc));
    for posting in doc.entries.iter().flat_map(|entry| &entry.postings) {
        out.push_str(&format!("  {:>12}  {}\n", posting.amount, posting.account));
    }
    out
}

/// A table in columns, words to the left and figures to the right.
fn columns(table: &Table) -> String {
    let width = |k: usize| {
        table
            .rows
            .iter()
            .map(|row| row[k].chars().count())
            .chain([table.columns[k].0.len()])
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..table.columns.len()).map(width).collect();
    let line = |cells: &[&str]| {
        let cells = cells.iter().enumerate().map(|(k, cell)| {
            let n = widths[k];
            if table.columns[k].1 {
                format!("{cell:>n$}")
            } else {
                format!("{cell:<n$}")
            }
        });
        let cells: Vec<String> = cells.collect();
        format!("{}\n", cells.join("  ").trim_end())
    };
    let header: Vec<&str> = table.columns.iter().map(|(name, _)| *name).collect();
    let mut out = line(&header);
    for row in &table.rows {
        let cells: Vec<&str> = row.iter().map(String::as_str).collect();
        out.push_str(&line(&cells));
    }
    out
}
