//! The linear system behind kriging, likelihood and conditioning: readings with
//! a covariance, and a trend whose coefficients are flat, normal or known.

use crate::factor::{Factor, NotPositiveDefinite, dot};
use crate::trend::CoefficientPrior;
use thiserror::Error;

/// Why a set of readings cannot be solved.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum SystemError {
    /// Two readings say the same thing without error.
    #[error(
        "reading {index} repeats what earlier ones say exactly: give it an error above 0, or drop it"
    )]
    Repeated {
        /// Which, counted from 0.
        index: usize,
    },
    /// The readings do not determine the trend.
    #[error(
        "the trend has {flat} coefficients of which nothing is known, and {readings} readings do not determine them"
    )]
    Trend {
        /// Coefficients with a flat prior.
        flat: usize,
        /// Readings.
        readings: usize,
    },
}

impl From<NotPositiveDefinite> for SystemError {
    fn from(fault: NotPositiveDefinite) -> Self {
        Self::Repeated { index: fault.index }
    }
}

/// y = Fβ + u, u ~ N(0, K), with a prior on β.
///
/// # Method
/// Generalised least squares; with V = FᵀK⁻¹F and prior precision Q,
/// β̂ = (V+Q)⁻¹(FᵀK⁻¹y + Qb). Flat coefficients have Q = 0, which is universal
/// kriging (Matheron 1969) and REML (Harville 1974, Biometrika 61); normal ones
/// give Rasmussen & Williams 2006, eq. 2.41–2.43.
#[derive(Clone, Debug)]
pub(crate) struct System {
    factor: Factor,
    /// Columns of F with an unknown coefficient, then K⁻¹ times each.
    columns: Vec<Vec<f64>>,
    solved: Vec<Vec<f64>>,
    free: Vec<usize>,
    /// Prior mean (0 where flat), sd (infinite where flat), by free coefficient.
    prior: Vec<(f64, f64)>,
    coefficients: Option<Factor>,
    /// All coefficients, with the known ones in place.
    known: Vec<f64>,
    offset: Vec<f64>,
}

/// Solution of one right-hand side.
#[derive(Clone, Debug)]
pub(crate) struct Solution {
    /// All trend coefficients.
    pub(crate) beta: Vec<f64>,
    /// K⁻¹(y − Fβ).
    pub(crate) alpha: Vec<f64>,
}

impl System {
    /// `covariance(i, j)` for i ≥ j includes errors and nuggets; `basis[i]` are the
    /// trend's terms in reading i.
    pub(crate) fn new(
        basis: &[Vec<f64>],
        priors: &[CoefficientPrior],
        covariance: impl FnMut(usize, usize) -> f64,
    ) -> Result<Self, SystemError> {
        let n = basis.len();
        let factor = Factor::new(n, covariance)?;
        let mut known = vec![0.0; priors.len()];
        let mut free = Vec::new();
        let mut prior = Vec::new();
        for (k, coefficient) in priors.iter().enumerate() {
            match *coefficient {
                CoefficientPrior::Known(value) => known[k] = value,
                CoefficientPrior::Flat => {
                    free.push(k);
                    prior.push((0.0, f64::INFINITY));
                }
                CoefficientPrior::Normal { mean, sd } => {
                    free.push(k);
                    prior.push((mean, sd));
                }
            }
        }
        let offset = basis.iter().map(|row| dot(row, &known)).collect();
        let columns: Vec<Vec<f64>> = free
            .iter()
            .map(|&k| basis.iter().map(|row| row[k]).collect())
            .collect();
        let solved: Vec<Vec<f64>> = columns
            .iter()
            .map(|column| {
                let mut x = column.clone();
                factor.solve(&mut x);
                x
            })
            .collect();
        let coefficients = if free.is_empty() {
            None
        } else {
            let flat = prior.iter().filter(|(_, sd)| sd.is_infinite()).count();
            let undetermined = SystemError::Trend { flat, readings: n };
            if n < flat {
                return Err(undetermined);
            }
            let entry = |i: usize, j: usize| {
                let data = dot(&columns[i], &solved[j]);
                if i == j {
                    data + 1.0 / (prior[i].1 * prior[i].1)
                } else {
                    data
                }
            };
            let scale: Vec<f64> = (0..free.len()).map(|i| entry(i, i).sqrt()).collect();
            let factored = Factor::new(free.len(), &entry).map_err(|_| undetermined)?;
            // A pivot that has lost all its digits is no information.
            const LOST: f64 = 1e-7;
            for (i, scale) in scale.iter().enumerate() {
                if factored.lower(i, i) < LOST * scale {
                    return Err(undetermined);
                }
            }
            Some(factored)
        };
        Ok(Self {
            factor,
            columns,
            solved,
            free,
            prior,
            coefficients,
            known,
            offset,
        })
    }

