//! The advice keeps more of what is there than fixed rules do. Short here;
//! `OPAL_SLOW=1` runs the two hundred stones that the page on the bench tells of.

use opal_study::{FacingOptions, facing};

#[test]
fn the_advice_beats_fixed_rules_and_never_seeing_inside() {
    let slow = std::env::var_os("OPAL_SLOW").is_some();
    let options = FacingOptions {
        stones: if slow { 200 } else { 16 },
        interiors: if slow { 240 } else { 80 },
        ..FacingOptions::default()
    };
    let report = facing(&options, &|_| {}).expect("runs");
    println!("{}", report.table());
    for stone in &report.stones {
        assert!(stone[..4].iter().all(|way| *way <= stone[4] + 1e-9));
    }
    // Sixteen stones tell a rule that is much worse, no more.
    let sure = if slow { 2.0 } else { -2.0 };
    for way in 1..4 {
        let (gain, error) = report.advice_over(way);
        assert!(gain > sure * error, "way {way}: {gain} ± {error}");
    }
}
