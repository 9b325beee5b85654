//! What is believed of a positive number, and how a measurement changes it.

use opal_units::Rng;
use rand_distr::{Distribution, StandardNormal};

/// A belief about a positive number: its logarithm is normal with a mean that
/// is itself believed normal, given the scatter of single measurements.
///
/// # Method
/// Normal mean with known variance, conjugate prior (Gelman et al. 2013,
/// Bayesian Data Analysis, 3rd ed., §2.5), on the logarithm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogBelief {
    /// The middle value.
    median: f64,
    /// Standard deviation of the logarithm of the true value.
    log_sd: f64,
    /// Standard deviation of the logarithm of one measurement around it.
    scatter: f64,
    /// How many measurements it has taken in.
    seen: u32,
}

impl LogBelief {
    /// A belief whose middle is `median` and whose nine-in-ten bounds are a
    /// factor of `factor` below and above; a single measurement scatters by a
    /// factor of `scatter_factor` (nine in ten as well). `None` unless the
    /// median is positive and both factors are above 1.
    #[must_use]
    pub fn new(median: f64, factor: f64, scatter_factor: f64) -> Option<Self> {
        let usable = median > 0.0 && median.is_finite() && factor > 1.0 && scatter_factor > 1.0;
        (usable && factor.is_finite() && scatter_factor.is_finite()).then(|| Self {
            median,
            log_sd: libm::log(factor) / Self::NINE_IN_TEN,
            scatter: libm::log(scatter_factor) / Self::NINE_IN_TEN,
            seen: 0,
        })
    }

    /// Standard deviations from the middle to either end of nine in ten.
    const NINE_IN_TEN: f64 = 1.644_853_626_951_472_2;

    /// The middle value.
    #[must_use]
    pub fn median(&self) -> f64 {
        self.median
    }

    /// The value that is not exceeded with the chance Φ(z), for `z` standard
    /// deviations.
    #[must_use]
    pub fn at_sd(&self, z: f64) -> f64 {
        self.median * libm::exp(z * self.log_sd)
    }

    /// The value that is not exceeded with chance `p`, for p in (0, 1).
    #[must_use]
    pub fn quantile(&self, p: f64) -> f64 {
        self.at_sd(normal_quantile(p))
    }

    /// The chance that the true value lies below `x`.
    #[must_use]
    pub fn chance_below(&self, x: f64) -> f64 {
        if x <= 0.0 {
            return 0.0;
        }
        let z = libm::log(x / self.median) / self.log_sd;
        0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
    }

    /// Standard deviation of the logarithm.
    #[must_use]
    pub fn log_sd(&self) -> f64 {
        self.log_sd
    }

    /// How many measurements were taken in.
    #[must_use]
    pub fn seen(&self) -> u32 {
        self.seen
    }

    /// The belief after one more measurement; a value that is not positive
    /// changes nothing.
    #[must_use]
    pub fn after(self, measured: f64) -> Self {
        if !(measured > 0.0 && measured.is_finite()) {
            return self;
        }
        let prior_weight = 1.0 / (self.log_sd * self.log_sd);
        let data_weight = 1.0 / (self.scatter * self.scatter);
        let total = prior_weight + data_weight;
        let mean =
            (prior_weight * libm::log(self.median) + data_weight * libm::log(measured)) / total;
        Self {
            median: libm::exp(mean),
            log_sd: (1.0 / total).sqrt(),
            seen: self.seen + 1,
            ..self
        }
    }

    /// One draw of the true value.
    pub fn draw(&self, rng: &mut Rng) -> f64 {
        let z: f64 = StandardNormal.sample(rng);
        self.at_sd(z)
    }
}

/// The standard normal quantile, by bisection on the error function's
/// complement: 60 halvings, exact to the last digits a bench needs.
fn normal_quantile(p: f64) -> f64 {
    let p = p.clamp(1e-12, 1.0 - 1e-12);
    let (mut low, mut high) = (-8.0, 8.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if 0.5 * libm::erfc(-middle / std::f64::consts::SQRT_2) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Prior log-mean 0, log-sd 1, scatter 0.5, one reading at e: by BDA3 eq.
    /// 2.11, mean = (0/1 + 1/0.25)/(1 + 4) = 0.8 and sd = sqrt(1/5).
    #[test]
    fn one_reading_by_hand() {
        let z = LogBelief::NINE_IN_TEN;
        let belief = LogBelief::new(1.0, z.exp(), (0.5 * z).exp()).expect("positive");
        let after = belief.after(std::f64::consts::E);
        assert!((after.median().ln() - 0.8).abs() < 1e-12);
        assert!((after.log_sd() - 0.2_f64.sqrt()).abs() < 1e-12);
        assert_eq!(after.seen(), 1);
    }

    /// Standard normal quantiles at 0.95 and 0.975 (any table).
    #[test]
    fn quantiles_of_the_normal() {
        assert!((normal_quantile(0.95) - 1.644_853_626_951).abs() < 1e-9);
        assert!((normal_quantile(0.975) - 1.959_963_984_540).abs() < 1e-9);
        assert!(normal_quantile(0.5).abs() < 1e-12);
    }

    /// Nine in ten lie within the factor: one in twenty below it and above it.
    #[test]
    fn chances_and_quantiles_are_inverse() {
        let belief = LogBelief::new(150.0, 3.0, 2.0).expect("positive");
        assert!((belief.chance_below(50.0) - 0.05).abs() < 1e-9);
        assert!((belief.chance_below(150.0) - 0.5).abs() < 1e-12);
        assert!((belief.chance_below(belief.quantile(0.8)) - 0.8).abs() < 1e-9);
        assert_eq!(belief.chance_below(-1.0), 0.0);
    }

    #[test]
    fn nonsense_changes_nothing() {
        let belief = LogBelief::new(5.0, 2.0, 1.3).expect("positive");
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(belief.after(bad), belief);
        }
        assert!(LogBelief::new(-1.0, 2.0, 2.0).is_none());
        assert!(LogBelief::new(1.0, 1.0, 2.0).is_none());
    }
}
