//! Groups that are alike, but not the same: each leans on the others as far as
//! the groups agree. The spread between groups is averaged over on a grid, never
//! set to its best guess, so that few groups stay honestly unsure.

use opal_geostat::scoring::normal_cdf;
use opal_units::Rng;
use rand::RngExt as _;
use rand_distr::{Distribution as _, StandardNormal};
use thiserror::Error;

/// Why groups could not be pooled.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum PoolingError {
    /// There was none.
    #[error("there is no group to pool")]
    NoGroup,
    /// A number of a group is out of its range.
    #[error("group {group}: {what} is {value}; it must be {limit}")]
    Group {
        /// Which, from 0.
        group: usize,
        /// Which number.
        what: &'static str,
        /// What it was.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
    /// A belief is out of its range.
    #[error("{what} is {value}; it must be finite and above 0")]
    Belief {
        /// Which.
        what: &'static str,
        /// What it was.
        value: f64,
    },
}

/// What is believed of the standard deviation between groups.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GroupSpread {
    /// Any is as likely: for five groups or more.
    Any,
    /// Half-normal of that scale (Gelman 2006, Bayesian Analysis 1): for few groups.
    HalfNormal(f64),
}

/// A mean and a standard deviation.
pub type Moments = (f64, f64);

/// What is believed of the mean of all groups before any is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Groups {
    /// `None` for no belief, else mean and standard deviation.
    pub centre: Option<Moments>,
    /// The spread between groups.
    pub spread: GroupSpread,
}

#[derive(Clone, Copy, Debug)]
struct Node {
    share: f64,
    tau: f64,
    mu: f64,
    mu_sd: f64,
}

/// Groups with a normal estimate each, pooled.
#[derive(Clone, Debug)]
pub struct NormalGroups {
    estimates: Vec<Moments>,
    nodes: Vec<Node>,
}

/// Nodes for the spread between groups. Chosen: the published quantiles of the
/// eight schools are met to their last digit.
const N_TAU: usize = 2000;

/// Pools estimates with known standard errors.
///
/// # Method
/// Normal groups in a normal population; mean and group effects in closed form
/// given the spread between groups τ, τ on a grid (Gelman et al. 2013, *Bayesian
/// Data Analysis*, §5.4).
///
/// # Errors
/// No group; a number out of its range.
pub fn normal_groups(estimates: &[Moments], belief: Groups) -> Result<NormalGroups, PoolingError> {
    if estimates.is_empty() {
        return Err(PoolingError::NoGroup);
    }
    for (group, &(mean, error)) in estimates.iter().enumerate() {
        finite(group, "the mean", mean)?;
        above_0(group, "the standard error", error)?;
    }
    if let Some((_, sd)) = belief.centre {
        believed("the spread of the centre", sd)?;
    }
    if let GroupSpread::HalfNormal(scale) = belief.spread {
        believed("the scale of the spread", scale)?;
    }
    let mut errors: Vec<f64> = estimates.iter().map(|e| e.1).collect();
    errors.sort_by(f64::total_cmp);
    let unit = match belief.spread {
        GroupSpread::Any => errors[errors.len() / 2],
        GroupSpread::HalfNormal(scale) => scale,
    };
    let mut nodes = Vec::with_capacity(N_TAU);
    let mut logs = Vec::with_capacity(N_TAU);
    for k in 0..N_TAU {
        // The whole half-line: τ = unit · u/(1 − u), dτ = unit · du/(1 − u)².
        let u = (k as f64 + 0.5) / N_TAU as f64;
        let tau = unit * u / (1.0 - u);
        let (mut precision, mut sum) = belief
            .centre
            .map_or((0.0, 0.0), |(m, s)| (1.0 / (s * s), m / (s * s)));
        for &(y, error) in estimates {
            let weight = 1.0 / (error * error + tau * tau);
            precision += weight;
            sum += weight * y;
        }
        let mu = sum / precision;
        let mut log = -0.5 * precision.ln() - 2.0 * (1.0 - u).ln();
        if let GroupSpread::HalfNormal(scale) = belief.spread {
            log -= 0.5 * (tau / scale).powi(2);
        }
        if let Some((m, s)) = belief.centre {
            log -= 0.5 * ((mu - m) / s).powi(2);
        }
        for &(y, error) in estimates {
            let variance = error * error + tau * tau;
            log -= 0.5 * (variance.ln() + (y - mu).powi(2) / variance);
        }
        logs.push(log);
        nodes.push(Node {
            share: 0.0,
            tau,
            mu,
            mu_sd: precision.sqrt().recip(),
        });
    }
    for (node, share) in nodes.iter_mut().zip(shares(&logs)) {
        node.share = share;
    }
    Ok(NormalGroups {
        estimates: estimates.to_vec(),
        nodes,
    })
}

