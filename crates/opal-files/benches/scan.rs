//! The bytes of a scan of 1.3 million triangles to a repaired mesh and layered heights.

use divan::Bencher;
use opal_files::mesh::{MeshUnit, ply_bytes, read_mesh, read_scan, stl_bytes};
use opal_geom::solids::icosphere;
use opal_geom::{TriMesh, layers};

fn main() {
    divan::main();
}

/// 1,310,720 faces, wavering like a stone of 50 mm.
fn stone() -> TriMesh {
    let mut mesh = icosphere(1.0, 8);
    for p in &mut mesh.vertices {
        let [x, y, z] = *p;
        let r = 22.0 * (1.0 + 0.1 * (5.0 * x).sin() * (4.0 * y).cos() + 0.05 * (9.0 * z + x).sin());
        *p = [x * r, y * r, z * r * 0.6];
    }
    mesh
}

fn obj_bytes(mesh: &TriMesh) -> Vec<u8> {
    use std::io::Write;
    let mut bytes = Vec::new();
    for [x, y, z] in &mesh.vertices {
        writeln!(bytes, "v {x:.6} {y:.6} {z:.6}").expect("to memory");
    }
    for [a, b, c] in &mesh.faces {
        writeln!(bytes, "f {} {} {}", a + 1, b + 1, c + 1).expect("to memory");
    }
    bytes
}

fn bytes_of(name: &str) -> Vec<u8> {
    match name {
        "a.ply" => ply_bytes(&stone()),
        "a.stl" => stl_bytes(&stone()),
        _ => obj_bytes(&stone()),
    }
}

#[divan::bench(sample_count = 5, args = ["a.ply", "a.stl", "a.obj"])]
fn parse(bencher: Bencher<'_, '_>, name: &str) {
    let bytes = bytes_of(name);
    bencher.bench_local(|| read_mesh(&bytes, name, MeshUnit::Millimetre).expect("a clean file"));
}

#[divan::bench(sample_count = 5, args = ["a.ply", "a.stl", "a.obj"])]
fn to_layers(bencher: Bencher<'_, '_>, name: &str) {
    let bytes = bytes_of(name);
    bencher.bench_local(|| {
        let scan = read_scan(&bytes, name, MeshUnit::Millimetre).expect("a clean file");
        let grid = scan.mesh.bounds().expect("not empty").grid(0.1);
        layers(&scan.mesh, &grid)
    });
}
