//! Interiors honour what was seen, are the same on any number of threads, and say
//! what they rest on.

use opal_evidence::{
    BarEvidence, CrackTrace, Evidence, Exposure, ExposureKind, Form, QuickBar, Reading, Seen,
    Sighting, SpeckKind, SpeckSeen, Step, TorchLook,
};
use opal_interior::forms::Around;
use opal_interior::{DrawOptions, InteriorError, Interiors, OriginPrior, at_points, bar_at};
use opal_stone::Stone;
use opal_testkit::{piece, rough};
use opal_units::{Angle, Area, Length, Seed};

fn read(mm: f64, sigma_mm: f64) -> Reading {
    Reading {
        value: Length::from_mm(mm),
        sigma: Length::from_mm(sigma_mm),
    }
}

fn measured(at_mm: [f64; 2], top: f64, bottom: f64, sigma: f64) -> Sighting {
    Sighting {
        at_mm,
        seen: Seen::Measured {
            top: Some(read(top, sigma)),
            bottom: Some(read(bottom, sigma)),
            thickness: None,
        },
    }
}

fn bar(name: &str, sightings: Vec<Sighting>) -> BarEvidence {
    BarEvidence {
        name: name.to_owned(),
        sightings,
        quick: None,
    }
}

fn seam() -> (Evidence, Stone) {
    let evidence = piece(Form::Seam, [40.0, 30.0, 18.0], 0.6);
    let stone = rough(&evidence, 0.5);
    (evidence, stone)
}

fn draw(evidence: &Evidence, stone: &Stone, n: usize) -> Interiors {
    let options = DrawOptions { n, seed: Seed(7) };
    Interiors::draw(evidence, stone, &options, &|_| {}).expect("drawn")
}

fn quick(thickness: f64, share: f64) -> BarEvidence {
    BarEvidence {
        name: "A".to_owned(),
        sightings: vec![],
        quick: Some(QuickBar {
            thickness: read(thickness, 0.25 * thickness),
            edge_share: share,
            top: None,
        }),
    }
}

#[test]
fn sightings_are_honoured_within_their_error() {
    let (mut evidence, stone) = seam();
    evidence.bars.push(bar(
        "A",
        vec![
            measured([8.0, 15.0], 9.5, 7.9, 0.1),
            measured([32.0, 15.0], 9.9, 8.0, 0.1),
            measured([20.0, 6.0], 9.6, 8.4, 0.1),
            Sighting {
                at_mm: [20.25, 24.25],
                seen: Seen::Absent,
            },
            Sighting {
                at_mm: [26.0, 10.0],
                seen: Seen::AtLeast {
                    thickness: Length::from_mm(1.0),
                    top: None,
                },
            },
        ],
    ));
    let interiors = draw(&evidence, &stone, 200);
    for i in 0..interiors.n {
        for (at, top, thickness) in [
            ([8.0, 15.0], 9.5, 1.6),
            ([32.0, 15.0], 9.9, 1.9),
            ([20.0, 6.0], 9.6, 1.2),
        ] {
            let (t, h) = bar_at(&interiors, 0, i, at).expect("inside");
            // Five standard errors, and the bend of the bar within a cell.
            assert!((t - top).abs() < 0.6, "{i} {at:?}: {t}");
            assert!((h - thickness).abs() < 0.8, "{i} {at:?}: {h}");
        }
        let (_, h) = bar_at(&interiors, 0, i, [20.25, 24.25]).expect("inside");
        assert!(h < 0.05, "{i}: {h} mm where no colour was seen");
        let (_, h) = bar_at(&interiors, 0, i, [26.0, 10.0]).expect("inside");
        assert!(h > 0.95, "{i}: {h} mm where at least 1 was seen");
    }
    let forecast = at_points(
        &interiors,
        &[[20.25, 24.25], [8.0, 15.0], [-5.0, 0.0]],
        &[0.05, 0.5, 0.95],
    );
    assert!(forecast[0].bars[0].present < 0.2);
    assert!(forecast[1].bars[0].present == 1.0);
    assert!(forecast[2].bars.is_empty(), "outside the stone");
    let q = &forecast[1].bars[0].thickness_mm;
    assert!(q[0] <= q[1] && q[1] <= q[2]);
}

