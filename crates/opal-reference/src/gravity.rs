//! Specific gravity by form and material.

use crate::table;
use opal_units::SpecificGravity;
use serde::Deserialize;
use std::sync::LazyLock;

/// One material.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GravityRow {
    /// Its key: a form of rough (`seam`, `boulder`, …) or a material (`potch`, …).
    pub key: String,
    /// What it is, in plain words.
    pub about: String,
    value: f64,
    sigma: f64,
    low: f64,
    high: f64,
    /// Keys of its sources.
    pub source: Vec<String>,
}

impl GravityRow {
    /// What to count with before anything was measured.
    #[must_use]
    pub fn value(&self) -> SpecificGravity {
        SpecificGravity::new(self.value)
    }

    /// One standard deviation of it.
    #[must_use]
    pub fn sigma(&self) -> SpecificGravity {
        SpecificGravity::new(self.sigma)
    }

    /// The published range.
    #[must_use]
    pub fn range(&self) -> (SpecificGravity, SpecificGravity) {
        (
            SpecificGravity::new(self.low),
            SpecificGravity::new(self.high),
        )
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    row: Vec<GravityRow>,
}

static ROWS: LazyLock<Vec<GravityRow>> = LazyLock::new(|| table::read::<File>("gravity").row);

/// Every material.
#[must_use]
pub fn rows() -> &'static [GravityRow] {
    &ROWS
}

/// The material with this key.
#[must_use]
pub fn of(key: &str) -> Option<&'static GravityRow> {
    ROWS.iter().find(|row| row.key == key)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Clean sedimentary opal 2.10–2.15 and boulder opal 2.60–2.80 are the
    /// published figures ("opal-types-pages", "trade-lab-sheet").
    #[test]
    fn values_are_sane() {
        for row in rows() {
            assert!(row.low < row.value && row.value < row.high, "{}", row.key);
            assert!(
                row.sigma > 0.0 && row.sigma < 0.15 * row.value,
                "{}",
                row.key
            );
        }
        let clean = of("sedimentary-opal").expect("a row").value().ratio();
        assert!((2.10..=2.15).contains(&clean));
        let boulder = of("boulder").expect("a row").value().ratio();
        assert!((2.60..=2.80).contains(&boulder));
    }
}
