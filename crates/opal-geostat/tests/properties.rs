//! What must hold for any data.

use opal_geostat::{
    CovarianceModel, Datum, Drift, FieldModel, FieldSet, Kernel, Kriging, Reading, Trend,
};
use proptest::prelude::*;

fn kernels() -> impl Strategy<Value = Kernel> {
    prop_oneof![
        Just(Kernel::Matern12),
        Just(Kernel::Matern32),
        Just(Kernel::Matern52),
        Just(Kernel::Spherical),
    ]
}

fn drifts() -> impl Strategy<Value = Drift> {
    prop_oneof![Just(Drift::Zero), Just(Drift::Constant), Just(Drift::Plane)]
}

/// Data on distinct cells of a 20 × 20 board, a little off the middle.
fn data() -> impl Strategy<Value = Vec<Datum>> {
    prop::collection::btree_map(0_u32..400, (0.0..0.5_f64, -3.0..3.0_f64), 8..25).prop_map(|map| {
        map.into_iter()
            .map(|(cell, (shift, value))| Datum {
                reading: Reading::first([
                    f64::from(cell % 20) + shift,
                    f64::from(cell / 20) - 0.3 * shift,
                ]),
                value,
                sd: 0.0,
            })
            .collect()
    })
}

fn model(kernel: Kernel, range: f64, ratio: f64, drift: Drift) -> FieldSet {
    let covariance = CovarianceModel::isotropic(kernel, 1.3, range).with_anisotropy(ratio, 0.4);
    FieldSet::one(FieldModel::flat(
        covariance,
        Trend::about(drift, [10.0, 10.0]),
    ))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn kriging_returns_its_data(
        data in data(), kernel in kernels(), drift in drifts(),
        range in 0.5..30.0_f64, ratio in 0.2..1.0_f64,
    ) {
        // A plane needs readings that are not all in one row.
        if let Ok(kriging) = Kriging::new(&model(kernel, range, ratio, drift), &data) {
            for datum in &data {
                let estimate = kriging.estimate(&datum.reading);
                prop_assert!((estimate.mean - datum.value).abs() < 1e-6);
                prop_assert!(estimate.variance < 1e-6);
            }
        }
    }

    #[test]
    fn one_more_datum_never_raises_the_variance(
        data in data(), kernel in kernels(), drift in drifts(),
        range in 0.5..30.0_f64, at in (0.0..20.0_f64, 0.0..20.0_f64),
    ) {
        let model = model(kernel, range, 0.7, drift);
        let (last, fewer) = data.split_last().expect("8 or more");
        if let (Ok(all), Ok(some)) = (Kriging::new(&model, &data), Kriging::new(&model, fewer)) {
            for target in [[at.0, at.1], last.reading.at] {
                let reading = Reading::first(target);
                prop_assert!(
                    all.estimate(&reading).variance <= some.estimate(&reading).variance + 1e-8
                );
            }
        }
    }

    #[test]
    fn weights_reproduce_the_trend(
        data in data(), kernel in kernels(), range in 0.5..30.0_f64,
        at in (0.0..20.0_f64, 0.0..20.0_f64),
    ) {
        if let Ok(kriging) = Kriging::new(&model(kernel, range, 0.7, Drift::Plane), &data) {
            let weights = kriging.weights(&Reading::first([at.0, at.1]));
            let sum = |f: &dyn Fn(&Datum) -> f64| -> f64 {
                weights.iter().zip(&data).map(|(w, d)| w * f(d)).sum()
            };
            prop_assert!((sum(&|_| 1.0) - 1.0).abs() < 1e-8);
            prop_assert!((sum(&|d| d.reading.at[0]) - at.0).abs() < 1e-6);
            prop_assert!((sum(&|d| d.reading.at[1]) - at.1).abs() < 1e-6);
        }
    }
}
