//! Scans that are cut short, lie about their counts, or are no scans at all:
//! every one gets a fault in words or a sound mesh, never a panic.

use opal_files::mesh::{MeshFormat, MeshUnit, ply_bytes, read_mesh, read_scan, stl_bytes};
use opal_geom::TriMesh;
use opal_geom::solids::{cuboid, icosphere};
use proptest::prelude::*;
use std::fmt::Write;

fn ball() -> TriMesh {
    icosphere(10.0, 2)
}

fn obj_text(mesh: &TriMesh) -> String {
    let mut text = String::from("# a ball\nmtllib none.mtl\n");
    for [x, y, z] in &mesh.vertices {
        writeln!(text, "v {x} {y} {z} 0.5 0.5 0.5\nvn 0 0 1").expect("to a string");
    }
    for [a, b, c] in &mesh.faces {
        writeln!(text, "f {0}//{0} {1}//{1} {2}//{2}", a + 1, b + 1, c + 1).expect("to a string");
    }
    text
}

fn stl_text(mesh: &TriMesh) -> String {
    let mut text = String::from("solid ball\n");
    for &face in &mesh.faces {
        text.push_str(" facet normal 0 0 0\n  outer loop\n");
        for [x, y, z] in mesh.corners(face) {
            writeln!(text, "   vertex {x:e} {y:e} {z:e}").expect("to a string");
        }
        text.push_str("  endloop\n endfacet\n");
    }
    text + "endsolid ball\n"
}

fn ply_text(mesh: &TriMesh) -> String {
    let mut text = format!(
        "ply\nformat ascii 1.0\ncomment made up\nelement vertex {}\nproperty uchar red\nproperty double x\n\
         property double y\nproperty list uchar float more\nproperty double z\nelement edge 1\nproperty int a\nelement face {}\nproperty float quality\n\
         property list uchar int vertex_index\nend_header\n",
        mesh.vertices.len(),
        mesh.faces.len()
    );
    for [x, y, z] in &mesh.vertices {
        writeln!(text, "7 {x} {y} 2 0 1 {z}").expect("to a string");
    }
    text.push_str("3\n");
    for [a, b, c] in &mesh.faces {
        writeln!(text, "0.5 3 {a} {b} {c}").expect("to a string");
    }
    text
}

/// Big-endian, doubles, 16-bit corner indices, an element in between.
fn ply_big_endian(mesh: &TriMesh) -> Vec<u8> {
    let mut bytes = format!(
        "ply\r\nformat binary_big_endian 1.0\r\nelement vertex {}\r\nproperty double x\r\nproperty double y\r\n\
         property double z\r\nproperty uchar alpha\r\nelement note 1\r\nproperty list ushort uchar text\r\nelement face {}\r\n\
         property list uint ushort vertex_indices\r\nproperty short tag\r\nend_header\r\n",
        mesh.vertices.len(),
        mesh.faces.len()
    )
    .into_bytes();
    for p in &mesh.vertices {
        p.iter().for_each(|x| bytes.extend(x.to_be_bytes()));
        bytes.push(255);
    }
    bytes.extend([0, 5]);
    bytes.extend(b"hello");
    for face in &mesh.faces {
        bytes.extend(3_u32.to_be_bytes());
        face.iter()
            .for_each(|&k| bytes.extend((k as u16).to_be_bytes()));
        bytes.extend([0, 1]);
    }
    bytes
}

fn every_format() -> Vec<(&'static str, MeshFormat, Vec<u8>)> {
    let mesh = ball();
    vec![
        ("a.ply", MeshFormat::Ply, ply_bytes(&mesh)),
        ("b.ply", MeshFormat::Ply, ply_big_endian(&mesh)),
        ("c.ply", MeshFormat::Ply, ply_text(&mesh).into_bytes()),
        ("d.obj", MeshFormat::Obj, obj_text(&mesh).into_bytes()),
        ("e.stl", MeshFormat::StlBinary, stl_bytes(&mesh)),
        ("f.stl", MeshFormat::StlText, stl_text(&mesh).into_bytes()),
    ]
}

