//! Milliseconds for conditional fields, and their error against the exact
//! conditional covariance:
//! `field_speed [readings] [realisations] [range] [half|three|five] [fields] [places]`.
//!
//! Prints one JSON object; the reference script runs it beside other libraries.

use opal_geostat::{
    ConditionalFields, CovarianceModel, Datum, Drift, Ensemble, FieldModel, FieldSet, Kernel,
    Kriging, Lattice, Reading, Trend, WeightedModel,
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
    let print_places = arguments.next().is_some();
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
    if print_places {
        // For the reference script: the same readings for every library.
        for datum in &data {
            let [x, y] = datum.reading.at;
            println!("{x} {y} {}", datum.value);
        }
    }
    let start = Instant::now();
    let fields = ConditionalFields::new(lattice, &models, &data, &[], Seed(7))?;
    let prepared = start.elapsed().as_secs_f64();
    let cells = lattice.len();
    let mut store = vec![vec![0.0_f32; cells * realisations]; fields_each];
    let mut slices: Vec<&mut [f32]> = store.iter_mut().map(Vec::as_mut_slice).collect();
    let start = Instant::now();
    fields.draw_into(0, &mut slices);
    let drawn = start.elapsed().as_secs_f64();
    let (sampled_error, carried_error) = covariance_errors(&fields, &models[0], &data, &store[0])?;
    let reading = Reading::first([20.0, 20.0]);
    let new = Datum {
        reading,
        value: fields
            .predict(0, &reading)
            .map_or(4.0, |foreseen| foreseen.0),
        sd: 0.1,
    };
    let mut ensemble = Ensemble::new(fields.clone(), realisations, &|_| {});
    let start = Instant::now();
    if let Ok(draft) = ensemble.weigh(&[new], &[])? {
        draft.take_in();
    }
    let absorbed = start.elapsed().as_secs_f64();
    println!(
        "{{\"readings\": {readings}, \"realisations\": {realisations}, \"fields\": {fields_each}, \
         \"prepare_ms\": {:.1}, \"draw_ms\": {:.1}, \"ms_per_field\": {:.4}, \
         \"absorb_ms\": {:.1}, \"sampled_covariance_rms_error\": {sampled_error:.6}, \
         \"carried_covariance_worst_error\": {carried_error:.6}, \"clipped_share\": {:e}, \"torus\": [{}, {}], \"threads\": {}}}",
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

/// Conditional covariance of the first field between 12 places against the exact one:
/// root mean square error of the sample covariance of the stored draws, and the worst
/// error of the covariance that the draws carry.
fn covariance_errors(
    fields: &ConditionalFields,
    model: &WeightedModel,
    data: &[Datum],
    store: &[f32],
) -> Result<(f64, f64), Box<dyn std::error::Error>> {
    let exact = Kriging::new(&model.model, data)?;
    let lattice = fields.lattice();
    let nodes: Vec<usize> = (0..12)
        .map(|k| (20 + 60 * (k % 3)) + 200 * (20 + 35 * (k / 3)))
        .collect();
    let draws = store.len() / lattice.len();
    let value = |i: usize, node: usize| f64::from(store[i * lattice.len() + node]);
    let mean: Vec<f64> = nodes
        .iter()
        .map(|node| (0..draws).map(|i| value(i, *node)).sum::<f64>() / draws as f64)
        .collect();
    let (mut squares, mut worst, mut pairs) = (0.0, 0.0_f64, 0.0);
    for (a, node_a) in nodes.iter().enumerate() {
        for (b, node_b) in nodes.iter().enumerate().take(a + 1) {
            let (left, right) = (
                Reading::first(lattice.at_index(*node_a)),
                Reading::first(lattice.at_index(*node_b)),
            );
            let want = exact.covariance(&left, &right);
            let sampled = (0..draws)
                .map(|i| (value(i, *node_a) - mean[a]) * (value(i, *node_b) - mean[b]))
                .sum::<f64>()
                / (draws as f64 - 1.0);
            squares += (sampled - want).powi(2);
            pairs += 1.0;
            if let Some(carried) = fields.predict_covariance(0, &left, &right) {
                worst = worst.max((carried - want).abs());
            }
        }
    }
    Ok(((squares / pairs).sqrt(), worst))
}
