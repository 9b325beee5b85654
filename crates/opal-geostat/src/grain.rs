//! How coarse a lattice a smooth field needs, and the spline that carries it to
//! the fine one.

use crate::kernel::Kernel;
use crate::lattice::Lattice;
use crate::model::CovarianceModel;
use rustfft::num_complex::Complex;

type C64 = Complex<f64>;

/// Coarsest cell, in ranges, that a kernel bears. Chosen: the covariance between any two
/// places then errs by less than 5·10⁻⁴ of the sill (computed for the cubic spline
/// below; a test holds it). Rough kernels bear none.
fn cell_most(kernel: Kernel) -> Option<f64> {
    match kernel {
        Kernel::Matern12 | Kernel::Spherical => None,
        Kernel::Matern32 => Some(0.1),
        Kernel::Matern52 => Some(0.2),
        Kernel::SquaredExponential => Some(0.3),
    }
}

/// A coarse lattice under a fine one: every `step`-th node and a margin of one. With
/// a step of 1 the two are the same.
///
/// # Method
/// Cubic B-spline interpolation (Unser 1999, IEEE Signal Proc. Mag. 16: 22–38); its
/// prefilter is divided out of the spectrum, so that drawing a spline costs no more
/// than drawing nodes.
#[derive(Clone, Debug)]
pub(crate) struct Grain {
    fine: Lattice,
    pub(crate) step: usize,
    pub(crate) nx: usize,
    pub(crate) ny: usize,
    /// First coarse node and four weights of each fine column and row.
    columns: Vec<(usize, [f64; 4])>,
    rows: Vec<(usize, [f64; 4])>,
}

impl Grain {
    pub(crate) fn new(fine: Lattice, models: &[CovarianceModel]) -> Self {
        let step = models
            .iter()
            .map(|model| {
                let shortest = model.range * model.anisotropy_ratio.min(1.0);
                cell_most(model.kernel)
                    .map_or(1, |most| ((most * shortest / fine.cell) as usize).max(1))
            })
            .min()
            .unwrap_or(1)
            // Once the whole lattice lies in one coarse cell, coarser gains nothing.
            .min(fine.nx.max(fine.ny));
        let axis = |n: usize| -> Vec<(usize, [f64; 4])> {
            (0..n)
                .map(|k| (k / step, spline((k % step) as f64 / step as f64)))
                .collect()
        };
        let count = |n: usize| if step == 1 { n } else { (n - 1) / step + 4 };
        Self {
            fine,
            step,
            nx: count(fine.nx),
            ny: count(fine.ny),
            columns: axis(fine.nx),
            rows: axis(fine.ny),
        }
    }

    pub(crate) fn is_spline(&self) -> bool {
        self.step > 1
    }

    pub(crate) fn cell(&self) -> f64 {
        self.fine.cell * self.step as f64
    }

    pub(crate) fn len(&self) -> usize {
        self.nx * self.ny
    }

    /// Corner of the block of nodes that a place rests on, and their weights along x
    /// and y: bilinear with a step of 1, the spline itself otherwise. `None` outside.
    pub(crate) fn block(&self, at: [f64; 2]) -> Option<([usize; 2], [[f64; 4]; 2])> {
        self.fine.bilinear(at)?;
        let along = |axis: usize, n: usize| {
            let last = (n - 1) as f64;
            let u = ((at[axis] - self.fine.origin[axis]) / self.fine.cell).clamp(0.0, last);
            if self.is_spline() {
                let u = u / self.step as f64;
                let first = u as usize;
                (first, spline(u - first as f64))
            } else {
                let first = (u as usize).min(n.saturating_sub(2));
                let t = u - first as f64;
                (first, [1.0 - t, t, 0.0, 0.0])
            }
        };
        let (i, along_x) = along(0, self.fine.nx);
        let (j, along_y) = along(1, self.fine.ny);
        Some(([i, j], [along_x, along_y]))
    }

    /// Spreads coarse rows along x: `wide` has `ny` rows of the fine width.
    pub(crate) fn widen(&self, coarse: &[C64], wide: &mut [C64]) {
        let width = self.fine.nx;
        for (row, out) in coarse
            .chunks_exact(self.nx)
            .zip(wide.chunks_exact_mut(width))
        {
            for (value, &(first, weights)) in out.iter_mut().zip(&self.columns) {
                let nodes = &row[first..first + 4];
                *value = nodes[0] * weights[0]
                    + nodes[1] * weights[1]
                    + nodes[2] * weights[2]
                    + nodes[3] * weights[3];
            }
        }
    }

    /// Fine row `j` from widened rows.
    pub(crate) fn row(&self, wide: &[C64], j: usize, out: &mut [C64]) {
        let width = self.fine.nx;
        let (first, weights) = self.rows[j];
        let line = |k: usize| &wide[(first + k) * width..(first + k + 1) * width];
        let (a, b, c, d) = (line(0), line(1), line(2), line(3));
        for (i, value) in out.iter_mut().enumerate() {
            *value = a[i] * weights[0] + b[i] * weights[1] + c[i] * weights[2] + d[i] * weights[3];
        }
    }
}

/// Weights of the nodes −1, 0, 1, 2 at `t` in 0..1 (cubic B-spline).
fn spline(t: f64) -> [f64; 4] {
    let u = 1.0 - t;
    [
        u * u * u / 6.0,
        (3.0 * t * t * t - 6.0 * t * t + 4.0) / 6.0,
        (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0,
        t * t * t / 6.0,
    ]
}

/// Transform of the spline sampled at the nodes of a ring of `m`, at frequency `k`.
pub(crate) fn spline_transform(k: usize, m: usize) -> f64 {
    (2.0 + (2.0 * std::f64::consts::PI * k as f64 / m as f64).cos()) / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_spline_shares_out_one() {
        for k in 0..=10 {
            let weights = spline(f64::from(k) / 10.0);
            assert!((weights.iter().sum::<f64>() - 1.0).abs() < 1e-15);
        }
        assert_eq!(spline_transform(0, 8), 1.0);
    }

    #[test]
    fn rough_and_short_fields_keep_every_node() {
        let fine = Lattice {
            nx: 200,
            ny: 160,
            cell: 0.2,
            origin: [0.0, 0.0],
        };
        let step = |kernel, range| {
            Grain::new(fine, &[CovarianceModel::isotropic(kernel, 1.0, range)]).step
        };
        assert_eq!(step(Kernel::Matern12, 30.0), 1);
        assert_eq!(step(Kernel::Matern32, 3.0), 1);
        assert_eq!(step(Kernel::Matern32, 6.0), 3);
        assert_eq!(step(Kernel::Matern52, 6.0), 6);
    }
}
