//! Closed solids with known volumes, for examples and checks.

use crate::TriMesh;
use std::collections::HashMap;
use std::f64::consts::TAU;

/// A box along the axes from one corner to the opposite one; twelve faces.
#[must_use]
pub fn cuboid(min_mm: [f64; 3], max_mm: [f64; 3]) -> TriMesh {
    let pick = |k: usize, axis: usize| {
        if k >> axis & 1 == 1 {
            max_mm[axis]
        } else {
            min_mm[axis]
        }
    };
    let vertices = (0..8)
        .map(|k| [pick(k, 0), pick(k, 1), pick(k, 2)])
        .collect();
    let faces = vec![
        [0, 2, 3],
        [0, 3, 1],
        [4, 5, 7],
        [4, 7, 6],
        [0, 1, 5],
        [0, 5, 4],
        [2, 6, 7],
        [2, 7, 3],
        [0, 4, 6],
        [0, 6, 2],
        [1, 3, 7],
        [1, 7, 5],
    ];
    TriMesh { vertices, faces }
}

/// A ball about the origin: an icosahedron whose faces are split in four
/// `level` times, each new corner pushed out to the radius.
///
/// # Validity
/// 20 · 4^level faces; `level` is held to 9 (5.2 million faces).
#[must_use]
pub fn icosphere(radius_mm: f64, level: u32) -> TriMesh {
    let phi = f64::midpoint(1.0, 5.0_f64.sqrt());
    let mut vertices: Vec<[f64; 3]> = vec![
        [-1.0, phi, 0.0],
        [1.0, phi, 0.0],
        [-1.0, -phi, 0.0],
        [1.0, -phi, 0.0],
        [0.0, -1.0, phi],
        [0.0, 1.0, phi],
        [0.0, -1.0, -phi],
        [0.0, 1.0, -phi],
        [phi, 0.0, -1.0],
        [phi, 0.0, 1.0],
        [-phi, 0.0, -1.0],
        [-phi, 0.0, 1.0],
    ];
    let mut faces: Vec<[u32; 3]> = vec![
        [0, 11, 5],
        [0, 5, 1],
        [0, 1, 7],
        [0, 7, 10],
        [0, 10, 11],
        [1, 5, 9],
        [5, 11, 4],
        [11, 10, 2],
        [10, 7, 6],
        [7, 1, 8],
        [3, 9, 4],
        [3, 4, 2],
        [3, 2, 6],
        [3, 6, 8],
        [3, 8, 9],
        [4, 9, 5],
        [2, 4, 11],
        [6, 2, 10],
        [8, 6, 7],
        [9, 8, 1],
    ];
    let onto_sphere = |p: [f64; 3]| {
        let length = crate::mesh::norm(p);
        p.map(|x| x * radius_mm / length)
    };
    for p in &mut vertices {
        *p = onto_sphere(*p);
    }
    for _ in 0..level.min(9) {
        let mut middles: HashMap<(u32, u32), u32> = HashMap::with_capacity(faces.len() * 3 / 2);
        let mut finer = Vec::with_capacity(faces.len() * 4);
        for [a, b, c] in faces {
            let mut middle = |a: u32, b: u32| {
                *middles.entry((a.min(b), a.max(b))).or_insert_with(|| {
                    let (p, q) = (vertices[a as usize], vertices[b as usize]);
                    vertices.push(onto_sphere(crate::mesh::add(p, q)));
                    (vertices.len() - 1) as u32
                })
            };
            let (ab, bc, ca) = (middle(a, b), middle(b, c), middle(c, a));
            finer.extend([[a, ab, ca], [b, bc, ab], [c, ca, bc], [ab, bc, ca]]);
        }
        faces = finer;
    }
    TriMesh { vertices, faces }
}

/// A ring about the z axis: a tube of radius `tube_mm` whose middle runs on a
/// circle of radius `ring_mm`, in `around` × `along` quadrilaterals split in two.
#[must_use]
pub fn torus(ring_mm: f64, tube_mm: f64, around: u32, along: u32) -> TriMesh {
    let mut mesh = TriMesh::default();
    for i in 0..around {
        let u = TAU * f64::from(i) / f64::from(around);
        for j in 0..along {
            let v = TAU * f64::from(j) / f64::from(along);
            let r = ring_mm + tube_mm * v.cos();
            mesh.vertices
                .push([r * u.cos(), r * u.sin(), tube_mm * v.sin()]);
            let at = |i: u32, j: u32| (i % around) * along + j % along;
            let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            mesh.faces.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}
