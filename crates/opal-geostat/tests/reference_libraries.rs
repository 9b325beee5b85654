//! Against general-purpose libraries on the same invented data:
//! tests/reference/geostat.py wrote tests/reference/geostat.json (versions within).

use opal_geostat::{
    CoefficientPrior, CovarianceModel, Datum, Drift, FieldModel, FieldSet, Kernel, Kriging,
    Reading, Trend, experimental_variogram,
};
use serde_json::Value;

fn reference() -> Value {
    serde_json::from_str(include_str!("../../../tests/reference/geostat.json")).expect("JSON")
}

fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .expect("a list")
        .iter()
        .map(|v| v.as_f64().expect("a number"))
        .collect()
}

fn places(value: &Value) -> Vec<[f64; 2]> {
    value
        .as_array()
        .expect("a list")
        .iter()
        .map(|place| {
            let xy = numbers(place);
            [xy[0], xy[1]]
        })
        .collect()
}

fn data(reference: &Value, sd: f64) -> Vec<Datum> {
    places(&reference["places"])
        .into_iter()
        .zip(numbers(&reference["values"]))
        .map(|(at, value)| Datum {
            reading: Reading::first(at),
            value,
            sd,
        })
        .collect()
}

fn holds(reference: &Value, kriging: &Kriging, means: &Value, variances: &[f64], tolerance: f64) {
    let targets = places(&reference["targets"]);
    for ((at, mean), variance) in targets.iter().zip(numbers(means)).zip(variances) {
        let got = kriging.estimate(&Reading::first(*at));
        assert!((got.mean - mean).abs() < tolerance, "{got:?} {mean}");
        assert!(
            (got.variance - variance).abs() < tolerance,
            "{got:?} {variance}"
        );
    }
}

#[test]
fn gaussian_processes_as_scikit_learn() {
    let reference = reference();
    for case in reference["gaussian_process"].as_array().expect("a list") {
        let kernel = match case["nu"].as_f64() {
            Some(0.5) => Kernel::Matern12,
            Some(1.5) => Kernel::Matern32,
            _ => Kernel::Matern52,
        };
        let field = FieldModel {
            covariance: CovarianceModel::isotropic(kernel, 0.7, 6.0),
            trend: Trend::about(Drift::Constant, [0.0, 0.0]),
            coefficients: vec![CoefficientPrior::Known(8.0)],
        };
        let kriging = Kriging::new(&FieldSet::one(field), &data(&reference, 0.1)).expect("solves");
        let likelihood = case["log_likelihood"].as_f64().expect("a number");
        assert!((kriging.log_likelihood() - likelihood).abs() < 1e-7);
        let variances: Vec<f64> = numbers(&case["sd"]).iter().map(|sd| sd * sd).collect();
        holds(&reference, &kriging, &case["mean"], &variances, 1e-7);
    }
}

#[test]
fn ordinary_and_universal_kriging_as_pykrige() {
    let reference = reference();
    let covariance = CovarianceModel::isotropic(Kernel::Matern12, 0.8, 5.0);
    for (key, drift) in [("ordinary", Drift::Constant), ("plane", Drift::Plane)] {
        let field = FieldModel::flat(covariance, Trend::about(drift, [15.0, 10.0]));
        let kriging = Kriging::new(&FieldSet::one(field), &data(&reference, 0.0)).expect("solves");
        let variances = numbers(&reference[key]["variance"]);
        holds(
            &reference,
            &kriging,
            &reference[key]["mean"],
            &variances,
            1e-7,
        );
    }
}

#[test]
fn anisotropic_kriging_as_gstools() {
    let reference = reference();
    let covariance =
        CovarianceModel::isotropic(Kernel::Matern32, 0.6, 8.0).with_anisotropy(3.0 / 8.0, 0.6);
    let field = FieldModel::flat(covariance, Trend::about(Drift::Constant, [15.0, 10.0]));
    let kriging =
        Kriging::new(&FieldSet::one(field), &data(&reference, 0.02_f64.sqrt())).expect("solves");
    let variances = numbers(&reference["anisotropic"]["variance"]);
    holds(
        &reference,
        &kriging,
        &reference["anisotropic"]["mean"],
        &variances,
        1e-6,
    );
}

#[test]
fn experimental_variogram_as_gstools() {
    let reference = reference();
    let bins = experimental_variogram(
        &places(&reference["places"]),
        &numbers(&reference["values"]),
        12.0,
        1.5,
    );
    let wanted = reference["variogram"].as_array().expect("a list");
    assert_eq!(bins.len(), wanted.len());
    for (bin, want) in bins.iter().zip(wanted) {
        assert_eq!(Some(bin.pairs as u64), want["pairs"].as_u64());
        let semivariance = want["semivariance"].as_f64().expect("a number");
        assert!((bin.semivariance - semivariance).abs() < 1e-12);
    }
}
