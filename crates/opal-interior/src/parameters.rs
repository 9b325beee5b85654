//! How wavy a bar's surface is: standard deviation and range of a field, learnt
//! from readings under a prior, with what stays unsure of them.

use crate::cholesky::{Cholesky, dot};
use crate::forms::Around;
use opal_geostat::scoring::normal_cdf;
use opal_geostat::{CoefficientPrior, CovarianceModel, Drift, FieldModel, Kernel, Trend};
use rayon::prelude::*;

/// A field before any reading.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct FieldPrior {
    pub(crate) drift: Drift,
    /// Where the trend's x and y count from, mm.
    pub(crate) centre_mm: [f64; 2],
    /// Mean and standard deviation of every trend coefficient.
    pub(crate) coefficients: Vec<(f64, f64)>,
    pub(crate) sd: Around,
    pub(crate) range_mm: Around,
}

/// A reading of one field.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct FieldReading {
    pub(crate) at_mm: [f64; 2],
    pub(crate) value: f64,
    pub(crate) sd: f64,
}

/// A place where a field is known to lie between limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct FieldBound {
    pub(crate) at_mm: [f64; 2],
    pub(crate) lower: f64,
    pub(crate) upper: f64,
}

/// One pair of parameters with its weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Node {
    pub(crate) sd: f64,
    pub(crate) range_mm: f64,
    pub(crate) weight: f64,
}

/// What was learnt.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Learned {
    /// Weights sum to 1.
    pub(crate) nodes: Vec<Node>,
    /// Logarithm of the chance of the readings, parameters integrated out.
    pub(crate) log_evidence: f64,
}

/// Nodes along each parameter in one round.
const SIDE: usize = 6;
/// Rounds; each looks closer at where the weight lies.
const ROUNDS: usize = 3;
/// Half width of the first round, prior standard deviations.
const REACH: f64 = 2.5;
/// Readings used for the parameters at most. chosen: the covariance of a bar is
/// known well before this many, and the cost grows with the cube.
const MOST_READINGS: usize = 160;

/// Learns standard deviation and range.
///
/// # Method
/// Penalised marginal likelihood with log-normal priors; trend coefficients
/// integrated out under their normal priors (Rasmussen & Williams 2006, §2.7),
/// bounds by their chance given the readings, each taken alone. The posterior is
/// taken on a grid that is moved and narrowed to where the weight lies (Handcock
/// & Stein 1993, Technometrics 35, for the grid).
pub(crate) fn learn(
    prior: &FieldPrior,
    readings: &[FieldReading],
    bounds: &[FieldBound],
) -> Learned {
    let readings = thinned(readings);
    let bounds = thinned(bounds);
    let (mut centre, mut half) = ([0.0, 0.0], [REACH, REACH]);
    let mut learned = Learned {
        nodes: Vec::new(),
        log_evidence: 0.0,
    };
    let rounds = if readings.is_empty() && bounds.is_empty() {
        1
    } else {
        ROUNDS
    };
    for _ in 0..rounds {
        let score = |axis: usize, k: usize| {
            centre[axis] + half[axis] * (2.0 * k as f64 / (SIDE - 1) as f64 - 1.0)
        };
        let grid: Vec<[f64; 2]> = (0..SIDE * SIDE)
            .map(|k| [score(0, k / SIDE), score(1, k % SIDE)])
            .collect();
        let logs: Vec<f64> = grid
            .par_iter()
            .map(|z| {
                let (sd, range) = (prior.sd.at(z[0]), prior.range_mm.at(z[1]));
                log_chance(prior, sd, range, &readings, &bounds) - 0.5 * (z[0] * z[0] + z[1] * z[1])
            })
            .collect();
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> = logs.iter().map(|l| (l - most).exp()).collect();
        let sum: f64 = weights.iter().sum();
        let step = [0, 1].map(|a: usize| 2.0 * half[a] / (SIDE - 1) as f64);
        learned = Learned {
            nodes: grid
                .iter()
                .zip(&weights)
                .map(|(z, w)| Node {
                    sd: prior.sd.at(z[0]),
                    range_mm: prior.range_mm.at(z[1]),
                    weight: w / sum,
                })
                .collect(),
            log_evidence: most + (sum * step[0] * step[1] / std::f64::consts::TAU).ln(),
        };
        for axis in 0..2 {
            let mean = grid
                .iter()
                .zip(&weights)
                .map(|(z, w)| w * z[axis])
                .sum::<f64>()
                / sum;
            let square = grid
                .iter()
                .zip(&weights)
                .map(|(z, w)| w * (z[axis] - mean).powi(2))
                .sum::<f64>()
                / sum;
            centre[axis] = mean;
            half[axis] = 2.5 * square.sqrt().max(0.4 * step[axis]);
        }
    }
    learned
}

impl Learned {
    /// The parameters at `share` (0..1) of the weight, in the order of the grid.
    pub(crate) fn at_share(&self, share: f64) -> Node {
        let mut left = share;
        for node in &self.nodes {
            left -= node.weight;
            if left <= 0.0 {
                return *node;
            }
        }
        self.nodes[self.nodes.len() - 1]
    }
}

impl FieldPrior {
    /// The model with these parameters.
    pub(crate) fn model(&self, node: Node) -> FieldModel {
        FieldModel {
            covariance: CovarianceModel::isotropic(KERNEL, node.sd * node.sd, node.range_mm),
            trend: Trend::about(self.drift, self.centre_mm),
            coefficients: self
                .coefficients
                .iter()
                .map(|&(mean, sd)| CoefficientPrior::Normal { mean, sd })
                .collect(),
        }
    }

