//! Random surfaces as sums of waves.

use opal_units::Seed;
use rand::RngExt as _;
use rand_distr::{ChiSquared, Distribution as _, StandardNormal};
use std::f64::consts::TAU;

/// The law of a surface with mean 0 and unit variance: Matérn with this
/// smoothness and range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Waves {
    /// Smoothness ν: 0.5, 1.5, 2.5, ….
    pub smoothness: f64,
    /// Range ℓ, mm.
    pub range_mm: f64,
}

/// One surface of the law, known at any place.
#[derive(Clone, Debug)]
pub struct WaveSurface {
    /// Wave vector (1/mm) and phase.
    waves: Vec<([f64; 2], f64)>,
}

/// Waves in one surface. chosen: the kurtosis of a sum of N waves is 3 − 1.5/N.
const WAVES: usize = 200;

impl WaveSurface {
    /// Draws a surface.
    ///
    /// # Method
    /// √(2/N) Σ cos(ω·x + φ) with wave vectors drawn from the spectral density
    /// ∝ (2ν/ℓ² + |ω|²)^−(ν+1), a bivariate t law with 2ν degrees of freedom
    /// (Mantoglou & Wilson 1982, Water Resources Research 18; Rahimi & Recht
    /// 2007). Over draws the covariance is exactly Matérn.
    #[must_use]
    pub fn draw(law: Waves, seed: Seed) -> Self {
        let mut rng = seed.stream("waves", 0);
        let freedom = 2.0 * law.smoothness;
        let chi = ChiSquared::new(freedom).expect("smoothness is positive");
        let waves = (0..WAVES)
            .map(|_| {
                let spread = (freedom / chi.sample(&mut rng).max(1e-12)).sqrt() / law.range_mm;
                let z: [f64; 2] = std::array::from_fn(|_| StandardNormal.sample(&mut rng));
                ([z[0] * spread, z[1] * spread], rng.random::<f64>() * TAU)
            })
            .collect();
        Self { waves }
    }

    /// The value at a place.
    #[must_use]
    pub fn at(&self, p: [f64; 2]) -> f64 {
        let sum: f64 = self
            .waves
            .iter()
            .map(|(w, phase)| (w[0] * p[0] + w[1] * p[1] + phase).cos())
            .sum();
        (2.0 / WAVES as f64).sqrt() * sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Variance 1, and at a distance of one range the Matérn-3/2 correlation
    /// 0.4833577 (Rasmussen & Williams 2006, eq. 4.17), within 4 standard errors.
    #[test]
    fn has_the_covariance_of_the_law() {
        let law = Waves {
            smoothness: 1.5,
            range_mm: 5.0,
        };
        let n = 2000;
        let (mut square, mut pair) = (0.0, 0.0);
        for k in 0..n {
            let surface = WaveSurface::draw(law, Seed(k));
            let (a, b) = (surface.at([1.0, 2.0]), surface.at([4.0, 6.0]));
            square += a * a;
            pair += a * b;
        }
        let (square, pair) = (square / n as f64, pair / n as f64);
        let error = 4.0 * (2.0_f64 / n as f64).sqrt();
        assert!((square - 1.0).abs() < error, "{square}");
        assert!((pair - 0.483_357_7).abs() < error, "{pair}");
    }
}
