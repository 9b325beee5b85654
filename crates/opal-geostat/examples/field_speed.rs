//! Milliseconds for conditional fields, and their error against the exact
//! conditional covariance: `field_speed [readings] [realisations] [range] [kernel]`.
//!
//! Prints one JSON object; the reference script runs it beside other libraries.

use opal_geostat::{
    ConditionalFields, CovarianceModel, Datum, Drift, FieldModel, FieldSet, Kernel, Lattice,
    Reading, Trend, WeightedModel,
};
use opal_units::Seed;
use rand::RngExt;
use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let readings: usize = arguments.next().map_or(Ok(200), |a| a.parse())?;
    let realisations: usize = arguments.next().map_or(Ok(1000), |a| a.parse())?;
    let range: f64 = arguments.next().map_or(Ok(6.0), |a| a.parse())?;
    let kernel = match arguments.next().as_deref() {
        Some("half") => Kernel::Matern12,
        Some("five") => Kernel::Matern52,
        _ => Kernel::Matern32,
    };
    let fields_each = arguments.next().map_or(Ok(2), |a| a.parse::<usize>())?;
    let lattice = Lattice {
        nx: 200,
        ny: 160,
        cell: 0.2,
        origin: [0.0, 0.0],
    };
    let trend = Trend::about(Drift::Constant, lattice.centre());
    let top = FieldModel::flat(CovarianceModel::isotropic(kernel, 1.0, range), trend);
    let thickness = FieldModel::flat(CovarianceModel::isotropic(kernel, 0.25, 0.7 * range), trend);
    let set = if fields_each == 1 {
        FieldSet::one(top)
    } else {
        FieldSet::pair(top, thickness, 0.3)
    };
    let models = [WeightedModel {
        weight: 1.0,
        model: set,
    }];
    let mut rng = Seed(1).stream("places", 0);
    let data: Vec<Datum> = (0..readings)
        .map(|k| {
            let at = [39.0 * rng.random::<f64>(), 31.0 * rng.random::<f64>()];
            let second = fields_each == 2 && k % 2 == 1;
            Datum {
                reading: if second {
                    Reading::second(at)
                } else {
                    Reading::first(at)
                },
                value: (0.3 * at[0]).sin() + 0.2 * at[1],
                sd: 0.1,
            }
        })
        .collect();
    let start = Instant::now();
    let mut fields = ConditionalFields::new(lattice, &models, &data, &[], Seed(7))?;
    let prepared = start.elapsed().as_secs_f64();
    let cells = lattice.len();
    let mut store = vec![vec![0.0_f32; cells * realisations]; fields_each];
    let mut slices: Vec<&mut [f32]> = store.iter_mut().map(Vec::as_mut_slice).collect();
    let start = Instant::now();
    fields.draw_into(0, &mut slices);
    let drawn = start.elapsed().as_secs_f64();
    let new = Datum {
        reading: Reading::first([20.0, 20.0]),
        value: 4.0,
        sd: 0.1,
    };
    let start = Instant::now();
    fields.absorb(&new, 0, &mut slices)?;
    let absorbed = start.elapsed().as_secs_f64();
    println!(
        "{{\"readings\": {readings}, \"realisations\": {realisations}, \"fields\": {fields_each}, \
         \"prepare_ms\": {:.1}, \"draw_ms\": {:.1}, \"ms_per_field\": {:.4}, \
         \"absorb_ms\": {:.1}, \"clipped_share\": {:e}, \"torus\": [{}, {}], \"threads\": {}}}",
        1e3 * prepared,
        1e3 * drawn,
        1e3 * drawn / (realisations * fields_each) as f64,
        1e3 * absorbed,
        fields.clipped_share(),
        fields.torus().0,
        fields.torus().1,
        rayon::current_num_threads(),
    );
    Ok(())
}
