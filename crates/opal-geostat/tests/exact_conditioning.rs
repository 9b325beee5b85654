//! Conditional fields against the exact posterior.

use opal_geostat::{
    Bound, BreakLine, CoefficientPrior, ConditionError, ConditionalFields, CovarianceModel, Datum,
    Drift, FieldModel, FieldSet, Kernel, Kriging, Lattice, Reading, Trend, WeightedModel,
};
use opal_units::Seed;

fn lattice(nx: usize, ny: usize) -> Lattice {
    Lattice {
        nx,
        ny,
        cell: 1.0,
        origin: [0.0, 0.0],
    }
}

fn zero_mean(covariance: CovarianceModel) -> FieldModel {
    FieldModel::flat(covariance, Trend::about(Drift::Zero, [0.0, 0.0]))
}

fn sure(model: FieldSet) -> Vec<WeightedModel> {
    vec![WeightedModel { weight: 1.0, model }]
}

fn datum(reading: Reading, value: f64, sd: f64) -> Datum {
    Datum { reading, value, sd }
}

/// Mean and variance of `draws` values.
fn moments(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, variance)
}

/// The values of field `field` at a node over realisations.
fn at_node(fields: &ConditionalFields, draws: u64, field: usize, nodes: &[usize]) -> Vec<Vec<f64>> {
    let cells = fields.lattice().len();
    let mut out = vec![vec![0.0_f32; cells * draws as usize]; fields.fields()];
    let mut slices: Vec<&mut [f32]> = out.iter_mut().map(Vec::as_mut_slice).collect();
    fields.draw_into(0, &mut slices);
    nodes
        .iter()
        .map(|node| {
            (0..draws as usize)
                .map(|i| f64::from(out[field][i * cells + node]))
                .collect()
        })
        .collect()
}

/// Mean within `z` standard errors, variance within `z` of its own.
fn agrees(values: &[f64], mean: f64, variance: f64, z: f64) {
    let n = values.len() as f64;
    let (m, v) = moments(values);
    let mean_error = (m - mean) / (variance / n).sqrt().max(1e-6);
    let variance_error = (v / variance.max(1e-12) - 1.0) / (2.0 / n).sqrt();
    assert!(mean_error.abs() < z, "mean {m} for {mean}: {mean_error} se");
    assert!(
        variance < 1e-9 || variance_error.abs() < z,
        "variance {v} for {variance}: {variance_error} se"
    );
}

fn five_data() -> Vec<Datum> {
    [
        ([5.0, 5.0], 1.2),
        ([40.0, 10.0], -0.5),
        ([20.0, 50.0], 0.3),
        ([60.0, 60.0], 2.0),
        ([33.0, 33.0], -1.0),
    ]
    .map(|(at, value)| datum(Reading::first(at), value, 0.1))
    .to_vec()
}

/// Posterior by numpy 2.4 (Cholesky) for a 64² lattice, Matérn 3/2 with ℓ = 12 and
/// sill 1, error variance 0.01 (an example of our own).
#[test]
fn mean_and_variance_at_two_nodes() {
    let model = CovarianceModel::isotropic(Kernel::Matern32, 1.0, 12.0);
    let fields = ConditionalFields::new(
        lattice(64, 64),
        &sure(FieldSet::one(zero_mean(model))),
        &five_data(),
        &[],
        Seed(11),
    )
    .expect("conditions");
    assert!(fields.clipped_share() < 1e-4);
    let wanted = [
        ([10.0, 10.0], 0.814_191_876, 0.472_187_782),
        ([33.0, 34.0], -0.962_892_339, 0.028_005_522),
    ];
    let draws = 2_000;
    let nodes: Vec<usize> = wanted
        .iter()
        .map(|(at, ..)| (at[1] * 64.0 + at[0]) as usize)
        .collect();
    let values = at_node(&fields, draws, 0, &nodes);
    let set = FieldSet::one(zero_mean(model));
    let exact = Kriging::new(&set, &five_data()).expect("solves");
    for ((at, mean, variance), values) in wanted.into_iter().zip(&values) {
        let estimate = exact.estimate(&Reading::first(at));
        assert!((estimate.mean - mean).abs() < 1e-6);
        assert!(
            (estimate.variance - variance).abs() < 1e-6,
            "{} {variance}",
            estimate.variance
        );
        let (m, sd) = fields
            .predict(0, &Reading::first(at))
            .expect("on the lattice");
        // Embedding and spline together err by up to 1e-3 of the sill.
        assert!((m - mean).abs() < 1e-3, "{m} {mean}");
        assert!((sd * sd - variance).abs() < 1e-3);
        agrees(values, mean, variance, 4.0);
    }
}

