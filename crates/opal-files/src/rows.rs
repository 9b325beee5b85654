//! Tables in: rows of named cells.

use csv::{ReaderBuilder, Trim};
use opal_evidence::{Fault, Faults};

/// Most rows in one file. Chosen: because a busy cutter books a few thousand a year.
const MOST: usize = 100_000;

/// A row of a table: its line in the file, and its cells by column.
pub type TableRow = (u32, Vec<(String, String)>);

/// Reads a table of CSV (RFC 4180) whose first line names the columns, in any order.
/// The apostrophe that [`crate::table_to_csv`] puts before what looks like a formula
/// is taken off again.
///
/// # Errors
/// No header, a column without a name here, a line that cannot be read, one with more
/// cells than there are columns.
pub fn read_table(name: &str, bytes: &[u8], columns: &[&str]) -> Result<Vec<TableRow>, Faults> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = ReaderBuilder::new()
        .flexible(true)
        .trim(Trim::All)
        .from_reader(bytes);
    let fault = |line: Option<u64>, field: &str, value: String, limit: String| Fault {
        file: Some(name.to_owned()),
        line: line.and_then(|line| u32::try_from(line).ok()),
        field: field.to_owned(),
        value,
        limit,
        place: None,
    };
    // The reader leaves the second half of a CRLF to the next record, and counts its
    // line only then.
    let line_of = |position: &csv::Position| {
        let at = usize::try_from(position.byte()).ok();
        let line_feed_next = at.and_then(|at| bytes.get(at)) == Some(&b'\n');
        position.line() + u64::from(line_feed_next)
    };
    let header = reader
        .headers()
        .map_err(|error| {
            let limit = error.to_string();
            Faults::from(fault(
                Some(1),
                "the header",
                "not readable".to_owned(),
                limit,
            ))
        })?
        .clone();
    let mut faults: Vec<Fault> = header
        .iter()
        .filter(|column| !columns.contains(column))
        .map(|column| {
            let limit = format!("the columns are {}", columns.join(", "));
            fault(Some(1), "the header", format!("'{column}'"), limit)
        })
        .collect();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let line = error.position().map(line_of);
                faults.push(fault(
                    line,
                    "the line",
                    "not readable".to_owned(),
                    error.to_string(),
                ));
                break;
            }
        };
        let line = record.position().map(line_of);
        if record.len() > header.len() {
            let limit = format!("there are {} columns", header.len());
            faults.push(fault(
                line,
                "the line",
                format!("{} cells long", record.len()),
                limit,
            ));
            continue;
        }
        if rows.len() == MOST {
            let limit = format!("at most {MOST} rows are read");
            faults.push(fault(line, "the file", "too long".to_owned(), limit));
            break;
        }
        let cells = header.iter().zip(record.iter());
        let cells = cells.map(|(column, cell)| (column.to_owned(), bare(cell).to_owned()));
        let line = line.and_then(|line| u32::try_from(line).ok()).unwrap_or(0);
        rows.push((line, cells.collect()));
    }
    if faults.is_empty() {
        Ok(rows)
    } else {
        Err(Faults(faults))
    }
}

fn bare(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if crate::table::harmless(rest) == cell => rest,
        _ => cell,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table_to_csv;

    #[test]
    fn what_was_written_comes_back() {
        let cells = ["=1+1", "-3.5", "a, \"b\"", "'tis", "", "-dash"].map(str::to_owned);
        let header = ["a", "b", "c", "d", "e", "f"];
        let text = table_to_csv(&header, &[cells.to_vec()]);
        let rows = read_table("t.csv", text.as_bytes(), &header).expect("reads");
        assert_eq!(rows[0].0, 2);
        let back: Vec<&String> = rows[0].1.iter().map(|(_, cell)| cell).collect();
        assert_eq!(back, cells.iter().collect::<Vec<_>>());
    }

    #[test]
    fn every_bad_line_is_named() {
        let faults = read_table("t.csv", b"a,q\n1,2,3\n1\n1,2,3\n", &["a", "b"]).expect_err("bad");
        let text = faults.to_string();
        for there in [
            "t.csv:1: the header is 'q'",
            "t.csv:2: the line",
            "t.csv:4: the line",
        ] {
            assert!(text.contains(there), "{text}");
        }
    }
}
