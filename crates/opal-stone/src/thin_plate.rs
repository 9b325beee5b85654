//! A smooth surface through scattered heights.

use faer::Mat;
use faer::linalg::solvers::Solve;

/// Fewest places that carry a bending surface.
const LEAST: usize = 5;
/// Least spread across the places' line, over that along it.
const LEAST_WIDTH_SHARE: f64 = 0.05;
/// Added to the diagonal, as a share of the size: keeps two readings of nearly
/// one place from tearing the surface.
const RIDGE_SHARE: f64 = 1e-3;

/// The surface of least bending through the heights; through few places, or
/// places on a line, a mean weighted by nearness.
///
/// # Method
/// Thin-plate spline: Σ wᵢ r² ln r + a plane (Duchon 1977; Wahba 1990, Spline
/// Models for Observational Data, ch. 2), with leave-one-out residuals from
/// the inverse (Wahba 1990, ch. 4). Elsewhere inverse squared distance
/// (Shepard 1968).
pub(crate) struct ThinPlate {
    places: Vec<[f64; 2]>,
    values: Vec<f64>,
    /// Weights of the places, then of 1, x and y; `None` for the mean.
    weights: Option<Vec<f64>>,
    /// Length by which places are divided.
    size: f64,
    /// Root mean square of what each place misses when it is left out.
    pub(crate) left_out_rms: Option<f64>,
}

impl ThinPlate {
    pub(crate) fn through(places: &[[f64; 2]], values: &[f64]) -> Self {
        let size = size_of(places);
        let mut surface = Self {
            places: places.to_vec(),
            values: values.to_vec(),
            weights: None,
            size,
            left_out_rms: None,
        };
        let n = places.len();
        if n < LEAST || !spread(places) {
            return surface;
        }
        let scaled: Vec<[f64; 2]> = places.iter().map(|p| p.map(|x| x / size)).collect();
        let entry = |i: usize, j: usize| match (i < n, j < n) {
            (true, true) if i == j => RIDGE_SHARE,
            (true, true) => bend(distance2(scaled[i], scaled[j])),
            (true, false) => plane(scaled[i])[j - n],
            (false, true) => plane(scaled[j])[i - n],
            (false, false) => 0.0,
        };
        let matrix = Mat::from_fn(n + 3, n + 3, entry);
        let inverse = matrix
            .partial_piv_lu()
            .solve(Mat::<f64>::identity(n + 3, n + 3));
        let weights: Vec<f64> = (0..n + 3)
            .map(|i| (0..n).map(|j| inverse[(i, j)] * values[j]).sum())
            .collect();
        if weights.iter().any(|w| !w.is_finite()) {
            return surface;
        }
        let missed: f64 = (0..n).map(|i| (weights[i] / inverse[(i, i)]).powi(2)).sum();
        let rms = (missed / n as f64).sqrt();
        surface.left_out_rms = rms.is_finite().then_some(rms);
        surface.weights = Some(weights);
        surface
    }

    pub(crate) fn at(&self, at: [f64; 2]) -> f64 {
        let Some(weights) = &self.weights else {
            return self.mean_by_nearness(at);
        };
        let n = self.places.len();
        let p = at.map(|x| x / self.size);
        let bent: f64 = self
            .places
            .iter()
            .zip(weights)
            .map(|(q, w)| w * bend(distance2(p, q.map(|x| x / self.size))))
            .sum();
        let flat: f64 = plane(p).iter().zip(&weights[n..]).map(|(a, w)| a * w).sum();
        bent + flat
    }

    fn mean_by_nearness(&self, at: [f64; 2]) -> f64 {
        let soft = (0.05 * self.size).powi(2);
        let (mut sum, mut total) = (0.0, 0.0);
        for (place, value) in self.places.iter().zip(&self.values) {
            let weight = 1.0 / (distance2(at, *place) + soft);
            sum += weight * value;
            total += weight;
        }
        sum / total
    }
}

fn plane(p: [f64; 2]) -> [f64; 3] {
    [1.0, p[0], p[1]]
}

/// r² ln r, from r².
fn bend(r2: f64) -> f64 {
    if r2 > 0.0 { 0.5 * r2 * r2.ln() } else { 0.0 }
}

fn distance2(p: [f64; 2], q: [f64; 2]) -> f64 {
    (p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2)
}

/// The longest side of the box around the places, at least 1e-6.
fn size_of(places: &[[f64; 2]]) -> f64 {
    [0, 1]
        .map(|k| {
            let all = places.iter().map(|p| p[k]);
            let low = all.clone().fold(f64::INFINITY, f64::min);
            let high = all.fold(f64::NEG_INFINITY, f64::max);
            high - low
        })
        .into_iter()
        .fold(1e-6, f64::max)
}

/// True when the places do not lie nearly on one line.
fn spread(places: &[[f64; 2]]) -> bool {
    let n = places.len() as f64;
    let mean = [0, 1].map(|k| places.iter().map(|p| p[k]).sum::<f64>() / n);
    let moment = |a: usize, b: usize| -> f64 {
        places
            .iter()
            .map(|p| (p[a] - mean[a]) * (p[b] - mean[b]))
            .sum()
    };
    let (xx, xy, yy) = (moment(0, 0), moment(0, 1), moment(1, 1));
    let half = 0.5 * (xx + yy);
    let root = (half * half - (xx * yy - xy * xy)).max(0.0).sqrt();
    half - root > LEAST_WIDTH_SHARE * LEAST_WIDTH_SHARE * (half + root)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places() -> Vec<[f64; 2]> {
        (0..20)
            .map(|k| {
                let t = f64::from(k);
                [10.0 * (1.7 * t).sin(), 8.0 * (2.3 * t).cos()]
            })
            .collect()
    }

    #[test]
    fn a_plane_comes_back_everywhere() {
        let plane = |p: [f64; 2]| 3.0 + 0.2 * p[0] - 0.4 * p[1];
        let places = places();
        let values: Vec<f64> = places.iter().map(|&p| plane(p)).collect();
        let surface = ThinPlate::through(&places, &values);
        for at in [[0.0, 0.0], [20.0, -7.0], [3.3, 2.2]] {
            assert!((surface.at(at) - plane(at)).abs() < 1e-9);
        }
        assert!(surface.left_out_rms.expect("enough places") < 1e-9);
    }

    #[test]
    fn a_bowl_is_followed() {
        let bowl = |p: [f64; 2]| 0.02 * (p[0] * p[0] + p[1] * p[1]);
        let places = places();
        let values: Vec<f64> = places.iter().map(|&p| bowl(p)).collect();
        let surface = ThinPlate::through(&places, &values);
        for (place, value) in places.iter().zip(&values) {
            assert!((surface.at(*place) - value).abs() < 0.02);
        }
        assert!((surface.at([1.0, 1.0]) - bowl([1.0, 1.0])).abs() < 0.1);
    }

    #[test]
    fn few_places_give_a_mean_between_them() {
        let surface = ThinPlate::through(&[[0.0, 0.0], [10.0, 0.0]], &[2.0, 4.0]);
        assert!((surface.at([5.0, 0.0]) - 3.0).abs() < 1e-12);
        let one = ThinPlate::through(&[[1.0, 1.0]], &[7.0]);
        assert_eq!(one.at([50.0, 0.0]), 7.0);
    }
}
