//! Least squares by orthogonal reduction.

use faer::Mat;

/// The triangle R of `[X y] = QR`: all that least squares needs of the rows.
///
/// Orthogonal, not by XᵀX: that would square the condition of the columns.
#[derive(Clone, Debug)]
pub(crate) struct Triangle {
    /// Columns of X.
    p: usize,
    r: Mat<f64>,
}

impl Triangle {
    /// Of rows `[x…, y]`, each `p + 1` long.
    pub(crate) fn of(p: usize, rows: &[Vec<f64>]) -> Self {
        // At least as many rows as columns: rows of zeros change nothing.
        let n = rows.len().max(p + 1);
        let stacked = Mat::from_fn(n, p + 1, |i, j| rows.get(i).map_or(0.0, |row| row[j]));
        Self {
            p,
            r: stacked.qr().thin_R().to_owned(),
        }
    }

    /// With one more row for each column that has a weight: `root · (β_j − at)`.
    pub(crate) fn leaning(&self, leans: &[Option<(f64, f64)>]) -> Self {
        let mut rows: Vec<Vec<f64>> = (0..=self.p)
            .map(|i| (0..=self.p).map(|j| self.r[(i, j)]).collect())
            .collect();
        for (j, lean) in leans.iter().enumerate() {
            if let Some((root, at)) = lean {
                let mut row = vec![0.0; self.p + 1];
                row[j] = *root;
                row[self.p] = root * at;
                rows.push(row);
            }
        }
        Self::of(self.p, &rows)
    }

    /// The first column that the ones before it determine.
    pub(crate) fn dependent(&self) -> Option<usize> {
        (0..self.p).find(|&j| {
            let norm: f64 = (0..=j).map(|i| self.r[(i, j)].powi(2)).sum();
            let own = self.r[(j, j)].abs();
            own.is_nan() || own <= 1e-11 * norm.sqrt()
        })
    }

    /// The coefficients.
    pub(crate) fn solution(&self) -> Vec<f64> {
        self.back((0..self.p).map(|i| self.r[(i, self.p)]).collect())
    }

    /// The sum of squares that is left.
    pub(crate) fn left_over(&self) -> f64 {
        self.r[(self.p, self.p)].powi(2)
    }

    /// ln √det(XᵀX).
    pub(crate) fn log_root_det(&self) -> f64 {
        (0..self.p).map(|j| self.r[(j, j)].abs().ln()).sum()
    }

    /// R⁻¹z: with z standard normal, a draw whose covariance is (XᵀX)⁻¹.
    pub(crate) fn back(&self, mut z: Vec<f64>) -> Vec<f64> {
        for i in (0..self.p).rev() {
            let after: f64 = (i + 1..self.p).map(|j| self.r[(i, j)] * z[j]).sum();
            z[i] = (z[i] - after) / self.r[(i, i)];
        }
        z
    }

    /// xᵀ(XᵀX)⁻¹x.
    pub(crate) fn leverage(&self, x: &[f64]) -> f64 {
        let mut forward: Vec<f64> = Vec::with_capacity(self.p);
        for (j, own) in x.iter().enumerate() {
            let before: f64 = (0..j).map(|i| self.r[(i, j)] * forward[i]).sum();
            forward.push((own - before) / self.r[(j, j)]);
        }
        forward.iter().map(|v| v * v).sum()
    }
}
