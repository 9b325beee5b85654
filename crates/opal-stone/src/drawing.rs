//! The layered solid as a mesh, and its outline as lines.

use crate::Stone;
use opal_geom::TriMesh;
use std::collections::{BTreeMap, BTreeSet};

impl Stone {
    /// The layered solid as a closed mesh, mm, of every `step`-th node along x
    /// and y (1: all of them): for drawing. Where there is a scan, that is the
    /// truer picture.
    ///
    /// # Validity
    /// The mesh runs through the nodes, so it is about half a cell smaller all
    /// round than the solid that the nodes stand for.
    #[must_use]
    pub fn layered_mesh(&self, step: usize) -> TriMesh {
        let flat = self.triangles(step.max(1));
        let mut number: BTreeMap<usize, u32> = BTreeMap::new();
        for &node in flat.iter().flatten() {
            let next = number.len() as u32;
            number.entry(node).or_insert(next);
        }
        let n = number.len() as u32;
        let mut vertices = vec![[0.0; 3]; 2 * n as usize];
        for (&node, &k) in &number {
            let [x, y] = self.grid.at_index(node);
            vertices[k as usize] = [x, y, f64::from(self.top_mm[node])];
            vertices[(k + n) as usize] = [x, y, f64::from(self.bottom_mm[node])];
        }
        let mut faces = Vec::with_capacity(2 * flat.len());
        for triangle in &flat {
            let [a, b, c] = triangle.map(|node| number[&node]);
            faces.push([a, b, c]);
            faces.push([a + n, c + n, b + n]);
        }
        for [from, to] in rim(&flat) {
            let (a, b) = (number[&from], number[&to]);
            faces.push([a, a + n, b + n]);
            faces.push([a, b + n, b]);
        }
        TriMesh { vertices, faces }
    }

    /// The outline from above as closed lines, mm: outer ones anticlockwise,
    /// holes clockwise, the longest first.
    #[must_use]
    pub fn outline_loops(&self) -> Vec<Vec<[f64; 2]>> {
        let mut next: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for [from, to] in rim(&self.triangles(1)) {
            next.entry(from).or_default().push(to);
        }
        let mut loops = Vec::new();
        while let Some((&start, _)) = next.first_key_value() {
            let mut line = Vec::new();
            let mut at = start;
            while let Some(ways) = next.get_mut(&at) {
                line.push(self.grid.at_index(at));
                let to = ways.pop();
                if ways.is_empty() {
                    next.remove(&at);
                }
                match to {
                    Some(to) => at = to,
                    None => break,
                }
            }
            loops.push(line);
        }
        loops.sort_by_key(|line| std::cmp::Reverse(line.len()));
        loops
    }

    /// Triangles between nodes inside, anticlockwise from above.
    fn triangles(&self, step: usize) -> Vec<[usize; 3]> {
        let (nx, ny) = (self.grid.nx, self.grid.ny);
        let mut found = Vec::new();
        for j in (0..ny.saturating_sub(step)).step_by(step) {
            for i in (0..nx.saturating_sub(step)).step_by(step) {
                // Anticlockwise round the cell.
                let corners = [
                    self.grid.index(i, j),
                    self.grid.index(i + step, j),
                    self.grid.index(i + step, j + step),
                    self.grid.index(i, j + step),
                ];
                let inside: Vec<usize> = corners.into_iter().filter(|&k| self.inside(k)).collect();
                match *inside.as_slice() {
                    [a, b, c] => found.push([a, b, c]),
                    [a, b, c, d] => {
                        found.push([a, b, c]);
                        found.push([a, c, d]);
                    }
                    _ => {}
                }
            }
        }
        found
    }
}

/// Sides that belong to one triangle only, each in its triangle's sense.
fn rim(triangles: &[[usize; 3]]) -> Vec<[usize; 2]> {
    let mut sides: BTreeSet<[usize; 2]> = BTreeSet::new();
    for &[a, b, c] in triangles {
        for [from, to] in [[a, b], [b, c], [c, a]] {
            if !sides.remove(&[to, from]) {
                sides.insert([from, to]);
            }
        }
    }
    sides.into_iter().collect()
}
