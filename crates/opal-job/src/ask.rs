//! What is asked of a forecast.

use opal_evidence::{Fault, Faults};
use opal_plan::{BenchRules, Effort, Wishes};
use opal_stone::GridChoice;
use opal_units::{Length, Seed};

/// How many insides, from which seed, on which grid, told at which levels.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// How many possible insides.
    pub n_interiors: usize,
    /// What the draws start from.
    pub seed: Seed,
    /// Distance between the nodes of the grid; `None`: from the size.
    pub cell: Option<Length>,
    /// The levels at which quantiles are told, rising.
    pub levels: Vec<f64>,
    /// How hard to look for plans.
    pub effort: Effort,
    /// Most stones in one plan.
    pub most_stones: usize,
    /// What the cutter has decided already.
    pub wishes: Wishes,
    /// What the blade takes; `None`: as the bench rules say.
    pub kerf: Option<Length>,
    /// The thickest piece that the saw cuts through; `None`: as the bench rules say.
    pub saw_reach: Option<Length>,
}

impl Default for Ask {
    /// Chosen: 1,000 insides keep the error of a 5 % quantile near one hundredth
    /// in probability (√(0.05 · 0.95 / 1000) = 0.007); the seed is any fixed
    /// number, so that two people get the same answer; the levels are those of
    /// every spread that is shown; more than four stones from one piece are
    /// looked for when asked, because each costs a second.
    fn default() -> Self {
        Self {
            n_interiors: 1000,
            seed: Seed(7),
            cell: None,
            levels: vec![0.05, 0.25, 0.5, 0.75, 0.95],
            effort: Effort::Settled,
            most_stones: 4,
            wishes: Wishes::default(),
            kerf: None,
            saw_reach: None,
        }
    }
}

/// Fewest insides: below it a worst tenth is a handful of draws. Chosen.
const N_INTERIORS_MIN: usize = 20;
/// Most insides: above it memory, not error, is the limit. Chosen.
const N_INTERIORS_MAX: usize = 20_000;
/// Most stones in one plan: the search for more takes minutes. Chosen.
const STONES_MAX: usize = 12;

impl Ask {
    /// Looks it over.
    ///
    /// # Errors
    /// All that is out of its range.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Vec::new();
        if !(N_INTERIORS_MIN..=N_INTERIORS_MAX).contains(&self.n_interiors) {
            faults.push(Fault::new(
                "interiors",
                self.n_interiors,
                format!("it must lie between {N_INTERIORS_MIN} and {N_INTERIORS_MAX}"),
            ));
        }
        if !(1..=STONES_MAX).contains(&self.most_stones) {
            faults.push(Fault::new(
                "most_stones",
                self.most_stones,
                format!("it must lie between 1 and {STONES_MAX}"),
            ));
        }
        // How small it may be depends on the stone, and is told with it.
        if let Some(cell) = self.cell.map(Length::mm)
            && !(cell > 0.0 && cell.is_finite())
        {
            faults.push(Fault::new("grid.cell_mm", cell, "must be above 0 mm"));
        }
        if let Err(rules) = self.rules(&BenchRules::default()).check() {
            faults.extend(rules.0);
        }
        if self.levels.is_empty() {
            faults.push(Fault::new("quantiles", "empty", "give at least one level"));
        }
        for (k, &level) in self.levels.iter().enumerate() {
            if !(0.0..=1.0).contains(&level) {
                faults.push(Fault::new(
                    format!("quantiles[{k}]"),
                    level,
                    "a level lies between 0 and 1",
                ));
            }
        }
        if self.levels.windows(2).any(|pair| pair[0] >= pair[1]) {
            faults.push(Fault::new(
                "quantiles",
                format!("{:?}", self.levels),
                "levels must rise, each once",
            ));
        }
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Faults(faults))
        }
    }

    /// The grid for answers at the bench.
    pub(crate) fn bench_grid(&self) -> GridChoice {
        self.cell.map_or(GridChoice::Coarse, GridChoice::Cell)
    }

    /// The bench rules with the saw that was asked for.
    pub(crate) fn rules(&self, own: &BenchRules) -> BenchRules {
        BenchRules {
            kerf: self.kerf.unwrap_or(own.kerf),
            saw_reach: self.saw_reach.unwrap_or(own.saw_reach),
            ..own.clone()
        }
    }

    pub(crate) fn grid(&self) -> GridChoice {
        self.cell.map_or(GridChoice::Auto, GridChoice::Cell)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_faults_come_at_once() {
        let ask = Ask {
            n_interiors: 1,
            cell: Some(Length::from_mm(-1.0)),
            levels: vec![0.5, 0.5, 1.2],
            kerf: Some(Length::from_mm(-1.0)),
            saw_reach: Some(Length::from_mm(f64::NAN)),
            ..Ask::default()
        };
        let faults = ask.check().expect_err("six faults");
        assert_eq!(faults.0.len(), 6, "{faults}");
        Ask::default().check().expect("the default holds");
    }
}
