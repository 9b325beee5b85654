//! Likelihoods against published fits and a general-purpose library.

use opal_geostat::{
    CoefficientPrior, CovarianceModel, Datum, Drift, FieldModel, FieldSet, Kernel, Kriging,
    Likelihood, Reading, Trend, maximum_likelihood,
};

/// Surface elevations, Davis 1972, *Statistics and Data Analysis in Geology*
/// (x, y in units of 50 feet, z in feet).
const ELEVATIONS: [[f64; 3]; 52] = [
    [0.3, 6.1, 870.0],
    [1.4, 6.2, 793.0],
    [2.4, 6.1, 755.0],
    [3.6, 6.2, 690.0],
    [5.7, 6.2, 800.0],
    [1.6, 5.2, 800.0],
    [2.9, 5.1, 730.0],
    [3.4, 5.3, 728.0],
    [3.4, 5.7, 710.0],
    [4.8, 5.6, 780.0],
    [5.3, 5.0, 804.0],
    [6.2, 5.2, 855.0],
    [0.2, 4.3, 830.0],
    [0.9, 4.2, 813.0],
    [2.3, 4.8, 762.0],
    [2.5, 4.5, 765.0],
    [3.0, 4.5, 740.0],
    [3.5, 4.5, 765.0],
    [4.1, 4.6, 760.0],
    [4.9, 4.2, 790.0],
    [6.3, 4.3, 820.0],
    [0.9, 3.2, 855.0],
    [1.7, 3.8, 812.0],
    [2.4, 3.8, 773.0],
    [3.7, 3.5, 812.0],
    [4.5, 3.2, 827.0],
    [5.2, 3.2, 805.0],
    [6.3, 3.4, 840.0],
    [0.3, 2.4, 890.0],
    [2.0, 2.7, 820.0],
    [3.8, 2.3, 873.0],
    [6.3, 2.2, 875.0],
    [0.6, 1.7, 873.0],
    [1.5, 1.8, 865.0],
    [2.1, 1.8, 841.0],
    [2.1, 1.1, 862.0],
    [3.1, 1.1, 908.0],
    [4.5, 1.8, 855.0],
    [5.5, 1.7, 850.0],
    [5.7, 1.0, 882.0],
    [6.2, 1.0, 910.0],
    [0.4, 0.5, 940.0],
    [1.4, 0.6, 915.0],
    [1.4, 0.1, 890.0],
    [2.1, 0.7, 880.0],
    [2.3, 0.3, 870.0],
    [3.1, 0.0, 880.0],
    [4.1, 0.8, 960.0],
    [5.4, 0.4, 890.0],
    [6.0, 0.1, 860.0],
    [5.7, 3.0, 830.0],
    [3.6, 6.0, 705.0],
];

fn elevations() -> Vec<Datum> {
    ELEVATIONS
        .iter()
        .map(|&[x, y, value]| Datum {
            reading: Reading::first([x, y]),
            value,
            sd: 0.0,
        })
        .collect()
}

/// Diggle & Ribeiro 2007, *Model-based Geostatistics*, the elevation data by maximum
/// likelihood: six maxima, constant mean and plane, smoothness ½, 3/2, 5/2.
#[test]
fn six_maxima_of_the_elevations() {
    let published = [
        (Drift::Constant, Kernel::Matern12, -244.60),
        (Drift::Constant, Kernel::Matern32, -242.10),
        (Drift::Constant, Kernel::Matern52, -242.33),
        (Drift::Plane, Kernel::Matern12, -242.71),
        (Drift::Plane, Kernel::Matern32, -240.08),
        (Drift::Plane, Kernel::Matern52, -239.75),
    ];
    for (drift, kernel, want) in published {
        let trend = Trend::about(drift, [0.0, 0.0]);
        let got = maximum_likelihood(kernel, trend, Likelihood::Full, &elevations())
            .expect("fits")
            .log_likelihood;
        assert!(
            (got - want).abs() < 0.01,
            "{drift:?} {kernel:?}: {got} {want}"
        );
    }
}

/// The same source: plane, smoothness 3/2. The book's scale φ is in h/φ, so the
/// range here is φ·√3.
#[test]
fn parameters_of_the_elevations() {
    let trend = Trend::about(Drift::Plane, [0.0, 0.0]);
    let fit =
        maximum_likelihood(Kernel::Matern32, trend, Likelihood::Full, &elevations()).expect("fits");
    let got = [
        fit.trend[0],
        fit.trend[1],
        fit.trend[2],
        fit.covariance.sill,
        fit.covariance.range / 3.0_f64.sqrt(),
        fit.covariance.nugget,
    ];
    for (got, want) in got
        .iter()
        .zip([912.49, -4.99, -16.46, 1693.2, 0.806, 34.88])
    {
        assert!((got / want - 1.0).abs() < 0.01, "{got} {want}");
    }
}

