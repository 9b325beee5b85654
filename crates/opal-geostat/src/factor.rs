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

/// K = LLᵀ, with the lower triangle of L kept column by column: both triangular solves
/// run along memory.
#[derive(Clone, Debug)]
pub(crate) struct Factor {
    n: usize,
    /// Column j from its diagonal down, one after the other.
    lower: Vec<f64>,
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
        let mut lower = Vec::with_capacity(n * (n + 1) / 2);
        for j in 0..n {
            lower.extend((j..n).map(|i| l[(i, j)]));
            // NaN in the input passes through the factorisation unnoticed.
            if !(l[(j, j)] > 0.0 && l[(j, j)].is_finite()) {
                return Err(NotPositiveDefinite { index: j });
            }
        }
        Ok(Self { n, lower })
    }

    /// Column j from its diagonal down.
    fn column(&self, j: usize) -> &[f64] {
        let start = j * self.n - j * j.saturating_sub(1) / 2;
        &self.lower[start..start + self.n - j]
    }

    pub(crate) fn log_determinant(&self) -> f64 {
        2.0 * (0..self.n).map(|j| self.column(j)[0].ln()).sum::<f64>()
    }

    /// x ← L⁻¹x.
    pub(crate) fn forward(&self, x: &mut [f64]) {
        for j in 0..self.n {
            let (diagonal, below) = self.split(j);
            let pivot = x[j] / diagonal;
            x[j] = pivot;
            for (value, l) in x[j + 1..].iter_mut().zip(below) {
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
        for j in (0..self.n).rev() {
            let (diagonal, below) = self.split(j);
            x[j] = (x[j] - dot(below, &x[j + 1..])) / diagonal;
        }
    }

    /// L(j, j) and what stands below it.
    fn split(&self, j: usize) -> (f64, &[f64]) {
        let column = self.column(j);
        (column[0], &column[1..])
    }

    /// L(i, j), i ≥ j.
    pub(crate) fn lower(&self, i: usize, j: usize) -> f64 {
        self.column(j)[i - j]
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

/// Σ aᵢbᵢ, in lanes, which the compiler turns into vector instructions.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    const LANES: usize = 8;
    let n = a.len().min(b.len());
    let (a, b) = (a[..n].chunks_exact(LANES), b[..n].chunks_exact(LANES));
    let rest: f64 = a
        .remainder()
        .iter()
        .zip(b.remainder())
        .map(|(x, y)| x * y)
        .sum();
    let mut lanes = [0.0; LANES];
    for (a, b) in a.zip(b) {
        for k in 0..LANES {
            lanes[k] += a[k] * b[k];
        }
    }
    lanes.iter().sum::<f64>() + rest
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

    /// Larger than a lane: L of a chain with correlation r^|i−j| is known, and so is its
    /// determinant (1 − r²)^(n−1) (Rybicki & Press 1995, Phys. Rev. Lett. 74).
    #[test]
    fn solves_a_chain() {
        let (n, r) = (37, 0.6_f64);
        let k = |i: usize, j: usize| r.powi(i.abs_diff(j) as i32);
        let factor = Factor::new(n, k).expect("positive definite");
        let x: Vec<f64> = (0..n).map(|i| (i as f64 * 0.7).sin()).collect();
        let mut b: Vec<f64> = (0..n)
            .map(|i| (0..n).map(|j| k(i, j) * x[j]).sum())
            .collect();
        factor.solve(&mut b);
        for (got, want) in b.iter().zip(&x) {
            assert!((got - want).abs() < 1e-12, "{got} {want}");
        }
        let wanted = (n - 1) as f64 * (1.0 - r * r).ln();
        assert!((factor.log_determinant() - wanted).abs() < 1e-12);
        for (i, j) in [(0, 0), (5, 0), (20, 7), (36, 36)] {
            let wanted = r.powi((i - j) as i32) * if j == 0 { 1.0 } else { (1.0 - r * r).sqrt() };
            assert!((factor.lower(i, j) - wanted).abs() < 1e-12);
        }
    }
}
