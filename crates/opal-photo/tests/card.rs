//! The card in pictures drawn by us under known views, blur and noise.

mod drawn;

use drawn::{card_shade, draw, view};
use opal_photo::{CardFound, CardRefusal, Homography, PhotoScale, card, find_card};
use opal_units::{Length, Seed};
use rand_distr::{Distribution, Normal};

const SIZE: [usize; 2] = [1600, 1200];

fn distance(p: [f64; 2], q: [f64; 2]) -> f64 {
    (p[0] - q[0]).hypot(p[1] - q[1])
}

/// Largest distance of window places from where they are, mm.
fn worst_mm(found: &CardFound, map: &Homography) -> f64 {
    let [[left, low], [right, high]] = card::window_mm();
    let mut worst = 0.0_f64;
    for (x, y) in [
        (left, low),
        (right, low),
        (left, high),
        (right, high),
        (80.0, 60.0),
    ] {
        worst = worst.max(distance(found.scale.to_mm(map.apply([x, y])), [x, y]));
    }
    worst
}

#[test]
fn the_card_is_found_and_measures_true() {
    let shade = card_shade();
    for (px_per_mm, turn, lean, blur, noise) in [
        (7.0, 0.0, 0.0, 0.7, 0.0),
        (6.0, 37.0, 8.0, 1.0, 3.0),
        (5.0, 180.0, 20.0, 1.5, 5.0),
        (4.0, 95.0, 30.0, 0.8, 3.0),
        (2.2, -20.0, 12.0, 0.6, 2.0),
    ] {
        let map = view(SIZE, px_per_mm, turn, lean, 400.0);
        let grey = draw(SIZE, &map, &shade, blur, noise);
        let at = format!("{px_per_mm} px/mm, turned {turn}, leaning {lean}");
        let found = find_card(&grey, None)
            .map_err(|why| format!("{at}: {why}"))
            .expect("found");
        assert_eq!(found.corners_px.len(), found.corners_on_card, "{at}");
        let rms = found.scale.rms_px;
        assert!(rms < 0.12, "{at}: corners are {rms} px off");
        let worst = worst_mm(&found, &map);
        assert!(worst < 0.04, "{at}: {worst} mm off");
        assert!(
            (found.tilt_deg - lean).abs() < 3.0,
            "{at}: leaning {}",
            found.tilt_deg
        );
        // A pixel's own square adds 1/√12 of a pixel.
        let blur_mm = blur.hypot(0.29) / px_per_mm;
        assert!(
            (found.blur_mm / blur_mm - 1.0).abs() < 0.25,
            "{at}: blur {} against {blur_mm}",
            found.blur_mm
        );
    }
}

#[test]
fn a_measured_rule_sets_the_print_right() {
    let map = view(SIZE, 6.0, 0.0, 0.0, 400.0);
    let grey = draw(SIZE, &map, card_shade(), 0.8, 0.0);
    let plain = find_card(&grey, None).expect("found");
    let short = find_card(&grey, Some(49.0)).expect("found");
    let at = |found: &CardFound| {
        distance(
            found.scale.to_mm([300.0, 300.0]),
            found.scale.to_mm([900.0, 700.0]),
        )
    };
    assert!((at(&short) / at(&plain) - 0.98).abs() < 1e-9);
    assert!(short.scale.relative_sigma < plain.scale.relative_sigma);
}

#[test]
fn a_stone_on_the_band_hides_a_few_corners_only() {
    let card = card_shade();
    let map = view(SIZE, 6.0, 10.0, 10.0, 400.0);
    let grey = draw(
        SIZE,
        &map,
        |at| {
            if distance(at, [10.0, 64.0]) < 26.0 {
                0.3
            } else {
                card(at)
            }
        },
        0.8,
        2.0,
    );
    let found = find_card(&grey, None).expect("found");
    assert!(found.corners_px.len() < found.corners_on_card);
    assert!(worst_mm(&found, &map) < 0.04);
}

