//! Regression that leans on what was believed before, pools groups partially,
//! and is not carried away by a single odd outcome.

use crate::spec::{Belief, FitError, Row, Spec, Tails, cautious};
use crate::triangle::Triangle;
use opal_units::Rng;
use rand::RngExt as _;
use rand_distr::{Distribution as _, StandardNormal};
use statrs::distribution::{ContinuousCDF as _, Normal};

/// The fit at one guess of how far groups differ.
#[derive(Clone, Debug)]
struct Conditional {
    /// Standard deviation between groups over that of the noise, per grouping.
    ratios: Vec<f64>,
    /// How likely that guess is.
    share: f64,
    triangle: Triangle,
    mean: Vec<f64>,
    freedom: f64,
    variance: f64,
    log_likelihood: f64,
}

/// What is believed after.
#[derive(Clone, Debug)]
pub struct Fit {
    spec: Spec,
    cells: Vec<Conditional>,
    weights: Vec<f64>,
    counts: Vec<Vec<usize>>,
}

/// What the fit says of one line, before the noise of a single outcome.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Its mean.
    pub mean: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// How much of it was learned, 0 to 1: 1 less the share of the variance
    /// believed before that is still there.
    pub learned: f64,
}

/// One draw of everything that is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Coefficients {
    /// The fixed coefficients.
    pub fixed: Vec<f64>,
    /// The effect of each group, by grouping.
    pub effects: Vec<Vec<f64>>,
    /// The effect of a group not met yet, by grouping.
    pub unmet: Vec<f64>,
    /// Scale of the noise of one outcome.
    pub sd: f64,
}

/// Guesses for the ratio of each grouping. Chosen: eight equally likely ones
/// move no check by more than its spread, and two groupings make 64 fits.
const N_RATIOS: usize = 8;
/// Rounds of reweighting at most; some twenty are enough.
const MOST_ROUNDS: usize = 200;

/// Fits the model.
///
/// # Method
/// y = xβ + Σ u_g + noise; β normal about what was believed, u_g ~ N(0, τ_g²),
/// beliefs in units of the noise so that everything is conjugate given the
/// ratios τ_g/σ (Gelman et al. 2013, *Bayesian Data Analysis*, §§14.8, 15); the
/// ratios are averaged over, not chosen. Student tails by reweighting,
/// w = (ν + 1)/(ν + r²/σ²), and each row then counts as (ν + 1)/(ν + 3) of a
/// normal one, its share of the information (Lange, Little & Taylor 1989, JASA
/// 84:881).
///
/// The first rows count for less ([`cautious`]).
///
/// With no beliefs, no groupings, no caution and normal tails this is ordinary least
/// squares, intervals included.
///
/// # Errors
/// A number out of its range; a row that does not fit; a coefficient that
/// nothing tells.
pub fn fit(spec: &Spec, rows: &[Row]) -> Result<Fit, FitError> {
    spec.check(rows)?;
    let mut weights = vec![1.0; rows.len()];
    let mut cells = spec.cells(rows, &weights)?;
    if let Tails::Student(freedom) = spec.tails {
        for _ in 0..MOST_ROUNDS {
            let best = cells
                .iter()
                .max_by(|a, b| a.share.total_cmp(&b.share))
                .expect("there is a cell for every guess");
            let residuals: Vec<f64> = rows
                .iter()
                .map(|row| row.y - dot(&spec.columns(row), &best.mean))
                .collect();
            let squares: f64 = residuals.iter().zip(&weights).map(|(r, w)| w * r * r).sum();
            let trust = cautious(rows.len(), spec.caution);
            let variance = (spec.noise.worth * spec.noise.sd.powi(2) + trust * squares)
                / (spec.noise.worth + trust * rows.len() as f64);
            let new: Vec<f64> = residuals
                .iter()
                .map(|r| (freedom + 1.0) / (freedom + r * r / variance.max(f64::MIN_POSITIVE)))
                .collect();
            let moved = weights
                .iter()
                .zip(&new)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0, f64::max);
            weights = new;
            cells = spec.cells(rows, &weights)?;
            if moved < 1e-9 {
                break;
            }
        }
    }
    let counts = spec
        .groupings
        .iter()
        .enumerate()
        .map(|(g, grouping)| {
            let mut counts = vec![0; grouping.groups];
            rows.iter()
                .filter_map(|row| row.groups[g])
                .for_each(|k| counts[k] += 1);
            counts
        })
        .collect();
    Ok(Fit {
        spec: spec.clone(),
        cells,
        weights,
        counts,
    })
}

