//! A small Cholesky factor, for the few dozen places round an edge.

/// Lower factor of a covariance, row by row.
#[derive(Clone, Debug)]
pub(crate) struct Cholesky {
    n: usize,
    rows: Vec<f64>,
}

impl Cholesky {
    /// Of a symmetric matrix given by its entries; `None` when it is not positive
    /// definite.
    pub(crate) fn new(n: usize, entry: impl Fn(usize, usize) -> f64) -> Option<Self> {
        let mut rows = vec![0.0; n * n];
        for i in 0..n {
            let (above, rest) = rows.split_at_mut(i * n);
            let row = &mut rest[..n];
            for j in 0..=i {
                let sum = entry(i, j);
                if i == j {
                    let pivot = sum - dot(&row[..j], &row[..j]);
                    if !(pivot > 0.0 && pivot.is_finite()) {
                        return None;
                    }
                    row[j] = pivot.sqrt();
                } else {
                    let other = &above[j * n..(j + 1) * n];
                    row[j] = (sum - dot(&row[..j], &other[..j])) / other[j];
                }
            }
        }
        Some(Self { n, rows })
    }

    fn row(&self, i: usize) -> &[f64] {
        &self.rows[i * self.n..i * self.n + i + 1]
    }

    /// x ← L⁻¹x.
    pub(crate) fn forward(&self, x: &mut [f64]) {
        for i in 0..self.n {
            let row = self.row(i);
            x[i] = (x[i] - dot(&row[..i], &x[..i])) / row[i];
        }
    }

    /// x ← L⁻ᵀx.
    pub(crate) fn backward(&self, x: &mut [f64]) {
        for i in (0..self.n).rev() {
            let row = self.row(i);
            x[i] /= row[i];
            let pivot = x[i];
            for (value, l) in x[..i].iter_mut().zip(row) {
                *value -= pivot * l;
            }
        }
    }

    /// L·x.
    pub(crate) fn colour(&self, white: &[f64]) -> Vec<f64> {
        (0..self.n).map(|i| dot(self.row(i), white)).collect()
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves() {
        let k = [[4.0, 2.0, 0.6], [2.0, 5.0, 1.0], [0.6, 1.0, 3.0]];
        let factor = Cholesky::new(3, |i, j| k[i][j]).expect("positive definite");
        let x = [1.0, -2.0, 0.5];
        let mut b: Vec<f64> = k
            .iter()
            .map(|row| row.iter().zip(x).map(|(a, b)| a * b).sum())
            .collect();
        factor.forward(&mut b);
        factor.backward(&mut b);
        for (got, want) in b.iter().zip(x) {
            assert!((got - want).abs() < 1e-12);
        }
        assert!(Cholesky::new(2, |_, _| 1.0).is_none());
    }
}
