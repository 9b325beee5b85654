//! One known ellipsoid three ways: as a scan, as an outline with heights, as
//! three calliper sizes and a weight. All must agree within what they say of
//! their own errors, and with the closed form π/6 · length · width · height.

use opal_evidence::{
    Callipers, Evidence, Form, GravityEstimate, LengthUnit, Look, OutlineShape, Piece, ScanShape,
    Shape,
};
use opal_geom::{TriMesh, solids};
use opal_stone::{GridChoice, Stone};
use opal_units::{Length, Mass, Volume};
use std::f64::consts::PI;
use std::sync::Arc;

const SIZE: [f64; 3] = [40.0, 30.0, 18.0];

fn volume() -> Volume {
    Volume::from_mm3(PI / 6.0 * SIZE.iter().product::<f64>())
}

fn weight() -> Mass {
    volume() * GravityEstimate::default_for(Form::Seam).value
}

fn built(shape: Shape, weight: Option<Mass>) -> Stone {
    let evidence = Evidence {
        piece: Piece {
            name: "A".to_owned(),
            form: Form::Seam,
            origin: None,
            weight,
            gravity: GravityEstimate::default_for(Form::Seam),
            asking: None,
        },
        shape,
        bars: Vec::new(),
        exposures: Vec::new(),
        cracks: Vec::new(),
        step: None,
        torch: None,
        look: Look::default(),
    };
    Stone::from_evidence(&evidence, GridChoice::Auto).expect("a stone")
}

/// Skin top and bottom of the ellipsoid in the box from 0 to SIZE.
fn skin(x: f64, y: f64) -> Option<(f64, f64)> {
    let u = 2.0 * x / SIZE[0] - 1.0;
    let v = 2.0 * y / SIZE[1] - 1.0;
    let left = 1.0 - u * u - v * v;
    (left > 0.0).then(|| {
        let half = 0.5 * SIZE[2] * left.sqrt();
        (0.5 * SIZE[2] + half, 0.5 * SIZE[2] - half)
    })
}

fn ellipsoid_mesh() -> TriMesh {
    let ball = solids::icosphere(1.0, 5);
    TriMesh {
        vertices: ball
            .vertices
            .iter()
            .map(|p| [0, 1, 2].map(|k| 0.5 * SIZE[k] * (1.0 + p[k])))
            .collect(),
        faces: ball.faces,
    }
}

fn scan() -> Shape {
    Shape::Scan(ScanShape {
        mesh: Arc::new(ellipsoid_mesh()),
        source: "ball.ply".to_owned(),
        file_unit: LengthUnit::Mm,
        repairs: Vec::new(),
        stone_from_mesh: None,
    })
}

/// 48 points on the outline and heights at 13 places, rounded to 0.1 mm.
fn outline() -> Shape {
    let points_mm = (0..48)
        .map(|k| {
            let turn = 2.0 * PI * f64::from(k) / 48.0;
            [
                0.5 * SIZE[0] * (1.0 + turn.cos()),
                0.5 * SIZE[1] * (1.0 + turn.sin()),
            ]
        })
        .collect();
    let places = [
        [20.0, 15.0],
        [10.0, 15.0],
        [30.0, 15.0],
        [20.0, 7.0],
        [20.0, 23.0],
        [11.0, 8.0],
        [29.0, 8.0],
        [11.0, 22.0],
        [29.0, 22.0],
        [4.0, 15.0],
        [36.0, 15.0],
        [20.0, 3.0],
        [20.0, 27.0],
    ];
    let tenth = |z: f64| (10.0 * z).round() / 10.0;
    let rows = |side: fn((f64, f64)) -> f64| {
        places
            .iter()
            .filter_map(|&[x, y]| Some([x, y, tenth(side(skin(x, y)?))]))
            .collect()
    };
    Shape::Outline(OutlineShape {
        points_mm,
        heights_mm: rows(|skin| skin.0),
        base_mm: rows(|skin| skin.1),
    })
}

