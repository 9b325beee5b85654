//! Real scans, where the shared test data are at hand: volumes and boxes as
//! trimesh measured them (the table beside the data), broken ones repaired with
//! a note or refused.

use opal_files::mesh::{MeshUnit, read_scan};
use opal_geom::layers;
use std::path::PathBuf;

fn data(name: &str) -> Option<Vec<u8>> {
    let dir = PathBuf::from(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../../shared/data/A_stones"
    ));
    let bytes = std::fs::read(dir.join(name)).ok();
    if bytes.is_none() {
        println!("skipped: no shared data");
    }
    bytes
}

/// Name, unit to read it in, volume in unit³ and box in the unit.
const WHOLE: [(&str, MeshUnit, f64, [f64; 3]); 17] = [
    (
        "stone_000.obj",
        MeshUnit::Millimetre,
        2597.82,
        [8.727, 21.97, 28.53],
    ),
    (
        "stone_005.obj",
        MeshUnit::Millimetre,
        354.978,
        [6.276, 8.988, 16.53],
    ),
    (
        "stone_006.obj",
        MeshUnit::Centimetre,
        352.716,
        [7.689, 12.03, 9.362],
    ),
    (
        "stone_018.obj",
        MeshUnit::Millimetre,
        357.575,
        [7.312, 8.316, 12.69],
    ),
    (
        "stone_021.obj",
        MeshUnit::Inch,
        253.566,
        [8.883, 15.7, 5.742],
    ),
    (
        "stone_030.obj",
        MeshUnit::Millimetre,
        171.646,
        [3.311, 13.56, 11.07],
    ),
    (
        "stone_054.obj",
        MeshUnit::Millimetre,
        513.052,
        [7.104, 24.24, 10.87],
    ),
    (
        "stone_074.obj",
        MeshUnit::Millimetre,
        607.1,
        [5.696, 14.85, 15.7],
    ),
    (
        "stone_080.obj",
        MeshUnit::Millimetre,
        189.311,
        [6.788, 13.54, 5.306],
    ),
    (
        "stone_093.obj",
        MeshUnit::Millimetre,
        279.724,
        [9.887, 16.28, 4.099],
    ),
    (
        "stone_107.obj",
        MeshUnit::Millimetre,
        634.138,
        [13.0, 15.93, 7.377],
    ),
    (
        "stone_122.obj",
        MeshUnit::Millimetre,
        721.513,
        [12.5, 20.91, 7.722],
    ),
    (
        "stone_000_mm.stl",
        MeshUnit::Millimetre,
        2.59782e6,
        [87.27, 219.7, 285.3],
    ),
    (
        "stone_000_mm_ascii.ply",
        MeshUnit::Millimetre,
        2.59782e6,
        [87.27, 219.7, 285.3],
    ),
    (
        "quarry_scrap_m.ply",
        MeshUnit::Metre,
        0.001_666_02,
        [0.149, 0.2141, 0.1474],
    ),
    // Kilometres and a hundredth of them: read as metres it is half a metre long.
    (
        "itokawa_radar_km.ply",
        MeshUnit::Metre,
        0.024_059_8,
        [0.5481, 0.3126, 0.2755],
    ),
    (
        "wallstone_inverted_30.ply",
        MeshUnit::Metre,
        0.002_333_25,
        [0.09225, 0.1077, 0.26],
    ),
];

#[test]
fn whole_scans_have_the_measured_volume_and_box() {
    for (name, unit, volume, size) in WHOLE {
        let Some(bytes) = data(name) else { return };
        let scan = read_scan(&bytes, name, unit).unwrap_or_else(|faults| unreachable!("{faults}"));
        assert!(scan.closed, "{name}");
        let found = scan.volume_mm3 / unit.in_mm().powi(3);
        assert!(
            (found / volume - 1.0).abs() < 6e-6,
            "{name}: {found} against {volume}"
        );
        let found = scan.mesh.bounds().expect("not empty").size_mm();
        for (found, wanted) in found.into_iter().zip(size) {
            assert!(
                (found / unit.in_mm() / wanted - 1.0).abs() < 6e-4,
                "{name}: {found} {wanted}"
            );
        }
        let columns = layers(
            &scan.mesh,
            &scan
                .mesh
                .bounds()
                .expect("not empty")
                .grid(scan.mesh.bounds().expect("not empty").longest_mm() / 400.0),
        );
        assert!(
            columns.open.is_empty(),
            "{name}: {} open columns",
            columns.open.len()
        );
        let share = columns.filled_volume_mm3() / scan.volume_mm3;
        assert!(
            (share - 1.0).abs() < 5e-3,
            "{name}: the columns hold {share} of the volume"
        );
    }
}

