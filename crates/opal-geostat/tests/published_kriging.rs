//! Kriging against worked examples.

use opal_geostat::{
    CovarianceModel, Datum, Drift, FieldModel, FieldSet, Kernel, Kriging, Reading, Trend,
};

/// Isaaks & Srivastava 1989, *An Introduction to Applied Geostatistics*, ch. 12:
/// the seven samples around 65E 137N.
const SAMPLES: [([f64; 2], f64); 7] = [
    ([61.0, 139.0], 477.0),
    ([63.0, 140.0], 696.0),
    ([64.0, 129.0], 227.0),
    ([68.0, 128.0], 646.0),
    ([71.0, 140.0], 606.0),
    ([73.0, 141.0], 791.0),
    ([75.0, 128.0], 783.0),
];
const TARGET: Reading = Reading::first([65.0, 137.0]);

fn data() -> Vec<Datum> {
    SAMPLES
        .iter()
        .map(|&(at, value)| Datum {
            reading: Reading::first(at),
            value,
            sd: 0.0,
        })
        .collect()
}

fn kriging(covariance: CovarianceModel, drift: Drift) -> Kriging {
    let field = FieldModel::flat(covariance, Trend::about(drift, [65.0, 137.0]));
    Kriging::new(&FieldSet::one(field), &data()).expect("solves")
}

fn exponential(nugget: f64, sill: f64, decay: f64) -> CovarianceModel {
    CovarianceModel::isotropic(Kernel::Matern12, sill, 1.0 / decay).with_nugget(nugget)
}

/// The variance of a new sample, which is what the book's C(0) − Σwc − μ counts.
fn with_nugget(kriging: &Kriging, nugget: f64) -> (f64, f64) {
    let estimate = kriging.estimate(&TARGET);
    (estimate.mean, estimate.variance + nugget)
}

fn close(got: (f64, f64), want: (f64, f64)) {
    assert!(
        (got.0 - want.0).abs() < 1e-3 && (got.1 - want.1).abs() < 1e-3,
        "{got:?} {want:?}"
    );
}

/// Isaaks & Srivastava 1989, ch. 12: C(h) = 10 exp(−0.3 h). Book: estimate 592.7,
/// variance 8.96, μ 0.907, weights .173 .318 .129 .086 .151 .057 .086; the further
/// digits by PyKrige 1.7.3 and GSTools 1.7.0, which agree.
#[test]
fn ordinary_kriging_of_the_seven_samples() {
    let kriging = kriging(exponential(0.0, 10.0, 0.3), Drift::Constant);
    close(with_nugget(&kriging, 0.0), (592.728_9, 8.956_1));
    let weights = kriging.weights(&TARGET);
    for (got, want) in weights
        .iter()
        .zip([0.1729, 0.3178, 0.1287, 0.0864, 0.1511, 0.0572, 0.0858])
    {
        assert!((got - want).abs() < 5e-4, "{got} {want}");
    }
    assert!((weights.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    // The book counts the multiplier with the other sign.
    assert!((kriging.multipliers(&TARGET)[0] + 0.907).abs() < 5e-4);
}

/// The book's sensitivity variants on the same samples: sill doubled, nugget,
/// Gaussian shape, doubled range, pure nugget. Digits by numpy 2.4 on the same
/// formulas.
#[test]
fn variants_of_the_model() {
    let ordinary = |model| kriging(model, Drift::Constant);
    close(
        with_nugget(&ordinary(exponential(0.0, 20.0, 0.3)), 0.0),
        (592.728_9, 17.912_1),
    );
    close(
        with_nugget(&ordinary(exponential(5.0, 5.0, 0.3)), 5.0),
        (596.777_0, 10.305_9),
    );
    close(
        with_nugget(&ordinary(exponential(0.0, 10.0, 0.15)), 0.0),
        (572.389_9, 5.758_5),
    );
    // 10 exp(−3(h/10)²) is a squared exponential of range 10/√6.
    let gaussian =
        CovarianceModel::isotropic(Kernel::SquaredExponential, 10.0, 10.0 / 6.0_f64.sqrt());
    let gaussian = ordinary(gaussian);
    close(with_nugget(&gaussian, 0.0), (559.370_0, 4.780_6));
    let least = gaussian
        .weights(&TARGET)
        .into_iter()
        .fold(f64::INFINITY, f64::min);
    assert!((least + 0.288).abs() < 1e-3);
    close(
        with_nugget(&ordinary(exponential(10.0, 0.0, 0.3)), 10.0),
        (603.714_3, 11.428_6),
    );
}

/// Simple kriging's weights on the same samples sum to 0.58415 (numpy 2.4).
#[test]
fn simple_kriging_leaves_the_rest_to_the_mean() {
    let kriging = kriging(exponential(0.0, 10.0, 0.3), Drift::Zero);
    let sum: f64 = kriging.weights(&TARGET).iter().sum();
    assert!((sum - 0.584_15).abs() < 1e-5, "{sum}");
}

/// A quadratic trend through quadratic data leaves no error anywhere.
#[test]
fn universal_kriging_returns_a_quadratic() {
    let surface =
        |p: [f64; 2]| 1.0 + 0.5 * p[0] - 0.2 * p[1] + 0.03 * p[0] * p[0] - 0.01 * p[0] * p[1];
    let data: Vec<Datum> = (0..25)
        .map(|k| {
            let at = [f64::from(k % 5) * 2.0, f64::from(k / 5) * 1.5];
            Datum {
                reading: Reading::first(at),
                value: surface(at),
                sd: 0.1,
            }
        })
        .collect();
    let model = CovarianceModel::isotropic(Kernel::Matern52, 1.0, 3.0);
    let field = FieldModel::flat(model, Trend::about(Drift::Quadratic, [4.0, 3.0]));
    let kriging = Kriging::new(&FieldSet::one(field), &data).expect("solves");
    for at in [[1.0, 1.0], [7.3, 2.2], [-3.0, 9.0]] {
        let mean = kriging.estimate(&Reading::first(at)).mean;
        assert!((mean - surface(at)).abs() < 1e-8);
    }
}

/// Closed form against doing it: each datum left out in turn.
#[test]
fn leave_one_out_is_what_leaving_one_out_gives() {
    for drift in [Drift::Zero, Drift::Constant, Drift::Plane] {
        let covariance = exponential(4.0, 9000.0, 0.1);
        let field = FieldModel::flat(covariance, Trend::about(drift, [68.0, 135.0]));
        let model = FieldSet::one(field);
        let data = data();
        let closed = Kriging::new(&model, &data).expect("solves").leave_one_out();
        for (k, left) in closed.iter().enumerate() {
            let mut others = data.clone();
            let one = others.remove(k);
            let estimate = Kriging::new(&model, &others)
                .expect("solves")
                .estimate(&one.reading);
            assert!((left.residual - (one.value - estimate.mean)).abs() < 1e-7);
            assert!((left.sd.powi(2) - (estimate.variance + 4.0)).abs() < 1e-5);
        }
    }
}