fn callipers() -> Shape {
    let [length, width, height] = SIZE.map(Length::from_mm);
    Shape::Callipers(Callipers {
        length,
        width,
        height,
        solidity: None,
    })
}

#[test]
fn three_ways_to_one_stone_agree_within_their_own_errors() {
    for (shape, share) in [(scan(), 0.005), (outline(), 0.06), (callipers(), 0.005)] {
        let stone = built(shape, Some(weight()));
        let off = (stone.volume.0 - volume()).abs();
        assert!(
            off / volume() < share,
            "{:?}: {} against {}",
            stone.source,
            stone.volume.0,
            volume()
        );
        assert!(off.mm3() < 2.0 * stone.volume.1.mm3(), "{:?}", stone.source);
        assert!((stone.layered_volume() / stone.volume.0 - 1.0).abs() < 0.005);
        let check = stone.check.as_ref().expect("weighed");
        assert!(check.agrees(), "{}", check.verdict);

        let (mut missed, mut n) = (0.0, 0.0);
        for k in 0..stone.grid.len() {
            let [x, y] = stone.grid.at_index(k);
            if let (true, Some((top, bottom))) = (stone.inside(k), skin(x, y)) {
                missed += (f64::from(stone.top_mm[k]) - top).powi(2);
                missed += (f64::from(stone.bottom_mm[k]) - bottom).powi(2);
                n += 2.0;
            }
        }
        let rms = (missed / n).sqrt();
        assert!(
            rms < 1.5 * stone.skin_sigma.mm(),
            "{:?}: skin off by {rms:.3} mm, stated {}",
            stone.source,
            stone.skin_sigma
        );
    }
}

#[test]
fn the_scans_stone_is_the_closed_form() {
    let stone = built(scan(), None);
    // The 20·4⁵-faced ball holds 0.9986 of the sphere.
    assert!((stone.volume.0 / volume() - 1.0).abs() < 0.002);
    let area = PI / 4.0 * SIZE[0] * SIZE[1];
    assert!((stone.outline_area().mm2() / area - 1.0).abs() < 0.005);
    assert!(stone.departure.is_none());
    let (low, high) = stone.height_range_mm();
    assert!(low.abs() < 0.05 && (high - SIZE[2]).abs() < 0.05);
}

#[test]
fn a_drawn_solid_is_closed_and_holds_nearly_the_volume() {
    let stone = built(callipers(), Some(weight()));
    for (step, share) in [(1, 0.03), (4, 0.12)] {
        let mesh = stone.layered_mesh(step);
        let mut sides = std::collections::BTreeMap::new();
        for &[a, b, c] in &mesh.faces {
            for side in [[a, b], [b, c], [c, a]] {
                *sides.entry(side).or_insert(0_i32) += 1;
            }
        }
        for (&[a, b], &n) in &sides {
            assert_eq!(sides.get(&[b, a]), Some(&n), "side {a}-{b} has no partner");
        }
        let off = mesh.volume_mm3() / volume().mm3() - 1.0;
        assert!(off < 0.0 && off.abs() < share, "step {step}: {off}");
    }
}

#[test]
fn outline_edge_and_section_are_those_of_the_ellipse() {
    let stone = built(scan(), None);
    let loops = stone.outline_loops();
    assert_eq!(loops.len(), 1);
    let twice: f64 = loops[0]
        .iter()
        .zip(loops[0].iter().cycle().skip(1))
        .map(|(p, q)| p[0] * q[1] - p[1] * q[0])
        .sum();
    let area = PI / 4.0 * SIZE[0] * SIZE[1];
    assert!((0.5 * twice / area - 1.0).abs() < 0.04, "anticlockwise");

    let edge = stone.edge_nodes();
    assert!(edge.len() > 200);
    for k in edge {
        let [x, y] = stone.grid.at_index(k);
        let r = (2.0 * x / SIZE[0] - 1.0).hypot(2.0 * y / SIZE[1] - 1.0);
        assert!(r > 0.95 && r <= 1.0);
    }

    let section = stone.section([-5.0, 15.0], [45.0, 15.0]);
    assert!(section[0].skin_mm.is_none());
    let middle = &section[section.len() / 2];
    let (top, bottom) = middle.skin_mm.expect("inside");
    assert!((middle.along_mm - 25.0).abs() < 0.2);
    assert!((top - SIZE[2]).abs() < 0.05 && bottom.abs() < 0.05);
}

