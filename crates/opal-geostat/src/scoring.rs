//! How good forecasts were: proper scores, rank histograms, coverage.
//!
//! A score here is proper: on average nobody does better than by saying what
//! they believe (Gneiting & Raftery 2007, JASA 102:359–378).

use statrs::function::erf::erf;
use std::f64::consts::{FRAC_1_SQRT_2, PI, SQRT_2};
use thiserror::Error;

/// Why a forecast could not be scored.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ScoreError {
    /// There was no draw.
    #[error("the forecast holds no draws")]
    NoDraws,
    /// The fair form needs pairs.
    #[error("the forecast holds one draw; the fair score needs at least 2")]
    OneDraw,
    /// A spread was not positive.
    #[error("{name} is {value}; it must be above 0")]
    Spread {
        /// Which.
        name: &'static str,
        /// What it was.
        value: f64,
    },
}

/// The standard normal distribution function.
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    // Through erfc in the tails, where 1 + erf would lose all digits.
    if z < -1.0 {
        0.5 * statrs::function::erf::erfc(-z * FRAC_1_SQRT_2)
    } else {
        0.5 * (1.0 + erf(z * FRAC_1_SQRT_2))
    }
}

/// The standard normal density.
#[must_use]
pub fn normal_pdf(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// Continuous ranked probability score of a normal forecast.
///
/// # Method
/// Gneiting & Raftery (2007), eq. 21: σ·[z(2Φ(z) − 1) + 2φ(z) − 1/√π].
///
/// # Errors
/// A standard deviation that is not positive.
pub fn crps_normal(outcome: f64, mean: f64, sd: f64) -> Result<f64, ScoreError> {
    let sd = positive("sd", sd)?;
    let z = (outcome - mean) / sd;
    Ok(sd * (z * (2.0 * normal_cdf(z) - 1.0) + 2.0 * normal_pdf(z) - 1.0 / PI.sqrt()))
}

/// Continuous ranked probability score of a log-normal forecast, `log_mean` and
/// `log_sd` being those of the logarithm.
///
/// # Method
/// Baran & Lerch (2015, Q. J. R. Meteorol. Soc. 141): y(2Φ(w) − 1) −
/// 2e^{μ+σ²/2}(Φ(w − σ) + Φ(σ/√2) − 1), w = (ln y − μ)/σ.
///
/// # Errors
/// A log standard deviation that is not positive.
pub fn crps_log_normal(outcome: f64, log_mean: f64, log_sd: f64) -> Result<f64, ScoreError> {
    let log_sd = positive("log_sd", log_sd)?;
    let mean = (log_mean + 0.5 * log_sd * log_sd).exp();
    let pairs = normal_cdf(log_sd / SQRT_2) - 1.0;
    if outcome <= 0.0 {
        // All of the forecast lies above: E|X − y| less half the mean difference.
        return Ok(-outcome - 2.0 * mean * pairs);
    }
    let w = (outcome.ln() - log_mean) / log_sd;
    Ok(outcome * (2.0 * normal_cdf(w) - 1.0) - 2.0 * mean * (normal_cdf(w - log_sd) + pairs))
}

/// Continuous ranked probability score of a set of equally likely draws, taken
/// as the whole forecast.
///
/// # Method
/// mean|x − y| − Σ|xᵢ − xⱼ| / (2N²), the double sum from the sorted draws in
/// O(N log N).
///
/// # Errors
/// No draws.
pub fn crps_ensemble(outcome: f64, draws: &[f64]) -> Result<f64, ScoreError> {
    let (miss, pairs) = ensemble_parts(outcome, draws)?;
    let n = draws.len() as f64;
    Ok(miss - pairs / (n * n))
}

/// The same for draws that are a sample from the forecast: unbiased in N.
///
/// # Method
/// Ferro (2014, Q. J. R. Meteorol. Soc. 140): 2N(N − 1) in place of 2N².
///
/// # Errors
/// Fewer than two draws.
pub fn crps_ensemble_fair(outcome: f64, draws: &[f64]) -> Result<f64, ScoreError> {
    let (miss, pairs) = ensemble_parts(outcome, draws)?;
    if draws.len() < 2 {
        return Err(ScoreError::OneDraw);
    }
    let n = draws.len() as f64;
    Ok(miss - pairs / (n * (n - 1.0)))
}

/// Mean distance to the outcome, and Σ_{i<j}|xᵢ − xⱼ|.
fn ensemble_parts(outcome: f64, draws: &[f64]) -> Result<(f64, f64), ScoreError> {
    if draws.is_empty() {
        return Err(ScoreError::NoDraws);
    }
    let mut sorted = draws.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() as f64;
    let miss = sorted.iter().map(|x| (x - outcome).abs()).sum::<f64>() / n;
    let pairs = sorted
        .iter()
        .enumerate()
        .map(|(k, x)| (2.0 * k as f64 + 1.0 - n) * x)
        .sum();
    Ok((miss, pairs))
}

/// Where the outcome fell in the forecast, 0..=1; `u` in 0..1 is a random number
/// that settles ties, so that a mass at one value (an absent bar) does not show
/// as a false peak.
///
/// # Method
/// F(y−) + u·(F(y) − F(y−)) (Czado, Gneiting & Held 2009, Biometrics 65), with
/// one place more than there are draws, so that N draws and the outcome of the
/// same law give exactly a uniform rank.
///
/// # Errors
/// No draws.
pub fn pit(outcome: f64, draws: &[f64], u: f64) -> Result<f64, ScoreError> {
    if draws.is_empty() {
        return Err(ScoreError::NoDraws);
    }
    let below = draws.iter().filter(|&&x| x < outcome).count() as f64;
    let equal = draws.iter().filter(|&&x| x == outcome).count() as f64;
    Ok((below + u * (equal + 1.0)) / (draws.len() as f64 + 1.0))
}

/// The score of one quantile: lowest on average for the true one.
///
/// # Method
/// Pinball loss (Koenker & Bassett 1978, Econometrica 46).
#[must_use]
pub fn pinball(outcome: f64, quantile: f64, level: f64) -> f64 {
    let miss = outcome - quantile;
    if miss >= 0.0 {
        level * miss
    } else {
        (level - 1.0) * miss
    }
}

/// How often intervals held what they were to hold.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Coverage {
    /// Intervals that held the outcome; a tie on the edge counts by halves when
    /// the caller randomises it.
    pub held: usize,
    /// Intervals looked at.
    pub looked: usize,
}

