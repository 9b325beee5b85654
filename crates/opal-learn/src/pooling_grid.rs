//! Groups with a share or a rate each, pooled on a grid of two parameters.

use crate::pooling::{Moments, PoolingError, above_0, finite, shares};
use statrs::function::gamma::{gamma_lr, ln_gamma};

/// Groups with a share each, pooled: on a grid of (α, β, share).
#[derive(Clone, Debug)]
pub struct Betas {
    groups: Vec<(f64, f64)>,
    nodes: Vec<[f64; 3]>,
}

/// Groups with a rate each, pooled: on a grid of (α, β, share).
#[derive(Clone, Debug)]
pub struct Gammas {
    groups: Vec<(f64, f64)>,
    nodes: Vec<[f64; 3]>,
}

/// Nodes along each side of a two-parameter grid.
const N_SIDE: usize = 160;

/// Pools shares: `(successes, tries)` of each group.
///
/// # Method
/// Binomial groups in a beta population, prior ∝ (α + β)^(−5/2), on a grid of
/// logit mean and log size (Gelman et al. 2013, *Bayesian Data Analysis*, §5.3).
/// The size runs from 0.2 to 2,000.
///
/// # Errors
/// No group; more successes than tries.
pub fn beta_binomial(groups: &[(f64, f64)]) -> Result<Betas, PoolingError> {
    if groups.is_empty() {
        return Err(PoolingError::NoGroup);
    }
    for (group, &(hits, tries)) in groups.iter().enumerate() {
        finite(group, "the tries", tries)?;
        if !(0.0..=tries).contains(&hits) {
            return Err(PoolingError::Group {
                group,
                what: "the successes",
                value: hits,
                limit: "between 0 and the tries",
            });
        }
    }
    let grid = grid(
        [-6.0, 6.0],
        [0.2_f64.ln(), 2000.0_f64.ln()],
        |logit, log_size| {
            let size = log_size.exp();
            let mean = 1.0 / (1.0 + (-logit).exp());
            let (a, b) = (size * mean, size * (1.0 - mean));
            // The prior in α, β, times the Jacobian α·β of the grid's coordinates.
            let mut log = -2.5 * size.ln() + a.ln() + b.ln();
            for &(hits, tries) in groups {
                log += ln_gamma(a + hits) + ln_gamma(b + tries - hits) - ln_gamma(size + tries)
                    + ln_gamma(size)
                    - ln_gamma(a)
                    - ln_gamma(b);
            }
            ([a, b], log)
        },
    );
    Ok(Betas {
        groups: groups.to_vec(),
        nodes: grid,
    })
}

impl Betas {
    /// The population's α and β: their means.
    #[must_use]
    pub fn population(&self) -> (f64, f64) {
        (
            mean_of(&self.nodes, |[a, _, _]| a),
            mean_of(&self.nodes, |[_, b, _]| b),
        )
    }

    /// One group's share: mean and standard deviation.
    #[must_use]
    pub fn group(&self, group: usize) -> Moments {
        let (hits, tries) = self.groups[group];
        self.beta(hits, tries)
    }

    /// The share of a group not met yet: mean and standard deviation.
    #[must_use]
    pub fn unmet(&self) -> Moments {
        self.beta(0.0, 0.0)
    }

    fn beta(&self, hits: f64, tries: f64) -> Moments {
        mixture(&self.nodes, |a, b| {
            let (a, b) = (a + hits, b + tries - hits);
            let mean = a / (a + b);
            (mean, mean * (1.0 - mean) / (a + b + 1.0))
        })
    }
}

