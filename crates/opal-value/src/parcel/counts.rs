//! How many of the unseen pieces pay.

use statrs::function::beta::ln_beta;
use statrs::function::factorial::ln_binomial;

/// The number that pay among `trials` pieces whose chance is only known as a Beta law.
///
/// # Method
/// Beta-binomial (Skellam 1948, J. R. Stat. Soc. B 10). With the chance's law updated by
/// the pieces that were looked into it is what a sample without replacement says of the
/// rest of a finite lot (Ericson 1969, J. R. Stat. Soc. B 31).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BetaBinomial {
    /// Pieces.
    pub trials: usize,
    /// First parameter of the Beta law, above 0: one more for each that paid.
    pub alpha: f64,
    /// Second parameter, above 0: one more for each that did not.
    pub beta: f64,
}

impl BetaBinomial {
    /// The mean.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.trials as f64 * self.alpha / (self.alpha + self.beta)
    }

    /// The chance that exactly `k` pay.
    #[must_use]
    pub fn chance(&self, k: usize) -> f64 {
        if k > self.trials {
            return 0.0;
        }
        let rest = (self.trials - k) as f64;
        (ln_binomial(self.trials as u64, k as u64)
            + ln_beta(self.alpha + k as f64, self.beta + rest)
            - ln_beta(self.alpha, self.beta))
        .exp()
    }

    /// The least number that is not exceeded with chance `p`.
    #[must_use]
    pub fn quantile(&self, p: f64) -> usize {
        let mut sum = 0.0;
        for k in 0..self.trials {
            sum += self.chance(k);
            if sum >= p {
                return k;
            }
        }
        self.trials
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A lot of N with K good ones, each K from 0 to N equally likely, of which a sample
    /// of k without replacement held x: Bayes' rule over the hypergeometric law, added
    /// up by hand, is the Beta-binomial law of the rest (Johnson, Kemp & Kotz 2005,
    /// *Univariate Discrete Distributions*, ch. 6).
    #[test]
    fn a_sample_without_replacement_from_a_finite_lot() {
        let choose = |n: usize, k: usize| {
            if k > n {
                0.0
            } else {
                ln_binomial(n as u64, k as u64).exp()
            }
        };
        for (lot, sample, good) in [(12, 5, 2), (40, 8, 0), (30, 30, 7), (25, 1, 1)] {
            let likelihood = |all: usize| {
                if all < good {
                    return 0.0;
                }
                choose(all, good) * choose(lot - all, sample - good)
            };
            let total: f64 = (0..=lot).map(likelihood).sum();
            let law = BetaBinomial {
                trials: lot - sample,
                alpha: 1.0 + good as f64,
                beta: 1.0 + (sample - good) as f64,
            };
            for rest in 0..=lot - sample {
                let want = likelihood(good + rest) / total;
                assert!((law.chance(rest) - want).abs() < 1e-9, "{lot} {rest}");
            }
        }
    }

    /// Laplace's rule of succession (1774): after n of n, the next pays with chance
    /// (n + 1)/(n + 2); and none of m more after 0 of n with (n + 1)/(n + m + 1).
    #[test]
    fn succession() {
        let next = BetaBinomial {
            trials: 1,
            alpha: 8.0,
            beta: 1.0,
        };
        assert!((next.chance(1) - 8.0 / 9.0).abs() < 1e-12);
        let none = BetaBinomial {
            trials: 6,
            alpha: 1.0,
            beta: 5.0,
        };
        assert!((none.chance(0) - 5.0 / 11.0).abs() < 1e-12);
    }

    #[test]
    fn chances_add_up_and_quantiles_rise() {
        let law = BetaBinomial {
            trials: 30,
            alpha: 0.9,
            beta: 2.1,
        };
        let sum: f64 = (0..=30).map(|k| law.chance(k)).sum();
        assert!((sum - 1.0).abs() < 1e-9);
        let mean: f64 = (0..=30).map(|k| k as f64 * law.chance(k)).sum();
        assert!((mean - law.mean()).abs() < 1e-9);
        assert_eq!(law.chance(31), 0.0);
        let levels = [0.0, 0.05, 0.5, 0.95, 1.0].map(|p| law.quantile(p));
        assert!(levels.is_sorted() && levels[4] <= 30);
    }
}