#[test]
fn every_format_gives_the_same_ball() {
    let volume = ball().volume_mm3();
    for (name, format, bytes) in every_format() {
        let read = read_mesh(&bytes, name, MeshUnit::Millimetre).expect(name);
        assert_eq!((read.format, read.notes.len()), (format, 0), "{name}");
        let scan = read_scan(&bytes, name, MeshUnit::Millimetre).expect(name);
        assert!((scan.volume_mm3 / volume - 1.0).abs() < 1e-6, "{name}");
        assert!(scan.notes.is_empty(), "{name}: {:?}", scan.notes);
        let inches = read_scan(&bytes, name, MeshUnit::Inch)
            .expect(name)
            .volume_mm3;
        assert!(
            (inches / volume / 25.4_f64.powi(3) - 1.0).abs() < 1e-6,
            "{name}"
        );
        // Another name for the same bytes is noted, not refused.
        let noted = read_mesh(&bytes, "x.dat", MeshUnit::Millimetre).expect(name);
        assert!(
            noted.notes[0].contains("named .dat but holds"),
            "{:?}",
            noted.notes
        );
    }
}

#[test]
fn polygons_negative_indices_and_a_binary_head_that_says_solid_are_understood() {
    let text = "v 0 0 0\nv 9 0 0\nv 9 9 0\nv 0 9 0\nv 0 0 9\nv 9 0 9\nv 9 9 9\nv 0 9 9\n\
                f 4 3 2 1\nf -4/1 -3/2 -2/3 -1\nf 1//1 2 6 5\nf 2/ 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n";
    let cube = read_scan(text.as_bytes(), "cube.obj", MeshUnit::Millimetre).expect("a cube");
    assert!((cube.volume_mm3 - 729.0).abs() < 1e-9 && cube.notes.is_empty());
    let mut bytes = stl_bytes(&ball());
    bytes[..12].copy_from_slice(b"solid facet ");
    let read = read_mesh(&bytes, "ball.stl", MeshUnit::Millimetre).expect("binary");
    assert_eq!(read.format, MeshFormat::StlBinary);
}

fn fault(bytes: &[u8], name: &str) -> String {
    read_scan(bytes, name, MeshUnit::Millimetre)
        .expect_err(name)
        .to_string()
}

#[test]
fn faults_name_place_value_and_limit() {
    assert_eq!(
        fault(b"", "a.ply"),
        "a.ply: file is empty; a PLY, OBJ or STL mesh is needed"
    );
    assert!(
        fault(b"hello there\n", "notes.txt")
            .contains("file is no mesh: it begins with 'hello there'")
    );
    assert!(fault(b"\x89PNG\r\n\x1a\n\0\0\0\r", "a.png").contains("no mesh"));

    let mut liar = stl_bytes(&ball());
    liar[80..84].copy_from_slice(&u32::MAX.to_le_bytes());
    assert!(
        fault(&liar, "a.stl").contains("number of faces is 4294967295; the file has room for 320")
    );

    let lies = "ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\nproperty float x\nproperty float y\nproperty float z\n\
                element face 4000000000\nproperty list uchar int vertex_indices\nend_header\nabc";
    let text = fault(lies.as_bytes(), "a.ply");
    assert!(
        text.contains("4000000000 vertex, 4000000000 face; they need 52000000000 bytes"),
        "{text}"
    );

    let text = fault(b"v 1 2\nv 0 0 0\nf 1 0 2\nf 1 x 2\n", "a.obj");
    assert_eq!(text.lines().count(), 3, "{text}");
    assert!(
        text.contains("a.obj:1: vertex is 'v 1 2'; three numbers are needed"),
        "{text}"
    );
    assert!(text.contains("a.obj:3: face is 'f 1 0 2'"), "{text}");

    let cloud = "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nend_header\n0 0 0\n";
    assert!(fault(cloud.as_bytes(), "a.ply").contains("a cloud of points has no inside"));
    assert!(fault(b"ply\nformat ascii 1.0\n", "a.ply").contains("end_header is missing"));
    let text = fault(
        b"ply\nformat middle_endian 1.0\nelement vertex x\nproperty float q\nend_header\n",
        "a.ply",
    );
    assert!(
        text.contains("a.ply:2: format is middle_endian")
            && text.contains("a.ply:3: element count"),
        "{text}"
    );
}