impl Coverage {
    /// Counts one more.
    pub fn add(&mut self, held: bool) {
        self.held += usize::from(held);
        self.looked += 1;
    }

    /// The share that held; NaN when none was looked at.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.held as f64 / self.looked as f64
    }

    /// The shares that 95 in 100 honest forecasters of `level` would get with
    /// this many independent looks (exact binomial quantiles).
    #[must_use]
    pub fn band(&self, level: f64) -> (f64, f64) {
        binomial_band(self.looked, level, 0.95)
    }
}

/// The central `chance` of a binomial share of n with success p.
#[must_use]
pub fn binomial_band(n: usize, p: f64, chance: f64) -> (f64, f64) {
    if n == 0 || p <= 0.0 || p >= 1.0 {
        return (p.clamp(0.0, 1.0), p.clamp(0.0, 1.0));
    }
    let tail = 0.5 * (1.0 - chance);
    let log_odds = (p / (1.0 - p)).ln();
    let mut log_mass = n as f64 * (1.0 - p).ln();
    let mut below = 0.0;
    let (mut low, mut high) = (None, n);
    for k in 0..=n {
        below += log_mass.exp();
        if low.is_none() && below >= tail {
            low = Some(k);
        }
        if below >= 1.0 - tail {
            high = k;
            break;
        }
        log_mass += log_odds + ((n - k) as f64 / (k + 1) as f64).ln();
    }
    (low.unwrap_or(0) as f64 / n as f64, high as f64 / n as f64)
}

/// A histogram of [`pit`] values; flat when forecasts are calibrated, ∪ when they
/// are too narrow, ∩ when too wide.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PitHistogram {
    /// Counts in ten equal bins.
    pub counts: [usize; 10],
}

impl PitHistogram {
    /// Counts one more; values outside 0..=1 go to the end bins.
    pub fn add(&mut self, pit: f64) {
        let bin = ((pit * 10.0) as isize).clamp(0, 9);
        self.counts[bin as usize] += 1;
    }

