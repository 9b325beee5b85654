//! What is counted of one quantity.

use opal_geostat::scoring::{Coverage, PitHistogram, crps_ensemble_fair, pit};

/// How forecasts of one quantity did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tally {
    /// Of the middle 50, 80 and 90 % intervals.
    pub coverage: [Coverage; 3],
    /// Where outcomes fell.
    pub pit: PitHistogram,
    crps_sum: f64,
    width_sum: f64,
    signed_sum: f64,
}

/// What the three intervals are to hold.
pub(crate) const LEVELS: [f64; 3] = [0.5, 0.8, 0.9];

impl Tally {
    /// Scores one forecast; `u` in 0..1 settles ties at masses (an absent bar).
    pub fn add(&mut self, outcome: f64, draws: &[f64], u: f64) {
        let (Ok(rank), Ok(crps)) = (pit(outcome, draws, u), crps_ensemble_fair(outcome, draws))
        else {
            return;
        };
        for (coverage, level) in self.coverage.iter_mut().zip(LEVELS) {
            coverage.add((rank - 0.5).abs() <= 0.5 * level);
        }
        self.pit.add(rank);
        self.crps_sum += crps;
        let mut sorted = draws.to_vec();
        sorted.sort_by(f64::total_cmp);
        let at = |p: f64| sorted[((sorted.len() - 1) as f64 * p).round() as usize];
        self.width_sum += at(0.95) - at(0.05);
        self.signed_sum += outcome - at(0.5);
    }

    /// Outcomes scored.
    #[must_use]
    pub fn len(&self) -> usize {
        self.pit.len()
    }

    /// True when none was scored.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.pit.is_empty()
    }

    /// Mean continuous ranked probability score, in the quantity's unit.
    #[must_use]
    pub fn crps(&self) -> f64 {
        self.crps_sum / self.len() as f64
    }

    /// Mean width of the 90 % interval: sharpness.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.width_sum / self.len() as f64
    }

    /// Mean of outcome less forecast median: bias.
    #[must_use]
    pub fn bias(&self) -> f64 {
        self.signed_sum / self.len() as f64
    }
}