/// One datum at 0, exponential model of range 1: cov(Z(−1), Z(1) | Z(0)) is
/// e⁻² − e⁻¹e⁻¹ = 0; scaling a free field by the kriging sd would leave
/// e⁻²(1 − e⁻²) = 0.117 (closed form).
#[test]
fn one_datum_separates_its_two_sides() {
    let model = CovarianceModel::isotropic(Kernel::Matern12, 1.0, 1.0);
    let fields = ConditionalFields::new(
        lattice(9, 3),
        &sure(FieldSet::one(zero_mean(model))),
        &[datum(Reading::first([4.0, 1.0]), 0.0, 0.0)],
        &[],
        Seed(5),
    )
    .expect("conditions");
    let (left, right) = (Reading::first([3.0, 1.0]), Reading::first([5.0, 1.0]));
    let exact = fields.predict_covariance(0, &left, &right).expect("inside");
    assert!(exact.abs() < 2e-3, "{exact}");
    let draws = 20_000;
    let values = at_node(&fields, draws, 0, &[9 + 3, 9 + 5]);
    let product: f64 = values[0]
        .iter()
        .zip(&values[1])
        .map(|(a, b)| a * b)
        .sum::<f64>()
        / draws as f64;
    // Each has variance 1 − e⁻², so the product's se is that over √draws.
    let se = (1.0 - (-2.0_f64).exp()) / (draws as f64).sqrt();
    assert!(product.abs() < 4.0 * se, "{product}, se {se}");
    assert!((product - 0.117_02).abs() > 10.0 * se);
}

fn two_fields() -> FieldSet {
    let top = FieldModel::flat(
        CovarianceModel::isotropic(Kernel::Matern32, 0.8, 9.0).with_anisotropy(0.6, 0.5),
        Trend::about(Drift::Plane, [15.0, 10.0]),
    );
    let thickness = FieldModel {
        covariance: CovarianceModel::isotropic(Kernel::Matern52, 0.3, 5.0).with_nugget(0.01),
        trend: Trend::about(Drift::Constant, [15.0, 10.0]),
        coefficients: vec![CoefficientPrior::Normal { mean: 1.5, sd: 0.5 }],
    };
    FieldSet::pair(top, thickness, -0.4)
}

fn mixed_data() -> Vec<Datum> {
    vec![
        datum(Reading::first([2.0, 3.0]), 9.1, 0.1),
        datum(Reading::first([27.0, 4.0]), 8.2, 0.0),
        datum(Reading::first([14.0, 18.0]), 9.9, 0.1),
        datum(Reading::second([14.0, 18.0]), 1.1, 0.05),
        datum(Reading::difference([8.0, 9.0]), 7.4, 0.2),
        datum(Reading::difference([21.0, 15.0]), 7.9, 0.0),
    ]
}

/// Two fields read singly and as a difference: draws against universal cokriging
/// of the same data at places, which knows nothing of tori.
#[test]
fn two_fields_read_singly_and_as_a_difference() {
    let model = two_fields();
    let fields = ConditionalFields::new(
        lattice(30, 20),
        &sure(model.clone()),
        &mixed_data(),
        &[],
        Seed(3),
    )
    .expect("conditions");
    let exact = Kriging::new(&model, &mixed_data()).expect("solves");
    let draws = 3_000;
    for place in [[5.0, 5.0], [20.0, 10.0], [29.0, 19.0], [14.0, 17.0]] {
        let node = (place[1] * 30.0 + place[0]) as usize;
        for field in 0..2 {
            let reading = if field == 0 {
                Reading::first(place)
            } else {
                Reading::second(place)
            };
            let want = exact.estimate(&reading);
            let (mean, sd) = fields.predict(0, &reading).expect("inside");
            assert!((mean - want.mean).abs() < 4e-3, "{mean} {want:?}");
            assert!((sd * sd - want.variance).abs() < 4e-3, "{sd} {want:?}");
            let values = at_node(&fields, draws, field, &[node]);
            agrees(&values[0], mean, sd * sd, 4.5);
        }
    }
}

