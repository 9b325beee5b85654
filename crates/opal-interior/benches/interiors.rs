//! Time for the interiors of one stone. `cargo bench -p opal-interior`.

use opal_evidence::{BarEvidence, Evidence, Form, Reading, Seen, Sighting};
use opal_interior::{Absorbed, DrawOptions, Ensemble, Interiors};
use opal_stone::{GridChoice, Stone};
use opal_units::{Length, Seed};

fn main() {
    divan::main();
}

/// A seam piece on a grid of 200 × 160, with so many sightings.
fn stone(sightings: usize) -> (Evidence, Stone) {
    let mut evidence = opal_testkit::piece(Form::Seam, [50.0, 40.0, 20.0], 0.5);
    let reading = |mm: f64| Reading {
        value: Length::from_mm(mm),
        sigma: Length::from_mm(0.15),
    };
    // Low-discrepancy places over the middle of the piece (Roberts 2018, R₂).
    let place = |k: usize| {
        let k = k as f64;
        [
            8.0 + 34.0 * (0.5 + 0.754_877_666 * k).fract(),
            7.0 + 26.0 * (0.5 + 0.569_840_291 * k).fract(),
        ]
    };
    evidence.bars.push(BarEvidence {
        name: "A".to_owned(),
        sightings: (0..sightings)
            .map(|k| {
                let at_mm = place(k);
                let top = 10.0 + (0.2 * at_mm[0]).sin() + 0.4 * (0.3 * at_mm[1]).cos();
                let thickness = 1.5 + 0.5 * (0.25 * at_mm[0] + 0.1 * at_mm[1]).cos();
                Sighting {
                    at_mm,
                    seen: Seen::Measured {
                        top: Some(reading(top)),
                        bottom: Some(reading(top - thickness)),
                        thickness: None,
                    },
                }
            })
            .collect(),
        quick: None,
    });
    let stone =
        Stone::from_evidence(&evidence, GridChoice::Cell(Length::from_mm(0.25))).expect("a stone");
    assert_eq!((stone.grid.nx, stone.grid.ny), (200, 160));
    (evidence, stone)
}

#[divan::bench(args = [10, 50, 200, 500], sample_count = 3, sample_size = 1)]
fn thousand_interiors(bencher: divan::Bencher, sightings: usize) {
    let (evidence, stone) = stone(sightings);
    let options = DrawOptions {
        n: 1000,
        seed: Seed(7),
    };
    bencher.bench_local(|| Interiors::draw(&evidence, &stone, &options, &|_| {}).expect("drawn"));
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn thousand_interiors_from_a_quick_look(bencher: divan::Bencher) {
    let (mut evidence, stone) = stone(0);
    evidence.bars[0].quick = Some(opal_evidence::QuickBar {
        thickness: Reading {
            value: Length::from_mm(2.0),
            sigma: Length::from_mm(0.5),
        },
        edge_share: 0.5,
        top: None,
    });
    let options = DrawOptions {
        n: 1000,
        seed: Seed(7),
    };
    bencher.bench_local(|| Interiors::draw(&evidence, &stone, &options, &|_| {}).expect("drawn"));
}

/// One more sighting, top and bottom, taken in by interiors that are already drawn; what
/// [`thousand_interiors`] with as many sightings takes is drawing again.
#[divan::bench(args = [10, 50, 200, 500], sample_count = 3, sample_size = 1)]
fn absorb_one_sighting(bencher: divan::Bencher, sightings: usize) {
    let (more, _) = stone(sightings + 1);
    let (evidence, stone) = stone(sightings);
    let options = DrawOptions {
        n: 1000,
        seed: Seed(7),
    };
    let held = Ensemble::draw(&evidence, &stone, None, &options, &|_| {}).expect("drawn");
    bencher
        .with_inputs(|| held.clone())
        .bench_local_values(|mut held| {
            let done = held.absorb(&more).expect("absorbed");
            assert!(matches!(done, Absorbed::TakenIn { .. }), "{done:?}");
            held
        });
}

/// The interiors that an ensemble holds, written out.
#[divan::bench(sample_count = 3, sample_size = 1)]
fn write_out_after_absorbing(bencher: divan::Bencher) {
    let (evidence, stone) = stone(200);
    let options = DrawOptions {
        n: 1000,
        seed: Seed(7),
    };
    let held = Ensemble::draw(&evidence, &stone, None, &options, &|_| {}).expect("drawn");
    bencher.bench_local(|| held.interiors().expect("held"));
}