impl Spec {
    /// Every guess of the ratios, with how likely it is.
    fn cells(&self, rows: &[Row], weights: &[f64]) -> Result<Vec<Conditional>, FitError> {
        let information = self.information(rows.len());
        let weighted: Vec<Vec<f64>> = rows
            .iter()
            .zip(weights)
            .map(|(row, weight)| {
                let root = (information * weight).sqrt();
                let mut x = self.columns(row);
                x.push(row.y);
                x.iter_mut().for_each(|v| *v *= root);
                x
            })
            .collect();
        let data = Triangle::of(self.width(), &weighted);
        let half_normal = Normal::standard();
        let guesses = N_RATIOS.pow(self.groupings.len() as u32);
        let mut cells = Vec::with_capacity(guesses);
        for guess in 0..guesses {
            let mut rest = guess;
            let ratios: Vec<f64> = self
                .groupings
                .iter()
                .map(|grouping| {
                    let middle = ((rest % N_RATIOS) as f64 + 0.5) / N_RATIOS as f64;
                    rest /= N_RATIOS;
                    half_normal.inverse_cdf(0.5 + 0.5 * middle) * grouping.spread / self.noise.sd
                })
                .collect();
            cells.push(self.at(&data, rows.len(), ratios)?);
        }
        let most = cells
            .iter()
            .map(|c| c.log_likelihood)
            .fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = cells.iter().map(|c| (c.log_likelihood - most).exp()).sum();
        for cell in &mut cells {
            cell.share = (cell.log_likelihood - most).exp() / total;
        }
        Ok(cells)
    }

    /// The conjugate fit at given ratios.
    fn at(&self, data: &Triangle, rows: usize, ratios: Vec<f64>) -> Result<Conditional, FitError> {
        let mut flat = 0;
        let mut log_root_beliefs = 0.0;
        let mut leans: Vec<Option<(f64, f64)>> = Vec::with_capacity(self.width());
        for belief in &self.fixed {
            leans.push(match *belief {
                Belief::Nothing => {
                    flat += 1;
                    None
                }
                Belief::About { mean, sd } => Some((self.noise.sd / sd, mean)),
            });
        }
        for (grouping, ratio) in self.groupings.iter().zip(&ratios) {
            leans.resize(leans.len() + grouping.groups, Some((1.0 / ratio, 0.0)));
        }
        for (root, _) in leans.iter().flatten() {
            log_root_beliefs += root.ln();
        }
        let triangle = data.leaning(&leans);
        if let Some(column) = triangle.dependent() {
            return Err(FitError::Dependent { column });
        }
        let freedom = self.noise.worth + self.information(rows) * rows as f64 - f64::from(flat);
        if freedom <= 0.0 {
            return Err(FitError::TooFew { rows });
        }
        let squares = self.noise.worth * self.noise.sd.powi(2) + triangle.left_over();
        Ok(Conditional {
            ratios,
            share: 1.0,
            mean: triangle.solution(),
            freedom,
            variance: squares / freedom,
            log_likelihood: log_root_beliefs
                - triangle.log_root_det()
                - 0.5 * freedom * squares.max(f64::MIN_POSITIVE).ln(),
            triangle,
        })
    }
}

impl Fit {
    /// How much each row counted: 1 for an ordinary one, less for an odd one.
    #[must_use]
    pub fn weights(&self) -> &[f64] {
        &self.weights
    }

    /// How many rows fell into a group.
    #[must_use]
    pub fn count(&self, grouping: usize, group: usize) -> usize {
        self.counts[grouping].get(group).copied().unwrap_or(0)
    }

    /// The scale of the noise of one outcome: root of its mean square.
    #[must_use]
    pub fn noise_sd(&self) -> f64 {
        self.over_cells(|cell| cell.variance).sqrt()
    }

    /// The standard deviation between the groups of a grouping: its mean.
    #[must_use]
    pub fn spread_between(&self, grouping: usize) -> f64 {
        self.over_cells(|cell| cell.ratios[grouping] * cell.variance.sqrt())
    }

    fn over_cells(&self, of: impl Fn(&Conditional) -> f64) -> f64 {
        self.cells.iter().map(|cell| cell.share * of(cell)).sum()
    }

    /// The line at given covariates and groups; `None` for a group not met yet.
    #[must_use]
    pub fn line(&self, fixed: &[f64], groups: &[Option<usize>]) -> Line {
        let x = self.spec.columns(&Row {
            fixed: fixed.to_vec(),
            groups: groups.to_vec(),
            y: 0.0,
        });
        let unmet = |cell: &Conditional| -> f64 {
            let ratios = cell.ratios.iter().zip(groups);
            ratios
                .filter(|(_, g)| g.is_none())
                .map(|(r, _)| r * r)
                .sum()
        };
        let mean = self.over_cells(|cell| dot(&x, &cell.mean));
        let variance = self.over_cells(|cell| {
            let off = dot(&x, &cell.mean) - mean;
            // The variance of a t law with few degrees of freedom is wider than its scale.
            let tails = cell.freedom / (cell.freedom - 2.0).max(0.5);
            off * off + tails * cell.variance * (cell.triangle.leverage(&x) + unmet(cell))
        });
        Line {
            mean,
            sd: variance.sqrt(),
            learned: (1.0 - variance / self.variance_before(fixed)).clamp(0.0, 1.0),
        }
    }

