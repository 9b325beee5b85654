//! What is known of a rate after counting.

use super::{StereologyError, check};
use rand::Rng;
use rand_distr::{Distribution as _, Gamma};
use statrs::distribution::{ContinuousCDF as _, Gamma as GammaLaw};
use statrs::function::gamma::ln_gamma;

/// A Gamma law of a rate: how many a unit of exposure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GammaRate {
    shape: f64,
    exposure: f64,
}

impl GammaRate {
    /// A prior worth `shape` counts in `exposure` units.
    ///
    /// # Errors
    /// Either is not positive.
    pub fn new(shape: f64, exposure: f64) -> Result<Self, StereologyError> {
        check("shape", shape, shape > 0.0, "must be above 0")?;
        check("exposure", exposure, exposure > 0.0, "must be above 0")?;
        Ok(Self { shape, exposure })
    }

    /// After `count` more in `exposure` more units. Counting none is evidence too.
    ///
    /// # Method
    /// Gamma(a, b) and Poisson give Gamma(a + n, b + E) (Gelman et al. 2013,
    /// *Bayesian Data Analysis*, §2.6).
    #[must_use]
    pub fn counted(self, count: u32, exposure: f64) -> Self {
        self.counted_part(f64::from(count), exposure)
    }

    /// The same where counts need not be whole: the part of a count that is worth an
    /// independent one.
    pub(crate) fn counted_part(self, count: f64, exposure: f64) -> Self {
        Self {
            shape: self.shape + count,
            exposure: self.exposure + exposure.max(0.0),
        }
    }

    /// Shape a.
    #[must_use]
    pub fn shape(self) -> f64 {
        self.shape
    }

    /// Exposure b.
    #[must_use]
    pub fn exposure(self) -> f64 {
        self.exposure
    }

    /// The mean rate.
    #[must_use]
    pub fn mean(self) -> f64 {
        self.shape / self.exposure
    }

    /// The standard deviation of the rate.
    #[must_use]
    pub fn sd(self) -> f64 {
        self.shape.sqrt() / self.exposure
    }

    /// The chance that the rate is above `rate`.
    #[must_use]
    pub fn chance_above(self, rate: f64) -> f64 {
        match GammaLaw::new(self.shape, self.exposure) {
            Ok(law) => law.sf(rate.max(0.0)),
            // Both parameters were checked to be positive.
            Err(_) => f64::NAN,
        }
    }

    /// The chance of exactly `count` in `exposure` further units: negative binomial.
    #[must_use]
    pub fn chance_of(self, count: u32, exposure: f64) -> f64 {
        self.log_chance_of(count, exposure).exp()
    }

    /// The logarithm of [`Self::chance_of`].
    #[must_use]
    pub fn log_chance_of(self, count: u32, exposure: f64) -> f64 {
        self.log_chance_of_part(f64::from(count), exposure)
    }

    /// The same where counts need not be whole.
    pub(crate) fn log_chance_of_part(self, n: f64, exposure: f64) -> f64 {
        if exposure <= 0.0 {
            return if n == 0.0 { 0.0 } else { f64::NEG_INFINITY };
        }
        let (a, b) = (self.shape, self.exposure);
        ln_gamma(a + n) - ln_gamma(a) - ln_gamma(n + 1.0)
            + a * (b / (b + exposure)).ln()
            + n * (exposure / (b + exposure)).ln()
    }

    /// The chance of none in `exposure` further units: (b / (b + v))^a.
    #[must_use]
    pub fn chance_of_none(self, exposure: f64) -> f64 {
        (self.exposure / (self.exposure + exposure.max(0.0))).powf(self.shape)
    }

    /// Draws a rate.
    pub fn draw(self, rng: &mut impl Rng) -> f64 {
        match Gamma::new(self.shape, 1.0 / self.exposure) {
            Ok(law) => law.sample(rng),
            // Both parameters were checked to be positive.
            Err(_) => self.mean(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gelman et al. (2013), *Bayesian Data Analysis*, 3rd ed., §2.6, asthma
    /// deaths: Gamma(3, 5) and 3 in 2.0 → mean 0.86, P(θ > 1) = 0.30; 30 in 20
    /// → mean 1.32, P = 0.93 (to four digits by quadrature).
    #[test]
    fn counting_deaths() {
        let prior = GammaRate::new(3.0, 5.0).expect("valid");
        let after = prior.counted(3, 2.0);
        assert!((after.mean() - 0.857_142_9).abs() < 1e-6);
        assert!((after.chance_above(1.0) - 0.3007).abs() < 1e-4);
        let after = prior.counted(30, 20.0);
        assert!((after.mean() - 1.32).abs() < 1e-12);
        assert!((after.chance_above(1.0) - 0.9285).abs() < 1e-4);
    }

    /// (7/8)⁶ = 0.448795 by the closed form; the whole mass is 1.
    #[test]
    fn none_in_the_next_unit() {
        let rate = GammaRate::new(6.0, 7.0).expect("valid");
        assert!((rate.chance_of_none(1.0) - 0.448_795_3).abs() < 1e-6);
        assert!((rate.chance_of(0, 1.0) - rate.chance_of_none(1.0)).abs() < 1e-12);
        let mass: f64 = (0..200).map(|n| rate.chance_of(n, 3.0)).sum();
        assert!((mass - 1.0).abs() < 1e-9);
    }

    #[test]
    fn draws_have_the_mean() {
        let rate = GammaRate::new(2.0, 4.0).expect("valid");
        let mut rng = opal_units::Seed(1).stream("rate", 0);
        let n = 20_000;
        let mean = (0..n).map(|_| rate.draw(&mut rng)).sum::<f64>() / f64::from(n);
        // Four standard errors.
        assert!((mean - 0.5).abs() < 4.0 * rate.sd() / f64::from(n).sqrt());
    }

    #[test]
    fn refuses_nonsense() {
        assert!(GammaRate::new(0.0, 1.0).is_err());
        assert!(GammaRate::new(1.0, f64::NAN).is_err());
    }
}
