//! How much of its calliper box a stone fills.

use crate::table;
use serde::Deserialize;
use std::sync::LazyLock;

/// Solidity of one population of stones: volume over length · width · height.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Solidity {
    /// Its key.
    pub key: String,
    /// What it is, in plain words.
    pub about: String,
    /// The mean.
    pub mean: f64,
    /// The standard deviation from stone to stone.
    pub sd: f64,
    /// The least that was seen.
    pub low: f64,
    /// The most that was seen.
    pub high: f64,
    /// How many stones.
    pub count: u32,
    /// Keys of its sources.
    pub source: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    row: Vec<Solidity>,
}

static ROWS: LazyLock<Vec<Solidity>> = LazyLock::new(|| table::read::<File>("solidity").row);

/// Every population.
#[must_use]
pub fn rows() -> &'static [Solidity] {
    &ROWS
}

/// Natural rough stones, from the open scans.
#[must_use]
pub fn rough_stone() -> &'static Solidity {
    ROWS.iter()
        .find(|row| row.key == "rough-stone")
        .expect("the row is part of the program; a test reads it")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_sane() {
        for row in rows() {
            assert!(row.low <= row.mean && row.mean <= row.high, "{}", row.key);
            assert!(row.low > 0.0 && row.high <= 1.0);
        }
        let rough = rough_stone();
        // Rough stones fill less of their box than a smooth ellipsoid does.
        assert!(rough.mean < std::f64::consts::PI / 6.0);
        assert!((rough.sd / rough.mean - 0.11).abs() < 0.005);
    }
}
