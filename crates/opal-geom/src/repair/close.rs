//! Small holes are closed.

use super::edges::ends;
use crate::TriMesh;
use crate::mesh::{add, cross, norm, sub};

/// What the lids over the holes came to.
pub(super) struct Lids {
    /// Holes closed.
    pub holes: usize,
    /// Faces and their area, mm².
    pub faces: Vec<[u32; 3]>,
    /// Vertices to be added, mm.
    pub vertices: Vec<[f64; 3]>,
    /// Area of the lids, mm².
    pub area_mm2: f64,
    /// Longest hole, measured across its box, mm.
    pub widest_mm: f64,
    /// Half-edges that belong to no closed loop and stay open.
    pub left_open: usize,
}

/// Lids over the loops that unanswered half-edges make.
///
/// # Method
/// Loops are walked against their half-edges and split wherever they come back
/// to a vertex; a loop of three gets one face, a longer one a fan about its
/// mean point. A fan adds the same volume as any other lid over a flat hole.
pub(super) fn lids(mesh: &TriMesh, unanswered: &[u32]) -> Lids {
    let mut lids = Lids {
        holes: 0,
        faces: Vec::new(),
        vertices: Vec::new(),
        area_mm2: 0.0,
        widest_mm: 0.0,
        left_open: 0,
    };
    // Steps of the lid's rim: against the half-edges, sorted by their start.
    let mut steps: Vec<(u32, u32)> = unanswered
        .iter()
        .map(|&half| {
            let (a, b) = ends(&mesh.faces, half);
            (b, a)
        })
        .collect();
    steps.sort_unstable();
    let mut used = vec![false; steps.len()];
    // Where to go on looking among the steps that start at one vertex, kept at
    // the first of them, so that a vertex with a great many is not looked
    // through again and again.
    let mut cursor: Vec<usize> = (0..steps.len()).collect();
    for first in 0..steps.len() {
        if used[first] {
            continue;
        }
        // `path` holds step numbers; its vertices are the starts of the steps.
        let mut path: Vec<usize> = Vec::new();
        let mut place = std::collections::HashMap::new();
        let mut step = first;
        loop {
            used[step] = true;
            place.insert(steps[step].0, path.len());
            path.push(step);
            let here = steps[step].1;
            if let Some(&at) = place.get(&here) {
                let rim: Vec<u32> = path[at..].iter().map(|&s| steps[s].0).collect();
                for vertex in &rim {
                    place.remove(vertex);
                }
                path.truncate(at);
                close(mesh, &rim, &mut lids);
                if path.is_empty() {
                    break;
                }
            }
            let from = steps.partition_point(|s| s.0 < here);
            let mut next = None;
            if let Some(cursor) = cursor.get_mut(from) {
                while *cursor < steps.len() && steps[*cursor].0 == here && used[*cursor] {
                    *cursor += 1;
                }
                next = (*cursor < steps.len() && steps[*cursor].0 == here).then_some(*cursor);
            }
            match next {
                Some(next) => step = next,
                None => {
                    lids.left_open += path.len();
                    break;
                }
            }
        }
    }
    lids
}

fn close(mesh: &TriMesh, rim: &[u32], lids: &mut Lids) {
    let at = |k: u32| mesh.vertices[k as usize];
    if rim.len() < 3 {
        return;
    }
    lids.holes += 1;
    if let Some(bounds) = crate::Bounds::around(rim.iter().map(|&k| at(k))) {
        lids.widest_mm = lids.widest_mm.max(bounds.diagonal_mm());
    }
    let area = |a: [f64; 3], b: [f64; 3], c: [f64; 3]| 0.5 * norm(cross(sub(b, a), sub(c, a)));
    if let [a, b, c] = *rim {
        lids.faces.push([a, b, c]);
        lids.area_mm2 += area(at(a), at(b), at(c));
        return;
    }
    let n = rim.len() as f64;
    let middle = rim
        .iter()
        .fold([0.0; 3], |sum, &k| add(sum, at(k)))
        .map(|x| x / n);
    let hub = (mesh.vertices.len() + lids.vertices.len()) as u32;
    lids.vertices.push(middle);
    for (k, &a) in rim.iter().enumerate() {
        let b = rim[(k + 1) % rim.len()];
        lids.faces.push([a, b, hub]);
        lids.area_mm2 += area(at(a), at(b), middle);
    }
}
