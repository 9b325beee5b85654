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
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.file, self.line) {
            (Some(file), Some(line)) => write!(f, "{file}:{line}: ")?,
            (Some(file), None) => write!(f, "{file}: ")?,
            (None, Some(line)) => write!(f, "line {line}: ")?,
            (None, None) => {}
        }
        write!(f, "{} is {}; {}", self.field, self.value, self.limit)
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
