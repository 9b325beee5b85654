//! Linear programmes in a handful of unknowns under thousands of rows.

use thiserror::Error;

/// Why a linear programme has no answer.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
pub enum LpError {
    /// No point fits all rows and bounds.
    #[error("no point fits all rows")]
    Infeasible,
    /// Rounding kept the answer from settling.
    #[error("did not settle after {0} exchanges")]
    Unsettled(usize),
}

/// Largest `objective · x` under `row(k) = (a, b): a · x ≤ b` for `k < rows` and
/// `bounds[d].0 ≤ x[d] ≤ bounds[d].1`.
///
/// # Method
/// Dual simplex (Lemke 1954) with a basis of `D` rows: start from the bounds,
/// exchange in the most violated row, until none is violated. Each exchange is
/// one pass over the rows, so that rows need not be stored.
///
/// # Validity
/// `D` up to about 8; rows and bounds scaled so that slacks of 1e-9 do not
/// matter. Bounds must be finite.
///
/// # Errors
/// No point fits, or rounding kept it from settling.
pub fn maximise<const D: usize>(
    objective: [f64; D],
    bounds: [(f64, f64); D],
    rows: usize,
    row: impl Fn(usize) -> ([f64; D], f64),
) -> Result<[f64; D], LpError> {
    if bounds.iter().any(|(low, high)| low > high) {
        return Err(LpError::Infeasible);
    }
    // Rows 0..D are upper bounds, D..2D lower bounds, the rest the caller's.
    let any_row = |k: usize| -> ([f64; D], f64) {
        if k < D {
            (unit(k, 1.0), bounds[k].1)
        } else if k < 2 * D {
            (unit(k - D, -1.0), -bounds[k - D].0)
        } else {
            row(k - 2 * D)
        }
    };
    let mut basis: [usize; D] =
        std::array::from_fn(|d| if objective[d] >= 0.0 { d } else { D + d });
    let most = 200 + 20 * D;
    for exchange in 0..most {
        let held: [([f64; D], f64); D] = std::array::from_fn(|k| any_row(basis[k]));
        let matrix: [[f64; D]; D] = std::array::from_fn(|k| held[k].0);
        let right: [f64; D] = std::array::from_fn(|k| held[k].1);
        let Some(x) = solve(matrix, right) else {
            return Err(LpError::Unsettled(exchange));
        };
        let mut entering = None;
        // Late exchanges take the first violated row (Bland 1977), which cannot cycle.
        let first_only = exchange > most / 2;
        let mut worst = 1e-9;
        for k in 0..rows + 2 * D {
            let (a, b) = any_row(k);
            let over = dot(&a, &x) - b;
            if over > worst {
                worst = over;
                entering = Some((k, a));
                if first_only {
                    break;
                }
            }
        }
        let Some((row_in, a)) = entering else {
            return Ok(x);
        };
        let across = transposed(&matrix);
        let (Some(price), Some(share)) = (solve(across, objective), solve(across, a)) else {
            return Err(LpError::Unsettled(exchange));
        };
        let leaving = (0..D)
            .filter(|&k| share[k] > 1e-11)
            .min_by(|&p, &q| {
                let by_ratio =
                    (price[p].max(0.0) / share[p]).total_cmp(&(price[q].max(0.0) / share[q]));
                by_ratio.then(basis[p].cmp(&basis[q]))
            })
            .ok_or(LpError::Infeasible)?;
        basis[leaving] = row_in;
    }
    Err(LpError::Unsettled(most))
}

fn unit<const D: usize>(at: usize, value: f64) -> [f64; D] {
    std::array::from_fn(|d| if d == at { value } else { 0.0 })
}

fn dot<const D: usize>(a: &[f64; D], b: &[f64; D]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

fn transposed<const D: usize>(m: &[[f64; D]; D]) -> [[f64; D]; D] {
    std::array::from_fn(|i| std::array::from_fn(|j| m[j][i]))
}

/// Gaussian elimination with row pivoting; `None` where the matrix is singular.
pub(crate) fn solve<const D: usize>(mut m: [[f64; D]; D], mut r: [f64; D]) -> Option<[f64; D]> {
    for col in 0..D {
        let pivot = (col..D).max_by(|&p, &q| m[p][col].abs().total_cmp(&m[q][col].abs()))?;
        if m[pivot][col].abs() < 1e-13 {
            return None;
        }
        m.swap(col, pivot);
        r.swap(col, pivot);
        for below in col + 1..D {
            let factor = m[below][col] / m[col][col];
            if factor != 0.0 {
                let pivot_row = m[col];
                for (own, above) in m[below].iter_mut().zip(pivot_row).skip(col) {
                    *own -= factor * above;
                }
                r[below] -= factor * r[col];
            }
        }
    }
    for col in (0..D).rev() {
        for k in col + 1..D {
            r[col] -= m[col][k] * r[k];
        }
        r[col] /= m[col][col];
    }
    Some(r)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The furniture maker's problem of Dantzig's day: 5x + 4y under
    /// 6x + 4y ≤ 24, x + 2y ≤ 6, y − x ≤ 1, y ≤ 2 has its best, 21, at (3, 1.5)
    /// (Taha, Operations Research, the paint example).
    #[test]
    fn a_textbook_programme() {
        let rows = [
            ([6.0, 4.0], 24.0),
            ([1.0, 2.0], 6.0),
            ([-1.0, 1.0], 1.0),
            ([0.0, 1.0], 2.0),
        ];
        let x = maximise([5.0, 4.0], [(0.0, 1e3); 2], 4, |k| rows[k]).expect("feasible");
        assert!((x[0] - 3.0).abs() < 1e-9 && (x[1] - 1.5).abs() < 1e-9);
    }

    #[test]
    fn says_when_nothing_fits() {
        let rows = [([1.0, 0.0], -1.0)];
        let got = maximise([1.0, 1.0], [(0.0, 1.0); 2], 1, |k| rows[k]);
        assert_eq!(got, Err(LpError::Infeasible));
    }
}