#[test]
fn a_file_cut_anywhere_is_a_fault_or_a_sound_solid() {
    let volume = ball().volume_mm3();
    for (name, _, bytes) in every_format() {
        for part in 1..40 {
            let cut = &bytes[..bytes.len() * part / 40];
            match read_scan(cut, name, MeshUnit::Millimetre) {
                Err(faults) => assert!(!faults.0.is_empty() && faults.0[0].file.is_some()),
                // An OBJ file has no end mark: what is left may still close within the limits.
                Ok(scan) => {
                    assert!(
                        !scan.notes.is_empty() && (scan.volume_mm3 / volume - 1.0).abs() < 0.05,
                        "{name} {part}"
                    );
                }
            }
        }
    }
}

#[test]
fn a_hundred_megabytes_of_junk_are_refused() {
    let mut state = 1_u64;
    let junk: Vec<u8> = (0..100_000_000 / 8)
        .flat_map(|_| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            state.to_le_bytes()
        })
        .collect();
    for name in ["junk.stl", "junk.obj", "junk.ply", "junk"] {
        assert!(
            read_mesh(&junk, name, MeshUnit::Millimetre).is_err(),
            "{name}"
        );
    }
    let mut headed = b"ply\nformat ascii 1.0\nelement vertex 9000000\nproperty float x\nproperty float y\nproperty float z\nelement face 9000000\nproperty list uchar int vertex_indices\nend_header\n".to_vec();
    headed.extend(&junk);
    assert!(read_mesh(&headed, "junk.ply", MeshUnit::Millimetre).is_err());
}

#[test]
fn not_a_number_is_left_out_with_a_note() {
    let mut mesh = icosphere(10.0, 4);
    mesh.vertices[300][1] = f64::NAN;
    let scan =
        read_scan(&ply_bytes(&mesh), "a.ply", MeshUnit::Millimetre).expect("one corner only");
    assert!(
        scan.notes[0].contains("not a number") && scan.notes[1].contains("hole"),
        "{:?}",
        scan.notes
    );
    assert!((scan.volume_mm3 / icosphere(10.0, 4).volume_mm3() - 1.0).abs() < 1e-3);
}

#[test]
fn an_unusual_size_is_a_question_in_a_note() {
    let small = read_scan(
        &stl_bytes(&cuboid([0.0; 3], [2.0, 1.5, 1.0])),
        "a.stl",
        MeshUnit::Millimetre,
    )
    .expect("a box");
    assert!(
        small.notes[0].ends_with("Is that the stone on the bench?"),
        "{:?}",
        small.notes
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..600), name in "[a-z]{0,3}\\.(ply|obj|stl|xyz)") {
        let _ = read_scan(&bytes, &name, MeshUnit::Millimetre);
    }

    #[test]
    fn random_lines_never_panic(
        lines in proptest::collection::vec("(v|f|vertex|facet|endloop|endsolid|solid|element face|element vertex|property float x|property list uchar int vertex_indices|end_header|ply|format ascii 1.0)( (-?[0-9]{1,3}|nan|inf|1e400|/|x)){0,5}", 0..40)
    ) {
        let text = lines.join("\n");
        for name in ["a.obj", "a.stl", "a.ply"] {
            let _ = read_scan(text.as_bytes(), name, MeshUnit::Millimetre);
            let _ = read_scan(format!("ply\n{text}").as_bytes(), name, MeshUnit::Millimetre);
        }
    }

    #[test]
    fn changed_bytes_give_a_fault_or_a_finite_volume(
        which in 0_usize..6,
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        cut in proptest::option::of(any::<prop::sample::Index>()),
    ) {
        let (name, _, mut bytes) = every_format().swap_remove(which);
        for (at, value) in changes {
            let k = at.index(bytes.len());
            bytes[k] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        if let Ok(scan) = read_scan(&bytes, name, MeshUnit::Millimetre) {
            prop_assert!(scan.volume_mm3.is_finite() && scan.volume_mm3 > 0.0);
        }
    }
}