    /// β and α for readings y; `white` perturbs the prior mean of the normal
    /// coefficients by so many of their sd (zeros for the posterior mean). Uses
    /// the prior perturbed and the readings perturbed: exact posterior draws
    /// (Papandreou & Yuille 2010, "Gaussian sampling by local perturbations").
    pub(crate) fn solve_perturbed(&self, y: &[f64], white: &[f64]) -> Solution {
        let mut residual: Vec<f64> = y.iter().zip(&self.offset).map(|(y, o)| y - o).collect();
        let mut beta = self.known.clone();
        if let Some(factor) = &self.coefficients {
            let mut right: Vec<f64> = self
                .solved
                .iter()
                .zip(&self.prior)
                .zip(white)
                .map(|((solved, &(mean, sd)), w)| {
                    let prior = if sd.is_finite() {
                        (mean + sd * w) / (sd * sd)
                    } else {
                        0.0
                    };
                    dot(solved, &residual) + prior
                })
                .collect();
            factor.solve(&mut right);
            for ((&k, value), column) in self.free.iter().zip(&right).zip(&self.columns) {
                beta[k] = *value;
                for (r, f) in residual.iter_mut().zip(column) {
                    *r -= value * f;
                }
            }
        }
        self.factor.solve(&mut residual);
        Solution {
            beta,
            alpha: residual,
        }
    }

    /// Posterior mean.
    pub(crate) fn solve(&self, y: &[f64]) -> Solution {
        self.solve_perturbed(y, &vec![0.0; self.free.len()])
    }

    /// Number of coefficients that are not known.
    pub(crate) fn free(&self) -> usize {
        self.free.len()
    }

    /// Covariance of the errors of two predictions, given the readings:
    /// `a` and `b` are each (covariances with the readings, trend terms).
    pub(crate) fn posterior_covariance(
        &self,
        prior: f64,
        a: (&[f64], &[f64]),
        b: (&[f64], &[f64]),
    ) -> f64 {
        let mut left = a.0.to_vec();
        let mut right = b.0.to_vec();
        self.factor.forward(&mut left);
        self.factor.forward(&mut right);
        prior - dot(&left, &right) + self.trend_share(a, b)
    }

    fn trend_share(&self, a: (&[f64], &[f64]), b: (&[f64], &[f64])) -> f64 {
        let Some(factor) = &self.coefficients else {
            return 0.0;
        };
        let left_over = |(cross, terms): (&[f64], &[f64])| -> Vec<f64> {
            let mut u: Vec<f64> = self
                .free
                .iter()
                .zip(&self.solved)
                .map(|(&k, solved)| terms[k] - dot(solved, cross))
                .collect();
            factor.forward(&mut u);
            u
        };
        dot(&left_over(a), &left_over(b))
    }

    /// Weight of each reading in the prediction with these covariances and
    /// trend terms.
    pub(crate) fn weights(&self, cross: &[f64], terms: &[f64]) -> Vec<f64> {
        let mut weights = cross.to_vec();
        self.factor.solve(&mut weights);
        if let Some(factor) = &self.coefficients {
            let mut u: Vec<f64> = self
                .free
                .iter()
                .zip(&self.solved)
                .map(|(&k, solved)| terms[k] - dot(solved, cross))
                .collect();
            factor.solve(&mut u);
            for (multiplier, solved) in u.iter().zip(&self.solved) {
                for (w, s) in weights.iter_mut().zip(solved) {
                    *w += multiplier * s;
                }
            }
        }
        weights
    }