#[test]
fn same_seed_same_bytes_on_any_number_of_threads() {
    let (mut evidence, stone) = seam();
    evidence.bars.push(bar(
        "A",
        vec![
            measured([8.0, 15.0], 9.5, 7.9, 0.1),
            measured([32.0, 15.0], 9.9, 8.0, 0.1),
        ],
    ));
    evidence.bars.push(quick(1.0, 0.6));
    let on = |threads: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool")
            .install(|| draw(&evidence, &stone, 33))
    };
    let (one, three) = (on(1), on(3));
    let bits = |v: &[f32]| v.iter().map(|x| x.to_bits()).collect::<Vec<_>>();
    for (a, b) in one.bars.iter().zip(&three.bars) {
        assert_eq!(bits(&a.top_mm), bits(&b.top_mm));
        assert_eq!(bits(&a.thickness_mm), bits(&b.thickness_mm));
    }
    assert_eq!(one.specks, three.specks);
    assert_eq!(one.cracks, three.cracks);
    assert_eq!(one.skin_inset_mm, three.skin_inset_mm);
}

#[test]
fn bars_stay_inside_the_skin_and_do_not_cross() {
    let (mut evidence, stone) = seam();
    evidence
        .bars
        .push(bar("A", vec![measured([20.0, 15.0], 12.0, 10.0, 0.2)]));
    evidence
        .bars
        .push(bar("B", vec![measured([20.0, 15.0], 9.0, 7.0, 0.2)]));
    let interiors = draw(&evidence, &stone, 100);
    let cells = interiors.cells();
    for i in 0..interiors.n {
        for k in 0..cells {
            let at = |b: usize| {
                let bar = &interiors.bars[b];
                (bar.top(i, cells)[k], bar.thickness(i, cells)[k])
            };
            for b in 0..2 {
                let (top, thickness) = at(b);
                assert_eq!(top.is_nan(), !stone.inside(k));
                if thickness > 0.0 {
                    assert!(top <= stone.top_mm[k] + 1e-4);
                    assert!(top - thickness >= stone.bottom_mm[k] - 1e-4);
                }
            }
            let ((a, ha), (b, hb)) = (at(0), at(1));
            if ha > 0.0 && hb > 0.0 {
                assert!(b <= a - ha + 1e-4, "{i} {k}: bars cross");
            }
        }
    }
}

/// A bar that breaks off along x = 20 and goes on two millimetres lower: hard by the
/// line each side lies as its own sightings say, though the other side is nearer.
#[test]
fn a_step_keeps_the_sides_apart() {
    let (mut evidence, stone) = seam();
    let sightings = (0..16)
        .map(|k| {
            let (x, y) = (
                6.25 + 3.75 * f64::from(k % 8),
                9.25 + 10.0 * f64::from(k / 8),
            );
            let top = if x < 20.0 { 10.5 } else { 8.5 };
            measured([x, y], top, top - 1.5, 0.1)
        })
        .collect();
    evidence.bars.push(bar("A", sightings));
    evidence.step = Some(Step {
        from_mm: [20.0, 0.0],
        to_mm: [20.0, 30.0],
        rise: Some(read(2.0, 0.5)),
    });
    let interiors = draw(&evidence, &stone, 200);
    let said = interiors.warnings.join("\n");
    assert!(!said.contains("Look again"), "{said}");
    let top = |at: [f64; 2]| -> (f64, f64) {
        let tops: Vec<f64> = (0..interiors.n)
            .map(|i| bar_at(&interiors, 0, i, at).expect("inside").0)
            .collect();
        let mean = tops.iter().sum::<f64>() / tops.len() as f64;
        let worst = tops.iter().map(|t| (t - mean).abs()).fold(0.0, f64::max);
        (mean, worst)
    };
    for (at, want) in [([19.75, 14.25], 10.5), ([20.25, 14.25], 8.5)] {
        let (mean, _) = top(at);
        assert!((mean - want).abs() < 0.25, "{at:?}: {mean}");
    }
    for (at, want) in [([17.5, 9.25], 10.5), ([21.25, 9.25], 8.5)] {
        let (mean, worst) = top(at);
        assert!(
            (mean - want).abs() < 0.1 && worst < 0.6,
            "{at:?}: {mean} ± {worst}"
        );
    }
}

