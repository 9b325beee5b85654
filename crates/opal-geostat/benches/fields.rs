//! Conditional fields on 200 × 160 nodes, two fields an interior.

use divan::{Bencher, black_box};
use opal_geostat::{
    ConditionalFields, CovarianceModel, Datum, Drift, Ensemble, FieldModel, FieldSet, Kernel,
    Lattice, Reading, Trend, WeightedModel,
};
use opal_units::Seed;
use rand::RngExt;

fn main() {
    divan::main();
}

const REALISATIONS: usize = 100;

fn prepared(readings: usize) -> ConditionalFields {
    let lattice = Lattice {
        nx: 200,
        ny: 160,
        cell: 0.2,
        origin: [0.0, 0.0],
    };
    let field = |sill, range| {
        let covariance = CovarianceModel::isotropic(Kernel::Matern32, sill, range);
        FieldModel::flat(covariance, Trend::about(Drift::Plane, lattice.centre()))
    };
    let models = [WeightedModel {
        weight: 1.0,
        model: FieldSet::pair(field(1.0, 10.0), field(0.25, 6.0), 0.3),
    }];
    let mut rng = Seed(1).stream("places", 0);
    let data: Vec<Datum> = (0..readings)
        .map(|k| {
            let at = [39.0 * rng.random::<f64>(), 31.0 * rng.random::<f64>()];
            Datum {
                reading: if k % 2 == 0 {
                    Reading::first(at)
                } else {
                    Reading::second(at)
                },
                value: (0.3 * at[0]).sin() + 0.2 * at[1],
                sd: 0.1,
            }
        })
        .collect();
    ConditionalFields::new(lattice, &models, &data, &[], Seed(7)).expect("conditions")
}

#[divan::bench(args = [20, 200, 500], sample_count = 5)]
fn prepare(bencher: Bencher, readings: usize) {
    bencher.bench_local(|| black_box(prepared(readings)));
}

#[divan::bench(args = [20, 200, 500], sample_count = 5)]
fn draw_100(bencher: Bencher, readings: usize) {
    let fields = prepared(readings);
    let cells = fields.lattice().len();
    let mut top = vec![0.0_f32; cells * REALISATIONS];
    let mut thickness = vec![0.0_f32; cells * REALISATIONS];
    bencher.bench_local(|| fields.draw_into(0, black_box(&mut [&mut top, &mut thickness])));
}

#[divan::bench(args = [20, 200, 500], sample_count = 5)]
fn absorb_into_100(bencher: Bencher, readings: usize) {
    let ensemble = Ensemble::new(prepared(readings), REALISATIONS, &|_| {});
    let datum = Datum {
        reading: Reading::difference([20.3, 15.1]),
        value: 3.0,
        sd: 0.1,
    };
    bencher
        .with_inputs(|| ensemble.clone())
        .bench_local_values(|mut ensemble| {
            let weighed = ensemble.weigh(&[datum], &[]).expect("weighs");
            weighed.map(|draft| draft.take_in())
        });
}
