//! Places to ask about, as CSV: two numbers a line, x and y in millimetres.

use csv::{ReaderBuilder, StringRecord, Trim};
use opal_evidence::{Fault, Faults};

/// Most places in one file. Chosen: because each is answered for a thousand
/// interiors.
const MOST: usize = 100_000;
/// Farthest from the origin, mm.
const FARTHEST_MM: f64 = 2000.0;
/// Most faults listed.
const MOST_FAULTS: usize = 100;

/// Reads places from CSV: columns `x_mm,y_mm` with that header, in any order
/// and among others, or two columns without a header. Lines that begin with
/// `#` are passed over.
///
/// # Errors
/// All lines that are not two finite numbers, and a file without any.
pub fn read_points(name: &str, bytes: &[u8]) -> Result<Vec<[f64; 2]>, Faults> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(Trim::All)
        .comment(Some(b'#'))
        .from_reader(bytes);
    let mut columns = [0, 1];
    let mut points = Vec::new();
    let mut faults = Vec::new();
    for (i, record) in reader.records().enumerate() {
        if faults.len() >= MOST_FAULTS {
            break;
        }
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let line = error.position().map(csv::Position::line);
                faults.push(fault(
                    name,
                    line,
                    "the line",
                    "not readable",
                    error.to_string(),
                ));
                break;
            }
        };
        let line = record.position().map(csv::Position::line);
        if i == 0 && is_header(&record) {
            match header(&record) {
                Ok(found) => columns = found,
                Err(missing) => {
                    let limit = format!("must name {missing}; lengths are in millimetres");
                    faults.push(fault(name, line, "the header", shown(&record), limit));
                    break;
                }
            }
            continue;
        }
        if points.len() >= MOST {
            let limit = format!("at most {MOST} places are read");
            faults.push(fault(name, line, "the file", "too long".to_owned(), limit));
            break;
        }
        let number = |k: usize| {
            let cell = record.get(columns[k]).unwrap_or("");
            match cell.parse::<f64>() {
                Ok(x) if x.abs() <= FARTHEST_MM => Ok(x),
                _ => Err(fault(
                    name,
                    line,
                    ["x_mm", "y_mm"][k],
                    format!("{cell:?}"),
                    format!("must be a number between -{FARTHEST_MM} and {FARTHEST_MM}"),
                )),
            }
        };
        match (number(0), number(1)) {
            (Ok(x), Ok(y)) => points.push([x, y]),
            (x, y) => faults.extend([x.err(), y.err()].into_iter().flatten()),
        }
    }
    if faults.is_empty() && points.is_empty() {
        let limit = "needs at least one line of x_mm,y_mm";
        faults.push(fault(name, None, "the file", "without places", limit));
    }
    if faults.is_empty() {
        Ok(points)
    } else {
        Err(Faults(faults))
    }
}

/// A first line in which no cell is a number names the columns.
fn is_header(record: &StringRecord) -> bool {
    record.iter().all(|cell| cell.parse::<f64>().is_err()) && !record.is_empty()
}

fn header(record: &StringRecord) -> Result<[usize; 2], &'static str> {
    let find = |name: &'static str| {
        let place = record.iter().position(|c| c.eq_ignore_ascii_case(name));
        place.ok_or(name)
    };
    Ok([find("x_mm")?, find("y_mm")?])
}

fn shown(record: &StringRecord) -> String {
    format!("{:?}", record.iter().collect::<Vec<_>>().join(","))
}

fn fault(
    name: &str,
    line: Option<u64>,
    field: &str,
    value: impl std::fmt::Display,
    limit: impl Into<String>,
) -> Fault {
    let mut fault = Fault::new(field, value, limit);
    fault.file = Some(name.to_owned());
    fault.line = line.and_then(|l| u32::try_from(l).ok());
    fault
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn with_and_without_a_header() {
        let plain = read_points("p.csv", b"1,2\n3.5, -4\n").expect("reads");
        assert_eq!(plain, [[1.0, 2.0], [3.5, -4.0]]);
        let named = read_points("p.csv", b"# places\nname,y_mm,x_mm\nA,2,1\nB,-4,3.5\n");
        assert_eq!(named.expect("reads"), plain);
    }

    #[test]
    fn every_bad_line_is_named() {
        let faults = read_points("p.csv", b"x_mm,y_mm\n1,2\nnan,3\n4\n1e9,x\n").expect_err("bad");
        let text = faults.to_string();
        assert_eq!(faults.0.len(), 4, "{text}");
        assert!(text.contains("p.csv:3: x_mm is \"nan\""), "{text}");
        assert!(text.contains("p.csv:4: y_mm is \"\""), "{text}");
        assert!(read_points("p.csv", b"").is_err());
        assert!(read_points("p.csv", b"x_cm,y_cm\n1,2\n").is_err());
        assert!(read_points("p.csv", b"\xff,\xfe\n").is_err());
    }
}
