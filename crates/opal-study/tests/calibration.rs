//! Intervals hold what they say on stones drawn from the assumed law.

use opal_geostat::scoring::binomial_band;
use opal_study::{CalibrationOptions, calibration};
use opal_testkit::{Departing, measured_surfaces};
use std::ops::ControlFlow;

/// A short form, always on, of 40 stones for each kind of look; with OPAL_SLOW=1
/// 300 stones, and the other laws in the table.
#[test]
fn intervals_hold_on_the_assumed_law() {
    let slow = std::env::var_os("OPAL_SLOW").is_some();
    let options = CalibrationOptions {
        stones: if slow { 300 } else { 40 },
        interiors: if slow { 400 } else { 150 },
        laws: if slow {
            Departing::ALL.to_vec()
        } else {
            vec![Departing::Not]
        },
        surfaces: if slow {
            measured_surfaces()
        } else {
            Vec::new()
        },
        ..CalibrationOptions::default()
    };
    let report = calibration(&options, &|_| ControlFlow::Continue(())).expect("forecasts");
    println!("{}", report.table());
    let assumed = |c: &&opal_study::Cell| c.form.is_none() && c.law == Departing::Not;
    for cell in report.cells.iter().filter(assumed) {
        for tally in [&cell.top, &cell.thickness] {
            for (coverage, level) in tally.coverage.iter().zip([0.5, 0.8, 0.9]) {
                // Places in one stone hang together: the stones are counted, not the
                // places. Twelve bands are looked at, so each is the 99 % one.
                let (low, high) = binomial_band(cell.stones, level, 0.99);
                let share = coverage.share();
                assert!(
                    (low..=high).contains(&share),
                    "{:?}, {level}: {share}\n{}",
                    cell.look,
                    report.table()
                );
            }
        }
    }
}

/// The drawing and the document say what the table says, and are well formed.
#[test]
fn a_report_is_drawn_and_written() {
    let options = CalibrationOptions {
        stones: 4,
        interiors: 40,
        laws: vec![Departing::Stepped],
        ..CalibrationOptions::default()
    };
    let report = calibration(&options, &|_| ControlFlow::Continue(())).expect("forecasts");
    let svg = report.svg();
    assert!(svg.starts_with("<svg ") && svg.ends_with("</svg>\n"));
    assert!(!svg.contains("NaN") && svg.contains("quick · stepped"));
    let document = report.document();
    assert_eq!(document.format, "opalwright-calibration/1");
    assert_eq!(document.cells.len(), report.cells.len());
    assert!(!document.findings.is_empty());
    // Same seed, same report, however the stones are shared among threads.
    let alone = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .expect("a pool of one")
        .install(|| calibration(&options, &|_| ControlFlow::Continue(())))
        .expect("forecasts");
    assert_eq!(alone, report);
}