/// Restricted likelihood gives the trend's freedom back: its sill is larger.
#[test]
fn restricted_likelihood_does_not_understate_the_sill() {
    let trend = Trend::about(Drift::Plane, [3.0, 3.0]);
    let fit = |likelihood| {
        maximum_likelihood(Kernel::Matern32, trend, likelihood, &elevations())
            .expect("fits")
            .covariance
            .sill
    };
    assert!(fit(Likelihood::Restricted) > 1.05 * fit(Likelihood::Full));
}

/// scikit-learn 1.9.1, GaussianProcessRegressor without optimiser: 40000·Matérn(10,
/// 3/2) + noise 400 on the seven samples of Isaaks & Srivastava 1989 ch. 12, less 600.
#[test]
fn gaussian_process_of_seven_samples() {
    let samples = [
        [61.0, 139.0, 477.0],
        [63.0, 140.0, 696.0],
        [64.0, 129.0, 227.0],
        [68.0, 128.0, 646.0],
        [71.0, 140.0, 606.0],
        [73.0, 141.0, 791.0],
        [75.0, 128.0, 783.0],
    ];
    let data: Vec<Datum> = samples
        .iter()
        .map(|&[x, y, value]| Datum {
            reading: Reading::first([x, y]),
            value,
            sd: 20.0,
        })
        .collect();
    let field = FieldModel {
        covariance: CovarianceModel::isotropic(Kernel::Matern32, 40_000.0, 10.0),
        trend: Trend::about(Drift::Constant, [0.0, 0.0]),
        coefficients: vec![CoefficientPrior::Known(600.0)],
    };
    let kriging = Kriging::new(&FieldSet::one(field), &data).expect("solves");
    assert!((kriging.log_likelihood() + 55.320_497).abs() < 1e-5);
    let estimate = kriging.estimate(&Reading::first([65.0, 137.0]));
    assert!((estimate.mean - 519.957_609).abs() < 1e-4);
    assert!((estimate.variance.sqrt() - 78.135_378).abs() < 1e-4);
    assert!(((estimate.variance + 400.0).sqrt() - 80.654_431).abs() < 1e-4);
}

/// A normal prior on the constant is a field with one more covariance everywhere:
/// the densities must agree (Rasmussen & Williams 2006, §2.7).
#[test]
fn normal_coefficients_are_covariance_in_another_coat() {
    let data: Vec<Datum> = elevations()[..12].to_vec();
    let covariance = CovarianceModel::isotropic(Kernel::Matern32, 900.0, 1.5).with_nugget(30.0);
    let field = FieldModel {
        covariance,
        trend: Trend::about(Drift::Constant, [0.0, 0.0]),
        coefficients: vec![CoefficientPrior::Normal {
            mean: 800.0,
            sd: 50.0,
        }],
    };
    let model = FieldSet::one(field);
    let kriging = Kriging::new(&model, &data).expect("solves");
    // The same by a second field of endless range that carries the mean.
    let second = FieldModel {
        covariance: CovarianceModel::isotropic(Kernel::SquaredExponential, 2500.0, 1e9),
        trend: Trend::about(Drift::Constant, [0.0, 0.0]),
        coefficients: vec![CoefficientPrior::Known(800.0)],
    };
    let first = FieldModel {
        covariance,
        trend: Trend::about(Drift::Zero, [0.0, 0.0]),
        coefficients: Vec::new(),
    };
    let both: Vec<Datum> = data
        .iter()
        .map(|datum| Datum {
            reading: Reading {
                on: [1.0, 1.0],
                ..datum.reading
            },
            ..*datum
        })
        .collect();
    let pair = FieldSet::pair(first, second, 0.0);
    let other = Kriging::new(&pair, &both).expect("solves");
    assert!((kriging.log_likelihood() - other.log_likelihood()).abs() < 1e-6);
    let at = [2.0, 3.0];
    let (a, b) = (
        kriging.estimate(&Reading::first(at)),
        other.estimate(&Reading { at, on: [1.0, 1.0] }),
    );
    assert!((a.mean - b.mean).abs() < 1e-6 && (a.variance - b.variance).abs() < 1e-5);
}
