//! Cautions to show beside a step, and limits of silica dust in air.
//!
//! They are the usual ones: local rules and licensed practice come first.

use crate::table;
use serde::Deserialize;
use std::sync::LazyLock;

/// A step at the bench at which someone can be hurt.
#[derive(Clone, Copy, Debug, Deserialize, Eq, Hash, PartialEq)]
#[serde(rename_all = "lowercase")]
pub enum Step {
    /// Sawing.
    Saw,
    /// Grinding.
    Grind,
    /// Sanding and polishing.
    Polish,
    /// Fixing the stone to a stick.
    Dop,
    /// Gluing and cleaning with solvents.
    Glue,
    /// Looking with a torch.
    Torch,
    /// Looking under ultraviolet light.
    Uv,
    /// Putting a stone into water.
    Soak,
}

/// One caution.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// Its key.
    pub key: String,
    /// At which steps it is shown.
    #[serde(rename = "where")]
    pub steps: Vec<Step>,
    /// What to say.
    pub text: String,
    /// The same in few words, for print where there is little room.
    pub brief: String,
    /// Keys of its sources.
    pub source: Vec<String>,
}

/// A limit of respirable crystalline silica in air over a shift.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SilicaLimit {
    /// Its key.
    pub key: String,
    /// Whose limit it is.
    pub about: String,
    /// The limit, mg/m³.
    pub mg_per_m3: f64,
    /// The year of the text that it was read from.
    pub as_of: String,
    /// Keys of its sources.
    pub source: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    row: Vec<Caution>,
    silica_limit: Vec<SilicaLimit>,
}

static FILE: LazyLock<File> = LazyLock::new(|| table::read("cautions"));

/// Every caution.
#[must_use]
pub fn all() -> &'static [Caution] {
    &FILE.row
}

/// The cautions to show at a step, in the order of the file.
pub fn at(step: Step) -> impl Iterator<Item = &'static Caution> {
    FILE.row
        .iter()
        .filter(move |caution| caution.steps.contains(&step))
}

/// Limits of silica dust by country.
#[must_use]
pub fn silica_limits() -> &'static [SilicaLimit] {
    &FILE.silica_limit
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_step_has_a_caution() {
        for step in [
            Step::Saw,
            Step::Grind,
            Step::Polish,
            Step::Dop,
            Step::Glue,
            Step::Torch,
            Step::Uv,
            Step::Soak,
        ] {
            assert!(at(step).next().is_some(), "{step:?}");
        }
        assert!(all().iter().all(|c| c.text.ends_with('.')));
        assert!(all().iter().all(|c| c.brief.ends_with('.')));
        assert!(all().iter().all(|c| c.brief.len() <= c.text.len()));
    }

    /// 29 CFR 1910.1053: 50 µg/m³ and an action level of 25 µg/m³.
    #[test]
    fn silica_limits_are_the_published_ones() {
        let limit = |key: &str| {
            silica_limits()
                .iter()
                .find(|l| l.key == key)
                .expect("a row")
                .mg_per_m3
        };
        assert_eq!(limit("osha"), 0.050);
        assert_eq!(limit("osha-action"), 0.025);
        assert!(
            silica_limits()
                .iter()
                .all(|l| (0.02..=0.1).contains(&l.mg_per_m3))
        );
    }
}
