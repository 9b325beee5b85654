//! What was seen or measured of a stone, by whom and when.

use opal_reference::identity::IdentityTable;

/// Specific gravity, as a look.
pub const GRAVITY: &str = "gravity";
/// Refractive index of the top by spot reading, as a look.
pub const INDEX: &str = "index";

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// One of the answers of a look, by its key.
    Word(String),
    /// A number with one standard deviation.
    Number {
        /// The number.
        value: f64,
        /// One standard deviation.
        sigma: f64,
    },
}

/// One look or reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Observation {
    /// Its name on file, to which claims on papers link.
    pub id: String,
    /// What was looked for: the key of a look, [`GRAVITY`] or [`INDEX`].
    pub look: String,
    /// What was found.
    pub found: Found,
    /// Who looked.
    pub by: Option<String>,
    /// When, as written on file.
    pub at: Option<String>,
}

/// One thing wrong with an observation.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct ObservationFault {
    /// Which, by its place from 0.
    pub index: usize,
    /// The field: `look`, `value` or `sigma`.
    pub field: &'static str,
    /// What stood there.
    pub value: String,
    /// What is allowed.
    pub limit: String,
}

/// Gravity and index outside these cannot belong to anything solid that is set
/// in jewellery: from balsa-light opal that floats (0.6) to osmium (22.6), and
/// from air-filled silica to diamond (2.42); handbook values, from memory.
const GRAVITY_RANGE: (f64, f64) = (0.6, 22.6);
const INDEX_RANGE: (f64, f64) = (1.2, 2.7);

/// Looks observations over: all faults at once.
#[must_use]
pub fn faults(table: &IdentityTable, observations: &[Observation]) -> Vec<ObservationFault> {
    let mut found = Vec::new();
    let mut fault = |index, field, value: String, limit: String| {
        found.push(ObservationFault {
            index,
            field,
            value,
            limit,
        });
    };
    for (k, observation) in observations.iter().enumerate() {
        match (observation.look.as_str(), &observation.found) {
            (number @ (GRAVITY | INDEX), Found::Number { value, sigma }) => {
                let (low, high) = if number == GRAVITY {
                    GRAVITY_RANGE
                } else {
                    INDEX_RANGE
                };
                if !(low..=high).contains(value) {
                    let limit = format!("must lie between {low} and {high}: read it again");
                    fault(k, "value", value.to_string(), limit);
                }
                if !(sigma.is_finite() && *sigma > 0.0 && *sigma <= 0.5 * high) {
                    fault(k, "sigma", sigma.to_string(), "must be above 0".to_owned());
                }
            }
            (number @ (GRAVITY | INDEX), Found::Word(word)) => {
                fault(
                    k,
                    "value",
                    word.clone(),
                    format!("must be a number for {number}"),
                );
            }
            (look, found) => match (table.look(look), found) {
                (None, _) => {
                    let known: Vec<&str> = table.looks.iter().map(|l| l.key.as_str()).collect();
                    let limit =
                        format!("must be {GRAVITY}, {INDEX} or one of {}", known.join(", "));
                    fault(k, "look", look.to_owned(), limit);
                }
                (Some(look), Found::Word(word)) if look.values.iter().any(|v| v.key == *word) => {}
                (Some(look), found) => {
                    let value = match found {
                        Found::Word(word) => word.clone(),
                        Found::Number { value, .. } => value.to_string(),
                    };
                    let known: Vec<&str> = look.values.iter().map(|v| v.key.as_str()).collect();
                    let limit = format!("must be one of {}", known.join(", "));
                    fault(k, "value", value, limit);
                }
            },
        }
    }
    found
}
