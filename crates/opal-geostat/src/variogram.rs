//! The experimental variogram and a weighted fit to it.
//!
//! For a look at the data and for checks; parameters that decide anything come
//! from the likelihood ([`crate::fit()`]).

use crate::kernel::Kernel;
use crate::model::CovarianceModel;

/// Pairs of one distance class.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VariogramBin {
    /// How many pairs.
    pub pairs: usize,
    /// Their mean distance.
    pub distance: f64,
    /// Half the mean squared difference.
    pub semivariance: f64,
}

/// Semivariances by distance class: class k holds the pairs with distance in
/// (k·width, (k+1)·width], up to the cutoff; empty classes are left out.
///
/// # Method
/// Matheron 1962; Cressie 1993, *Statistics for Spatial Data*, eq. 2.4.2.
#[must_use]
pub fn experimental_variogram(
    places: &[[f64; 2]],
    values: &[f64],
    cutoff: f64,
    width: f64,
) -> Vec<VariogramBin> {
    let classes = (cutoff / width).ceil().max(0.0) as usize;
    let mut sums = vec![(0_usize, 0.0, 0.0); classes];
    for (i, (a, va)) in places.iter().zip(values).enumerate() {
        for (b, vb) in places[..i].iter().zip(values) {
            let distance = (a[0] - b[0]).hypot(a[1] - b[1]);
            if distance > cutoff {
                continue;
            }
            let class = ((distance / width).ceil() as usize).saturating_sub(1);
            let Some(sum) = sums.get_mut(class) else {
                continue;
            };
            sum.0 += 1;
            sum.1 += distance;
            sum.2 += (va - vb) * (va - vb);
        }
    }
    sums.into_iter()
        .filter(|(pairs, ..)| *pairs > 0)
        .map(|(pairs, distance, squares)| VariogramBin {
            pairs,
            distance: distance / pairs as f64,
            semivariance: 0.5 * squares / pairs as f64,
        })
        .collect()
}

/// The isotropic model of a kernel that is closest to the bins, each weighted by
/// pairs/distance²; `None` with fewer than 3 bins.
///
/// # Method
/// Weights: Zhang, van Eijkeren & Heemink 1995, Computers & Geosciences 21, as in
/// common packages. Given the range the nugget and sill are a linear problem with
/// both at least 0; the range is found by a scan and golden-section search.
#[must_use]
pub fn fit_variogram(bins: &[VariogramBin], kernel: Kernel) -> Option<CovarianceModel> {
    if bins.len() < 3 {
        return None;
    }
    let longest = bins.iter().map(|b| b.distance).fold(0.0, f64::max);
    let shortest = bins.iter().map(|b| b.distance).fold(longest, f64::min);
    let at = |log_range: f64| best_sill(bins, kernel, log_range.exp());
    // From a fifth of the shortest to ten times the longest distance.
    let (low, high) = ((0.2 * shortest).ln(), (10.0 * longest).ln());
    const STEPS: usize = 60;
    let step = (high - low) / STEPS as f64;
    let start = (0..=STEPS)
        .map(|k| low + step * k as f64)
        .min_by(|a, b| at(*a).0.total_cmp(&at(*b).0))?;
    let log_range = golden_section(|x| at(x).0, start - step, start + step);
    let (_, nugget, sill) = at(log_range);
    Some(CovarianceModel::isotropic(kernel, sill, log_range.exp()).with_nugget(nugget))
}

/// (weighted squares, nugget, sill) at a range.
fn best_sill(bins: &[VariogramBin], kernel: Kernel, range: f64) -> (f64, f64, f64) {
    let terms: Vec<(f64, f64, f64)> = bins
        .iter()
        .map(|bin| {
            let weight = bin.pairs as f64 / (bin.distance * bin.distance);
            let rise = 1.0 - kernel.correlation(bin.distance / range);
            (weight, rise, bin.semivariance)
        })
        .collect();
    let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
        terms.iter().map(|&(w, rise, y)| w * f(rise, y)).sum()
    };
    let squares = |nugget: f64, sill: f64| sum(&|rise, y| (y - nugget - sill * rise).powi(2));
    let (w, wr, wrr) = (sum(&|_, _| 1.0), sum(&|r, _| r), sum(&|r, _| r * r));
    let (wy, wry) = (sum(&|_, y| y), sum(&|r, y| r * y));
    let determinant = w * wrr - wr * wr;
    let mut options = vec![(0.0, (wry / wrr).max(0.0)), ((wy / w).max(0.0), 0.0)];
    let inner = (
        (wrr * wy - wr * wry) / determinant,
        (w * wry - wr * wy) / determinant,
    );
    if inner.0 >= 0.0 && inner.1 >= 0.0 {
        options.push(inner);
    }
    options
        .into_iter()
        .map(|(nugget, sill)| (squares(nugget, sill), nugget, sill))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or((f64::INFINITY, 0.0, 0.0))
}

/// Place of the least value between two places (Kiefer 1953).
fn golden_section(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    const SHARE: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (high - SHARE * (high - low), low + SHARE * (high - low));
    let (mut fa, mut fb) = (f(a), f(b));
    while high - low > 1e-9 {
        if fa < fb {
            (high, b, fb) = (b, a, fa);
            a = high - SHARE * (high - low);
            fa = f(a);
        } else {
            (low, a, fa) = (a, b, fb);
            b = low + SHARE * (high - low);
            fb = f(b);
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bins_close_on_the_right() {
        let places = [[0.0, 0.0], [1.0, 0.0], [3.0, 0.0]];
        let bins = experimental_variogram(&places, &[0.0, 2.0, 3.0], 3.0, 1.0);
        assert_eq!(
            bins,
            [
                VariogramBin {
                    pairs: 1,
                    distance: 1.0,
                    semivariance: 2.0
                },
                VariogramBin {
                    pairs: 1,
                    distance: 2.0,
                    semivariance: 0.5
                },
                VariogramBin {
                    pairs: 1,
                    distance: 3.0,
                    semivariance: 4.5
                },
            ]
        );
    }

    #[test]
    fn finds_the_model_that_made_the_bins() {
        for kernel in [Kernel::Spherical, Kernel::Matern32] {
            let made = CovarianceModel::isotropic(kernel, 0.59, 9.0).with_nugget(0.05);
            let bins: Vec<VariogramBin> = (1..=15)
                .map(|k| VariogramBin {
                    pairs: 40 + 10 * k,
                    distance: k as f64,
                    semivariance: made.semivariance([k as f64, 0.0]),
                })
                .collect();
            let found = fit_variogram(&bins, kernel).expect("enough bins");
            assert!((found.range - 9.0).abs() < 1e-3, "{found:?}");
            assert!((found.sill - 0.59).abs() < 1e-4);
            assert!((found.nugget - 0.05).abs() < 1e-4);
        }
        assert!(fit_variogram(&[], Kernel::Spherical).is_none());
    }
}
