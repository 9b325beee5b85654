//! The mode of a smooth density in a few dimensions, and its curvature there.

use rayon::prelude::*;

/// Step of the central differences. Chosen: parameters are logarithms, so a
/// thousandth is a tenth of a per cent; the rounding of a likelihood near 1e-10
/// then shows in the seventh digit of a slope.
const STEP: f64 = 1e-3;
/// Quasi-Newton steps at most.
const STEPS_MOST: usize = 60;
/// Longest move in one step, in logarithms. Chosen: a factor of 4.5.
const MOVE_MOST: f64 = 1.5;

/// Maximises `density` from `start` by BFGS with central differences (Nocedal &
/// Wright 2006, *Numerical Optimization*, ch. 6) and backtracking.
pub(crate) fn climb(density: &(impl Fn(&[f64]) -> f64 + Sync), start: &[f64]) -> (Vec<f64>, f64) {
    let d = start.len();
    let mut x = start.to_vec();
    let mut value = density(&x);
    if d == 0 {
        return (x, value);
    }
    let mut slope = gradient(density, &x);
    let mut inverse = identity(d);
    for _ in 0..STEPS_MOST {
        let mut direction: Vec<f64> = (0..d)
            .map(|i| (0..d).map(|j| inverse[i * d + j] * slope[j]).sum())
            .collect();
        let mut rise: f64 = direction.iter().zip(&slope).map(|(a, b)| a * b).sum();
        if rise.is_nan() || rise <= 0.0 {
            inverse = identity(d);
            direction.copy_from_slice(&slope);
            rise = slope.iter().map(|s| s * s).sum();
        }
        let longest = direction.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        if !(rise.is_finite() && longest > 0.0) {
            break;
        }
        let mut scale = (MOVE_MOST / longest).min(1.0);
        let mut moved = None;
        for _ in 0..30 {
            let next: Vec<f64> = x
                .iter()
                .zip(&direction)
                .map(|(x, v)| x + scale * v)
                .collect();
            let there = density(&next);
            if there >= value + 1e-4 * scale * rise {
                moved = Some((next, there));
                break;
            }
            scale *= 0.4;
        }
        let Some((next, there)) = moved else { break };
        let next_slope = gradient(density, &next);
        update(&mut inverse, &x, &next, &slope, &next_slope);
        let gained = there - value;
        (x, value, slope) = (next, there, next_slope);
        if gained < 1e-7 * (1.0 + value.abs()) {
            break;
        }
    }
    (x, value)
}

fn identity(d: usize) -> Vec<f64> {
    let mut matrix = vec![0.0; d * d];
    for i in 0..d {
        matrix[i * d + i] = 1.0;
    }
    matrix
}

fn gradient(density: &(impl Fn(&[f64]) -> f64 + Sync), x: &[f64]) -> Vec<f64> {
    let sides: Vec<f64> = (0..2 * x.len())
        .into_par_iter()
        .map(|k| {
            let mut probe = x.to_vec();
            probe[k / 2] += if k % 2 == 0 { STEP } else { -STEP };
            density(&probe)
        })
        .collect();
    sides
        .chunks_exact(2)
        .map(|pair| {
            let slope = (pair[0] - pair[1]) / (2.0 * STEP);
            if slope.is_finite() { slope } else { 0.0 }
        })
        .collect()
}

/// BFGS update of the inverse of minus the Hessian.
fn update(inverse: &mut [f64], from: &[f64], to: &[f64], slope: &[f64], next: &[f64]) {
    let d = from.len();
    let s: Vec<f64> = to.iter().zip(from).map(|(a, b)| a - b).collect();
    let y: Vec<f64> = slope.iter().zip(next).map(|(a, b)| a - b).collect();
    let sy: f64 = s.iter().zip(&y).map(|(a, b)| a * b).sum();
    if sy <= 1e-10 {
        return;
    }
    let hy: Vec<f64> = (0..d)
        .map(|i| (0..d).map(|j| inverse[i * d + j] * y[j]).sum())
        .collect();
    let yhy: f64 = y.iter().zip(&hy).map(|(a, b)| a * b).sum();
    for i in 0..d {
        for j in 0..d {
            inverse[i * d + j] +=
                (1.0 + yhy / sy) * s[i] * s[j] / sy - (hy[i] * s[j] + s[i] * hy[j]) / sy;
        }
    }
}

/// Minus the second derivatives of `density` at `x`, row by row.
pub(crate) fn curvature(density: &(impl Fn(&[f64]) -> f64 + Sync), x: &[f64]) -> Vec<f64> {
    /// Wider than the slope's step, since second differences lose twice the digits.
    const WIDE: f64 = 0.05;
    let d = x.len();
    let probe = |moves: &[(usize, f64)]| {
        let mut at = x.to_vec();
        for &(k, by) in moves {
            at[k] += by;
        }
        density(&at)
    };
    let here = density(x);
    let pairs: Vec<(usize, usize)> = (0..d).flat_map(|i| (0..=i).map(move |j| (i, j))).collect();
    let entries: Vec<f64> = pairs
        .par_iter()
        .map(|&(i, j)| {
            if i == j {
                (2.0 * here - probe(&[(i, WIDE)]) - probe(&[(i, -WIDE)])) / (WIDE * WIDE)
            } else {
                -(probe(&[(i, WIDE), (j, WIDE)]) + probe(&[(i, -WIDE), (j, -WIDE)])
                    - probe(&[(i, WIDE), (j, -WIDE)])
                    - probe(&[(i, -WIDE), (j, WIDE)]))
                    / (4.0 * WIDE * WIDE)
            }
        })
        .collect();
    let mut matrix = vec![0.0; d * d];
    for (&(i, j), entry) in pairs.iter().zip(&entries) {
        matrix[i * d + j] = *entry;
        matrix[j * d + i] = *entry;
    }
    matrix
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosenbrock 1960: the valley's floor is at (1, 1).
    #[test]
    fn climbs_a_curved_valley() {
        let valley = |x: &[f64]| -(10.0 * (x[1] - x[0] * x[0]).powi(2) + (1.0 - x[0]).powi(2));
        let (top, value) = climb(&valley, &[-1.2, 1.0]);
        assert!(
            (top[0] - 1.0).abs() < 1e-2 && (top[1] - 1.0).abs() < 2e-2,
            "{top:?} {value}"
        );
    }

    #[test]
    fn curvature_of_a_quadratic() {
        let hill = |x: &[f64]| -(1.5 * x[0] * x[0] + x[0] * x[1] + 2.0 * x[1] * x[1]);
        let got = curvature(&hill, &[0.3, -0.2]);
        for (got, want) in got.iter().zip([3.0, 1.0, 1.0, 4.0]) {
            assert!((got - want).abs() < 1e-6);
        }
    }
}