#[test]
fn three_formats_of_one_stone_have_one_volume() {
    let read = |name, unit| {
        data(name).map(|bytes| {
            read_scan(&bytes, name, unit)
                .expect("a whole scan")
                .volume_mm3
        })
    };
    let (Some(obj), Some(stl), Some(ply)) = (
        read("stone_000.obj", MeshUnit::Centimetre),
        read("stone_000_mm.stl", MeshUnit::Millimetre),
        read("stone_000_mm_ascii.ply", MeshUnit::Millimetre),
    ) else {
        return;
    };
    assert!((obj / stl - 1.0).abs() < 1e-6 && (ply / stl - 1.0).abs() < 1e-6);
}

/// The first three repeat corners along seams, which a reader that takes
/// corners by number sees as open edges; the other two only split their texture.
#[test]
fn scans_in_loose_patches_are_joined_with_a_note() {
    let table = [
        ("open_stone_150.obj", MeshUnit::Millimetre, 1214.36, true),
        ("open_stone_159.obj", MeshUnit::Millimetre, 1171.91, true),
        ("open_stone_166.obj", MeshUnit::Millimetre, 525.736, true),
        ("open_stone_174.obj", MeshUnit::Metre, 0.000_312_192, false),
        ("open_stone_177.obj", MeshUnit::Metre, 0.000_659_212, false),
    ];
    for (name, unit, volume, seams) in table {
        let Some(bytes) = data(name) else { return };
        let scan = read_scan(&bytes, name, unit).unwrap_or_else(|faults| unreachable!("{faults}"));
        let found = scan.volume_mm3 / unit.in_mm().powi(3);
        assert!(scan.closed, "{name}");
        assert!((found / volume - 1.0).abs() < 1e-5, "{name}: {found}");
        let joined = scan.notes.iter().any(|n| n.contains("joined"));
        assert_eq!(joined, seams, "{name}: {:?}", scan.notes);
    }
}

#[test]
fn inward_open_and_twisted_scans_are_told() {
    let name = "wallstone_inverted_19.ply";
    let Some(bytes) = data(name) else { return };
    let scan = read_scan(&bytes, name, MeshUnit::Metre).unwrap_or_else(|f| unreachable!("{f}"));
    assert!(
        (scan.volume_mm3 / 1e9 / 0.006_378 - 1.0).abs() < 1e-3,
        "{}",
        scan.volume_mm3
    );
    let told = |n: &String| n.contains("inward") || n.contains("wrong way");
    assert!(scan.notes.iter().any(told), "{:?}", scan.notes);

    // Its wall crosses itself, so that no side is inside.
    let name = "wallstone_inverted_0.ply";
    let Some(bytes) = data(name) else { return };
    let faults = read_scan(&bytes, name, MeshUnit::Metre)
        .expect_err("twisted")
        .to_string();
    assert!(faults.contains("turns over into itself"), "{faults}");

    // In metres it is larger than any rough; in centimetres of the right size, and open.
    let name = "stone_bed_open_surface_m.ply";
    let Some(bytes) = data(name) else { return };
    let faults = read_scan(&bytes, name, MeshUnit::Metre)
        .expect_err("1.65 m")
        .to_string();
    assert!(faults.contains("longest side is 165"), "{faults}");
    let faults = read_scan(&bytes, name, MeshUnit::Centimetre)
        .expect_err("open")
        .to_string();
    assert!(faults.contains("open part of the surface is"), "{faults}");
}

#[test]
fn metres_read_as_millimetres_are_refused_with_a_question() {
    let name = "open_stone_174.obj";
    let Some(bytes) = data(name) else { return };
    let faults = read_scan(&bytes, name, MeshUnit::Millimetre)
        .expect_err("0.11 mm")
        .to_string();
    assert!(faults.contains("is the file in metres?"), "{faults}");
}
