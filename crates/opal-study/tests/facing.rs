//! The advice keeps more of what is there than fixed rules do. Short here;
//! `OPAL_SLOW=1` runs the two hundred stones that the page on the bench tells of.

use opal_study::{FacingOptions, FacingReport, facing};
use std::ops::ControlFlow;

#[test]
fn the_advice_beats_fixed_rules_and_never_seeing_inside() {
    let slow = std::env::var_os("OPAL_SLOW").is_some();
    let options = FacingOptions {
        stones: if slow { 200 } else { 16 },
        interiors: if slow { 240 } else { 80 },
        ..FacingOptions::default()
    };
    let report = facing(&options, &|_| ControlFlow::Continue(())).expect("runs");
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

/// By hand: the advice brought 8, 6 and 10 of 10 each, so it kept 0.8; what it
/// missed differs by −0, −2 and +2 from that share, √(8/2/3)/10 = 0.1155.
#[test]
fn shares_and_their_errors_by_hand() {
    let report = FacingReport {
        stones: [8.0, 6.0, 10.0].map(|w| [w, 5.0, 5.0, 5.0, 10.0]).to_vec(),
        forecast: vec![7.0, 9.0],
        through: 1,
        left_out: 2,
    };
    let doc = report.document();
    assert_eq!((doc.ways[0].kept, doc.ways[0].kept_error), (0.8, 0.1155));
    assert_eq!((doc.ways[1].advice_over, doc.forecast), (3.0, 8.0));
    let svg = report.svg();
    assert!(svg.contains("80 %") && svg.trim_end().ends_with("</svg>"));
}