/// Readings without error are met to the precision of the output, between nodes too.
#[test]
fn every_draw_returns_exact_readings() {
    let mut data = mixed_data();
    data.push(datum(Reading::first([10.3, 7.8]), 9.0, 0.0));
    let fields = ConditionalFields::new(lattice(30, 20), &sure(two_fields()), &data, &[], Seed(8))
        .expect("conditions");
    for i in 0..20 {
        let draw = fields.draw(i);
        for datum in data
            .iter()
            .filter(|d| d.sd == 0.0 && d.reading.on[1] == 0.0)
        {
            let read: f64 = fields
                .lattice()
                .bilinear(datum.reading.at)
                .expect("inside")
                .iter()
                .map(|&(node, w)| w * f64::from(draw[0][node]))
                .sum();
            assert!((read - datum.value).abs() < 1e-4, "{read} {datum:?}");
        }
    }
}

/// Across a break with nothing in common two nodes are independent, and on one side
/// the covariance is the plain one.
#[test]
fn a_break_cuts_memory_in_the_draws() {
    let line = BreakLine {
        through: [9.5, 0.0],
        direction_rad: std::f64::consts::FRAC_PI_2,
        correlation_across: 0.3,
    };
    let model = CovarianceModel::isotropic(Kernel::Matern32, 1.0, 8.0).with_break(line);
    let data = [datum(Reading::first([9.0, 5.0]), 2.0, 0.0)];
    let set = FieldSet::one(zero_mean(model));
    let fields = ConditionalFields::new(lattice(20, 10), &sure(set.clone()), &data, &[], Seed(2))
        .expect("conditions");
    let exact = Kriging::new(&set, &data).expect("solves");
    for place in [[10.0, 5.0], [6.0, 5.0]] {
        let want = exact.estimate(&Reading::first(place));
        let node = (place[1] * 20.0 + place[0]) as usize;
        let values = at_node(&fields, 4_000, 0, &[node]);
        agrees(&values[0], want.mean, want.variance, 4.5);
    }
}

/// X₁ given X₂ > 1 at correlation 0.6 (Tallis 1961): mean 0.9150812, variance
/// 0.7116752, by the closed form for one truncated variable.
#[test]
fn a_lower_limit_lifts_its_neighbour() {
    // Matérn ½ at distance 1 has correlation 0.6 for range −1/ln 0.6.
    let model = CovarianceModel::isotropic(Kernel::Matern12, 1.0, -1.0 / 0.6_f64.ln());
    let bound = Bound::at_least(Reading::first([5.0, 3.0]), 1.0, 0.0);
    let fields = ConditionalFields::new(
        lattice(12, 8),
        &sure(FieldSet::one(zero_mean(model))),
        &[],
        &[bound],
        Seed(21),
    )
    .expect("conditions");
    let values = at_node(&fields, 20_000, 0, &[3 * 12 + 6, 3 * 12 + 5]);
    let (mean, variance) = moments(&values[0]);
    let se = (0.711_675_2_f64 / 20_000.0).sqrt();
    assert!((mean - 0.915_081_2).abs() < 4.0 * se, "{mean}");
    assert!((variance / 0.711_675_2 - 1.0).abs() < 0.04, "{variance}");
    assert!(values[1].iter().all(|v| *v > 1.0 - 1e-4));
}

/// Mean over free draws of the experimental variogram along x against the model.
#[test]
fn free_fields_have_the_variogram() {
    let model = CovarianceModel::isotropic(Kernel::Matern52, 1.0, 6.0).with_anisotropy(0.5, 0.3);
    let fields = ConditionalFields::new(
        lattice(48, 32),
        &sure(FieldSet::one(zero_mean(model))),
        &[],
        &[],
        Seed(13),
    )
    .expect("draws");
    let draws = 400;
    for lag in [1, 4, 10, 20] {
        let values: Vec<f64> = (0..draws)
            .map(|i| {
                let field = &fields.draw(i)[0];
                let mut sum = 0.0;
                let mut pairs = 0.0;
                for row in field.chunks_exact(48) {
                    for x in 0..48 - lag {
                        sum += 0.5 * f64::from(row[x + lag] - row[x]).powi(2);
                        pairs += 1.0;
                    }
                }
                sum / pairs
            })
            .collect();
        let (mean, variance) = moments(&values);
        let want = model.semivariance([lag as f64, 0.0]);
        let se = (variance / draws as f64).sqrt();
        assert!(
            (mean - want).abs() < 4.0 * se,
            "lag {lag}: {mean} {want} {se}"
        );
    }
}

