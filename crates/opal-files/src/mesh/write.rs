//! Meshes written out, for other programs and for the page.

use opal_geom::TriMesh;

/// The mesh as a binary PLY file, numbers as 32-bit floats in mm.
#[must_use]
pub fn ply_bytes(mesh: &TriMesh) -> Vec<u8> {
    let head = format!(
        "ply\nformat binary_little_endian 1.0\ncomment lengths in mm\nelement vertex {}\n\
         property float x\nproperty float y\nproperty float z\nelement face {}\n\
         property list uchar int vertex_indices\nend_header\n",
        mesh.vertices.len(),
        mesh.faces.len()
    );
    let mut bytes =
        Vec::with_capacity(head.len() + 12 * mesh.vertices.len() + 13 * mesh.faces.len());
    bytes.extend(head.as_bytes());
    for x in mesh.vertices.iter().flatten() {
        bytes.extend((*x as f32).to_le_bytes());
    }
    for face in &mesh.faces {
        bytes.push(3);
        for k in face {
            bytes.extend(k.to_le_bytes());
        }
    }
    bytes
}

/// The mesh as a binary STL file, in mm.
#[must_use]
pub fn stl_bytes(mesh: &TriMesh) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(84 + 50 * mesh.faces.len());
    let mut head = [0_u8; 80];
    let words = b"binary mesh, lengths in mm";
    head[..words.len()].copy_from_slice(words);
    bytes.extend(head);
    bytes.extend((mesh.faces.len() as u32).to_le_bytes());
    for &face in &mesh.faces {
        let [a, b, c] = mesh.corners(face);
        let (u, v) = (less(b, a), less(c, a));
        let normal = [
            u[1] * v[2] - u[2] * v[1],
            u[2] * v[0] - u[0] * v[2],
            u[0] * v[1] - u[1] * v[0],
        ];
        let length = normal
            .iter()
            .map(|x| x * x)
            .sum::<f64>()
            .sqrt()
            .max(f64::MIN_POSITIVE);
        for x in normal
            .map(|x| x / length)
            .iter()
            .chain([a, b, c].iter().flatten())
        {
            bytes.extend((*x as f32).to_le_bytes());
        }
        bytes.extend([0, 0]);
    }
    bytes
}

fn less(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}
