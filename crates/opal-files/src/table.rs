//! Tables out as CSV.

use csv::{QuoteStyle, Terminator, WriterBuilder};

/// A table as CSV text (RFC 4180): a header, then rows; cells are quoted where
/// they must be.
///
/// A cell that begins like a formula (`=`, `+`, `-`, `@`) and is no number gets
/// an apostrophe before it, so that a spreadsheet shows it instead of running
/// it: names come from files of others.
///
/// # Validity
/// Rows shorter than the header are filled with empty cells.
#[must_use]
pub fn table_to_csv(header: &[&str], rows: &[Vec<String>]) -> String {
    let mut writer = WriterBuilder::new()
        .quote_style(QuoteStyle::Necessary)
        .terminator(Terminator::CRLF)
        .flexible(true)
        .from_writer(Vec::new());
    writer
        .write_record(header)
        .expect("writing into memory does not fail");
    for row in rows {
        let missing = header.len().saturating_sub(row.len());
        let cells = row.iter().map(|cell| harmless(cell));
        writer
            .write_record(cells.chain(std::iter::repeat_n(String::new(), missing)))
            .expect("writing into memory does not fail");
    }
    let bytes = writer
        .into_inner()
        .expect("writing into memory does not fail");
    String::from_utf8(bytes).expect("cells are text")
}

pub(crate) fn harmless(cell: &str) -> String {
    if cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err() {
        format!("'{cell}")
    } else {
        cell.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_come_back_and_formulas_do_not_run() {
        let rows = vec![
            vec!["a, \"b\"".to_owned(), "-3.5".to_owned()],
            vec!["=HYPERLINK(1)".to_owned()],
        ];
        let text = table_to_csv(&["name", "gain"], &rows);
        assert_eq!(
            text,
            "name,gain\r\n\"a, \"\"b\"\"\",-3.5\r\n'=HYPERLINK(1),\r\n"
        );
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let first = reader.records().next().expect("a row").expect("reads");
        assert_eq!(&first[0], "a, \"b\"");
    }
}
