//! Past tenders from a table.

use csv::{ReaderBuilder, StringRecord, Trim};
use opal_evidence::{Fault, Faults};
use opal_value::{PastTender, TenderEnd};

const HEADING: [&str; 4] = ["most", "bid", "ended", "price"];

/// The cutter's own past tenders: a CSV text (RFC 4180) with the columns `most`
/// (what the cutter would have paid), `bid`, `ended` (`won` or `lost`) and `price`
/// (what it went for; may be empty). Lines that begin with # are skipped.
///
/// # Errors
/// Every line that is wrong, with its number.
pub fn read_tenders(file: &str, text: &str) -> Result<Vec<PastTender>, Faults> {
    let mut reader = ReaderBuilder::new()
        .trim(Trim::All)
        .comment(Some(b'#'))
        .flexible(true)
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let mut faults = Vec::new();
    let mut fault = |line: Option<u64>, field: &str, value: String, limit: &str| {
        faults.push(Fault {
            file: Some(file.to_owned()),
            line: line.and_then(|line| u32::try_from(line).ok()),
            field: field.to_owned(),
            value,
            limit: limit.to_owned(),
            place: None,
        });
    };
    let heading = reader.headers().map(|found| found.iter().eq(HEADING));
    if !matches!(heading, Ok(true)) {
        let limit = "the first line must be most,bid,ended,price";
        fault(Some(1), "the heading", "something else".to_owned(), limit);
    }
    let mut tenders = Vec::new();
    for record in reader.records() {
        match record {
            Ok(record) => {
                let line = record.position().map(csv::Position::line);
                match tender(&record) {
                    Ok(past) => tenders.push(past),
                    Err((field, value, limit)) => fault(line, field, format!("'{value}'"), limit),
                }
            }
            Err(error) => fault(None, "a line", error.to_string(), "it must be CSV"),
        }
    }
    if faults.is_empty() {
        Ok(tenders)
    } else {
        Err(Faults(faults))
    }
}

type Wrong = (&'static str, String, &'static str);

fn tender(record: &StringRecord) -> Result<PastTender, Wrong> {
    let cell = |k: usize| record.get(k).unwrap_or_default();
    let amount = |k: usize| {
        let limit = "it must be an amount above 0, such as 640.00";
        match cell(k).parse::<f64>() {
            Ok(amount) if amount.is_finite() && amount > 0.0 => Ok(amount),
            _ => Err((HEADING[k], cell(k).to_owned(), limit)),
        }
    };
    let (most, bid) = (amount(0)?, amount(1)?);
    let ended = match (cell(2), cell(3)) {
        ("won", _) => TenderEnd::Won,
        ("lost", "") => TenderEnd::Lost,
        ("lost", _) => TenderEnd::LostTo(amount(3)?),
        (other, _) => return Err(("ended", other.to_owned(), "it must be won or lost")),
    };
    match ended {
        TenderEnd::LostTo(price) if price < bid => Err((
            "price",
            cell(3).to_owned(),
            "it must not be below the bid that lost",
        )),
        _ => Ok(PastTender { most, bid, ended }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tenders_read_and_every_wrong_line_is_named() {
        let text = "\u{feff}most,bid,ended,price\r\n# spring\r\n100,70,won,\r\n100, 60 ,lost,82.5\r\n50,40,lost,\r\n";
        let read = read_tenders("t.csv", text).expect("reads");
        let ends: Vec<TenderEnd> = read.iter().map(|t| t.ended).collect();
        assert_eq!(
            ends,
            [TenderEnd::Won, TenderEnd::LostTo(82.5), TenderEnd::Lost]
        );
        let wrong = "most,bid,ended,price\n0,1,won,\n10,9,sold,\n10,9,lost,8\n10,nan,won\n";
        let faults = read_tenders("t.csv", wrong).expect_err("wrong");
        let found: Vec<_> = faults
            .0
            .iter()
            .map(|f| (f.line, f.field.as_str()))
            .collect();
        assert_eq!(
            found,
            [
                (Some(2), "most"),
                (Some(3), "ended"),
                (Some(4), "price"),
                (Some(5), "bid")
            ]
        );
        assert!(read_tenders("t.csv", "a,b\n").is_err());
    }
}
