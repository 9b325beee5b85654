//! Intervals hold what they say on stones drawn from the assumed law.

use opal_study::{CalibrationOptions, Evidenced, calibration};
use opal_testkit::Departing;

/// A short form, always on: 40 stones for each kind of look.
#[test]
fn intervals_hold_on_the_assumed_law() {
    let slow = std::env::var_os("OPAL_SLOW").is_some();
    let options = CalibrationOptions {
        stones: if slow { 300 } else { 40 },
        interiors: if slow { 400 } else { 200 },
        laws: if slow {
            Departing::ALL.to_vec()
        } else {
            vec![Departing::Not]
        },
        ..CalibrationOptions::default()
    };
    let report = calibration(&options).expect("forecasts");
    println!("{}", report.table());
    for cell in &report.cells {
        if cell.form.is_some() || cell.law != Departing::Not || cell.look != Evidenced::Sighted {
            continue;
        }
        for tally in [&cell.top, &cell.thickness] {
            for (coverage, level) in tally.coverage.iter().zip([0.5, 0.8, 0.9]) {
                // Places in one stone hang together: count the stones, not the places.
                let (low, high) = opal_geostat::scoring::binomial_band(cell.stones, level);
                let share = coverage.share();
                assert!(
                    (low..=high).contains(&share),
                    "{level}: {share}\n{}",
                    report.table()
                );
            }
        }
    }
}
