//! Forecasts against what came out.

use opal_geostat::scoring::{PitHistogram, ScoreError, crps_ensemble_fair, pit};
use statrs::distribution::{ContinuousCDF as _, Normal};

/// One forecast, scored.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scored {
    /// What came out.
    pub outcome: f64,
    /// The middle of the forecast.
    pub middle: f64,
    /// Where the outcome fell in the forecast, 0 to 1.
    pub pit: f64,
    /// Continuous ranked probability score, in the outcome's unit.
    pub crps: f64,
}

/// Forecasts of one quantity against their outcomes.
///
/// Only stones that were bought have an outcome: the record is of those, and a
/// forecast that was high for a stone is likelier to have led to a purchase.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Record {
    scored: Vec<Scored>,
}

/// How forecasts are widened or narrowed by their record.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WideningRule {
    /// How many outcomes the belief 'they are about right' is worth.
    pub worth: f64,
}

impl Default for WideningRule {
    /// Chosen: ten outcomes, so that one surprise hardly moves it and thirty do.
    fn default() -> Self {
        Self { worth: 10.0 }
    }
}

impl Record {
    /// Scores one more; `u` in 0..1 settles ties.
    ///
    /// # Errors
    /// Fewer than two draws.
    pub fn add(&mut self, outcome: f64, draws: &[f64], u: f64) -> Result<Scored, ScoreError> {
        let mut sorted = draws.to_vec();
        sorted.sort_by(f64::total_cmp);
        let scored = Scored {
            outcome,
            crps: crps_ensemble_fair(outcome, draws)?,
            pit: pit(outcome, draws, u)?,
            middle: 0.5 * (sorted[(sorted.len() - 1) / 2] + sorted[sorted.len() / 2]),
        };
        self.scored.push(scored);
        Ok(scored)
    }

    /// All of them, in order.
    #[must_use]
    pub fn scored(&self) -> &[Scored] {
        &self.scored
    }

    /// How many.
    #[must_use]
    pub fn len(&self) -> usize {
        self.scored.len()
    }

    /// True when there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.scored.is_empty()
    }

    /// Mean score, in the outcome's unit.
    #[must_use]
    pub fn crps(&self) -> f64 {
        self.mean(|s| s.crps)
    }

    /// Mean of outcome less forecast middle, with its standard error (0 for one).
    #[must_use]
    pub fn bias(&self) -> (f64, f64) {
        let n = self.scored.len() as f64;
        let mean = self.mean(|s| s.outcome - s.middle);
        let square = self.mean(|s| (s.outcome - s.middle - mean).powi(2));
        (mean, (square / (n - 1.0).max(1.0)).sqrt())
    }

    /// How many outcomes the middle `share` of the forecasts held.
    #[must_use]
    pub fn held(&self, share: f64) -> usize {
        self.scored
            .iter()
            .filter(|s| (s.pit - 0.5).abs() <= 0.5 * share)
            .count()
    }

    /// Where outcomes fell.
    #[must_use]
    pub fn ranks(&self) -> PitHistogram {
        let mut histogram = PitHistogram::default();
        self.scored.iter().for_each(|s| histogram.add(s.pit));
        histogram
    }

    /// By how much the spread of forecasts should be multiplied: above 1 when
    /// outcomes fall outside more often than they should.
    ///
    /// # Method
    /// Scores z = Φ⁻¹(PIT) are standard normal for honest forecasts; their
    /// variance under an inverse-gamma belief about 1 has the mean
    /// (worth + Σz²)/(worth + n) (Gelman et al. 2013, *Bayesian Data Analysis*,
    /// §2.6, scaled inverse-χ²).
    #[must_use]
    pub fn widening(&self, rule: WideningRule) -> f64 {
        let normal = Normal::standard();
        let squares: f64 = self
            .scored
            .iter()
            .map(|s| normal.inverse_cdf(s.pit.clamp(1e-4, 1.0 - 1e-4)).powi(2))
            .sum();
        ((rule.worth + squares) / (rule.worth + self.scored.len() as f64)).sqrt()
    }

    fn mean(&self, of: impl Fn(&Scored) -> f64) -> f64 {
        self.scored.iter().map(of).sum::<f64>() / self.scored.len().max(1) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_units::{Rng, Seed};
    use rand::RngExt as _;
    use rand_distr::{Distribution as _, StandardNormal};

    fn normals(rng: &mut Rng, sd: f64, n: usize) -> Vec<f64> {
        (0..n)
            .map(|_| {
                let z: f64 = StandardNormal.sample(rng);
                sd * z
            })
            .collect()
    }

    fn record(true_sd: f64, said_sd: f64, n: u64) -> Record {
        let mut record = Record::default();
        for i in 0..n {
            let mut rng = Seed(11).stream("record", i);
            let outcome = normals(&mut rng, true_sd, 1)[0];
            let draws = normals(&mut rng, said_sd, 400);
            record.add(outcome, &draws, rng.random()).expect("draws");
        }
        record
    }

    /// Expected own score of a standard normal forecast: 1/√π (Gneiting &
    /// Raftery 2007); the middle 90 % hold 90 %.
    #[test]
    fn honest_forecasts_score_as_they_should() {
        let honest = record(1.0, 1.0, 1000);
        assert!((honest.crps() - 0.564_19).abs() < 0.045);
        assert!((honest.held(0.9) as f64 / 1000.0 - 0.9).abs() < 0.038);
        assert!((honest.widening(WideningRule::default()) - 1.0).abs() < 0.07);
        assert!(honest.ranks().chi_square() < 27.88);
        let (bias, error) = honest.bias();
        assert!(bias.abs() < 4.0 * error);
    }

    /// Forecasts half as wide as they should be are widened toward twice; not all
    /// the way, because no rank among 400 draws is worth more than z = 2.8.
    #[test]
    fn narrow_forecasts_are_widened_and_one_surprise_hardly_counts() {
        let rule = WideningRule::default();
        let narrow = record(2.0, 1.0, 300).widening(rule);
        assert!((1.65..2.05).contains(&narrow), "{narrow}");
        let mut one = Record::default();
        let draws: Vec<f64> = (0..200).map(f64::from).collect();
        one.add(1e6, &draws, 0.5).expect("draws");
        // The rank of 200 draws is worth no more than z = 2.8.
        assert!(one.widening(rule) < 1.3, "{}", one.widening(rule));
        assert_eq!(Record::default().widening(rule), 1.0);
    }
}
