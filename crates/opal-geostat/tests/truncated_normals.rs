//! Truncated normals against closed forms.

use opal_geostat::{TruncatedNormal, normal_between, truncated_standard_normal};
use opal_units::Seed;

fn equicorrelated(n: usize, rho: f64) -> Vec<f64> {
    (0..n * n)
        .map(|k| if k / n == k % n { 1.0 } else { rho })
        .collect()
}

fn positive(covariance: &[f64], n: usize) -> TruncatedNormal {
    TruncatedNormal::new(
        &vec![0.0; n],
        covariance,
        &vec![0.0; n],
        &vec![f64::INFINITY; n],
    )
    .expect("positive definite")
}

/// Equicorrelation ½: all n are positive with chance 1/(n + 1) (Steck 1962); three with
/// ρ = .3, .5, .7: 1/8 + Σ asin ρ/(4π) = 0.2526175 (Sheppard 1899).
#[test]
fn chances_of_orthants() {
    for n in [2, 3, 5, 10] {
        let law = positive(&equicorrelated(n, 0.5), n);
        let got = law.log_probability(Seed(1), 40_000).exp();
        let want = 1.0 / (n as f64 + 1.0);
        assert!((got / want - 1.0).abs() < 0.02, "{n}: {got} {want}");
    }
    let law = positive(&[1.0, 0.3, 0.5, 0.3, 1.0, 0.7, 0.5, 0.7, 1.0], 3);
    let got = law.log_probability(Seed(1), 40_000).exp();
    assert!((got - 0.252_617_5).abs() < 2e-3, "{got}");
}

/// Tallis 1961: E[X₁ | X₁, X₂ > 0] = (1 + ρ)·φ(0)·Φ(0)/P, which is 0.8976201 at ρ = ½. With n
/// equicorrelated ½ variables the mean is (n+1)·φ(0)·P₍ₙ₋₁₎(ρ = 1/3)-free only for two,
/// so more dimensions are held to a long run of plain rejection.
#[test]
fn means_of_orthants() {
    let law = positive(&equicorrelated(2, 0.5), 2);
    let draws = 20_000;
    let mean: f64 = (0..draws)
        .map(|i| law.draw(&mut Seed(9).stream("draw", i))[0])
        .sum::<f64>()
        / draws as f64;
    // The variance of one is below 0.4.
    let se = (0.4 / draws as f64).sqrt();
    assert!((mean - 0.897_620_1).abs() < 4.0 * se, "{mean}");
}

/// Strongly correlated limits, against plain rejection from the same law.
#[test]
fn strong_correlation_mixes() {
    let n = 6;
    let rho: f64 = 0.97;
    let law = positive(&equicorrelated(n, rho), n);
    let draws = 4_000;
    let mut mean = 0.0;
    let mut square = 0.0;
    for i in 0..draws {
        let x = law.draw(&mut Seed(9).stream("draw", i));
        assert!(x.iter().all(|v| *v >= 0.0));
        mean += x[2] / draws as f64;
        square += x[2] * x[2] / draws as f64;
    }
    // X = √ρ·Z + √(1−ρ)·Eᵢ, kept when all are positive.
    let mut rng = Seed(4).stream("rejection", 0);
    let mut kept = Vec::new();
    let normal = |rng: &mut opal_units::Rng| {
        truncated_standard_normal(rng, f64::NEG_INFINITY, f64::INFINITY)
    };
    while kept.len() < 20_000 {
        let common = rho.sqrt() * normal(&mut rng);
        let x: Vec<f64> = (0..n)
            .map(|_| common + (1.0 - rho).sqrt() * normal(&mut rng))
            .collect();
        if x.iter().all(|v| *v > 0.0) {
            kept.push(x[2]);
        }
    }
    let count = kept.len() as f64;
    let want = kept.iter().sum::<f64>() / count;
    let want_square = kept.iter().map(|v| v * v).sum::<f64>() / count;
    let se = (0.4_f64 / draws as f64).sqrt();
    assert!((mean - want).abs() < 4.5 * se, "{mean} {want}");
    assert!(
        (square / want_square - 1.0).abs() < 0.1,
        "{square} {want_square}"
    );
}

/// N(1,1) above 0: mean 1.287600, variance 0.629686; N(−0.5,1) above 0: 0.641078,
/// 0.268480 (closed form; scipy 1.16 truncnorm agrees).
#[test]
fn moments_of_one() {
    for (centre, mean, variance) in [(1.0, 1.287_600, 0.629_686), (-0.5, 0.641_078, 0.268_480)] {
        let mut rng = Seed(2).stream("one", 0);
        let n = 100_000;
        let draws: Vec<f64> = (0..n)
            .map(|_| centre + truncated_standard_normal(&mut rng, -centre, f64::INFINITY))
            .collect();
        let m = draws.iter().sum::<f64>() / f64::from(n);
        let v = draws.iter().map(|x| (x - m).powi(2)).sum::<f64>() / f64::from(n);
        assert!(
            (m - mean).abs() < 4.0 * (variance / f64::from(n)).sqrt(),
            "{m}"
        );
        assert!((v / variance - 1.0).abs() < 0.02, "{v}");
    }
}

/// Far tails: above a the mean excess tends to 1/a − 2/a³ (Mills; Feller 1968, VII.1).
#[test]
fn far_tails_are_not_lost() {
    for limit in [6.0, 12.0, 40.0] {
        let mut rng = Seed(2).stream("tail", 0);
        let n = 20_000;
        let excess: f64 = (0..n)
            .map(|_| truncated_standard_normal(&mut rng, limit, f64::INFINITY) - limit)
            .sum::<f64>()
            / f64::from(n);
        let want = 1.0 / limit - 2.0 / f64::powi(limit, 3);
        assert!(
            (excess / want - 1.0).abs() < 0.04,
            "{limit}: {excess} {want}"
        );
        let low = truncated_standard_normal(&mut rng, f64::NEG_INFINITY, -limit);
        assert!(low <= -limit && low > -limit - 10.0);
    }
    let narrow = truncated_standard_normal(&mut Seed(2).stream("narrow", 0), 9.0, 9.000_1);
    assert!((9.0..=9.000_1).contains(&narrow));
    // Φ(−8) = 6.22e-16 (Abramowitz & Stegun 1964, table 26.2).
    assert!((normal_between(8.0, f64::INFINITY) / 6.220_96e-16 - 1.0).abs() < 1e-5);
}