#[test]
fn a_misread_sighting_is_named_and_does_not_pull() {
    let (mut evidence, stone) = seam();
    let mut sightings: Vec<Sighting> = (0..16)
        .map(|k| {
            let turn = std::f64::consts::TAU * f64::from(k) / 16.0;
            let at = [20.0 + 15.0 * turn.cos(), 15.0 + 10.0 * turn.sin()];
            measured(at, 9.0, 7.5, 0.1)
        })
        .collect();
    sightings[4] = measured(sightings[4].at_mm, 13.0, 11.5, 0.1);
    let at = sightings[4].at_mm;
    evidence.bars.push(bar("A", sightings));
    let interiors = draw(&evidence, &stone, 200);
    let said = interiors.warnings.join("\n");
    assert!(
        said.contains(&format!("({:.1}, {:.1}) mm", at[0], at[1])),
        "{said}"
    );
    let mean = (0..200)
        .filter_map(|i| bar_at(&interiors, 0, i, at))
        .map(|b| b.0)
        .sum::<f64>()
        / 200.0;
    assert!((mean - 9.0).abs() < 1.0, "{mean}");
}

/// A 959 ct piece of seam rough with the bar on most of its edge, about 2 mm
/// thick (common practice, no source): the bar runs through most of the piece,
/// and its volume is known to a factor of two or three, not better.
#[test]
fn a_quick_look_leaves_a_sane_spread() {
    // 959 ct are 191.8 g, at 2.1 g/cm³ 91,333 mm³.
    let volume = 959.0 * 0.2 / 2.1 * 1000.0;
    let (length, width) = (75.0, 55.0);
    let fill = 0.6;
    let height = volume / (fill * length * width);
    let mut evidence = piece(Form::Seam, [length, width, height], fill);
    evidence.bars.push(quick(2.0, 0.8));
    let stone = rough(&evidence, 1.0);
    let interiors = draw(&evidence, &stone, 400);
    let cells = interiors.cells();
    let outline = stone.outline_area().mm2();
    let mut volumes: Vec<f64> = Vec::new();
    let mut extents: Vec<f64> = Vec::new();
    for i in 0..interiors.n {
        let bar = interiors.bars[0].thickness(i, cells);
        volumes.push(bar.iter().map(|t| f64::from(*t)).sum::<f64>() * stone.grid.cell_area_mm2());
        let count = bar.iter().filter(|t| **t > 0.05).count() as f64;
        extents.push(count * stone.grid.cell_area_mm2() / outline);
    }
    volumes.sort_by(f64::total_cmp);
    extents.sort_by(f64::total_cmp);
    println!(
        "bar volume mm³ 5/50/95 %: {:.0} {:.0} {:.0}; extent: {:.2} {:.2} {:.2}",
        volumes[20], volumes[200], volumes[380], extents[20], extents[200], extents[380]
    );
    assert!(extents[200] > 0.5, "the bar runs through most of the piece");
    let ratio = volumes[380] / volumes[20];
    assert!((1.8..8.0).contains(&ratio), "{ratio}");
}

/// The share of the edge that shows comes out as it was judged.
#[test]
fn a_smaller_share_of_the_edge_means_less_bar() {
    let (evidence, stone) = seam();
    let mean_extent = |share: f64| {
        let mut evidence = evidence.clone();
        evidence.bars.push(quick(1.5, share));
        let interiors = draw(&evidence, &stone, 200);
        interiors.bars[0]
            .thickness_mm
            .iter()
            .filter(|t| **t > 0.05)
            .count()
    };
    let (low, middle, high) = (mean_extent(0.2), mean_extent(0.5), mean_extent(1.0));
    assert!(low < middle && middle < high, "{low} {middle} {high}");
}

#[test]
fn no_bar_evidence_is_said() {
    let (evidence, stone) = seam();
    let interiors = draw(&evidence, &stone, 200);
    assert_eq!(interiors.bars.len(), 1);
    assert!(interiors.rests_on[0].starts_with("No bar was seen"));
    let cells = interiors.cells();
    let without = (0..200)
        .filter(|&i| {
            interiors.bars[0]
                .thickness(i, cells)
                .iter()
                .all(|t| *t <= 0.0)
        })
        .count();
    // Half of seam pieces without a sign hold one (the form's prior), ± 4 errors.
    assert!((70..=130).contains(&without), "{without}");
}

