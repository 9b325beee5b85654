//! One stone three ways, and real stones: scan, outline with heights, callipers.
//!
//! The real ones are open scans of natural stones in the shared data
//! (StonePacking-3D, MIT, EPFL 2025), read as if their centimetres were
//! millimetres, which makes them gem rough.

#![allow(clippy::panic)] // a test says what it met

use opal_evidence::{
    Callipers, Evidence, Form, GravityEstimate, LengthUnit, Look, OutlineShape, Piece, ScanShape,
    Shape, StoneFromMesh,
};
use opal_files::mesh::{MeshUnit, read_scan};
use opal_geom::TriMesh;
use opal_stone::{GridChoice, Stone};
use opal_units::{Length, Mass, Seed};
use rand::RngExt as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

const STONES: [&str; 12] = [
    "stone_000",
    "stone_005",
    "stone_006",
    "stone_018",
    "stone_021",
    "stone_030",
    "stone_054",
    "stone_074",
    "stone_080",
    "stone_093",
    "stone_107",
    "stone_122",
];

fn shared() -> Option<PathBuf> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data/A_stones");
    if !path.is_dir() {
        println!("skipped: no shared data");
        return None;
    }
    Some(path)
}

fn evidence(shape: Shape, weight: Option<Mass>) -> Evidence {
    Evidence {
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
    }
}

fn built(shape: Shape, weight: Option<Mass>) -> Stone {
    Stone::from_evidence(&evidence(shape, weight), GridChoice::Auto)
        .unwrap_or_else(|faults| panic!("{faults}"))
}

fn scan_shape(mesh: TriMesh) -> Shape {
    Shape::Scan(ScanShape {
        mesh: Arc::new(mesh),
        source: "a.obj".to_owned(),
        file_unit: LengthUnit::Mm,
        repairs: Vec::new(),
        stone_from_mesh: None,
    })
}

/// The scan with its longest side along x, its shortest along z, and the lower
/// corner of its box at the origin.
fn laid_flat(mesh: &TriMesh) -> TriMesh {
    let size = mesh.bounds().expect("a box").size_mm();
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| size[b].total_cmp(&size[a]));
    let mut rotation = [0.0; 9];
    for (row, axis) in order.into_iter().enumerate() {
        rotation[3 * row + axis] = 1.0;
    }
    let even = matches!(order, [0, 1, 2] | [1, 2, 0] | [2, 0, 1]);
    if !even {
        // A mirror would be no turn: look at it from the other side.
        for x in &mut rotation[6..] {
            *x = -*x;
        }
    }
    let turned = mesh.moved(rotation, [0.0; 3]);
    let low = turned.bounds().expect("a box").min_mm;
    turned.moved(StoneFromMesh::IDENTITY.rotation, low.map(|x| -x))
}

fn real_stones() -> Vec<(String, TriMesh)> {
    let Some(folder) = shared() else {
        return Vec::new();
    };
    STONES
        .iter()
        .map(|name| {
            let bytes = std::fs::read(folder.join(format!("{name}.obj"))).expect("reads");
            let scan = read_scan(&bytes, "a.obj", MeshUnit::Millimetre)
                .unwrap_or_else(|faults| panic!("{faults}"));
            ((*name).to_owned(), laid_flat(&scan.mesh))
        })
        .collect()
}

fn callipers_of(mesh: &TriMesh) -> Shape {
    let [length, width, height] = mesh.bounds().expect("a box").size_mm().map(Length::from_mm);
    Shape::Callipers(Callipers {
        length,
        width,
        height,
        solidity: None,
    })
}

/// The traced outline of a stone and `n` heights at random places on it, both
/// skins, read to a fifth of a millimetre.
fn outline_of(stone: &Stone, n: usize, seed: u64) -> Shape {
    let mut rng = Seed(seed).stream("heights", 0);
    let outline = stone.outline_loops()[0].clone();
    let step = (outline.len() / 60).max(1);
    let points_mm: Vec<[f64; 2]> = outline.into_iter().step_by(step).collect();
    let inside: Vec<usize> = (0..stone.grid.len()).filter(|&k| stone.inside(k)).collect();
    let mut heights_mm = Vec::new();
    let mut base_mm = Vec::new();
    for _ in 0..n {
        let k = inside[rng.random_range(0..inside.len())];
        let [x, y] = stone.grid.at_index(k);
        let read = |z: f32| (f64::from(z) * 5.0).round() / 5.0;
        heights_mm.push([x, y, read(stone.top_mm[k])]);
        base_mm.push([x, y, read(stone.bottom_mm[k])]);
    }
    Shape::Outline(OutlineShape {
        points_mm,
        heights_mm,
        base_mm,
    })
}

/// Root mean square of how far the tops of two stones lie apart where both are.
fn tops_apart(a: &Stone, b: &Stone) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for k in 0..a.grid.len() {
        if let (true, Some((top, bottom))) = (a.inside(k), b.skin_at(a.grid.at_index(k))) {
            sum += (f64::from(a.top_mm[k]) - top).powi(2);
            sum += (f64::from(a.bottom_mm[k]) - bottom).powi(2);
            n += 2.0;
        }
    }
    (sum / n).sqrt()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn rms(values: &[f64]) -> f64 {
    mean(&values.iter().map(|x| x * x).collect::<Vec<_>>()).sqrt()
}

