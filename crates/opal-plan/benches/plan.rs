//! How long until plans stand: 1,000 interiors on a grid of 200 × 160 nodes.
//! Reach: first answer within 1 s, settled within 10 s, on two cores.

#[path = "../tests/invented/mod.rs"]
mod invented;

use invented::{Law, Prices, interiors, stone};
use opal_plan::{BenchRules, Effort, PlanOptions, plan};

fn main() {
    divan::main();
}

#[divan::bench(args = [Effort::Quick, Effort::Settled], sample_count = 2, sample_size = 1)]
fn plans(bencher: divan::Bencher<'_, '_>, effort: Effort) {
    let rough = stone(49.0, 39.0, 16.0, 0.25);
    let insides = interiors(&rough, Law::DOUBTFUL, 1000, 7);
    bencher.bench(|| {
        let options = PlanOptions {
            effort,
            ..PlanOptions::default()
        };
        plan(
            &rough,
            &insides,
            &Prices::default(),
            &BenchRules::default(),
            &options,
        )
    });
}
