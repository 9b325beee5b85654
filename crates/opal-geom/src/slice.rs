//! What a plane does to a mesh: the section it leaves and the volume on its far side.

use crate::TriMesh;
use crate::mesh::{add, cross, dot, norm, sub};
use std::collections::HashMap;

/// A plane: a point on it and its normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CutPlane {
    /// Any point of the plane, mm.
    pub point_mm: [f64; 3],
    /// Normal, of any length above 0; `above` is the side it looks to.
    pub normal: [f64; 3],
}

impl CutPlane {
    /// The level plane at a height, looking up.
    #[must_use]
    pub fn level(z_mm: f64) -> Self {
        Self {
            point_mm: [0.0, 0.0, z_mm],
            normal: [0.0, 0.0, 1.0],
        }
    }

    fn height_mm(&self, p: [f64; 3]) -> f64 {
        dot(sub(p, self.point_mm), self.normal) / norm(self.normal)
    }
}

/// The section of a mesh by a plane.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Section {
    /// Closed loops, not closed by repetition, mm. Seen against the normal (from
    /// above) outer loops run anticlockwise and holes clockwise.
    pub loops_mm: Vec<Vec<[f64; 3]>>,
    /// Lines that do not close, because the mesh is open there, mm.
    pub open_mm: Vec<Vec<[f64; 3]>>,
    /// Area of the closed loops, holes taken off, mm².
    pub area_mm2: f64,
}

/// The section of a mesh by a plane.
///
/// # Method
/// A vertex exactly in the plane counts as above it, so that every face gives
/// no segment or exactly one, and neighbours meet in the same point.
#[must_use]
pub fn section(mesh: &TriMesh, plane: &CutPlane) -> Section {
    let height: Vec<f64> = mesh.vertices.iter().map(|&p| plane.height_mm(p)).collect();
    let crossing = |a: u32, b: u32| {
        let (a, b) = (a.min(b) as usize, a.max(b) as usize);
        let t = height[a] / (height[a] - height[b]);
        let (p, q) = (mesh.vertices[a], mesh.vertices[b]);
        [0, 1, 2].map(|k| p[k] + t * (q[k] - p[k]))
    };
    let key = |a: u32, b: u32| (a.min(b), a.max(b));

    // Each cut face leads from the edge where its boundary goes down through the
    // plane to the edge where it comes up again.
    let mut segments: Vec<((u32, u32), (u32, u32))> = Vec::new();
    for &[a, b, c] in &mesh.faces {
        let (mut down, mut up) = (None, None);
        for (from, to) in [(a, b), (b, c), (c, a)] {
            match (height[from as usize] >= 0.0, height[to as usize] >= 0.0) {
                (true, false) => down = Some(key(from, to)),
                (false, true) => up = Some(key(from, to)),
                _ => {}
            }
        }
        if let (Some(down), Some(up)) = (down, up) {
            segments.push((down, up));
        }
    }

    let mut from: HashMap<(u32, u32), Vec<usize>> = HashMap::with_capacity(segments.len());
    let mut enters: HashMap<(u32, u32), usize> = HashMap::with_capacity(segments.len());
    for (k, segment) in segments.iter().enumerate().rev() {
        from.entry(segment.0).or_default().push(k);
        *enters.entry(segment.1).or_default() += 1;
    }
    let mut used = vec![false; segments.len()];
    let mut result = Section::default();
    // Lines that begin at an open edge go first, so that loops are what is left.
    let begins_open = |k: usize| !enters.contains_key(&segments[k].0);
    let order = (0..segments.len())
        .filter(|&k| begins_open(k))
        .chain(0..segments.len())
        .collect::<Vec<_>>();
    for start in order {
        if used[start] {
            continue;
        }
        let mut line = Vec::new();
        let mut here = start;
        let closed = loop {
            used[here] = true;
            let (first, last) = segments[here];
            line.push(crossing(first.0, first.1));
            if last == segments[start].0 {
                break true;
            }
            let next = from
                .get_mut(&last)
                .and_then(|list| std::iter::from_fn(|| list.pop()).find(|&k| !used[k]));
            match next {
                Some(next) => here = next,
                None => {
                    line.push(crossing(last.0, last.1));
                    break false;
                }
            }
        };
        if closed {
            result.area_mm2 += loop_area(&line, plane.normal);
            result.loops_mm.push(line);
        } else {
            result.open_mm.push(line);
        }
    }
    result
}

