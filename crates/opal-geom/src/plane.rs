//! The plane that stays nearest to a set of heights.

use crate::lp::{LpError, maximise};

/// A plane `z = c + a·x + b·y`, and how far the heights stray from it at most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FittedPlane {
    /// `[c, a, b]`.
    pub coefficients: [f64; 3],
    /// Largest distance along z of a height from the plane.
    pub largest_error: f64,
}

/// The plane whose largest error along z is least (Chebyshev's plane).
///
/// # Method
/// A linear programme in (c, a, b, error); see [`maximise`].
///
/// # Errors
/// Rounding kept it from settling; never for finite heights of common size.
pub fn minimax_plane(points: &[[f64; 3]]) -> Result<FittedPlane, LpError> {
    const REACH: f64 = 1e5;
    let [c, a, b, error] = maximise(
        [0.0, 0.0, 0.0, -1.0],
        [
            (-REACH, REACH),
            (-REACH, REACH),
            (-REACH, REACH),
            (0.0, REACH),
        ],
        2 * points.len(),
        |k| {
            let [x, y, z] = points[k / 2];
            if k % 2 == 0 {
                ([1.0, x, y, -1.0], z)
            } else {
                ([-1.0, -x, -y, -1.0], -z)
            }
        },
    )?;
    Ok(FittedPlane {
        coefficients: [c, a, b],
        largest_error: error,
    })
}

/// The plane through heights by least squares, `[c, a, b]`; level where the
/// places do not span a plane, and `None` for no heights.
#[must_use]
pub fn least_squares_plane(points: &[[f64; 3]]) -> Option<[f64; 3]> {
    if points.is_empty() {
        return None;
    }
    let n = points.len() as f64;
    let mean: [f64; 3] = std::array::from_fn(|d| points.iter().map(|p| p[d]).sum::<f64>() / n);
    let (mut xx, mut xy, mut yy, mut xz, mut yz) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for point in points {
        let [dx, dy, dz] = std::array::from_fn(|d| point[d] - mean[d]);
        xx += dx * dx;
        xy += dx * dy;
        yy += dy * dy;
        xz += dx * dz;
        yz += dy * dz;
    }
    let determinant = xx * yy - xy * xy;
    if determinant <= 1e-9 * (xx + yy) * (xx + yy) {
        return Some([mean[2], 0.0, 0.0]);
    }
    let a = (xz * yy - yz * xy) / determinant;
    let b = (yz * xx - xz * xy) / determinant;
    Some([mean[2] - a * mean[0] - b * mean[1], a, b])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// x² + y² over the unit square: x + y − ¼, error ¼ (closed form; also by
    /// scipy's linprog, tests/reference).
    #[test]
    fn bowl_over_the_unit_square() {
        let points: Vec<_> = (0..=100)
            .flat_map(|i| {
                (0..=100).map(move |j| {
                    let (x, y) = (f64::from(i) / 100.0, f64::from(j) / 100.0);
                    [x, y, x * x + y * y]
                })
            })
            .collect();
        let plane = minimax_plane(&points).expect("settles");
        assert!((plane.largest_error - 0.25).abs() < 1e-9);
        for (got, want) in plane.coefficients.iter().zip([-0.25, 1.0, 1.0]) {
            assert!((got - want).abs() < 1e-6, "{:?}", plane.coefficients);
        }
    }

    /// eˣ on −1..=1: slope sinh 1, error 0.2788016 (classical, by equal ripple).
    #[test]
    fn exponential_by_a_line() {
        let points: Vec<_> = (-2000..=2000)
            .flat_map(|i| {
                let x = f64::from(i) / 2000.0;
                [[x, 0.0, x.exp()], [x, 1.0, x.exp()]]
            })
            .collect();
        let plane = minimax_plane(&points).expect("settles");
        assert!((plane.largest_error - 0.278_801_6).abs() < 1e-6);
        assert!((plane.coefficients[1] - 1.0_f64.sinh()).abs() < 1e-3);
    }

    #[test]
    fn least_squares_gives_back_a_plane() {
        let points: Vec<[f64; 3]> = [[0.0, 0.0], [4.0, 1.0], [-2.0, 3.0], [1.0, -5.0]]
            .map(|[x, y]| [x, y, 2.0 + 0.5 * x - 0.25 * y])
            .to_vec();
        let [c, a, b] = least_squares_plane(&points).expect("points");
        assert!((c - 2.0).abs() < 1e-12 && (a - 0.5).abs() < 1e-12 && (b + 0.25).abs() < 1e-12);
        assert_eq!(least_squares_plane(&points[..1]), Some([2.0, 0.0, 0.0]));
    }
}
