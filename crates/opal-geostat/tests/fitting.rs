//! Parameters from few and from many readings.

use opal_geostat::{
    Bound, CoefficientPrior, ConditionalFields, CorrelationPrior, CovarianceModel, Datum, Drift,
    FieldModel, FieldPriors, FieldSet, FitError, FitSpec, Kernel, Lattice, ParameterPrior, Reading,
    Trend, WeightedModel, fit,
};
use opal_units::Seed;

fn top() -> FieldModel {
    FieldModel {
        covariance: CovarianceModel::isotropic(Kernel::Matern32, 1.0, 10.0),
        trend: Trend::about(Drift::Constant, [20.0, 15.0]),
        coefficients: vec![CoefficientPrior::Normal { mean: 8.0, sd: 3.0 }],
    }
}

fn priors() -> FieldPriors {
    FieldPriors {
        range: ParameterPrior::ComplexityRange {
            below: 2.0,
            chance: 0.05,
        },
        sd: ParameterPrior::ComplexitySd {
            above: 3.0,
            chance: 0.05,
        },
        nugget_sd: ParameterPrior::Fixed(0.0),
        anisotropy_log_sd: 0.0,
    }
}

fn spec() -> FitSpec {
    FitSpec::new(
        FieldSet::one(top()),
        vec![priors()],
        CorrelationPrior::Fixed(0.0),
    )
}

fn datum(reading: Reading, value: f64) -> Datum {
    Datum {
        reading,
        value,
        sd: 0.05,
    }
}

fn weighted_quantile(mut values: Vec<(f64, f64)>, level: f64) -> f64 {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut reached = 0.0;
    for (value, weight) in &values {
        reached += weight;
        if reached >= level {
            return *value;
        }
    }
    values.last().expect("some").0
}

/// Without a datum the draws are the prior's: the median of the range is
/// 8.643856 (Fuglstad et al. 2019), that of the sd 3·ln 2/−ln 0.05 = 0.694.
#[test]
fn no_datum_leaves_the_prior() {
    let spec = FitSpec {
        draws: 200,
        ..spec()
    };
    let fitted = fit(&spec, &[], &[], Seed(3)).expect("fits");
    let of = |f: &dyn Fn(&CovarianceModel) -> f64| -> Vec<(f64, f64)> {
        fitted
            .draws
            .iter()
            .map(|draw| (f(&draw.model.fields[0].covariance), draw.weight))
            .collect()
    };
    let range = weighted_quantile(of(&|c| c.range), 0.5);
    let sd = weighted_quantile(of(&|c| c.sill.sqrt()), 0.5);
    assert!((range / 8.643_856).ln().abs() < 0.35, "{range}");
    assert!((sd / 0.694_15).ln().abs() < 0.35, "{sd}");
    let total: f64 = fitted.draws.iter().map(|draw| draw.weight).sum();
    assert!((total - 1.0).abs() < 1e-12);
}

/// One and two data are fitted without fuss, and same seed, same draws.
#[test]
fn one_and_two_data() {
    let data = [
        datum(Reading::first([3.0, 4.0]), 8.3),
        datum(Reading::first([13.0, 4.0]), 7.1),
    ];
    for n in 1..=2 {
        let fitted = fit(&spec(), &data[..n], &[], Seed(3)).expect("fits");
        assert!(fitted.effective_sample > 5.0);
        assert!(fitted.draws.iter().all(|d| d.model.check().is_ok()));
        assert_eq!(
            fitted,
            fit(&spec(), &data[..n], &[], Seed(3)).expect("fits")
        );
    }
}