/// Volume of a closed, outward mesh on the side that the plane's normal looks
/// to, mm³.
///
/// # Method
/// Faces are clipped to that side and summed by the divergence theorem about a
/// point of the plane, where the cut itself adds nothing.
#[must_use]
pub fn volume_above_mm3(mesh: &TriMesh, plane: &CutPlane) -> f64 {
    let mut total = 0.0;
    for &face in &mesh.faces {
        let corners = mesh.corners(face);
        let height = corners.map(|p| plane.height_mm(p));
        let mut kept: [[f64; 3]; 4] = [[0.0; 3]; 4];
        let mut n = 0;
        for k in 0..3 {
            let next = (k + 1) % 3;
            if height[k] >= 0.0 {
                kept[n] = sub(corners[k], plane.point_mm);
                n += 1;
            }
            if (height[k] >= 0.0) != (height[next] >= 0.0) {
                let t = height[k] / (height[k] - height[next]);
                let way = sub(corners[next], corners[k]).map(|x| t * x);
                kept[n] = sub(add(corners[k], way), plane.point_mm);
                n += 1;
            }
        }
        for k in 2..n {
            total += dot(kept[0], cross(kept[k - 1], kept[k])) / 6.0;
        }
    }
    total
}

/// Area of a closed loop about a normal, mm²; positive when anticlockwise.
fn loop_area(line: &[[f64; 3]], normal: [f64; 3]) -> f64 {
    let Some(&origin) = line.first() else {
        return 0.0;
    };
    let mut sum = [0.0; 3];
    for pair in line.windows(2) {
        sum = add(sum, cross(sub(pair[0], origin), sub(pair[1], origin)));
    }
    0.5 * dot(sum, normal) / norm(normal)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solids::{cuboid, icosphere, torus};
    use std::f64::consts::PI;

    /// Cap of the unit ball above z = 0.5: π·h²(3 − h)/3 with h = 0.5 is
    /// 0.654498; on the level-5 icosphere trimesh 5.2.0 gives 0.653932.
    #[test]
    fn a_cap_has_the_tabled_volume() {
        let cap = volume_above_mm3(&icosphere(1.0, 5), &CutPlane::level(0.5));
        assert!((cap - 0.653932).abs() < 1e-6);
    }

    #[test]
    fn both_sides_make_the_whole() {
        let mesh = icosphere(1.3, 3);
        let plane = CutPlane {
            point_mm: [0.1, 0.2, -0.3],
            normal: [0.3, -2.0, 0.7],
        };
        let back = CutPlane {
            normal: plane.normal.map(|x| -x),
            ..plane
        };
        let sum = volume_above_mm3(&mesh, &plane) + volume_above_mm3(&mesh, &back);
        assert!((sum - mesh.volume_mm3()).abs() < 1e-10);
    }

    #[test]
    fn a_box_is_cut_to_its_rectangle_even_through_its_corners() {
        let mesh = cuboid([0.0; 3], [2.0, 3.0, 4.0]);
        for z in [0.0, 1.0, 2.5] {
            let cut = section(&mesh, &CutPlane::level(z));
            if z > 0.0 {
                assert_eq!((cut.loops_mm.len(), cut.open_mm.len()), (1, 0));
                assert!((cut.area_mm2 - 6.0).abs() < 1e-12);
            }
        }
        assert!(section(&mesh, &CutPlane::level(5.0)).loops_mm.is_empty());
    }

    /// Across its middle a torus shows two discs; level through it, a ring of
    /// area π((R + r)² − (R − r)²) = 4πRr.
    #[test]
    fn a_torus_gives_two_discs_and_a_ring() {
        let mesh = torus(3.0, 1.0, 256, 256);
        let upright = CutPlane {
            point_mm: [0.0; 3],
            normal: [0.0, 1.0, 0.0],
        };
        let cut = section(&mesh, &upright);
        assert_eq!(cut.loops_mm.len(), 2);
        assert!((cut.area_mm2 - 2.0 * PI).abs() < 1e-3);
        let ring = section(&mesh, &CutPlane::level(1e-9));
        assert_eq!(ring.loops_mm.len(), 2);
        assert!((ring.area_mm2 - 12.0 * PI).abs() < 1e-2);
    }

    #[test]
    fn an_open_mesh_gives_an_open_line() {
        let mut mesh = cuboid([0.0; 3], [1.0; 3]);
        mesh.faces.truncate(10);
        let cut = section(&mesh, &CutPlane::level(0.5));
        assert_eq!((cut.loops_mm.len(), cut.open_mm.len()), (0, 1));
        assert_eq!(cut.area_mm2, 0.0);
    }
}
