//! Taking in new readings against drawing anew with all of them.

use opal_geostat::{
    Bound, CoefficientPrior, ConditionalFields, CovarianceModel, Datum, Drift, Ensemble,
    FieldModel, FieldSet, Kernel, Lattice, Reading, Refusal, Trend, WeightedModel,
};
use opal_units::Seed;

const LATTICE: Lattice = Lattice {
    nx: 30,
    ny: 20,
    cell: 1.0,
    origin: [0.0, 0.0],
};

fn pair(range: f64, thickness_sd: f64) -> FieldSet {
    let field = |sill, range, drift: Drift, mean| {
        let trend = Trend::about(drift, LATTICE.centre());
        let mut coefficients = vec![CoefficientPrior::Normal { mean: 0.0, sd: 0.1 }; trend.terms()];
        coefficients[0] = CoefficientPrior::Normal { mean, sd: 1.0 };
        FieldModel {
            covariance: CovarianceModel::isotropic(Kernel::Matern32, sill, range),
            trend,
            coefficients,
        }
    };
    FieldSet::pair(
        field(0.6, range, Drift::Plane, 8.0),
        field(
            thickness_sd * thickness_sd,
            0.7 * range,
            Drift::Constant,
            1.5,
        ),
        0.3,
    )
}

fn models() -> Vec<WeightedModel> {
    [(5.0, 0.6, 0.4), (9.0, 0.9, 0.35), (15.0, 1.2, 0.25)]
        .map(|(range, sd, weight)| WeightedModel {
            weight,
            model: pair(range, sd),
        })
        .to_vec()
}

fn datum(reading: Reading, value: f64, sd: f64) -> Datum {
    Datum { reading, value, sd }
}

fn first_data() -> Vec<Datum> {
    vec![
        datum(Reading::first([3.0, 4.0]), 8.2, 0.1),
        datum(Reading::second([3.0, 4.0]), 1.4, 0.1),
        datum(Reading::first([26.0, 9.0]), 7.9, 0.1),
        datum(Reading::difference([14.5, 16.0]), 6.2, 0.1),
    ]
}

fn conditioned(
    models: &[WeightedModel],
    data: &[Datum],
    bounds: &[Bound],
    seed: u64,
) -> ConditionalFields {
    ConditionalFields::new(LATTICE, models, data, bounds, Seed(seed)).expect("conditions")
}

fn absorb(ensemble: &mut Ensemble, data: &[Datum], bounds: &[Bound]) -> Result<usize, Refusal> {
    let weighed = ensemble.weigh(data, bounds).expect("weighs");
    weighed.map(|draft| draft.take_in())
}

fn values(ensemble: &Ensemble, field: usize, node: usize) -> Vec<f64> {
    let cells = LATTICE.len();
    let mut out = vec![vec![0.0_f32; cells * ensemble.len()]; 2];
    let mut slices: Vec<&mut [f32]> = out.iter_mut().map(Vec::as_mut_slice).collect();
    ensemble.write(0, &mut slices);
    (0..ensemble.len())
        .map(|i| f64::from(out[field][i * cells + node]))
        .collect()
}

fn moments(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, variance)
}

/// Greatest distance of two empirical distributions over its 0.1 % point for equally
/// many values (Smirnov 1948: 1.949·√(2/n)).
fn apart(a: &[f64], b: &[f64]) -> f64 {
    let (mut a, mut b) = (a.to_vec(), b.to_vec());
    a.sort_by(f64::total_cmp);
    b.sort_by(f64::total_cmp);
    let mut worst = 0.0_f64;
    for (k, v) in a.iter().enumerate() {
        let other = b.partition_point(|w| w <= v);
        worst = worst.max(((k + 1) as f64 - other as f64).abs());
    }
    worst / a.len() as f64 / (1.949 * (2.0 / a.len() as f64).sqrt())
}

/// Under one model the moments at places are those of kriging from all data.
#[test]
fn under_one_model_the_moments_are_those_of_kriging_from_all() {
    let models = [WeightedModel {
        weight: 1.0,
        model: pair(8.0, 0.8),
    }];
    let mut ensemble = Ensemble::new(conditioned(&models, &first_data(), &[], 31), 3000, &|_| {});
    let new = [
        datum(Reading::difference([18.4, 6.3]), 6.9, 0.1),
        datum(Reading::second([18.4, 6.3]), 1.9, 0.2),
    ];
    assert_eq!(absorb(&mut ensemble, &new, &[]), Ok(0));
    let all = [first_data(), new.to_vec()].concat();
    let again = conditioned(&models, &all, &[], 31);
    for place in [[18.0, 6.0], [20.0, 9.0], [3.0, 16.0]] {
        let node = (place[1] * 30.0 + place[0]) as usize;
        for (field, reading) in [Reading::first(place), Reading::second(place)]
            .into_iter()
            .enumerate()
        {
            let (mean, sd) = again.predict(0, &reading).expect("inside");
            let (m, v) = moments(&values(&ensemble, field, node));
            let n = ensemble.len() as f64;
            assert!(
                (m - mean).abs() < 4.5 * sd / n.sqrt(),
                "{place:?}: {m} {mean}"
            );
            let off = (v / (sd * sd) - 1.0) / (2.0 / n).sqrt();
            assert!(off.abs() < 4.5, "{place:?}: {v} {}", sd * sd);
        }
    }
}

