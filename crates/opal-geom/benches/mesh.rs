//! A million triangles: repair and layered heights.

use divan::Bencher;
use opal_geom::solids::icosphere;
use opal_geom::{TriMesh, layers, repair};

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

/// Every face with corners of its own, as STL gives them.
fn loose(mesh: &TriMesh) -> TriMesh {
    let vertices: Vec<_> = mesh.faces.iter().flat_map(|&f| mesh.corners(f)).collect();
    let faces = (0..mesh.faces.len() as u32)
        .map(|k| [3 * k, 3 * k + 1, 3 * k + 2])
        .collect();
    TriMesh { vertices, faces }
}

#[divan::bench(sample_count = 5)]
fn repair_shared_corners(bencher: Bencher<'_, '_>) {
    let mesh = stone();
    bencher
        .with_inputs(|| mesh.clone())
        .bench_values(|mesh| repair(mesh).expect("a clean solid"));
}

#[divan::bench(sample_count = 5)]
fn repair_loose_corners(bencher: Bencher<'_, '_>) {
    let mesh = loose(&stone());
    bencher
        .with_inputs(|| mesh.clone())
        .bench_values(|mesh| repair(mesh).expect("a clean solid"));
}

#[divan::bench(sample_count = 10, args = [0.25, 0.1, 0.05])]
fn layered(bencher: Bencher<'_, '_>, cell_mm: f64) {
    let mesh = stone();
    let grid = mesh.bounds().expect("not empty").grid(cell_mm);
    bencher.bench(|| layers(&mesh, &grid));
}
