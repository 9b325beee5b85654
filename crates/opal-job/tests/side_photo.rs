//! A bar's edge on photos of a stone's sides that are drawn here, so that the true heights
//! are known.

use opal_evidence::Faults;
use opal_job::{BarTraceAsk, SeenFrom, trace_bar};
use opal_photo::Picture;
use opal_units::Length;

const SIZE: [usize; 2] = [1200, 700];
/// The stone seen from a side: middle, half sizes, pixels.
const MIDDLE: [f64; 2] = [600.0, 350.0];
const HALF: [f64; 2] = [400.0, 150.0];
const HEIGHT_MM: f64 = 12.0;

/// How far down the bar's upper and lower edge lie at a place across, pixels.
fn bar_px(x: f64) -> [f64; 2] {
    let upper = 330.0 + 20.0 * ((x - MIDDLE[0]) / 130.0).sin();
    [upper, upper + 34.0 + 6.0 * ((x - MIDDLE[0]) / 90.0).cos()]
}

/// A stone like a bale on a plain ground, its bar green in grey potch; `ends`: between
/// them the bar shows.
fn photo(ends: [f64; 2]) -> Picture {
    let colour = |x: f64, y: f64| {
        let out = ((x - MIDDLE[0]) / HALF[0]).powi(4) + ((y - MIDDLE[1]) / HALF[1]).powi(4);
        let [upper, lower] = bar_px(x);
        if out > 1.0 {
            [232.0, 230.0, 226.0]
        } else if (upper..lower).contains(&y) && (ends[0]..ends[1]).contains(&x) {
            [60.0, 150.0, 90.0]
        } else {
            [120.0, 118.0, 112.0]
        }
    };
    let mut rgb = Vec::new();
    for y in 0..SIZE[1] {
        for x in 0..SIZE[0] {
            let mut sum = [0.0; 3];
            for part in 0..16 {
                let at = |p: usize, k: usize| p as f64 + (k as f64 + 0.5) / 4.0 - 0.5;
                let seen = colour(at(x, part % 4), at(y, part / 4));
                (0..3).for_each(|c| sum[c] += seen[c] / 16.0);
            }
            rgb.extend(sum.map(|v: f64| v.round() as u8));
        }
    }
    Picture::new(SIZE[0], SIZE[1], rgb).expect("a picture")
}

/// An ellipse of 40 by 30 mm from above.
fn outline() -> Vec<[f64; 2]> {
    (0..180)
        .map(|k| {
            let t = std::f64::consts::TAU * f64::from(k) / 180.0;
            [20.0 + 20.0 * t.cos(), 15.0 + 15.0 * t.sin()]
        })
        .collect()
}

/// Touched to three pixels, as a finger does, at some places across.
fn touched(edge: usize, places: &[f64]) -> Vec<[f64; 2]> {
    let off = |k: usize| [2.0, -3.0, 1.0, 3.0, -2.0][k % 5];
    let point = |(k, &x): (usize, &f64)| [x, bar_px(x)[edge] + off(k)];
    places.iter().enumerate().map(point).collect()
}

const TOUCHED: [f64; 5] = [300.0, 420.0, 560.0, 740.0, 900.0];

fn asked<'a>(
    picture: &'a Picture,
    outline_mm: &'a [[f64; 2]],
    upper_px: &'a [[f64; 2]],
    lower_px: &'a [[f64; 2]],
) -> BarTraceAsk<'a> {
    BarTraceAsk {
        name: "side",
        picture,
        from: SeenFrom::Front,
        outline_mm,
        height: Length::from_mm(HEIGHT_MM),
        stone_px: None,
        upper_px,
        lower_px,
        follow: true,
        places: 8,
        none_beyond: false,
    }
}

#[test]
fn an_edge_that_was_touched_is_followed_to_the_true_heights() {
    let (picture, outline) = (photo([0.0, 1200.0]), outline());
    let (upper, lower) = (touched(0, &TOUCHED), touched(1, &TOUCHED));
    let ask = asked(&picture, &outline, &upper, &lower);
    for (from, width_mm) in [
        (SeenFrom::Front, 40.0),
        (SeenFrom::Back, 40.0),
        (SeenFrom::Left, 30.0),
        (SeenFrom::Right, 30.0),
    ] {
        let traced = trace_bar(&BarTraceAsk { from, ..ask }).expect("traces");
        assert_eq!(traced.places.len(), 8);
        assert!((traced.mm_per_px[0] / (width_mm / 800.0) - 1.0).abs() < 0.01);
        for place in &traced.places {
            let [upper, lower] = bar_px(place.at_px[0]);
            let mm = HEIGHT_MM / (2.0 * HALF[1]);
            let top = place.top_mm.expect("a top");
            let thickness = place.thickness_mm.expect("a thickness");
            let true_top = (MIDDLE[1] + HALF[1] - upper) * mm;
            assert!(
                (top.value - true_top).abs() < 0.06,
                "{from:?} {place:?} {true_top}"
            );
            assert!(
                (thickness.value - (lower - upper) * mm).abs() < 0.06,
                "{place:?}"
            );
            assert!(top.sigma > 0.01 && thickness.sigma > 0.01);
            // Seen from above the place lies on that side, as far along as across the photo.
            let share = (place.at_px[0] - (MIDDLE[0] - HALF[0])) / (2.0 * HALF[0]);
            let [x, y] = place.at_mm;
            let (along, depth) = match from {
                SeenFrom::Front => (x / 40.0, y < 15.0),
                SeenFrom::Back => (1.0 - x / 40.0, y > 15.0),
                SeenFrom::Left => (1.0 - y / 30.0, x < 20.0),
                SeenFrom::Right => (y / 30.0, x > 20.0),
            };
            assert!(depth && (along - share).abs() < 0.015, "{from:?} {place:?}");
            let out = ((x - 20.0) / 20.0).hypot((y - 15.0) / 15.0);
            assert!((0.97..1.0).contains(&out), "{place:?}");
        }
    }
}

