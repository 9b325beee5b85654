//! A number with its spread.

use thiserror::Error;

/// Why draws were refused.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum SpreadError {
    /// There was nothing to summarise.
    #[error("no draws")]
    Empty,
    /// One draw was infinite or not a number.
    #[error("draw {index} is {value}, which is not a finite number")]
    NotFinite {
        /// Which draw.
        index: usize,
        /// What it held.
        value: f64,
    },
}

/// One value for each interior, in the order of the interiors: equally likely.
///
/// Kept unsorted so that draws of different quantities stay paired.
#[derive(Clone, Debug, PartialEq)]
pub struct Draws {
    values: Vec<f64>,
    /// The same values in rising order.
    sorted: Vec<f64>,
}

impl Draws {
    /// Takes the draws over.
    ///
    /// # Errors
    /// No draws, or one that is not finite.
    pub fn new(values: Vec<f64>) -> Result<Self, SpreadError> {
        if values.is_empty() {
            return Err(SpreadError::Empty);
        }
        if let Some((index, &value)) = values.iter().enumerate().find(|(_, v)| !v.is_finite()) {
            return Err(SpreadError::NotFinite { index, value });
        }
        let mut sorted = values.clone();
        sorted.sort_by(f64::total_cmp);
        Ok(Self { values, sorted })
    }

    /// In the order of the interiors.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// In rising order.
    #[must_use]
    pub fn sorted(&self) -> &[f64] {
        &self.sorted
    }

    /// How many.
    #[must_use]
    #[allow(clippy::len_without_is_empty)] // never empty
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// The arithmetic mean.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.values.iter().sum::<f64>() / self.values.len() as f64
    }

    /// The standard deviation (divisor n − 1; 0 for a single draw).
    #[must_use]
    pub fn sd(&self) -> f64 {
        let n = self.values.len();
        if n < 2 {
            return 0.0;
        }
        let mean = self.mean();
        let sum: f64 = self.values.iter().map(|v| (v - mean) * (v - mean)).sum();
        (sum / (n - 1) as f64).sqrt()
    }

    /// The standard error of the mean that comes from the number of draws.
    #[must_use]
    pub fn mean_error(&self) -> f64 {
        self.sd() / (self.values.len() as f64).sqrt()
    }

    /// The quantile at `p` in 0..=1, linear between order statistics
    /// (Hyndman & Fan 1996, American Statistician 50, type 7).
    #[must_use]
    pub fn quantile(&self, p: f64) -> f64 {
        let at = p.clamp(0.0, 1.0) * (self.sorted.len() - 1) as f64;
        let low = at.floor() as usize;
        let high = at.ceil() as usize;
        self.sorted[low] + (self.sorted[high] - self.sorted[low]) * (at - low as f64)
    }

    /// The share of draws strictly below `x`.
    #[must_use]
    pub fn share_below(&self, x: f64) -> f64 {
        self.sorted.partition_point(|&v| v < x) as f64 / self.sorted.len() as f64
    }

    /// The mean of the lowest `share` of the draws, splitting the draw at the
    /// edge (Rockafellar & Uryasev 2002, J. Banking & Finance 26: atoms).
    #[must_use]
    pub fn worst_mean(&self, share: f64) -> f64 {
        let weight = (share.clamp(0.0, 1.0) * self.sorted.len() as f64).max(f64::MIN_POSITIVE);
        let whole = weight.floor() as usize;
        let mut sum: f64 = self.sorted[..whole.min(self.sorted.len())].iter().sum();
        if whole < self.sorted.len() {
            sum += (weight - whole as f64) * self.sorted[whole];
        }
        sum / weight
    }

    /// A short form that can be shown and stored.
    #[must_use]
    pub fn spread(&self) -> Spread {
        Spread {
            mean: self.mean(),
            mean_error: self.mean_error(),
            sd: self.sd(),
            quantiles: Spread::LEVELS.map(|p| self.quantile(p)),
        }
    }

    /// A new set of draws, one for one.
    ///
    /// # Errors
    /// As [`Draws::new`], for what `f` gave.
    pub fn map(&self, f: impl FnMut(f64) -> f64) -> Result<Self, SpreadError> {
        Self::new(self.values.iter().copied().map(f).collect())
    }
}

/// A number with its spread, in short form.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// The mean.
    pub mean: f64,
    /// The standard error of the mean that comes from the number of draws.
    pub mean_error: f64,
    /// The standard deviation.
    pub sd: f64,
    /// The quantiles at [`Spread::LEVELS`].
    pub quantiles: [f64; 7],
}

impl Spread {
    /// The levels at which every spread keeps its quantiles.
    pub const LEVELS: [f64; 7] = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95];

    /// The middle: half of the chances lie below.
    #[must_use]
    pub fn median(&self) -> f64 {
        self.quantiles[3]
    }

    /// The bounds that hold nine chances in ten.
    #[must_use]
    pub fn nine_in_ten(&self) -> (f64, f64) {
        (self.quantiles[0], self.quantiles[6])
    }

    /// The bounds that hold every second chance.
    #[must_use]
    pub fn one_in_two(&self) -> (f64, f64) {
        (self.quantiles[2], self.quantiles[4])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of a loss of {200, 50, 0, -100, -300} with chances .1 .2 .3 .3 .1:
    /// the mean of the worst quarter, fifth and tenth are 110, 125 and 200
    /// (worked by hand from Rockafellar & Uryasev 2002, eq. for atoms).
    #[test]
    fn worst_mean_splits_atoms() {
        let values = [(-200.0, 1), (-50.0, 2), (0.0, 3), (100.0, 3), (300.0, 1)]
            .iter()
            .flat_map(|&(v, n)| std::iter::repeat_n(v, n))
            .collect();
        let draws = Draws::new(values).expect("finite");
        for (share, mean) in [(0.25, -110.0), (0.2, -125.0), (0.1, -200.0)] {
            assert!((draws.worst_mean(share) - mean).abs() < 1e-9, "{share}");
        }
    }

    /// Quantiles of 1..=5 as numpy's default ("linear") gives them.
    #[test]
    fn quantiles_are_type_seven() {
        let draws = Draws::new(vec![3.0, 1.0, 5.0, 2.0, 4.0]).expect("finite");
        assert_eq!(draws.quantile(0.5), 3.0);
        assert!((draws.quantile(0.05) - 1.2).abs() < 1e-12);
        assert!((draws.quantile(0.9) - 4.6).abs() < 1e-12);
    }

    #[test]
    fn refuses_nothing_and_nan() {
        assert_eq!(Draws::new(vec![]), Err(SpreadError::Empty));
        assert!(matches!(
            Draws::new(vec![1.0, f64::NAN]),
            Err(SpreadError::NotFinite { index: 1, .. })
        ));
    }
}
