//! Published examples of partial pooling.

use opal_learn::{GroupSpread, Groups, beta_binomial, gamma_poisson, normal_groups};
use opal_units::Seed;

const SCHOOLS: [(f64, f64); 8] = [
    (28.0, 15.0),
    (8.0, 10.0),
    (-3.0, 16.0),
    (7.0, 11.0),
    (-1.0, 9.0),
    (1.0, 11.0),
    (18.0, 10.0),
    (12.0, 18.0),
];

/// Gelman et al. (2013), *Bayesian Data Analysis*, §5.5, tables 5.2 and 5.3 (200
/// draws: school A at 2.5 to 97.5 %: −2, 7, 10, 16, 31). The digits beyond the
/// book's are by quadrature of the same posterior (scipy 1.17).
#[test]
fn eight_schools() {
    let any = Groups {
        centre: None,
        spread: GroupSpread::Any,
    };
    let pooled = normal_groups(&SCHOOLS, any).expect("eight schools");
    let near =
        |got: f64, wanted: f64, by: f64| assert!((got - wanted).abs() < by, "{got} {wanted}");
    let (mean, sd) = pooled.group(0);
    near(mean, 11.40, 0.02);
    near(sd, 8.34, 0.05);
    near(pooled.group(4).0, 5.13, 0.02);
    near(pooled.group(6).0, 10.67, 0.02);
    near(pooled.centre().0, 7.932, 0.02);
    near(pooled.centre().1, 5.178, 0.06);
    for (share, tau) in [(0.25, 2.47), (0.5, 5.24), (0.75, 9.12)] {
        near(pooled.spread_quantile(share), tau, 0.03);
    }
    for (share, a) in [
        (0.025, -2.1),
        (0.25, 6.0),
        (0.5, 10.2),
        (0.75, 15.5),
        (0.975, 31.6),
    ] {
        near(pooled.group_quantile(0, share), a, 0.08);
    }
    let n = 4000;
    let mean = (0..n)
        .map(|i| pooled.draw(&mut Seed(3).stream("schools", i))[0])
        .sum::<f64>()
        / n as f64;
    // Four standard errors of the draws' mean.
    near(mean, 11.40, 4.0 * 8.34 / (n as f64).sqrt());
}

/// Gelman et al. (2013), §5.3: 71 groups of rats (Tarone 1982, Biometrics 38).
/// E α = 2.4, E β = 14.3 in the book; θ₇₁ by the same grid.
#[test]
fn rat_tumours() {
    let mut y: Vec<f64> = vec![0.0; 14];
    y.extend([1.0; 8]);
    y.extend([2.0; 9]);
    y.extend([
        1.0, 5.0, 2.0, 5.0, 3.0, 2.0, 7.0, 7.0, 3.0, 3.0, 2.0, 9.0, 10.0,
    ]);
    y.extend([4.0; 7]);
    y.extend([10.0, 4.0, 4.0, 4.0, 5.0, 11.0, 12.0, 5.0, 5.0, 6.0, 5.0]);
    y.extend([6.0, 6.0, 6.0, 6.0, 16.0, 15.0, 15.0, 9.0, 4.0]);
    let mut n: Vec<f64> = vec![20.0; 7];
    n.extend([19.0; 4]);
    n.extend([18.0, 18.0, 17.0]);
    n.extend([20.0; 4]);
    n.extend([19.0, 19.0, 18.0, 18.0, 25.0, 24.0, 23.0]);
    n.extend([20.0; 6]);
    n.extend([
        10.0, 49.0, 19.0, 46.0, 27.0, 17.0, 49.0, 47.0, 20.0, 20.0, 13.0, 48.0, 50.0,
    ]);
    n.extend([20.0; 7]);
    n.extend([
        48.0, 19.0, 19.0, 19.0, 22.0, 46.0, 49.0, 20.0, 20.0, 23.0, 19.0,
    ]);
    n.extend([22.0, 20.0, 20.0, 20.0, 52.0, 46.0, 47.0, 24.0, 14.0]);
    assert_eq!((y.len(), n.len()), (71, 71));
    assert_eq!(
        (y.iter().sum::<f64>(), n.iter().sum::<f64>()),
        (267.0, 1739.0)
    );
    let groups: Vec<(f64, f64)> = y.into_iter().zip(n).collect();
    let pooled = beta_binomial(&groups).expect("71 groups");
    let (alpha, beta) = pooled.population();
    assert!((alpha - 2.403).abs() < 0.02, "{alpha}");
    assert!((beta - 14.320).abs() < 0.1, "{beta}");
    let (last, _) = pooled.group(70);
    assert!((last - 0.2109).abs() < 0.001, "{last}");
}

/// Ten pumps (Gaver & O'Muircheartaigh 1987, Technometrics 29:1–15) with the
/// beliefs of the BUGS examples, volume 1: α about .70, β .93, rates .060 to 1.99.
#[test]
fn pumps() {
    let counts = [5.0, 1.0, 5.0, 14.0, 3.0, 19.0, 1.0, 1.0, 4.0, 22.0];
    let hours = [94.3, 15.7, 62.9, 126.0, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5];
    let groups: Vec<(f64, f64)> = counts.into_iter().zip(hours).collect();
    let pooled = gamma_poisson(&groups).expect("ten pumps");
    let (alpha, beta) = pooled.population();
    assert!(
        (alpha - 0.697).abs() < 0.003 && (beta - 0.927).abs() < 0.003,
        "{alpha} {beta}"
    );
    for (pump, rate) in [(0, 0.0598), (4, 0.6013), (9, 1.9898)] {
        assert!((pooled.group(pump).0 - rate).abs() < 0.003, "{pump}");
    }
    // A count of 22 makes a law that is nearly even: its middle is near its mean,
    // and nine in ten lie within 1.645 standard deviations or so.
    let (mean, sd) = pooled.group(9);
    assert!((pooled.group_quantile(9, 0.5) - mean).abs() < 0.06);
    let width = pooled.group_quantile(9, 0.95) - pooled.group_quantile(9, 0.05);
    assert!((width / (2.0 * 1.645 * sd) - 1.0).abs() < 0.03, "{width}");
    let unmet = pooled.unmet_median();
    assert!(unmet > pooled.group(0).0 && unmet < pooled.group(9).0);
}

/// One odd group among believed ones is pulled back; the same oddity seen often
/// is not.
#[test]
fn one_group_is_not_over_believed() {
    let belief = Groups {
        centre: Some((0.0, 0.3)),
        spread: GroupSpread::HalfNormal(0.3),
    };
    let after = |error: f64| {
        normal_groups(&[(2.0, error)], belief)
            .expect("a group")
            .group(0)
            .0
    };
    assert!(after(0.8) < 0.6, "{}", after(0.8));
    assert!(after(0.08) > 1.7, "{}", after(0.08));
    assert!(normal_groups(&[], belief).is_err());
    assert!(normal_groups(&[(0.0, 0.0)], belief).is_err());
    assert!(beta_binomial(&[(3.0, 2.0)]).is_err());
    assert!(gamma_poisson(&[(3.0, 0.0)]).is_err());
}
