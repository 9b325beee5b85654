//! Specks that lie together.

use crate::forms::Pockets;
use opal_stone::Stone;
use opal_units::Rng;
use rand::RngExt as _;
use rand_distr::{Distribution as _, Poisson, StandardNormal};

/// Places of specks in pockets, `per_mm3` of them on average wherever the stone is.
///
/// # Method
/// Thomas's process (1949, Biometrika 36; Illian et al. 2008, *Statistical Analysis and
/// Modelling of Spatial Point Patterns*, §6.3): pockets at random (Poisson), in each a
/// Poisson number of specks, normal about its middle. Pockets are drawn in a box wider
/// than the stone by four spreads, so that the skin thins none.
pub(crate) fn places(
    stone: &Stone,
    per_mm3: f64,
    pockets: Pockets,
    rng: &mut Rng,
) -> Vec<[f32; 3]> {
    let reach = 4.0 * pockets.spread_mm;
    let grid = &stone.grid;
    let (first, last) = (grid.at(0, 0), grid.at(grid.nx - 1, grid.ny - 1));
    let (bottom, top) = stone.height_range_mm();
    let low = [first[0] - reach, first[1] - reach, bottom - reach];
    let high = [last[0] + reach, last[1] + reach, top + reach];
    let volume: f64 = low.iter().zip(&high).map(|(l, h)| h - l).product();
    let mut found = Vec::new();
    let count =
        |mean: f64, rng: &mut Rng| Poisson::new(mean).map_or(0, |law| law.sample(rng) as usize);
    for _ in 0..count(per_mm3 / pockets.mean_number * volume, rng) {
        let middle: [f64; 3] =
            std::array::from_fn(|a| low[a] + (high[a] - low[a]) * rng.random::<f64>());
        for _ in 0..count(pockets.mean_number, rng) {
            let at = middle.map(|m| {
                let z: f64 = StandardNormal.sample(rng);
                m + pockets.spread_mm * z
            });
            let inside = stone
                .skin_at([at[0], at[1]])
                .is_some_and(|(top, bottom)| bottom < at[2] && at[2] < top);
            if inside {
                found.push(at.map(|v| v as f32));
            }
        }
    }
    found
}

/// The variance over the mean of how many specks of a diameter a plane cuts.
///
/// # Method
/// 1 + μ times the chance that the plane which cuts a speck cuts another of its pocket:
/// heights of two differ by a normal of variance 2σ², so about D/(2√π σ).
pub(crate) fn crowding(pockets: Pockets, diameter_mm: f64) -> f64 {
    let both = diameter_mm / (2.0 * std::f64::consts::PI.sqrt() * pockets.spread_mm);
    1.0 + pockets.mean_number * both.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_units::Seed;
    use statrs::distribution::{ChiSquared, ContinuousCDF as _};

    fn lump() -> Stone {
        let evidence = opal_testkit::piece(opal_evidence::Form::Seam, [30.0, 20.0, 12.0], 0.5);
        opal_testkit::rough(&evidence, 0.5)
    }

    /// Ripley's function of the process in space (Illian et al. 2008, §6.3): the mean
    /// number of further specks within r of one is λ·4πr³/3 + μ·P(χ²₃ < r²/2σ²), taken at
    /// specks farther than r from the skin (border method); and the mean number is λV.
    #[test]
    fn neighbours_are_as_many_as_the_process_has() {
        let stone = lump();
        let law = Pockets {
            mean_number: 3.0,
            spread_mm: 0.8,
        };
        let (rate, r) = (0.01, 1.5_f64);
        let deep = |p: &[f32; 3]| {
            let [x, y, z] = p.map(f64::from);
            (0..12).all(|k| {
                let (sin, cos) = (std::f64::consts::TAU * f64::from(k) / 12.0).sin_cos();
                stone
                    .skin_at([x + 1.2 * r * cos, y + 1.2 * r * sin])
                    .is_some_and(|(t, b)| b + r < z && z < t - r)
            })
        };
        let (mut all, mut from, mut pairs) = (0_usize, 0_usize, 0_usize);
        let n = 400;
        for k in 0..n {
            let found = places(&stone, rate, law, &mut Seed(k).stream("pockets", 0));
            all += found.len();
            for (i, p) in found.iter().enumerate().filter(|(_, p)| deep(p)) {
                from += 1;
                pairs += found
                    .iter()
                    .enumerate()
                    .filter(|&(j, q)| {
                        j != i
                            && p.iter().zip(q).map(|(a, b)| (a - b).powi(2)).sum::<f32>()
                                < (r * r) as f32
                    })
                    .count();
            }
        }
        let mean = rate * stone.layered_volume().mm3();
        // The variance of a count in a large body is its mean times 1 + μ.
        let error = (mean * 4.0 / n as f64).sqrt();
        let per_stone = all as f64 / n as f64;
        assert!(
            (per_stone - mean).abs() < 4.0 * error + 0.01 * mean,
            "{per_stone} {mean}"
        );
        let near = ChiSquared::new(3.0)
            .expect("a law")
            .cdf(r * r / (2.0 * 0.64));
        let want = rate * 4.0 / 3.0 * std::f64::consts::PI * r.powi(3) + 3.0 * near;
        let got = pairs as f64 / from as f64;
        assert!(
            from > 2000 && (got / want - 1.0).abs() < 0.08,
            "{got} for {want} at {from}"
        );
    }

    /// Counts on a plane through the middle of many stones: their variance over their
    /// mean is the crowding, to a fifth.
    #[test]
    fn counts_on_a_plane_are_as_uneven_as_said() {
        let stone = lump();
        let law = Pockets {
            mean_number: 6.0,
            spread_mm: 0.8,
        };
        let (bottom, top) = stone.height_range_mm();
        let (height, diameter) = (0.5 * (bottom + top), 0.6);
        let counts: Vec<f64> = (0..3000)
            .map(|k| {
                let found = places(&stone, 0.02, law, &mut Seed(k).stream("pockets", 0));
                let cut = |p: &&[f32; 3]| (f64::from(p[2]) - height).abs() < 0.5 * diameter;
                found.iter().filter(cut).count() as f64
            })
            .collect();
        let mean = counts.iter().sum::<f64>() / counts.len() as f64;
        let variance = counts.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / counts.len() as f64;
        let want = crowding(law, diameter);
        assert!(
            (variance / mean / want - 1.0).abs() < 0.2,
            "{} {want}",
            variance / mean
        );
    }
}
