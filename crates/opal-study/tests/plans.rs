//! The plans keep more of what is there than plain rules do. Short here;
//! `OPAL_SLOW=1` runs the two hundred stones that the page on plans tells of.

use opal_plan::Effort;
use opal_study::{PLANS_STUDY_FORMAT, PlansOptions, PlansReport, plans, plans_study_schema};
use std::ops::ControlFlow;
use std::path::Path;

fn short() -> PlansOptions {
    PlansOptions {
        stones: 10,
        interiors: 50,
        most_stones: 2,
        effort: Effort::Quick,
        ..PlansOptions::default()
    }
}

#[test]
fn plans_beat_plain_rules_and_never_seeing_inside() {
    let slow = std::env::var_os("OPAL_SLOW").is_some();
    let options = if slow {
        PlansOptions::default()
    } else {
        short()
    };
    let report = plans(&options, &|_| ControlFlow::Continue(())).expect("runs");
    println!("{}", report.table());
    assert_eq!(report.stones.len() + report.left_out, options.stones);
    for stone in &report.stones {
        let ways = stone.brought.iter().chain(&stone.brought_unrevised);
        assert!(
            ways.clone().all(|way| *way <= stone.best + 1e-9),
            "{stone:?}"
        );
    }
    brings_what_it_is_forecast_to(&report);
    // Ten stones tell a rule that is much better, no more.
    let sure = if slow { 2.0 } else { -2.0 };
    for choice in &report.document().choices[1..] {
        assert!(
            choice.found_over > sure * choice.found_over_error,
            "{choice:?}"
        );
    }
}

/// Under the law that the forecasts assume, what came less the forecast is nothing but
/// luck, choosing the best of many flatters its forecast by no more than luck, and nine
/// in ten of the truths lie in the range that is to hold nine in ten: within three
/// standard errors, which few stones or many keep alike.
fn brings_what_it_is_forecast_to(report: &PlansReport) {
    let forecast = report.document().forecast;
    let luck = |mean: f64, error: f64| mean.abs() <= 3.0 * error;
    let (over, flattered) = (forecast.brought_over, forecast.flattered);
    assert!(luck(over, forecast.brought_over_error), "{forecast:?}");
    assert!(luck(flattered, forecast.flattered_error), "{forecast:?}");
    let n = report.stones.len() as f64;
    let held = forecast.within_nine_in_ten as f64 - 0.9 * n;
    assert!(luck(held, (n * 0.9 * 0.1).sqrt()), "{forecast:?}");
    let above = forecast.above_middle as f64 - 0.5 * n;
    assert!(luck(above, (n * 0.25).sqrt()), "{forecast:?}");
}

/// Same seed, same report, on any number of threads; drawing and document say
/// what the table says.
#[test]
fn a_report_is_drawn_written_and_the_same_again() {
    let options = PlansOptions {
        stones: 2,
        longer: true,
        ..short()
    };
    let report = plans(&options, &|_| ControlFlow::Continue(())).expect("runs");
    let svg = report.svg();
    assert!(svg.starts_with("<svg ") && svg.ends_with("</svg>\n") && !svg.contains("NaN"));
    let document = report.document();
    assert_eq!(document.format, PLANS_STUDY_FORMAT);
    assert_eq!(document.stones, report.stones.len());
    let longer = document.longer.expect("it was asked");
    let gained = longer.aside - document.forecast.aside;
    assert!(
        (longer.gain - gained).abs() < 1e-6 * longer.aside.abs(),
        "{longer:?}"
    );
    assert!(report.table().contains("several times as hard"));
    let alone = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .expect("a pool of one")
        .install(|| plans(&options, &|_| ControlFlow::Continue(())))
        .expect("runs");
    assert_eq!(alone, report);
}

/// Run with `OPAL_WRITE_SCHEMAS=1` to write it afresh.
#[test]
fn the_schema_on_disk_is_fresh() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema/study-plans-1.schema.json");
    if std::env::var_os("OPAL_WRITE_SCHEMAS").is_some() {
        std::fs::write(&path, plans_study_schema()).expect("writes");
    }
    let found = std::fs::read_to_string(&path).expect("the schema is checked in");
    assert!(
        found == plans_study_schema(),
        "stale: run OPAL_WRITE_SCHEMAS=1 cargo test -p opal-study --test plans"
    );
}