/// Several models, bounds before and after: the law at places is that of fields drawn
/// anew with everything, each model weighed by its likelihood.
#[test]
fn absorbing_is_in_law_drawing_anew_with_everything() {
    let n = 2000;
    let early = [Bound::at_least(Reading::second([24.0, 15.0]), 1.8, 0.0)];
    let new = [datum(Reading::first([18.0, 6.0]), 8.7, 0.1)];
    let late = [Bound::at_most(Reading::second([10.0, 7.0]), 0.6, 0.0)];
    let fields = conditioned(&models(), &first_data(), &early, 5);
    let mut ensemble = Ensemble::new(fields, n, &|_| {});
    absorb(&mut ensemble, &new, &[]).expect("agrees");
    assert!(absorb(&mut ensemble, &[], &late).expect("agrees") > 0);
    // The models' weights by plain counting: draws from the first readings that are
    // near the new datum in proportion to its density and within the new bound, and of
    // a large number of realisations, none of which is used again.
    let cells = LATTICE.len();
    let prior = conditioned(&models(), &first_data(), &early, 77);
    let mut shares = [0.0_f64; 3];
    for first in (0..16_000_u64).step_by(1000) {
        let mut out = vec![vec![0.0_f32; cells * 1000]; 2];
        let mut slices: Vec<&mut [f32]> = out.iter_mut().map(Vec::as_mut_slice).collect();
        prior.draw_into(first, &mut slices);
        for i in 0..1000 {
            let top = f64::from(out[0][i * cells + 6 * 30 + 18]);
            let thickness = out[1][i * cells + 7 * 30 + 10];
            if thickness <= 0.6 {
                let z: f64 = (8.7 - top) / 0.1;
                shares[prior.model_of(first + i as u64)] += (-0.5 * z * z).exp();
            }
        }
    }
    let weighed: Vec<WeightedModel> = models()
        .into_iter()
        .zip(shares)
        .map(|(model, weight)| WeightedModel { weight, ..model })
        .collect();
    let all = [first_data(), new.to_vec()].concat();
    let bounds = [early, late].concat();
    let again = Ensemble::new(conditioned(&weighed, &all, &bounds, 19), n, &|_| {});
    for (x, y) in [(10, 7), (12, 8), (18, 6), (24, 15), (28, 2)] {
        for field in 0..2 {
            let node = y * 30 + x;
            let (a, b) = (values(&ensemble, field, node), values(&again, field, node));
            // The shares above carry an error of their own, of about as much again.
            let apart = apart(&a, &b);
            assert!(apart < 1.5, "field {field} at ({x}, {y}): {apart}");
        }
    }
    let held = values(&ensemble, 1, 7 * 30 + 10);
    assert!(held.iter().all(|t| *t < 0.6 + 1e-3));
}

#[test]
fn a_reading_far_off_is_refused_and_changes_nothing() {
    let mut ensemble = Ensemble::new(conditioned(&models(), &first_data(), &[], 5), 200, &|_| {});
    let before = values(&ensemble, 0, 100);
    let far = datum(Reading::first([4.0, 4.0]), 14.0, 0.1);
    let near = datum(Reading::first([20.0, 4.0]), 8.0, 0.1);
    assert!(matches!(
        absorb(&mut ensemble, &[near, far], &[]),
        Err(Refusal::Contradicted { index: 1, chance }) if chance < 1e-4
    ));
    assert_eq!(before, values(&ensemble, 0, 100));
    let never = Bound::at_most(Reading::second([3.0, 4.0]), -3.0, 0.0);
    assert!(matches!(
        absorb(&mut ensemble, &[], &[never]),
        Err(Refusal::Contradicted { index: 0, .. })
    ));
    let outside = datum(Reading::first([40.0, 4.0]), 8.0, 0.1);
    assert!(ensemble.weigh(&[outside], &[]).is_err());
    assert_eq!(before, values(&ensemble, 0, 100));
}

/// Models that nearly contradict each other: one reading leaves about two of nine.
#[test]
fn too_few_models_left_is_said() {
    let level = |mean: f64, weight: f64| {
        let mut model = pair(8.0, 0.8);
        model.fields[0].coefficients[0] = CoefficientPrior::Known(mean);
        WeightedModel { weight, model }
    };
    let models: Vec<WeightedModel> = (0..9)
        .map(|k| level(4.0 + 2.0 * f64::from(k), 1.0))
        .collect();
    let mut ensemble = Ensemble::new(conditioned(&models, &[], &[], 5), 180, &|_| {});
    let new = datum(Reading::first([9.0, 9.0]), 8.0, 0.05);
    let done = absorb(&mut ensemble, &[new], &[]);
    assert!(
        matches!(done, Err(Refusal::TooFew { worth }) if worth < 1.0 / 3.0),
        "{done:?}"
    );
}

#[test]
fn same_bytes_on_one_thread_and_on_many() {
    let bytes = |threads: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool")
            .install(|| {
                let fields = conditioned(&models(), &first_data(), &[], 5);
                let mut ensemble = Ensemble::new(fields, 90, &|_| {});
                let bound = Bound::at_most(Reading::second([10.0, 7.0]), 0.9, 0.0);
                let new = datum(Reading::first([18.0, 6.0]), 8.7, 0.1);
                absorb(&mut ensemble, &[new], &[bound]).expect("agrees");
                (values(&ensemble, 0, 77), values(&ensemble, 1, 77))
            })
    };
    assert_eq!(bytes(1), bytes(3));
}