impl NormalGroups {
    /// The mean of all groups: mean and standard deviation.
    #[must_use]
    pub fn centre(&self) -> Moments {
        self.moments(|node| (node.mu, node.mu_sd * node.mu_sd))
    }

    /// The standard deviation between groups, at a share of its law.
    #[must_use]
    pub fn spread_quantile(&self, share: f64) -> f64 {
        let mut below = 0.0;
        for node in &self.nodes {
            below += node.share;
            if below >= share {
                return node.tau;
            }
        }
        self.nodes[self.nodes.len() - 1].tau
    }

    /// One group: mean and standard deviation.
    #[must_use]
    pub fn group(&self, group: usize) -> Moments {
        self.moments(|node| self.at(group, node))
    }

    /// One group, at a share of its law.
    #[must_use]
    pub fn group_quantile(&self, group: usize, share: f64) -> f64 {
        let (mean, sd) = self.group(group);
        let (mut low, mut high) = (mean - 40.0 * sd, mean + 40.0 * sd);
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            let below: f64 = self
                .nodes
                .iter()
                .map(|node| {
                    let (m, v) = self.at(group, node);
                    node.share * normal_cdf((middle - m) / v.sqrt())
                })
                .sum();
            if below < share {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }

    /// A group that was not met yet: mean and standard deviation.
    #[must_use]
    pub fn unmet(&self) -> Moments {
        self.moments(|node| (node.mu, node.mu_sd * node.mu_sd + node.tau * node.tau))
    }

    /// One draw of every group, and of one not met yet at the end.
    #[must_use]
    pub fn draw(&self, rng: &mut Rng) -> Vec<f64> {
        let node = pick(&self.nodes, |node| node.share, rng);
        let mut normal = || -> f64 { StandardNormal.sample(rng) };
        let mu = node.mu + node.mu_sd * normal();
        let mut all: Vec<f64> = self
            .estimates
            .iter()
            .map(|&(y, error)| {
                let (wy, wm) = (1.0 / (error * error), 1.0 / (node.tau * node.tau));
                (wy * y + wm * mu) / (wy + wm) + normal() / (wy + wm).sqrt()
            })
            .collect();
        all.push(mu + node.tau * normal());
        all
    }

    /// Mean and variance of a group given the spread, the centre averaged over.
    fn at(&self, group: usize, node: &Node) -> Moments {
        let (y, error) = self.estimates[group];
        let (wy, wm) = (1.0 / (error * error), 1.0 / (node.tau * node.tau));
        let lean = wm / (wy + wm);
        (
            (1.0 - lean) * y + lean * node.mu,
            1.0 / (wy + wm) + (lean * node.mu_sd).powi(2),
        )
    }

    fn moments(&self, of: impl Fn(&Node) -> Moments) -> Moments {
        let (mut mean, mut square) = (0.0, 0.0);
        for node in &self.nodes {
            let (m, v) = of(node);
            mean += node.share * m;
            square += node.share * (v + m * m);
        }
        (mean, (square - mean * mean).max(0.0).sqrt())
    }
}

/// Chances from their logarithms, known up to a constant.
pub(crate) fn shares(logs: &[f64]) -> Vec<f64> {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let raw: Vec<f64> = logs.iter().map(|log| (log - most).exp()).collect();
    let total: f64 = raw.iter().sum();
    raw.into_iter().map(|x| x / total).collect()
}

fn pick<'a, T>(nodes: &'a [T], share: impl Fn(&T) -> f64, rng: &mut Rng) -> &'a T {
    let mut left = rng.random::<f64>();
    nodes
        .iter()
        .find(|node| {
            left -= share(node);
            left < 0.0
        })
        .unwrap_or(&nodes[nodes.len() - 1])
}

pub(crate) fn finite(group: usize, what: &'static str, value: f64) -> Result<(), PoolingError> {
    let limit = "finite";
    if value.is_finite() {
        Ok(())
    } else {
        Err(PoolingError::Group {
            group,
            what,
            value,
            limit,
        })
    }
}

pub(crate) fn above_0(group: usize, what: &'static str, value: f64) -> Result<(), PoolingError> {
    let limit = "finite and above 0";
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(PoolingError::Group {
            group,
            what,
            value,
            limit,
        })
    }
}

fn believed(what: &'static str, value: f64) -> Result<(), PoolingError> {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(PoolingError::Belief { what, value })
    }
}
