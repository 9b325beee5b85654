//! What is known of a model's parameters before the data.

use statrs::function::gamma::ln_gamma;

/// Prior of a parameter above 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ParameterPrior {
    /// Known.
    Fixed(f64),
    /// Log-normal with this median and standard deviation of the logarithm.
    LogNormal {
        /// Median.
        median: f64,
        /// Standard deviation of the natural logarithm.
        log_sd: f64,
    },
    /// Gamma with mean shape/rate.
    Gamma {
        /// Shape.
        shape: f64,
        /// Rate.
        rate: f64,
    },
    /// Penalised complexity for a range in the plane: the chance of a range under
    /// `below` is `chance`, longer ranges are the simpler ones.
    ComplexityRange {
        /// A short range.
        below: f64,
        /// Chance of a range under it.
        chance: f64,
    },
    /// Penalised complexity for a standard deviation: the chance of one above `above`
    /// is `chance`, smaller ones are the simpler ones.
    ComplexitySd {
        /// A large standard deviation.
        above: f64,
        /// Chance of one above it.
        chance: f64,
    },
}

impl ParameterPrior {
    /// Log density of the logarithm of the parameter, at value `p` of the parameter.
    ///
    /// # Method
    /// Penalised complexity: Fuglstad, Simpson, Lindgren & Rue 2019, JASA 114:
    /// 445–452, with d = 2: π(r) = λ r⁻² exp(−λ/r), λ = −ln(chance)·below;
    /// π(σ) = λ exp(−λσ), λ = −ln(chance)/above.
    #[must_use]
    pub fn log_density_of_log(&self, p: f64) -> f64 {
        match *self {
            Self::Fixed(_) => 0.0,
            Self::LogNormal { median, log_sd } => {
                let z = (p / median).ln() / log_sd;
                -0.5 * (z * z + (2.0 * std::f64::consts::PI).ln()) - log_sd.ln()
            }
            Self::Gamma { shape, rate } => {
                shape * rate.ln() - ln_gamma(shape) + shape * p.ln() - rate * p
            }
            Self::ComplexityRange { below, chance } => {
                let lambda = -chance.ln() * below;
                lambda.ln() - p.ln() - lambda / p
            }
            Self::ComplexitySd { above, chance } => {
                let lambda = -chance.ln() / above;
                lambda.ln() + p.ln() - lambda * p
            }
        }
    }

    /// A middle value, from which a search may start: the median, for the gamma
    /// the mean.
    #[must_use]
    pub fn middle(&self) -> f64 {
        match *self {
            Self::Fixed(value) => value,
            Self::LogNormal { median, .. } => median,
            Self::Gamma { shape, rate } => shape / rate,
            Self::ComplexityRange { below, chance } => {
                -chance.ln() * below / std::f64::consts::LN_2
            }
            Self::ComplexitySd { above, chance } => above * std::f64::consts::LN_2 / -chance.ln(),
        }
    }

    /// True when the parameter is not to be inferred.
    #[must_use]
    pub fn is_fixed(&self) -> bool {
        matches!(self, Self::Fixed(_))
    }

    /// What is wrong with the prior, if anything: (what, value, limit).
    #[must_use]
    pub fn fault(&self) -> Option<(&'static str, f64, &'static str)> {
        let positive = |what, value: f64| {
            (!(value > 0.0 && value.is_finite())).then_some((what, value, "above 0"))
        };
        let share = |what, value: f64| {
            (!(value > 0.0 && value < 1.0)).then_some((what, value, "between 0 and 1"))
        };
        match *self {
            // A fixed nugget of 0 is no nugget.
            Self::Fixed(value) => (!(value >= 0.0 && value.is_finite())).then_some((
                "fixed parameter",
                value,
                "0 or more",
            )),
            Self::LogNormal { median, log_sd } => {
                positive("median", median).or_else(|| positive("log sd", log_sd))
            }
            Self::Gamma { shape, rate } => {
                positive("shape", shape).or_else(|| positive("rate", rate))
            }
            Self::ComplexityRange { below, chance } => {
                positive("range", below).or_else(|| share("chance", chance))
            }
            Self::ComplexitySd { above, chance } => {
                positive("sd", above).or_else(|| share("chance", chance))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fuglstad et al. 2019: P(r < 2) = 0.05 gives λ = 5.991465 and, from
    /// exp(−λ/r) = ½, a median of 8.643856 (closed form).
    #[test]
    fn complexity_prior_of_a_range() {
        let prior = ParameterPrior::ComplexityRange {
            below: 2.0,
            chance: 0.05,
        };
        assert!((prior.middle() - 8.643_856).abs() < 1e-6);
        let lambda = 5.991_465_f64;
        let want = lambda.ln() - 2.0 * 3.0_f64.ln() - lambda / 3.0 + 3.0_f64.ln();
        assert!((prior.log_density_of_log(3.0) - want).abs() < 1e-6);
    }

    #[test]
    fn densities_integrate_to_one() {
        let priors = [
            ParameterPrior::LogNormal {
                median: 3.0,
                log_sd: 0.7,
            },
            ParameterPrior::Gamma {
                shape: 2.5,
                rate: 0.8,
            },
            ParameterPrior::ComplexityRange {
                below: 2.0,
                chance: 0.05,
            },
            ParameterPrior::ComplexitySd {
                above: 1.5,
                chance: 0.1,
            },
        ];
        for prior in priors {
            let step = 0.01;
            let sum: f64 = (-2500..2500)
                .map(|k| step * prior.log_density_of_log((f64::from(k) * step).exp()).exp())
                .sum();
            assert!((sum - 1.0).abs() < 1e-6, "{prior:?}: {sum}");
            assert!(prior.fault().is_none());
        }
    }

    #[test]
    fn faults_name_the_limit() {
        let bad = ParameterPrior::ComplexitySd {
            above: 1.0,
            chance: 1.0,
        };
        assert_eq!(bad.fault(), Some(("chance", 1.0, "between 0 and 1")));
    }
}