/// The layered form holds what the scan holds.
#[test]
fn layers_of_real_scans_hold_the_scans_volume() {
    for (name, mesh) in real_stones() {
        let stone = built(scan_shape(mesh.clone()), None);
        let folds = stone.departure.as_ref().map_or(0.0, |d| d.volume.mm3());
        let off = (stone.layered_volume().mm3() - folds) / mesh.volume_mm3() - 1.0;
        assert!(off.abs() < 0.002, "{name}: {off}");
        assert!(stone.layered_volume() / stone.volume.0 < 1.02, "{name}");
        assert!(stone.grid.len() <= 32_000);
    }
}

/// Callipers and a weight: the skin lies from the stand-in about as far as is
/// stated.
#[test]
fn callipers_state_how_far_the_real_skin_lies_from_the_stand_in() {
    let mut ratios = Vec::new();
    for (name, mesh) in real_stones() {
        let truth = built(scan_shape(mesh.clone()), None);
        let weight = truth.volume.0 * truth.gravity.value;
        let boxed = built(callipers_of(&mesh), Some(weight));
        assert!((boxed.volume.0 / truth.volume.0 - 1.0).abs() < 1e-9);
        let ratio = tops_apart(&truth, &boxed) / boxed.skin_sigma.mm();
        assert!(ratio < 1.6, "{name}: {ratio:.2}");
        ratios.push(ratio);
    }
    if !ratios.is_empty() {
        let typical = rms(&ratios);
        assert!((0.8..1.25).contains(&typical), "{typical:.2}");
    }
}

/// An outline with a dozen or more heights read to 0.2 mm: volume and skin lie
/// off about as far as is stated.
#[test]
fn outlines_with_heights_state_their_error() {
    for n in [12, 30] {
        let (mut volumes, mut skins) = (Vec::new(), Vec::new());
        for (_, mesh) in real_stones() {
            let truth = built(scan_shape(mesh), None);
            for seed in 0..3 {
                let drawn = built(outline_of(&truth, n, seed), None);
                volumes.push((drawn.volume.0 - truth.volume.0) / drawn.volume.1);
                skins.push(tops_apart(&truth, &drawn) / drawn.skin_sigma.mm());
            }
        }
        if volumes.is_empty() {
            return;
        }
        println!(
            "{n} heights: volume {:.2}, skin {:.2}",
            rms(&volumes),
            rms(&skins)
        );
        assert!(
            (0.4..1.4).contains(&rms(&volumes)),
            "{n}: {:.2}",
            rms(&volumes)
        );
        assert!((0.6..1.5).contains(&rms(&skins)), "{n}: {:.2}", rms(&skins));
    }
}

/// Unweighed callipers on 88 measured stones: the stated ± holds as often as a
/// standard deviation should (and is near the published-data figure of 11 %).
#[test]
fn the_calliper_estimates_error_bar_holds_on_a_population_of_stones() {
    let Some(folder) = shared() else { return };
    let text = std::fs::read_to_string(folder.join("stone_population_facts.csv")).expect("reads");
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let column = |name: &str| header.iter().position(|h| *h == name).expect("a column");
    let columns = [
        "obb_long_cm",
        "obb_mid_cm",
        "obb_short_cm",
        "volume_cm3",
        "fill_obb",
    ];
    let columns = columns.map(column);
    let (mut fills, mut z) = (Vec::new(), Vec::new());
    for line in lines {
        let cells: Vec<&str> = line.split(',').collect();
        let [long, mid, short, volume, fill] =
            columns.map(|k| cells[k].parse::<f64>().expect("a number"));
        let shape = Shape::Callipers(Callipers {
            length: Length::from_cm(long),
            width: Length::from_cm(mid),
            height: Length::from_cm(short),
            solidity: None,
        });
        let evidence = evidence(shape, None);
        let coarse = GridChoice::Cell(Length::from_cm(long / 20.0));
        let stone = Stone::from_evidence(&evidence, coarse).expect("a stone");
        let (estimate, sd) = stone.volume;
        assert!((0.10..0.125).contains(&(sd / estimate)));
        z.push((1000.0 * volume - estimate.mm3()) / sd.mm3());
        fills.push(fill);
    }
    assert_eq!(fills.len(), 88);
    assert!((mean(&fills) - 0.463).abs() < 0.0006);
    let within = |k: f64| z.iter().filter(|z| z.abs() <= k).count() as f64 / z.len() as f64;
    assert!((0.58..0.78).contains(&within(1.0)), "{}", within(1.0));
    assert!((0.84..0.97).contains(&within(1.645)), "{}", within(1.645));
}

/// The examples that ship with the project make stones that agree with their
/// weights.
#[test]
fn the_examples_make_stones() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    for name in ["quick-look.toml", "outline.toml", "scan.toml"] {
        let evidence = opal_files::read_evidence_file(&folder.join(name))
            .unwrap_or_else(|faults| panic!("{faults}"));
        let stone = Stone::from_evidence(&evidence, GridChoice::Auto)
            .unwrap_or_else(|faults| panic!("{faults}"));
        let check = stone.check.as_ref().expect("weighed");
        println!("{name}: {} {:?}", check.verdict, stone.notes);
        assert!(check.apart < 3.0, "{name}: {}", check.verdict);
        // Every sighting of a height lies near the skin or inside it.
        for bar in &evidence.bars {
            for sighting in &bar.sightings {
                let [x, y] = sighting.at_mm;
                let near = (-8..=8)
                    .flat_map(|i| (-8..=8).map(move |j| (i, j)))
                    .any(|(i, j)| {
                        let at = [x + 0.25 * f64::from(i), y + 0.25 * f64::from(j)];
                        stone.skin_at(at).is_some()
                    });
                assert!(near, "{name}: a sighting at {x}, {y} lies off the stone");
            }
        }
    }
}