#[test]
fn same_bytes_on_one_thread_and_on_many() {
    let bound = Bound::at_most(Reading::second([25.0, 12.0]), 1.0, 0.1);
    let models = vec![
        WeightedModel {
            weight: 2.0,
            model: two_fields(),
        },
        WeightedModel {
            weight: 1.0,
            model: FieldSet {
                correlation: 0.5,
                ..two_fields()
            },
        },
    ];
    let bytes = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool");
        pool.install(|| {
            let fields =
                ConditionalFields::new(lattice(30, 20), &models, &mixed_data(), &[bound], Seed(4))
                    .expect("conditions");
            let mut one = vec![0.0_f32; 600 * 17];
            let mut two = vec![0.0_f32; 600 * 17];
            fields.draw_into(0, &mut [&mut one, &mut two]);
            (one, two)
        })
    };
    assert_eq!(bytes(1), bytes(3));
}

/// Realisation i is the same wherever a batch starts, for one field and for two.
#[test]
fn a_realisation_depends_on_its_number_only() {
    let one = FieldSet::one(zero_mean(CovarianceModel::isotropic(
        Kernel::Matern32,
        1.0,
        5.0,
    )));
    for model in [one, two_fields()] {
        let data = if model.fields.len() == 1 {
            five_data()[..1].to_vec()
        } else {
            mixed_data()
        };
        let fields = ConditionalFields::new(lattice(30, 20), &sure(model), &data, &[], Seed(6))
            .expect("conditions");
        let mut all = vec![vec![0.0_f32; 600 * 7]; fields.fields()];
        let mut slices: Vec<&mut [f32]> = all.iter_mut().map(Vec::as_mut_slice).collect();
        fields.draw_into(0, &mut slices);
        let mut part = vec![vec![0.0_f32; 600 * 4]; fields.fields()];
        let mut slices: Vec<&mut [f32]> = part.iter_mut().map(Vec::as_mut_slice).collect();
        fields.draw_into(3, &mut slices);
        for (all, part) in all.iter().zip(&part) {
            assert_eq!(&all[3 * 600..], part.as_slice());
        }
    }
}

/// Any run of realisations has each model close to its share.
#[test]
fn models_are_used_in_proportion() {
    let models: Vec<WeightedModel> = [0.5, 0.3, 0.2]
        .iter()
        .map(|&weight| WeightedModel {
            weight,
            model: two_fields(),
        })
        .collect();
    let fields = ConditionalFields::new(lattice(30, 20), &models, &mixed_data(), &[], Seed(6))
        .expect("conditions");
    for start in [0, 137] {
        let mut counts = [0_u32; 3];
        for i in start..start + 200 {
            counts[fields.model_of(i)] += 1;
        }
        for (count, share) in counts.iter().zip([100.0, 60.0, 40.0]) {
            assert!((f64::from(*count) - share).abs() <= 2.0, "{counts:?}");
        }
    }
}

#[test]
fn faults_name_reading_and_limit() {
    let model = sure(two_fields());
    let refuse = |data: &[Datum], bounds: &[Bound]| {
        ConditionalFields::new(lattice(30, 20), &model, data, bounds, Seed(0))
            .err()
            .expect("refused")
    };
    let outside = refuse(&[datum(Reading::first([31.0, 2.0]), 1.0, 0.1)], &[]);
    assert_eq!(
        outside.to_string(),
        "reading 0 at (31, 2) lies outside the lattice"
    );
    let negative = refuse(&[datum(Reading::first([3.0, 2.0]), 1.0, -0.1)], &[]);
    assert_eq!(
        negative.to_string(),
        "reading 0: the error is -0.1, it must be 0 or more"
    );
    let flat = refuse(&[datum(Reading::first([3.0, 2.0]), 1.0, 0.1)], &[]);
    assert!(matches!(flat, ConditionError::System(_)), "{flat}");
    let empty = Bound {
        lower: 1.0,
        upper: 0.5,
        ..Bound::at_least(Reading::second([3.0, 2.0]), 1.0, 0.1)
    };
    assert!(matches!(
        refuse(&mixed_data(), &[empty]),
        ConditionError::Value { index: 6, .. }
    ));
}