#[test]
fn a_scan_in_the_wrong_scale_is_flagged_and_can_be_rescaled() {
    let Shape::Scan(mut shape) = scan() else {
        unreachable!("a scan")
    };
    shape.mesh = Arc::new(shape.mesh.scaled(1.1));
    let stone = built(Shape::Scan(shape), Some(weight()));
    let check = stone.check.as_ref().expect("weighed");
    assert!(!check.agrees() && check.verdict.contains("disagree"));
    let scaled = stone.scaled_to_weight().expect("weighed");
    assert!((scaled.volume.0 / volume() - 1.0).abs() < 1e-9);
    assert!((scaled.layered_volume() / volume() - 1.0).abs() < 0.005);
    let factor = scaled.check.expect("weighed").scaled_by;
    assert!((factor * 1.1 - 1.0).abs() < 0.001);
    let mesh = scaled.mesh.expect("a scan");
    assert!((mesh.volume_mm3() / volume().mm3() - 1.0).abs() < 1e-9);
}

/// A mushroom: the cap hides the hollow beside the stalk from above.
#[test]
fn a_scan_that_folds_over_itself_is_reported_with_its_departure() {
    // The profile (radius, z) turned about z: stalk of radius 4 below, cap of 10 above.
    let profile: [[f64; 2]; 6] = [
        [0.0, 0.0],
        [8.0, 0.0],
        [4.0, 3.0],
        [4.0, 6.0],
        [10.0, 9.0],
        [0.0, 12.0],
    ];
    let n = 96_usize;
    let mut vertices = vec![[0.0, 0.0, profile[0][1]], [0.0, 0.0, profile[5][1]]];
    for ring in &profile[1..5] {
        for k in 0..n {
            let turn = 2.0 * PI * k as f64 / n as f64;
            vertices.push([ring[0] * turn.cos(), ring[0] * turn.sin(), ring[1]]);
        }
    }
    let at = |ring: usize, k: usize| (2 + ring * n + k % n) as u32;
    let mut faces = Vec::new();
    for k in 0..n {
        faces.push([0, at(0, k + 1), at(0, k)]);
        for ring in 0..3 {
            faces.push([at(ring, k), at(ring, k + 1), at(ring + 1, k + 1)]);
            faces.push([at(ring, k), at(ring + 1, k + 1), at(ring + 1, k)]);
        }
        faces.push([1, at(3, k), at(3, k + 1)]);
    }
    let mesh = TriMesh { vertices, faces };
    let solid = mesh.volume_mm3();
    let stone = built(
        Shape::Scan(ScanShape {
            mesh: Arc::new(mesh),
            source: "mushroom.ply".to_owned(),
            file_unit: LengthUnit::Mm,
            repairs: Vec::new(),
            stone_from_mesh: None,
        }),
        None,
    );
    let departure = stone.departure.as_ref().expect("it folds");
    assert!(!departure.folded_nodes.is_empty());
    assert!(departure.volume.mm3() > 0.05 * solid);
    assert!((stone.volume.0.mm3() / solid - 1.0).abs() < 1e-9);
    let held = stone.layered_volume().mm3() - departure.volume.mm3();
    assert!((held / solid - 1.0).abs() < 0.01);
    assert!(stone.notes.iter().any(|note| note.contains("folds over")));
}
