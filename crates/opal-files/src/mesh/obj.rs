//! OBJ: text, `v` lines and `f` lines; everything else is passed over.

use super::raw::{Complaints, NO_VERTEX, RawMesh, lines, shown, words};
use opal_evidence::Faults;

/// Reads an OBJ file.
///
/// Faces count vertices from 1, or backwards from the last one read when
/// negative; `v/vt/vn` keeps only the vertex; a polygon becomes a fan.
pub(super) fn read(bytes: &[u8], file: &str) -> Result<RawMesh, Faults> {
    let mut mesh = RawMesh::default();
    let mut wrong = Complaints::new(file);
    let mut corners: Vec<u32> = Vec::new();
    let mut thin = 0;
    for (number, line) in lines(bytes) {
        let mut words = words(line);
        let enough = match words.next() {
            Some("v") => {
                let mut next = || words.next().and_then(|w| w.parse::<f64>().ok());
                if let (Some(x), Some(y), Some(z)) = (next(), next(), next()) {
                    mesh.vertices.push([x, y, z]);
                    false
                } else {
                    wrong.add(
                        Some(number),
                        "vertex",
                        shown(line),
                        "three numbers are needed",
                    )
                }
            }
            Some("f") => {
                corners.clear();
                let mut bad = false;
                for word in words {
                    let index = word.split('/').next().and_then(|w| w.parse::<i64>().ok());
                    match index {
                        Some(0) | None => bad = true,
                        Some(k) => corners.push(place(k, mesh.vertices.len())),
                    }
                }
                if bad {
                    wrong.add(
                        Some(number),
                        "face",
                        shown(line),
                        "whole numbers other than 0 are needed, as 1, 1/2 or 1/2/3",
                    )
                } else {
                    thin += usize::from(!mesh.push_polygon(&corners));
                    false
                }
            }
            _ => false,
        };
        if enough || mesh.too_large() {
            break;
        }
    }
    if thin > 0 {
        mesh.notes.push(format!(
            "{thin} faces with fewer than three corners left out."
        ));
    }
    if mesh.faces.is_empty() && wrong.is_empty() {
        let found = format!("{} vertices and no face", mesh.vertices.len());
        return wrong.refuse(None, "mesh", found, "an OBJ file needs v and f lines");
    }
    wrong.or(mesh)
}

fn place(index: i64, n_vertices: usize) -> u32 {
    let from_zero = if index > 0 {
        Some(index - 1)
    } else {
        index.checked_add(n_vertices as i64)
    };
    from_zero
        .and_then(|k| u32::try_from(k).ok())
        .unwrap_or(NO_VERTEX)
}
