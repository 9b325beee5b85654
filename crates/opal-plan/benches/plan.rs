//! How long until plans stand: 1,000 interiors on a grid of 200 × 160 nodes.
//! Reach: first answer within 1 s, settled within 10 s, on two cores.

#[path = "../tests/invented/mod.rs"]
mod invented;

use invented::{Law, Prices, interiors, stone};
use opal_plan::{BenchRules, Effort, PlanOptions, Progress, plan};
use std::sync::atomic::{AtomicBool, Ordering};

fn main() {
    divan::main();
}

#[divan::bench(args = [1, 4], sample_count = 3, sample_size = 1)]
fn settled(bencher: divan::Bencher<'_, '_>, most_stones: usize) {
    planned(bencher, Effort::Settled, most_stones);
}

#[divan::bench(args = [1, 4], sample_count = 3, sample_size = 1)]
fn quick(bencher: divan::Bencher<'_, '_>, most_stones: usize) {
    planned(bencher, Effort::Quick, most_stones);
}

/// Ended from outside as soon as there is anything to cut: the best freeform is valued
/// all the same.
#[divan::bench(sample_count = 3, sample_size = 1)]
fn first_freeform(bencher: divan::Bencher<'_, '_>) {
    let rough = stone(49.0, 39.0, 16.0, 0.25);
    let insides = interiors(&rough, Law::DOUBTFUL, 1000, 7);
    bencher.bench(|| {
        let ended = AtomicBool::new(false);
        let told = |progress: Progress| ended.store(progress.done >= 0.3, Ordering::Relaxed);
        let options = PlanOptions {
            effort: Effort::Quick,
            most_stones: 4,
            cancel: Some(&ended),
            progress: Some(&told),
            ..PlanOptions::default()
        };
        let prices = Prices::default();
        plan(&rough, &insides, &prices, &BenchRules::default(), &options)
    });
}

fn planned(bencher: divan::Bencher<'_, '_>, effort: Effort, most_stones: usize) {
    let rough = stone(49.0, 39.0, 16.0, 0.25);
    let insides = interiors(&rough, Law::DOUBTFUL, 1000, 7);
    bencher.bench(|| {
        let options = PlanOptions {
            effort,
            most_stones,
            ..PlanOptions::default()
        };
        let prices = Prices::default();
        plan(&rough, &insides, &prices, &BenchRules::default(), &options)
    });
}