/// Pools rates: `(count, exposure)` of each group.
///
/// # Method
/// Poisson groups in a gamma population with α ~ Exp(1), β ~ Gamma(0.1, 1) as in
/// the pumps of Gaver & O'Muircheartaigh (1987, Technometrics 29), on a grid of
/// log α and log β. Give exposures in a unit in which rates are about 1.
///
/// # Errors
/// No group; a count below 0; an exposure that is not above 0.
pub fn gamma_poisson(groups: &[(f64, f64)]) -> Result<Gammas, PoolingError> {
    if groups.is_empty() {
        return Err(PoolingError::NoGroup);
    }
    for (group, &(count, exposure)) in groups.iter().enumerate() {
        above_0(group, "the exposure", exposure)?;
        finite(group, "the count", count)?;
        if count < 0.0 {
            return Err(PoolingError::Group {
                group,
                what: "the count",
                value: count,
                limit: "not below 0",
            });
        }
    }
    let grid = grid([-5.0, 3.5], [-9.0, 4.0], |log_a, log_b| {
        let (a, b) = (log_a.exp(), log_b.exp());
        let mut log = (log_a - a) + (0.1 * log_b - b);
        for &(count, exposure) in groups {
            log +=
                ln_gamma(a + count) - ln_gamma(a) + a * log_b - (a + count) * (b + exposure).ln();
        }
        ([a, b], log)
    });
    Ok(Gammas {
        groups: groups.to_vec(),
        nodes: grid,
    })
}

impl Gammas {
    /// The population's α and β: their means.
    #[must_use]
    pub fn population(&self) -> (f64, f64) {
        (
            mean_of(&self.nodes, |[a, _, _]| a),
            mean_of(&self.nodes, |[_, b, _]| b),
        )
    }

    /// One group's rate: mean and standard deviation.
    #[must_use]
    pub fn group(&self, group: usize) -> Moments {
        let (count, exposure) = self.groups[group];
        mixture(&self.nodes, |a, b| {
            let (a, b) = (a + count, b + exposure);
            (a / b, a / (b * b))
        })
    }

    /// One group's rate, at a share of its law.
    #[must_use]
    pub fn group_quantile(&self, group: usize, share: f64) -> f64 {
        let (count, exposure) = self.groups[group];
        self.quantile(count, exposure, share)
    }

    /// The middle rate of a group not met yet.
    #[must_use]
    pub fn unmet_median(&self) -> f64 {
        self.quantile(0.0, 0.0, 0.5)
    }

    /// Bisection in the logarithm on the mixture of gamma laws.
    fn quantile(&self, count: f64, exposure: f64, share: f64) -> f64 {
        let (mut low, mut high) = (1e-9_f64.ln(), 1e9_f64.ln());
        while high - low > 1e-9 {
            let middle: f64 = 0.5 * (low + high);
            let below = mean_of(&self.nodes, |[a, b, weight]| {
                // Nodes without weight are the whole edge of the grid.
                if weight < 1e-12 {
                    return 0.0;
                }
                gamma_lr(a + count, (b + exposure) * middle.exp())
            });
            if below < share {
                low = middle;
            } else {
                high = middle;
            }
        }
        (0.5 * (low + high)).exp()
    }
}

/// A grid of two coordinates: its nodes with their shares.
fn grid(across: [f64; 2], up: [f64; 2], at: impl Fn(f64, f64) -> ([f64; 2], f64)) -> Vec<[f64; 3]> {
    let place =
        |[low, high]: [f64; 2], k: usize| low + (high - low) * (k as f64 + 0.5) / N_SIDE as f64;
    let (places, logs): (Vec<_>, Vec<_>) = (0..N_SIDE * N_SIDE)
        .map(|k| at(place(across, k % N_SIDE), place(up, k / N_SIDE)))
        .unzip();
    places
        .into_iter()
        .zip(shares(&logs))
        .map(|([a, b], share)| [a, b, share])
        .collect()
}

fn mean_of(nodes: &[[f64; 3]], of: impl Fn([f64; 3]) -> f64) -> f64 {
    nodes.iter().map(|&node| node[2] * of(node)).sum()
}

fn mixture(nodes: &[[f64; 3]], of: impl Fn(f64, f64) -> Moments) -> Moments {
    let mean = mean_of(nodes, |[a, b, _]| of(a, b).0);
    let square = mean_of(nodes, |[a, b, _]| {
        let (m, v) = of(a, b);
        v + m * m
    });
    (mean, (square - mean * mean).max(0.0).sqrt())
}