#[test]
fn what_cannot_be_trusted_is_refused_with_its_reason() {
    let shade = card_shade();
    let seen = |map: &Homography, blur: f64| find_card(&draw(SIZE, map, &shade, blur, 2.0), None);
    let empty = draw(SIZE, &view(SIZE, 6.0, 0.0, 0.0, 400.0), |_| 0.7, 0.0, 4.0);
    assert_eq!(find_card(&empty, None), Err(CardRefusal::NoneFound));
    let near = view(SIZE, 13.0, 0.0, 0.0, 400.0);
    assert!(matches!(
        seen(&near, 0.8),
        Err(CardRefusal::CutOff { .. } | CardRefusal::NoneFound)
    ));
    // The left third lies beyond the picture.
    let aside = Homography([1.0, 0.0, -700.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0])
        .after(&view(SIZE, 6.0, 0.0, 0.0, 400.0))
        .expect("a view");
    assert!(matches!(seen(&aside, 0.8), Err(CardRefusal::CutOff { .. })));
    let far = view(SIZE, 1.4, 0.0, 0.0, 400.0);
    assert!(
        matches!(seen(&far, 0.5), Err(CardRefusal::TooSmall { .. })),
        "{:?}",
        seen(&far, 0.5)
    );
    let blurred = view(SIZE, 6.0, 0.0, 0.0, 400.0);
    assert!(matches!(
        seen(&blurred, 5.0),
        Err(CardRefusal::Blurred { .. })
    ));
    let leaning = view(SIZE, 5.0, 0.0, 48.0, 400.0);
    assert!(matches!(
        seen(&leaning, 0.8),
        Err(CardRefusal::TooTilted { .. })
    ));
}

#[test]
fn the_spread_of_the_scale_is_what_repeated_photos_show() {
    let map = view(SIZE, 6.0, 15.0, 15.0, 400.0);
    let mm: Vec<[f64; 2]> = card::corners()
        .iter()
        .map(|c| [c.column, c.row].map(|v| card::SQUARE_MM * f64::from(v)))
        .collect();
    let normal = Normal::new(0.0, 0.3).expect("a spread");
    let middle = map.apply([84.0, 64.0]);
    let (mut scales, mut told) = (Vec::new(), 0.0);
    for k in 0..150 {
        let mut rng = Seed(5).stream("corners", k);
        let pairs: Vec<_> = mm
            .iter()
            .map(|p| (map.apply(*p).map(|v| v + normal.sample(&mut rng)), *p))
            .collect();
        let scale = PhotoScale::through(SIZE, &pairs).expect("a scale");
        scales.push(scale.mm_per_px(middle));
        told += scale.relative_sigma / 150.0;
    }
    let mean = scales.iter().sum::<f64>() / 150.0;
    let sd = (scales.iter().map(|s| (s / mean - 1.0).powi(2)).sum::<f64>() / 149.0).sqrt();
    // The sd of 150 values is itself known to 6 %.
    assert!((told / sd - 1.0).abs() < 0.2, "told {told}, seen {sd}");
}

#[test]
fn a_bent_lens_is_straightened_only_where_it_pays() {
    let map = view(SIZE, 6.0, 5.0, 10.0, 400.0);
    let mm: Vec<[f64; 2]> = card::corners()
        .iter()
        .map(|c| [c.column, c.row].map(|v| card::SQUARE_MM * f64::from(v)))
        .collect();
    let normal = Normal::new(0.0, 0.1).expect("a spread");
    let fitted = |k: f64| {
        let mut lens = opal_photo::RadialLens::straight(SIZE[0], SIZE[1]);
        lens.k = k;
        let mut rng = Seed(6).stream("lens", 0);
        let pairs: Vec<_> = mm
            .iter()
            .map(|p| {
                (
                    lens.seen(map.apply(*p))
                        .map(|v| v + normal.sample(&mut rng)),
                    *p,
                )
            })
            .collect();
        PhotoScale::through(SIZE, &pairs).expect("a scale")
    };
    assert_eq!(fitted(0.0).lens().k, 0.0);
    for k in [-0.05, 0.02, 0.1] {
        assert!((fitted(k).lens().k - k).abs() < 0.004, "{k}");
    }
}

#[test]
fn two_points_of_known_distance_make_a_scale() {
    let scale = PhotoScale::from_two_points(
        SIZE,
        [[100.0, 500.0], [600.0, 500.0]],
        Length::from_mm(50.0),
    )
    .expect("two points");
    assert!(distance(scale.to_mm([600.0, 500.0]), [50.0, 0.0]) < 1e-9);
    assert!(distance(scale.to_mm([100.0, 400.0]), [0.0, 10.0]) < 1e-9);
    assert!((scale.mm_per_px([5.0, 5.0]) - 0.1).abs() < 1e-12);
    assert!(scale.relative_sigma > 0.01 && scale.relative_sigma < 0.02);
    let one = [[1.0, 1.0]; 2];
    assert!(PhotoScale::from_two_points(SIZE, one, Length::from_mm(5.0)).is_none());
}
