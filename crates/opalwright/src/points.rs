//! Places from a table: `x_mm,y_mm`, one a line, with or without a heading.

use opal_evidence::{Fault, Faults};

/// Farthest place that is understood, mm. Chosen: ten metres, far beyond any rough.
const FARTHEST_MM: f64 = 10_000.0;

/// The places in a CSV text (RFC 4180 with plain numbers; blank lines and lines
/// that begin with # are skipped).
///
/// # Errors
/// Every line that is not two numbers; no place at all.
pub(crate) fn read(file: &str, text: &str) -> Result<Vec<[f64; 2]>, Faults> {
    let mut points = Vec::new();
    let mut faults = Vec::new();
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut heading_allowed = true;
    for (k, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let fields: Vec<&str> = line
            .split(',')
            .map(|field| field.trim().trim_matches('"'))
            .collect();
        let first = std::mem::take(&mut heading_allowed);
        if first && fields == ["x_mm", "y_mm"] {
            continue;
        }
        let numbers: Vec<f64> = fields
            .iter()
            .filter_map(|field| field.parse().ok())
            .filter(|x: &f64| x.abs() <= FARTHEST_MM)
            .collect();
        match (fields.len(), numbers.as_slice()) {
            (2, &[x, y]) => points.push([x, y]),
            _ => faults.push(Fault {
                file: Some(file.to_owned()),
                line: u32::try_from(k + 1).ok(),
                field: "x_mm,y_mm".to_owned(),
                value: format!("'{line}'"),
                limit: format!(
                    "each line is two numbers within {FARTHEST_MM} mm, such as 12.0,4.5"
                ),
            }),
        }
    }
    if points.is_empty() && faults.is_empty() {
        let mut fault = Fault::new(
            "the file",
            "without any place",
            "give at least one line x,y",
        );
        fault.file = Some(file.to_owned());
        faults.push(fault);
    }
    if faults.is_empty() {
        Ok(points)
    } else {
        Err(Faults(faults))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heading_comments_and_blanks_are_skipped() {
        let text = "\u{feff}x_mm,y_mm\r\n10,5\r\n\r\n# the window\r\n 12.5 , -4e0 \r\n";
        assert_eq!(
            read("p.csv", text).expect("reads"),
            [[10.0, 5.0], [12.5, -4.0]]
        );
        assert_eq!(read("p.csv", "1,2").expect("reads"), [[1.0, 2.0]]);
    }

    #[test]
    fn every_wrong_line_is_named() {
        let faults = read("p.csv", "1,2\nx_mm,y_mm\n1\n1,2,3\nnan,1\n1e9,2\n").expect_err("wrong");
        let lines: Vec<_> = faults.0.iter().map(|f| f.line).collect();
        assert_eq!(lines, [2, 3, 4, 5, 6].map(Some));
        assert!(read("p.csv", "x_mm,y_mm\n").is_err());
    }
}
