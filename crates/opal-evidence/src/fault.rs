//! What is wrong with an input: all of it, each with its place.

use std::fmt;

/// One thing that is wrong with an input.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Fault {
    /// The file, when there is one.
    pub file: Option<String>,
    /// The line in it, counted from 1.
    pub line: Option<u32>,
    /// The field, by its path: `bar[0].sighting[2].sigma_mm`.
    pub field: String,
    /// What stood there.
    pub value: String,
    /// What is allowed there.
    pub limit: String,
    /// Where, as a person names it, where the path alone says too little.
    pub place: Option<String>,
}

impl Fault {
    /// A fault that is not tied to a file yet.
    pub fn new(
        field: impl Into<String>,
        value: impl fmt::Display,
        limit: impl Into<String>,
    ) -> Self {
        Self {
            file: None,
            line: None,
            field: field.into(),
            value: value.to_string(),
            limit: limit.into(),
            place: None,
        }
    }

    /// Where, as a person names it: `bar 1, sighting 3, sigma (mm)`.
    #[must_use]
    pub fn place_words(&self) -> String {
        let named = |part: &str| {
            let (name, place) = match part.strip_suffix(']').and_then(|p| p.split_once('[')) {
                Some((name, k)) => (name, k.parse::<usize>().ok()),
                None => (part, None),
            };
            let (name, unit) = match name.rsplit_once('_') {
                Some((name, unit)) if UNITS.contains(&unit) => (name, format!(" ({unit})")),
                _ => (name, String::new()),
            };
            let place = place.map_or_else(String::new, |k| format!(" {}", k + 1));
            format!("{}{place}{unit}", name.replace('_', " "))
        };
        match &self.place {
            Some(place) => place.clone(),
            // A sentence stands as it is.
            None if self.field.contains(' ') => self.field.clone(),
            None => self
                .field
                .split('.')
                .map(named)
                .collect::<Vec<_>>()
                .join(", "),
        }
    }
}

/// Units that end a field's name.
const UNITS: [&str; 6] = ["mm", "mm2", "ct", "g", "deg", "um"];

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.file, self.line) {
            (Some(file), Some(line)) => write!(f, "{file}:{line}: ")?,
            (Some(file), None) => write!(f, "{file}: ")?,
            (None, Some(line)) => write!(f, "line {line}: ")?,
            (None, None) => {}
        }
        let place = self.place.as_ref().unwrap_or(&self.field);
        write!(f, "{place} is {}; {}", self.value, self.limit)
    }
}

/// Everything that is wrong with an input, never empty.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Faults(pub Vec<Fault>);

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (k, fault) in self.0.iter().enumerate() {
            if k > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Self(vec![fault])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_told_as_a_person_counts() {
        for (path, words) in [
            (
                "bar[0].sighting[2].sigma_mm",
                "bar 1, sighting 3, sigma (mm)",
            ),
            ("piece.weight_ct", "piece, weight (ct)"),
            ("most_stones", "most stones"),
            ("the address", "the address"),
        ] {
            assert_eq!(Fault::new(path, 1, "").place_words(), words);
        }
    }
}