    fn basis(&self, at: [f64; 2]) -> Vec<f64> {
        Trend::about(self.drift, self.centre_mm).basis(at)
    }
}

/// How smooth bars are taken to be. chosen: bends but does not crease (once
/// differentiable); smoother kernels are over-confident (Stein 1999).
pub(crate) const KERNEL: Kernel = Kernel::Matern32;

fn log_chance(
    prior: &FieldPrior,
    sd: f64,
    range_mm: f64,
    readings: &[FieldReading],
    bounds: &[FieldBound],
) -> f64 {
    let n = readings.len();
    let basis: Vec<Vec<f64>> = readings.iter().map(|r| prior.basis(r.at_mm)).collect();
    let spread: Vec<f64> = prior.coefficients.iter().map(|c| c.1 * c.1).collect();
    let trend_mean = |b: &[f64]| -> f64 {
        b.iter()
            .zip(&prior.coefficients)
            .map(|(b, c)| b * c.0)
            .sum()
    };
    let shared = |a: &[f64], b: &[f64]| -> f64 {
        a.iter()
            .zip(b)
            .zip(&spread)
            .map(|((a, b), s)| a * b * s)
            .sum()
    };
    let field = |a: [f64; 2], b: [f64; 2]| {
        let h = (a[0] - b[0]).hypot(a[1] - b[1]);
        sd * sd * KERNEL.correlation(h / range_mm)
    };
    let Some(factor) = Cholesky::new(n, |i, j| {
        let noise = if i == j { readings[i].sd.powi(2) } else { 0.0 };
        field(readings[i].at_mm, readings[j].at_mm) + shared(&basis[i], &basis[j]) + noise
    }) else {
        return f64::NEG_INFINITY;
    };
    let mut white: Vec<f64> = readings
        .iter()
        .zip(&basis)
        .map(|(r, b)| r.value - trend_mean(b))
        .collect();
    factor.forward(&mut white);
    let mut total = -0.5 * dot(&white, &white)
        - factor.log_root_determinant()
        - 0.5 * n as f64 * std::f64::consts::TAU.ln();
    for bound in bounds {
        let b = prior.basis(bound.at_mm);
        let mut cross: Vec<f64> = readings
            .iter()
            .zip(&basis)
            .map(|(r, rb)| field(r.at_mm, bound.at_mm) + shared(rb, &b))
            .collect();
        factor.forward(&mut cross);
        let mean = trend_mean(&b) + dot(&cross, &white);
        let var = sd * sd + shared(&b, &b) - dot(&cross, &cross);
        let s = var.max(1e-9).sqrt();
        let chance = normal_cdf((bound.upper - mean) / s) - normal_cdf((bound.lower - mean) / s);
        total += chance.max(1e-12).ln();
    }
    total
}

/// Every k-th, so that at most [`MOST_READINGS`] stay.
fn thinned<T: Copy>(all: &[T]) -> Vec<T> {
    let every = all.len().div_ceil(MOST_READINGS).max(1);
    all.iter().copied().step_by(every).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_units::Seed;
    use rand_distr::{Distribution as _, StandardNormal};

    fn prior() -> FieldPrior {
        FieldPrior {
            drift: Drift::Plane,
            centre_mm: [20.0, 15.0],
            coefficients: vec![(10.0, 4.0), (0.0, 0.1), (0.0, 0.1)],
            sd: Around {
                median: 0.5,
                log_sd: 0.7,
            },
            range_mm: Around {
                median: 15.0,
                log_sd: 0.5,
            },
        }
    }

    #[test]
    fn nothing_read_gives_the_prior_back() {
        let learned = learn(&prior(), &[], &[]);
        let mean: f64 = learned.nodes.iter().map(|n| n.weight * n.sd.ln()).sum();
        assert!((mean - 0.5_f64.ln()).abs() < 1e-9);
        // An empty reading has chance 1; the grid is coarse.
        assert!(learned.log_evidence.abs() < 0.05);
    }

    /// Readings drawn from the model: the true standard deviation lies within the
    /// learnt spread.
    #[test]
    fn finds_the_parameters_again() {
        let p = prior();
        let (sd, range) = (0.8, 8.0);
        let places: Vec<[f64; 2]> = (0..120)
            .map(|k| [f64::from(k % 12) * 3.5, f64::from(k / 12) * 3.0])
            .collect();
        let factor = Cholesky::new(places.len(), |i, j| {
            let h = (places[i][0] - places[j][0]).hypot(places[i][1] - places[j][1]);
            let nugget = if i == j { 0.01 } else { 0.0 };
            sd * sd * KERNEL.correlation(h / range) + nugget
        })
        .expect("positive definite");
        let mut rng = Seed(4).stream("readings", 0);
        let white: Vec<f64> = (0..places.len())
            .map(|_| StandardNormal.sample(&mut rng))
            .collect();
        let readings: Vec<FieldReading> = places
            .iter()
            .zip(factor.colour(&white))
            .map(|(&at_mm, z)| FieldReading {
                at_mm,
                value: 9.0 + 0.05 * at_mm[0] + z,
                sd: 0.1,
            })
            .collect();
        let learned = learn(&p, &readings, &[]);
        let (mut mean, mut range_mean) = (0.0, 0.0);
        for n in &learned.nodes {
            mean += n.weight * n.sd.ln();
            range_mean += n.weight * n.range_mm.ln();
        }
        assert!((mean.exp() / sd - 1.0).abs() < 0.3, "{}", mean.exp());
        assert!(
            (range_mean.exp() / range - 1.0).abs() < 0.3,
            "{}",
            range_mean.exp()
        );
    }
}