/// Readings of drawn fields: over several fields the posterior covers the range and
/// sd that made them.
#[test]
fn the_parameters_that_made_the_field_are_covered() {
    let lattice = Lattice {
        nx: 80,
        ny: 60,
        cell: 0.5,
        origin: [0.0, 0.0],
    };
    let truth = FieldSet::one(FieldModel {
        coefficients: vec![CoefficientPrior::Known(8.0)],
        covariance: CovarianceModel::isotropic(Kernel::Matern32, 0.64, 6.0),
        ..top()
    });
    let model = [WeightedModel {
        weight: 1.0,
        model: truth,
    }];
    let fields = ConditionalFields::new(lattice, &model, &[], &[], Seed(17)).expect("draws");
    let trials = 24;
    let mut inside = [0; 2];
    for i in 0..trials {
        let field = &fields.draw(i)[0];
        let data: Vec<Datum> = (0..60)
            .map(|k| {
                let node = (k * 797 + i as usize * 31) % lattice.len();
                let at = lattice.at_index(node);
                datum(Reading::first(at), f64::from(field[node]))
            })
            .collect();
        let spec = FitSpec {
            draws: 60,
            ..spec()
        };
        let fitted = fit(&spec, &data, &[], Seed(i)).expect("fits");
        let of_range = |c: &CovarianceModel| c.range;
        let of_sd = |c: &CovarianceModel| c.sill.sqrt();
        type Parameter = fn(&CovarianceModel) -> f64;
        let parts: [(f64, Parameter); 2] = [(6.0, of_range), (0.8, of_sd)];
        for (count, (want, of)) in inside.iter_mut().zip(parts) {
            let values: Vec<(f64, f64)> = fitted
                .draws
                .iter()
                .map(|draw| (of(&draw.model.fields[0].covariance), draw.weight))
                .collect();
            let low = weighted_quantile(values.clone(), 0.05);
            let high = weighted_quantile(values, 0.95);
            *count += i32::from((low..=high).contains(&want));
        }
    }
    // 90 % of 24 is 21.6; 17 or fewer has a chance below 1 %.
    assert!(inside.iter().all(|n| *n >= 18), "{inside:?} of {trials}");
}

/// Two fields read together at many places: the sign and size of their correlation.
#[test]
fn a_correlation_is_found() {
    let lattice = Lattice {
        nx: 60,
        ny: 45,
        cell: 0.7,
        origin: [0.0, 0.0],
    };
    let second = FieldModel {
        covariance: CovarianceModel::isotropic(Kernel::Matern32, 0.25, 4.0),
        ..top()
    };
    let truth = FieldSet::pair(top(), second.clone(), -0.7);
    let model = [WeightedModel {
        weight: 1.0,
        model: truth.clone(),
    }];
    let fields = ConditionalFields::new(lattice, &model, &[], &[], Seed(5)).expect("draws");
    let draw = fields.draw(0);
    let data: Vec<Datum> = (0..50)
        .flat_map(|k| {
            let node = (k * 1013) % lattice.len();
            let at = lattice.at_index(node);
            [
                datum(Reading::first(at), f64::from(draw[0][node])),
                datum(Reading::second(at), f64::from(draw[1][node])),
            ]
        })
        .collect();
    let spec = FitSpec::new(
        truth,
        vec![priors(), priors()],
        CorrelationPrior::Fisher { mean: 0.0, sd: 0.5 },
    );
    let fitted = fit(&spec, &data, &[], Seed(2)).expect("fits");
    assert!(
        (-0.9..=-0.35).contains(&fitted.mode.correlation),
        "{:?}",
        fitted.mode
    );
}

/// A limit that only a large field can meet argues for a large field.
#[test]
fn bounds_count_as_evidence() {
    let data = [datum(Reading::first([3.0, 4.0]), 8.0)];
    let bound = Bound::at_least(Reading::first([30.0, 20.0]), 14.0, 0.1);
    let spec = FitSpec {
        template: FieldSet::one(FieldModel {
            coefficients: vec![CoefficientPrior::Known(8.0)],
            ..top()
        }),
        ..spec()
    };
    let sd = |bounds: &[Bound]| {
        let fitted = fit(&spec, &data, bounds, Seed(2)).expect("fits");
        fitted.mode.fields[0].covariance.sill.sqrt()
    };
    assert!(sd(&[bound]) > 1.5 * sd(&[]));
}

#[test]
fn faults_are_named() {
    let mut bad = spec();
    bad.priors[0].sd = ParameterPrior::LogNormal {
        median: -1.0,
        log_sd: 1.0,
    };
    assert_eq!(
        fit(&bad, &[], &[], Seed(0))
            .expect_err("refused")
            .to_string(),
        "median of the prior of field 0 is -1, it must be above 0"
    );
    bad = spec();
    bad.priors.clear();
    assert!(matches!(
        fit(&bad, &[], &[], Seed(0)),
        Err(FitError::Count { .. })
    ));
    bad = spec();
    bad.template.fields[0].coefficients = vec![CoefficientPrior::Flat];
    assert!(matches!(
        fit(&bad, &[], &[], Seed(0)),
        Err(FitError::System(_))
    ));
}
