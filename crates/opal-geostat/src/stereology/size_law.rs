//! The law of particle diameters and what a section shows of it.

use super::{StereologyError, check};
use std::f64::consts::PI;

/// Log-normal diameters of balls, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SizeLaw {
    log_median: f64,
    log_sd: f64,
}

/// Steps of the trapezoid rule; the integrands are smooth and vanish at both
/// ends, where the rule converges faster than any power of the step.
const STEPS: usize = 240;
/// Standard deviations of the logarithm beyond which the law is cut.
const REACH: f64 = 8.0;

impl SizeLaw {
    /// From the median diameter (mm) and the standard deviation of its logarithm.
    ///
    /// # Errors
    /// A median or a spread that is not positive.
    pub fn new(median_mm: f64, log_sd: f64) -> Result<Self, StereologyError> {
        check("median_mm", median_mm, median_mm > 0.0, "must be above 0")?;
        check("log_sd", log_sd, log_sd > 0.0, "must be above 0")?;
        Ok(Self {
            log_median: median_mm.ln(),
            log_sd,
        })
    }

    /// The median diameter, mm.
    #[must_use]
    pub fn median_mm(&self) -> f64 {
        self.log_median.exp()
    }

    /// Standard deviation of the logarithm of the diameter.
    #[must_use]
    pub fn log_sd(&self) -> f64 {
        self.log_sd
    }

    /// E\[Dᵏ] in mmᵏ.
    #[must_use]
    pub fn moment(&self, k: f64) -> f64 {
        (k * self.log_median + 0.5 * (k * self.log_sd).powi(2)).exp()
    }

    /// The diameter at a standard normal score, mm.
    #[must_use]
    pub fn diameter_at(&self, z: f64) -> f64 {
        (self.log_median + self.log_sd * z).exp()
    }

    /// Mean caliper diameter as far as sections of at least `smallest_mm` are
    /// seen, mm: E\[√(D² − d₀²)₊]. Equals E\[D] for `smallest_mm` = 0.
    #[must_use]
    pub fn seen_caliper(&self, smallest_mm: f64) -> f64 {
        if smallest_mm <= 0.0 {
            return self.moment(1.0);
        }
        // D = d₀ cosh t takes the root's corner away.
        let d0 = smallest_mm;
        d0 * d0 * self.over_cosh(d0, |t| t.sinh().powi(2))
    }

    /// Mean diameter of the sections a plane cuts, mm: (π/4)·E\[D²]/E\[D].
    #[must_use]
    pub fn mean_section(&self) -> f64 {
        PI / 4.0 * self.moment(2.0) / self.moment(1.0)
    }

    /// Density of section diameters among the sections of at least
    /// `smallest_mm`, 1/mm.
    ///
    /// # Method
    /// Wicksell (1925, Biometrika 17): f_A(d) ∝ d ∫_d^∞ f(D)/√(D² − d²) dD,
    /// truncated at the smallest section seen and normalised.
    #[must_use]
    pub fn section_density(&self, d_mm: f64, smallest_mm: f64) -> f64 {
        if d_mm <= 0.0 || d_mm < smallest_mm {
            return 0.0;
        }
        d_mm * self.over_cosh(d_mm, |_| 1.0) / self.seen_caliper(smallest_mm)
    }

    /// ∫₀^∞ w(t) f(d·cosh t) dt by the trapezoid rule over where f lives.
    fn over_cosh(&self, d: f64, weight: impl Fn(f64) -> f64) -> f64 {
        let top = (self.log_median + REACH * self.log_sd).exp() / d;
        if top <= 1.0 {
            return 0.0;
        }
        let low = (self.log_median - REACH * self.log_sd).exp() / d;
        let from = if low > 1.0 { low.acosh() } else { 0.0 };
        let to = top.acosh();
        let step = (to - from) / STEPS as f64;
        let mut sum = 0.0;
        for k in 0..=STEPS {
            let t = from + step * k as f64;
            let end = if k == 0 || k == STEPS { 0.5 } else { 1.0 };
            sum += end * weight(t) * self.density(d * t.cosh());
        }
        sum * step
    }

    fn density(&self, diameter: f64) -> f64 {
        let z = (diameter.ln() - self.log_median) / self.log_sd;
        (-0.5 * z * z).exp() / ((2.0 * PI).sqrt() * self.log_sd * diameter)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All spheres nearly of one size D = 0.5 with sections seen from 0.1 on:
    /// factor √(0.25 − 0.01) = 0.489898 (closed form).
    #[test]
    fn detection_takes_its_share() {
        let law = SizeLaw::new(0.5, 1e-4).expect("valid");
        assert!((law.seen_caliper(0.1) - 0.489_897_9).abs() < 1e-5);
        assert!((law.seen_caliper(0.0) - 0.5).abs() < 1e-6);
        // Continuous where the detection limit goes to nothing.
        let wide = SizeLaw::new(0.4, 0.4).expect("valid");
        assert!((wide.seen_caliper(1e-6) / wide.moment(1.0) - 1.0).abs() < 1e-6);
    }

    /// Median 0.4, log sd 0.4, N_V 0.02: N_A 0.008666, mean section 0.39937,
    /// V_V 0.001377 (Underwood 1970 formulas; Monte Carlo of 10⁵ balls agreed).
    #[test]
    fn moments_of_sections() {
        let law = SizeLaw::new(0.4, 0.4).expect("valid");
        assert!((0.02 * law.moment(1.0) - 0.008_666).abs() < 1e-6);
        assert!((law.mean_section() - 0.399_37).abs() < 1e-5);
        assert!((0.02 * PI / 6.0 * law.moment(3.0) - 0.001_377).abs() < 1e-6);
    }

    #[test]
    fn section_density_integrates_to_one() {
        for (law, smallest) in [
            (SizeLaw::new(0.4, 0.4).expect("valid"), 0.1),
            (SizeLaw::new(0.4, 0.4).expect("valid"), 0.0),
            (SizeLaw::new(1.0, 0.2).expect("valid"), 0.8),
        ] {
            let n = 4000;
            let step = (4.0 - smallest) / f64::from(n);
            let (mut mass, mut mean) = (0.0, 0.0);
            for k in 0..n {
                let d = smallest + step * (f64::from(k) + 0.5);
                let f = law.section_density(d, smallest) * step;
                mass += f;
                mean += d * f;
            }
            assert!((mass - 1.0).abs() < 2e-3, "{mass}");
            if smallest == 0.0 {
                assert!((mean / law.mean_section() - 1.0).abs() < 2e-3);
            }
        }
    }
}
