//! What is asked of a forecast.

use opal_evidence::{Fault, Faults};
use opal_plan::{Effort, Wishes};
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
            levels: vec![0.5, 0.5, 1.2],
            ..Ask::default()
        };
        let faults = ask.check().expect_err("three faults");
        assert_eq!(faults.0.len(), 3, "{faults}");
        Ask::default().check().expect("the default holds");
    }
}