#[test]
fn a_photo_askew_is_told_and_widens_the_spread() {
    let (picture, outline) = (photo([0.0, 1200.0]), outline());
    let (upper, lower) = (touched(0, &TOUCHED), touched(1, &TOUCHED));
    // Twelve millimetres of 300 pixels beside forty of 800: 0.04 and 0.05 mm a pixel.
    let askew = trace_bar(&asked(&picture, &outline, &upper, &lower)).expect("traces");
    assert!(askew.notes.iter().any(|note| note.contains("square to it")));
    let square = BarTraceAsk {
        height: Length::from_mm(15.0),
        ..asked(&picture, &outline, &upper, &lower)
    };
    let square = trace_bar(&square).expect("traces");
    assert!(square.notes.is_empty(), "{:?}", square.notes);
    let share = |doc: &opal_report::json::BarTraceDoc| {
        let top = doc.places[4].top_mm.expect("a top");
        top.sigma / top.value
    };
    assert!(share(&askew) > 2.0 * share(&square));
}

#[test]
fn beyond_its_ends_there_may_be_none() {
    let (picture, outline) = (photo([420.0, 760.0]), outline());
    let places = [424.0, 520.0, 640.0, 756.0];
    let (upper, lower) = (touched(0, &places), touched(1, &places));
    let ask = BarTraceAsk {
        none_beyond: true,
        ..asked(&picture, &outline, &upper, &lower)
    };
    let traced = trace_bar(&ask).expect("traces");
    let absent: Vec<bool> = traced.places.iter().map(|p| p.absent).collect();
    assert_eq!(absent.iter().filter(|a| **a).count(), 2);
    assert!(absent[0] && absent[absent.len() - 1], "{absent:?}");
    let across: Vec<f64> = traced.places.iter().map(|p| p.at_px[0]).collect();
    assert!(across.is_sorted(), "{across:?}");
    // The upper edge alone tells heights, no thickness.
    let upper_alone = BarTraceAsk {
        lower_px: &[],
        none_beyond: false,
        ..ask
    };
    let traced = trace_bar(&upper_alone).expect("traces");
    assert!(
        traced
            .places
            .iter()
            .all(|p| p.top_mm.is_some() && p.thickness_mm.is_none())
    );
    // Nothing touched yet: the stone's box alone.
    let box_alone = BarTraceAsk {
        upper_px: &[],
        ..upper_alone
    };
    let found = trace_bar(&box_alone).expect("finds the stone");
    assert!(found.places.is_empty());
    assert!(
        (found.stone_px[0][0] - 200.0).abs() < 2.0,
        "{:?}",
        found.stone_px
    );
    assert!(
        (found.stone_px[1][1] - 500.0).abs() < 2.0,
        "{:?}",
        found.stone_px
    );
}

#[test]
fn all_that_is_wrong_is_told_at_once() {
    let (picture, outline) = (photo([0.0, 1200.0]), outline());
    let ask = BarTraceAsk {
        stone_px: Some([[10.0, 10.0], [11.0, 400.0]]),
        places: 0,
        height: Length::from_mm(0.0),
        ..asked(&picture, &outline[..2], &[[1e4, 5.0]], &[])
    };
    let fields =
        |faults: Faults| -> Vec<String> { faults.0.into_iter().map(|f| f.field).collect() };
    assert_eq!(
        fields(trace_bar(&ask).expect_err("six faults")),
        [
            "upper_px[0]",
            "upper_px",
            "stone_px",
            "height_mm",
            "places",
            "outline_mm"
        ]
    );
    // Edges the wrong way about.
    let (upper, lower) = (touched(1, &TOUCHED), touched(0, &TOUCHED));
    let crossed = trace_bar(&asked(&picture, &outline, &upper, &lower));
    assert_eq!(fields(crossed.expect_err("crossed"))[0], "lower_px");
    let lower_alone = trace_bar(&asked(&picture, &outline, &[], &lower));
    assert_eq!(fields(lower_alone.expect_err("no upper")), ["upper_px"]);
    let bare = Picture::new(64, 64, vec![200; 3 * 64 * 64]).expect("a picture");
    let nothing = trace_bar(&asked(&bare, &outline, &[], &[]));
    assert_eq!(fields(nothing.expect_err("no stone")), ["photo 'side'"]);
}
