//! Cholesky factor of a covariance matrix, laid out for many solves.

use faer::{Mat, Side};
use thiserror::Error;

/// The matrix is not positive definite.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error("row {index} of the covariance depends on the rows before it")]
pub struct NotPositiveDefinite {
    /// Row at which the factorisation stopped.
    pub index: usize,
}

/// K = LLᵀ, with L and Lᵀ kept column by column so that both triangular solves
/// run along memory.
#[derive(Clone, Debug)]
pub(crate) struct Factor {
    n: usize,
    lower: Vec<f64>,
    upper: Vec<f64>,
}

impl Factor {
    /// Of the symmetric matrix whose lower triangle is `entry(i, j)`, i ≥ j.
    pub(crate) fn new(
        n: usize,
        mut entry: impl FnMut(usize, usize) -> f64,
    ) -> Result<Self, NotPositiveDefinite> {
        let mut matrix = Mat::<f64>::zeros(n, n);
        for j in 0..n {
            for i in j..n {
                matrix[(i, j)] = entry(i, j);
            }
        }
        let factored = matrix.llt(Side::Lower).map_err(|fault| match fault {
            faer::linalg::solvers::LltError::NonPositivePivot { index } => {
                NotPositiveDefinite { index }
            }
        })?;
        let l = factored.L();
        let mut lower = vec![0.0; n * n];
        let mut upper = vec![0.0; n * n];
        for j in 0..n {
            for i in j..n {
                lower[j * n + i] = l[(i, j)];
                upper[i * n + j] = l[(i, j)];
            }
            // NaN in the input passes through the factorisation unnoticed.
            if !(l[(j, j)] > 0.0 && l[(j, j)].is_finite()) {
                return Err(NotPositiveDefinite { index: j });
            }
        }
        Ok(Self { n, lower, upper })
    }

    pub(crate) fn log_determinant(&self) -> f64 {
        2.0 * (0..self.n)
            .map(|j| self.lower[j * self.n + j].ln())
            .sum::<f64>()
    }

    /// x ← L⁻¹x.
    pub(crate) fn forward(&self, x: &mut [f64]) {
        let n = self.n;
        for j in 0..n {
            let column = &self.lower[j * n..(j + 1) * n];
            let pivot = x[j] / column[j];
            x[j] = pivot;
            for (value, l) in x[j + 1..].iter_mut().zip(&column[j + 1..]) {
                *value -= pivot * l;
            }
        }
    }

    /// x ← K⁻¹x.
    pub(crate) fn solve(&self, x: &mut [f64]) {
        self.forward(x);
        self.backward(x);
    }

    /// x ← L⁻ᵀx.
    fn backward(&self, x: &mut [f64]) {
        let n = self.n;
        for j in (0..n).rev() {
            let column = &self.upper[j * n..(j + 1) * n];
            let pivot = x[j] / column[j];
            x[j] = pivot;
            for (value, u) in x[..j].iter_mut().zip(&column[..j]) {
                *value -= pivot * u;
            }
        }
    }

    /// L(i, j), i ≥ j.
    pub(crate) fn lower(&self, i: usize, j: usize) -> f64 {
        self.lower[j * self.n + i]
    }

    /// Diagonal of K⁻¹.
    pub(crate) fn inverse_diagonal(&self) -> Vec<f64> {
        (0..self.n)
            .map(|i| {
                // K⁻¹ᵢᵢ = ‖L⁻¹eᵢ‖².
                let mut unit = vec![0.0; self.n];
                unit[i] = 1.0;
                self.forward(&mut unit);
                unit.iter().map(|v| v * v).sum()
            })
            .collect()
    }
}

pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves_and_knows_its_determinant() {
        let k = [[4.0, 2.0, 0.6], [2.0, 5.0, 1.0], [0.6, 1.0, 3.0]];
        let factor = Factor::new(3, |i, j| k[i][j]).expect("positive definite");
        let x = [1.0, -2.0, 0.5];
        let mut b: Vec<f64> = k.iter().map(|row| dot(row, &x)).collect();
        factor.solve(&mut b);
        for (got, want) in b.iter().zip(x) {
            assert!((got - want).abs() < 1e-14);
        }
        let determinant: f64 = 4.0 * (15.0 - 1.0) - 2.0 * (6.0 - 0.6) + 0.6 * (2.0 - 3.0);
        assert!((factor.log_determinant() - determinant.ln()).abs() < 1e-14);
        let inverse_00 = (15.0 - 1.0) / determinant;
        assert!((factor.inverse_diagonal()[0] - inverse_00).abs() < 1e-14);
    }

    #[test]
    fn refuses_a_singular_matrix_by_row() {
        let fault = Factor::new(2, |_, _| 1.0).expect_err("singular");
        assert_eq!(fault.index, 1);
        assert!(Factor::new(2, |_, _| f64::NAN).is_err());
    }
}
