//! Where four squares of a chequer meet.

use crate::picture::Grey;

/// A corner of a chequer, as seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Saddle {
    /// Where, pixels.
    pub(crate) at: [f64; 2],
    /// Direction of the bright squares' diagonal, 0..π.
    pub(crate) bright: f64,
    /// How strongly it answers.
    pub(crate) response: f32,
}

/// The ring of sixteen at a radius of five pixels.
const RING: [(i64, i64); 16] = [
    (0, -5),
    (2, -5),
    (3, -3),
    (5, -2),
    (5, 0),
    (5, 2),
    (3, 3),
    (2, 5),
    (0, 5),
    (-2, 5),
    (-3, 3),
    (-5, 2),
    (-5, 0),
    (-5, -2),
    (-3, -3),
    (-2, -5),
];
/// Weakest corner beside the strongest one. Chosen: a card half in shade still counts.
const LEAST_SHARE: f32 = 0.06;
/// Weakest corner at all, in sums of eight grey differences. Chosen: about five
/// grey levels.
const LEAST_RESPONSE: f32 = 40.0;
/// Most corners that are looked at, the strongest first.
const MOST: usize = 2500;
/// Nearest that two corners may be, pixels.
const APART: i64 = 4;
/// Half of the window in which a corner is first fitted, pixels.
const FIRST_HALF: i64 = 4;

/// The corners of a picture, the strongest first.
///
/// # Method
/// Bennett & Lasenby 2014 ("ChESS – quick and robust detection of chess-board
/// features"): on a ring around a corner, opposite values are alike and values a
/// quarter apart differ.
pub(crate) fn saddles(grey: &Grey) -> Vec<Saddle> {
    let smooth = grey.blurred(1.0);
    let (w, h) = (grey.width as i64, grey.height as i64);
    let mut response = vec![0.0_f32; grey.values.len()];
    for y in 5..h - 5 {
        for x in 5..w - 5 {
            response[(y * w + x) as usize] = ring_response(&smooth, x, y);
        }
    }
    let best = response.iter().copied().fold(0.0, f32::max);
    let least = (LEAST_SHARE * best).max(LEAST_RESPONSE);
    let mut found = Vec::new();
    for y in 5..h - 5 {
        for x in 5..w - 5 {
            let here = response[(y * w + x) as usize];
            if here >= least && is_peak(&response, [w, h], [x, y]) {
                found.push((here, [x as f64, y as f64]));
            }
        }
    }
    found.sort_by(|p, q| q.0.total_cmp(&p.0));
    found.truncate(MOST);
    found
        .into_iter()
        .filter_map(|(response, at)| {
            let (at, bright) = refined(&smooth, at, FIRST_HALF)?;
            Some(Saddle {
                at,
                bright,
                response,
            })
        })
        .collect()
}

fn ring_response(smooth: &Grey, x: i64, y: i64) -> f32 {
    let w = smooth.width as i64;
    let value = |i: i64, j: i64| smooth.values[(j * w + i) as usize];
    let ring = RING.map(|(i, j)| value(x + i, y + j));
    let sum: f32 = (0..4)
        .map(|n| (ring[n] + ring[n + 8] - ring[n + 4] - ring[n + 12]).abs())
        .sum();
    let difference: f32 = (0..8).map(|n| (ring[n] - ring[n + 8]).abs()).sum();
    let mean = ring.iter().sum::<f32>() / 16.0;
    let middle =
        (value(x, y) + value(x - 1, y) + value(x + 1, y) + value(x, y - 1) + value(x, y + 1)) / 5.0;
    sum - difference - 16.0 * (mean - middle).abs()
}

fn is_peak(response: &[f32], [w, h]: [i64; 2], [x, y]: [i64; 2]) -> bool {
    let here = (response[(y * w + x) as usize], y, x);
    (-APART..=APART).all(|dy| {
        (-APART..=APART).all(|dx| {
            let (i, j) = (x + dx, y + dy);
            // Of equals the later one stays, so that one stays.
            !(0..w).contains(&i)
                || !(0..h).contains(&j)
                || (response[(j * w + i) as usize], j, i) <= here
        })
    })
}

/// A corner to a part of a pixel, with the direction of its bright squares.
/// `None` where the picture has no saddle, or where it runs away.
///
/// # Method
/// The saddle point of the quadratic that fits best, by least squares with Gaussian
/// weights, to a window of `2 half + 1` pixels; the window follows it until it
/// stands (Lucchese & Mitra 2002). The corner is a centre of symmetry, so that a
/// quadratic far from the true shape still has its saddle there.
pub(crate) fn refined(grey: &Grey, from: [f64; 2], half: i64) -> Option<([f64; 2], f64)> {
    let offsets: Vec<f64> = (-half..=half).map(|k| k as f64).collect();
    let sigma = 0.5 * half as f64;
    let weights: Vec<f64> = offsets
        .iter()
        .map(|u| (-0.5 * (u / sigma).powi(2)).exp())
        .collect();
    let moment = |power: i32| -> f64 {
        offsets
            .iter()
            .zip(&weights)
            .map(|(u, w)| w * u.powi(power))
            .sum()
    };
    // Sums over the window are products of sums along its sides.
    let (m0, m2, m4) = (moment(0), moment(2), moment(4));
    let (s0, s2, s4, s22) = (m0 * m0, m0 * m2, m0 * m4, m2 * m2);
    let mut at = from;
    let mut bright = 0.0;
    for _ in 0..12 {
        let [mut i0, mut ix, mut iy, mut ixx, mut ixy, mut iyy] = [0.0; 6];
        for (y, wy) in offsets.iter().zip(&weights) {
            for (x, wx) in offsets.iter().zip(&weights) {
                let v = wx * wy * grey.between([at[0] + x, at[1] + y]);
                i0 += v;
                ix += x * v;
                iy += y * v;
                ixx += x * x * v;
                ixy += x * y * v;
                iyy += y * y * v;
            }
        }
        let both = (ixx + iyy - 2.0 * s2 * i0 / s0) / (s4 + s22 - 2.0 * s2 * s2 / s0);
        let apart = (ixx - iyy) / (s4 - s22);
        let (a, c) = (0.5 * (both + apart), 0.5 * (both - apart));
        let (b, d, e) = (ixy / s22, ix / s2, iy / s2);
        let det = 4.0 * a * c - b * b;
        if det >= 0.0 || !det.is_finite() {
            return None;
        }
        let step = [(b * e - 2.0 * c * d) / det, (b * d - 2.0 * a * e) / det];
        // The greater eigenvalue's direction is the one along which it brightens.
        bright = 0.5 * b.atan2(a - c);
        at = [at[0] + step[0], at[1] + step[1]];
        if (at[0] - from[0]).hypot(at[1] - from[1]) > half as f64 {
            return None;
        }
        if step[0].hypot(step[1]) < 1e-3 {
            break;
        }
    }
    Some((at, bright.rem_euclid(std::f64::consts::PI)))
}