    /// How many.
    #[must_use]
    pub fn len(&self) -> usize {
        self.counts.iter().sum()
    }

    /// True when nothing was counted.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Pearson's distance from flat: about chi-square with 9 degrees of freedom
    /// for independent, calibrated forecasts (95 % lie below 16.92).
    #[must_use]
    pub fn chi_square(&self) -> f64 {
        let expected = self.len() as f64 / 10.0;
        self.counts
            .iter()
            .map(|&c| (c as f64 - expected).powi(2) / expected)
            .sum()
    }
}

fn positive(name: &'static str, value: f64) -> Result<f64, ScoreError> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(ScoreError::Spread { name, value })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gneiting & Raftery (2007), eq. 21, at five points; values of the general
    /// scoring library `properscoring` 0.1 agree.
    #[test]
    fn normal_score() {
        for (z, score) in [
            (0.0, 0.233_695_0),
            (0.5, 0.331_403_5),
            (1.0, 0.602_441_4),
            (2.0, 1.452_791_8),
            (3.0, 2.436_574_7),
        ] {
            let got = crps_normal(z, 0.0, 1.0).expect("positive spread");
            assert!((got - score).abs() < 1e-7, "{z}: {got}");
        }
        assert!(crps_normal(0.0, 0.0, 0.0).is_err());
    }

    /// Baran & Lerch (2015), at μ = ln 2, σ = 0.5, y = 3; quadrature agrees.
    #[test]
    fn log_normal_score() {
        let got = crps_log_normal(3.0, 2.0_f64.ln(), 0.5).expect("positive spread");
        assert!((got - 0.568_237_1).abs() < 1e-7, "{got}");
        // Continuous across zero.
        let a = crps_log_normal(1e-9, 0.3, 0.7).expect("positive");
        let b = crps_log_normal(-1e-9, 0.3, 0.7).expect("positive");
        assert!((a - b).abs() < 1e-8);
    }

    /// Ferro (2014); `properscoring` 0.1 gives the same: {1..5}, y = 2.5.
    #[test]
    fn ensemble_score_plain_and_fair() {
        let draws = [5.0, 1.0, 4.0, 2.0, 3.0];
        assert!((crps_ensemble(2.5, &draws).expect("draws") - 0.5).abs() < 1e-12);
        assert!((crps_ensemble_fair(2.5, &draws).expect("draws") - 0.3).abs() < 1e-12);
        assert_eq!(crps_ensemble(0.0, &[]), Err(ScoreError::NoDraws));
        assert_eq!(crps_ensemble_fair(0.0, &[1.0]), Err(ScoreError::OneDraw));
    }

    /// Binomial 95 % bands: n = 300 at 0.9 and n = 200 at 0.5 (exact quantiles).
    #[test]
    fn coverage_band() {
        let (low, high) = binomial_band(300, 0.9, 0.95);
        assert!((low - 0.8633).abs() < 1e-4 && (high - 0.9333).abs() < 1e-4);
        let (low, high) = binomial_band(200, 0.5, 0.95);
        assert!((low - 0.43).abs() < 1e-9 && (high - 0.57).abs() < 1e-9);
    }

    /// A mass at 0, forecast by draws with the same mass, gives flat ranks.
    #[test]
    fn ranks_are_flat_with_a_mass_at_zero() {
        use opal_units::Seed;
        use rand::RngExt as _;
        let mut histogram = PitHistogram::default();
        for i in 0..4000 {
            let mut rng = Seed(3).stream("rank", i);
            let mut draw = || (rng.random::<f64>() - 0.4).max(0.0);
            let outcome = draw();
            let draws: Vec<f64> = (0..50).map(|_| draw()).collect();
            histogram.add(pit(outcome, &draws, rng.random()).expect("draws"));
        }
        // 99.9 % of a chi-square with 9 degrees of freedom lie below 27.88.
        assert!(histogram.chi_square() < 27.88, "{histogram:?}");
    }

    #[test]
    fn pinball_is_lowest_at_the_true_quantile() {
        let outcomes: Vec<f64> = (0..1000).map(|k| f64::from(k) / 1000.0).collect();
        let score = |q: f64| outcomes.iter().map(|&y| pinball(y, q, 0.9)).sum::<f64>();
        assert!(score(0.9) < score(0.85) && score(0.9) < score(0.95));
    }
}