    /// Lagrange multipliers of the trend constraints: (V+Q)⁻¹(FᵀK⁻¹c − f).
    pub(crate) fn multipliers(&self, cross: &[f64], terms: &[f64]) -> Vec<f64> {
        let Some(factor) = &self.coefficients else {
            return Vec::new();
        };
        let mut u: Vec<f64> = self
            .free
            .iter()
            .zip(&self.solved)
            .map(|(&k, solved)| dot(solved, cross) - terms[k])
            .collect();
        factor.solve(&mut u);
        u
    }

    /// Posterior covariance of every coefficient with the prediction that has these
    /// covariances and trend terms: (V+Q)⁻¹(f − FᵀK⁻¹c).
    pub(crate) fn coefficient_covariance(&self, cross: &[f64], terms: &[f64]) -> Vec<f64> {
        let mut all = vec![0.0; self.known.len()];
        for (&k, multiplier) in self.free.iter().zip(self.multipliers(cross, terms)) {
            all[k] = -multiplier;
        }
        all
    }

    /// Log density of the readings with β integrated out (REML where flat).
    pub(crate) fn log_density(&self, y: &[f64]) -> f64 {
        let solution = self.solve(y);
        let mut total = self.factor.log_determinant();
        let mut dimensions = y.len() as f64;
        let residual: f64 = y
            .iter()
            .enumerate()
            .map(|(i, y)| {
                let trend: f64 = self
                    .free
                    .iter()
                    .zip(&self.columns)
                    .map(|(&k, column)| solution.beta[k] * column[i])
                    .sum();
                (y - self.offset[i] - trend) * solution.alpha[i]
            })
            .sum();
        total += residual;
        if let Some(factor) = &self.coefficients {
            total += factor.log_determinant();
            for (&k, &(mean, sd)) in self.free.iter().zip(&self.prior) {
                if sd.is_finite() {
                    total += 2.0 * sd.ln() + ((solution.beta[k] - mean) / sd).powi(2);
                } else {
                    dimensions -= 1.0;
                }
            }
        }
        -0.5 * (total + dimensions * (2.0 * std::f64::consts::PI).ln())
    }

    /// Log density with flat coefficients set to their best values instead of
    /// integrated out (maximum likelihood), and the log determinant of K.
    pub(crate) fn profile(&self, y: &[f64]) -> (f64, f64, Solution) {
        let solution = self.solve(y);
        let quadratic: f64 = y
            .iter()
            .enumerate()
            .map(|(i, y)| {
                let trend: f64 = self
                    .free
                    .iter()
                    .zip(&self.columns)
                    .map(|(&k, column)| solution.beta[k] * column[i])
                    .sum();
                (y - self.offset[i] - trend) * solution.alpha[i]
            })
            .sum();
        (quadratic, self.factor.log_determinant(), solution)
    }

    /// Log determinant of V + Q.
    pub(crate) fn trend_log_determinant(&self) -> f64 {
        self.coefficients
            .as_ref()
            .map_or(0.0, Factor::log_determinant)
    }

    /// (residual, variance) of each reading predicted from all the others.
    ///
    /// # Method
    /// With P = K⁻¹ − K⁻¹F(V+Q)⁻¹FᵀK⁻¹ the residual is (Py)ᵢ/Pᵢᵢ and its variance
    /// 1/Pᵢᵢ (Dubrule 1983, Math. Geology 15; Rasmussen & Williams 2006,
    /// eq. 5.12).
    pub(crate) fn leave_one_out(&self, y: &[f64]) -> Vec<(f64, f64)> {
        let solution = self.solve(y);
        let mut diagonal = self.factor.inverse_diagonal();
        if let Some(factor) = &self.coefficients {
            for (i, entry) in diagonal.iter_mut().enumerate() {
                let mut row: Vec<f64> = self.solved.iter().map(|s| s[i]).collect();
                factor.forward(&mut row);
                *entry -= dot(&row, &row);
            }
        }
        solution
            .alpha
            .iter()
            .zip(&diagonal)
            .map(|(alpha, &p)| (alpha / p, 1.0 / p))
            .collect()
    }
}
