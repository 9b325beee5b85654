//! What learning adds over a career. Short here; `OPAL_SLOW=1` runs the careers
//! that docs/measurements.md tells of.

use opal_study::{LearningOptions, learning};
use std::ops::ControlFlow;

#[test]
fn forecasts_get_better_and_learning_does_not_lose_money() {
    let slow = std::env::var_os("OPAL_SLOW").is_some();
    let options = LearningOptions {
        careers: if slow { 20 } else { 3 },
        stones: if slow { 300 } else { 100 },
        draws: if slow { 400 } else { 150 },
        ..LearningOptions::default()
    };
    let report = learning(&options, &|_| ControlFlow::Continue(())).expect("runs");
    println!("{}", report.table());
    let first = report.learning.first().expect("a stretch");
    let last = report.learning.last().expect("a stretch");
    let same = report.not_learning.last().expect("a stretch");
    assert!(last.forecasts.crps() < same.forecasts.crps());
    let profit = report.profit();
    // Three careers tell a loss that is large, no more.
    assert!(profit.added > -2.0 * profit.added_error, "{profit:?}");
    if slow {
        assert!(last.forecasts.crps() < 0.95 * first.forecasts.crps());
        assert!(last.forecasts.crps() < 0.85 * same.forecasts.crps());
    }
    let svg = report.svg();
    assert!(svg.starts_with("<svg") && svg.contains("polyline"));
    // The same seed, the same answer.
    let short = LearningOptions {
        careers: 1,
        stones: 12,
        draws: 60,
        ..options
    };
    let table = || {
        learning(&short, &|_| ControlFlow::Continue(()))
            .expect("runs")
            .table()
    };
    assert_eq!(table(), table());
}