    fn variance_before(&self, fixed: &[f64]) -> f64 {
        let coefficients: f64 = self
            .spec
            .fixed
            .iter()
            .zip(fixed)
            .map(|(belief, x)| match belief {
                Belief::Nothing => f64::INFINITY,
                Belief::About { sd, .. } => (sd * x).powi(2),
            })
            .sum();
        let groups: f64 = self.spec.groupings.iter().map(|g| g.spread.powi(2)).sum();
        coefficients + groups
    }

    /// Draws everything that is not known.
    #[must_use]
    pub fn draw(&self, rng: &mut Rng) -> Coefficients {
        let mut left = rng.random::<f64>();
        let cell = self
            .cells
            .iter()
            .find(|cell| {
                left -= cell.share;
                left < 0.0
            })
            .unwrap_or(&self.cells[self.cells.len() - 1]);
        let chi_square = rand_distr::ChiSquared::new(cell.freedom)
            .expect("the degrees of freedom are above 0")
            .sample(rng);
        let sd = (cell.variance * cell.freedom / chi_square).sqrt();
        let mut normal = || -> f64 { StandardNormal.sample(rng) };
        let off = cell
            .triangle
            .back((0..cell.mean.len()).map(|_| normal()).collect());
        let mut all: Vec<f64> = cell.mean.iter().zip(off).map(|(m, z)| m + sd * z).collect();
        let unmet = cell.ratios.iter().map(|r| r * sd * normal()).collect();
        let mut rest = all.split_off(self.spec.fixed.len());
        let mut effects = Vec::with_capacity(self.spec.groupings.len());
        for grouping in &self.spec.groupings {
            let after = rest.split_off(grouping.groups);
            effects.push(std::mem::replace(&mut rest, after));
        }
        Coefficients {
            fixed: all,
            effects,
            unmet,
            sd,
        }
    }
}

impl Coefficients {
    /// The line at given covariates and groups.
    #[must_use]
    pub fn line(&self, fixed: &[f64], groups: &[Option<usize>]) -> f64 {
        let effects = groups.iter().enumerate().map(|(g, group)| match group {
            Some(k) => self.effects[g][*k],
            None => self.unmet[g],
        });
        dot(fixed, &self.fixed) + effects.sum::<f64>()
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::{Grouping, Noise};
    use serde_json::Value;

    /// statsmodels' mixed model (restricted maximum likelihood) on the same rows:
    /// at its ratio ours has the same coefficients and effects, and that ratio is
    /// where ours is likeliest.
    #[test]
    fn pools_as_a_mixed_model_does() {
        let reference: Value =
            serde_json::from_str(include_str!("../../../tests/reference/learning.json"))
                .expect("JSON");
        let numbers = |value: &Value| -> Vec<f64> {
            let list = value.as_array().expect("a list");
            list.iter().map(|v| v.as_f64().expect("a number")).collect()
        };
        let sales = &reference["sales"];
        let prices = numbers(&sales["log_price_without_odd_ones"]);
        let sizes = numbers(&sales["log_ct"]);
        let kinds = numbers(&sales["kind"]);
        let spec = Spec {
            fixed: vec![Belief::Nothing; 2],
            groupings: vec![Grouping {
                groups: 5,
                spread: 1.0,
            }],
            noise: Noise {
                sd: 1.0,
                worth: 0.0,
            },
            tails: Tails::Normal,
            caution: 0.0,
        };
        let rows: Vec<Vec<f64>> = prices
            .iter()
            .zip(&sizes)
            .zip(&kinds)
            .map(|((&y, &ct), &kind)| {
                let mut x = spec.columns(&Row {
                    fixed: vec![1.0, ct],
                    groups: vec![Some(kind as usize)],
                    y,
                });
                x.push(y);
                x
            })
            .collect();
        let data = Triangle::of(spec.width(), &rows);
        let at = |ratio: f64| spec.at(&data, rows.len(), vec![ratio]).expect("fits");
        let mixed = &reference["mixed"];
        let ratio = mixed["ratio"].as_f64().expect("a number");
        let found = at(ratio);
        let mut wanted = numbers(&mixed["coefficients"]);
        wanted.extend(numbers(&mixed["effects"]));
        for (ours, theirs) in found.mean.iter().zip(wanted) {
            assert!((ours - theirs).abs() < 1e-4, "{ours} {theirs}");
        }
        let scale = mixed["scale"].as_f64().expect("a number");
        assert!((found.variance.sqrt() - scale).abs() < 1e-4);
        for off in [0.97, 1.03] {
            assert!(at(ratio * off).log_likelihood < found.log_likelihood);
        }
    }
}