#[test]
fn specks_follow_what_was_counted() {
    let (mut evidence, stone) = seam();
    let per_interior = |evidence: &Evidence| {
        let interiors = draw(evidence, &stone, 200);
        interiors.specks.specks.len() as f64 / 200.0
    };
    let unlooked = per_interior(&evidence);
    evidence.torch = Some(TorchLook::Specks);
    assert!(per_interior(&evidence) > unlooked);
    evidence.torch = None;
    evidence.exposures.push(Exposure {
        kind: ExposureKind::Edge,
        area: Area::from_mm2(600.0),
        smallest_seen: Length::from_mm(0.2),
        specks: vec![],
    });
    let clean = per_interior(&evidence);
    assert!(clean < 0.8 * unlooked, "{clean} {unlooked}");
    evidence.exposures[0].specks = vec![SpeckSeen {
        kind: SpeckKind::Sand,
        at_mm: Some([14.0, 3.0, 8.0]),
        diameter: Length::from_mm(0.6),
    }];
    evidence.cracks.push(CrackTrace {
        trace_mm: vec![[10.0, 10.0], [16.0, 12.0]],
        dip: Angle::from_degrees(80.0),
        depth: Length::from_mm(6.0),
    });
    let interiors = draw(&evidence, &stone, 50);
    for i in 0..50 {
        let pinned = interiors.specks.of(i).iter().any(|s| {
            s.at_mm == [14.0, 3.0, 8.0] && s.kind == SpeckKind::Sand && s.radius_mm >= 0.3
        });
        assert!(pinned, "the sand that was seen is in every interior");
        let crack = interiors.cracks.of(i)[0];
        let size: f32 = crack.normal.iter().map(|c| c * c).sum();
        assert!((size - 1.0).abs() < 1e-4 && crack.radius_mm > 0.0);
    }
}

#[test]
fn faults_name_place_value_and_limit() {
    let (mut evidence, stone) = seam();
    let options = DrawOptions {
        n: 1,
        seed: Seed(1),
    };
    assert_eq!(
        Interiors::draw(&evidence, &stone, &options, &|_| {}),
        Err(InteriorError::Number { n: 1 })
    );
    evidence
        .bars
        .push(bar("A", vec![measured([70.0, 15.0], 9.0, 8.0, 0.1)]));
    let options = DrawOptions {
        n: 10,
        seed: Seed(1),
    };
    let fault = Interiors::draw(&evidence, &stone, &options, &|_| {})
        .expect_err("off the stone")
        .to_string();
    assert!(
        fault.contains("sighting 1 of bar A at (70.00, 15.00) mm"),
        "{fault}"
    );
}

/// With no bar seen, what an origin taught decides how thick it may be and whether it is
/// there; the answer says so.
#[test]
fn an_origin_stands_in_place_of_the_form() {
    let (evidence, stone) = seam();
    let origin = OriginPrior {
        origin: "Lantern Hill".to_owned(),
        stones: 9,
        hidden_bar: Some(1.0),
        thickness_mm: Some(Around {
            median: 3.5,
            log_sd: 0.1,
        }),
        ..OriginPrior::default()
    };
    let options = DrawOptions {
        n: 200,
        seed: Seed(7),
    };
    let learnt =
        Interiors::draw_for_origin(&evidence, &stone, &origin, &options, &|_| {}).expect("draws");
    let usual = Interiors::draw(&evidence, &stone, &options, &|_| {}).expect("draws");
    let mean = |interiors: &Interiors| {
        let all = &interiors.bars[0].thickness_mm;
        all.iter().map(|t| f64::from(*t)).sum::<f64>() / all.len() as f64
    };
    assert!(mean(&learnt) > 1.5 * mean(&usual));
    let words = learnt.rests_on.last().expect("said");
    assert!(
        words.contains("9 of your own stones from Lantern Hill"),
        "{words}"
    );
}
