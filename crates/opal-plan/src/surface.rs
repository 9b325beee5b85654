//! The finished stone as a closed surface.

use crate::plan::{CutStone, NaturalShape};
use opal_geom::TriMesh;
use std::collections::BTreeMap;

/// Rings between crown and edge. Chosen: the dome's volume then lacks less than
/// a third of a percent.
const RINGS: usize = 16;

impl CutStone {
    /// The closed surface of the stone, for drawing and for volumes: dome, wall,
    /// bevel and flat back, or face and back of a piece kept whole.
    ///
    /// # Validity
    /// Outlines that are star-shaped about their crown.
    #[must_use]
    pub fn surface(&self) -> TriMesh {
        if let Some(natural) = &self.natural {
            return natural.surface();
        }
        if self.outline_mm.len() < 3 {
            return TriMesh::default();
        }
        let plane = |at: [f64; 2]| {
            self.edge_mm[0]
                + self.edge_mm[1] * (at[0] - self.crown_mm[0])
                + self.edge_mm[2] * (at[1] - self.crown_mm[1])
        };
        let along = |point: &[f64; 2], rho: f64| -> [f64; 2] {
            std::array::from_fn(|d| self.crown_mm[d] + rho * (point[d] - self.crown_mm[d]))
        };
        let mut mesh =
            Lathe::starting_at(self.crown_mm, plane(self.crown_mm) + self.dome.height.mm());
        for ring in 1..=RINGS {
            let rho = ring as f64 / RINGS as f64;
            let rise = self.dome.height.mm() * (1.0 - rho.powf(self.dome.exponent));
            mesh.ring(self.outline_mm.iter().map(|p| {
                let at = along(p, rho);
                [at[0], at[1], plane(at) + rise]
            }));
        }
        let wall = self.back.wall.mm();
        let bevel = self.back.bevel.mm().clamp(0.0, wall);
        if bevel > 0.0 && bevel < wall {
            mesh.ring(
                self.outline_mm
                    .iter()
                    .map(|p| [p[0], p[1], plane(*p) - wall + bevel]),
            );
        }
        mesh.ring(self.outline_mm.iter().map(|p| {
            let reach = (p[0] - self.crown_mm[0]).hypot(p[1] - self.crown_mm[1]);
            let at = along(p, (1.0 - bevel / reach.max(1e-9)).max(0.0));
            [at[0], at[1], plane(at) - wall]
        }));
        mesh.closed_at(self.crown_mm, plane(self.crown_mm) - wall)
    }
}

/// A surface built ring by ring, downward.
struct Lathe {
    mesh: TriMesh,
    last: Option<(u32, u32)>,
}

impl Lathe {
    fn starting_at(crown: [f64; 2], z: f64) -> Self {
        let mesh = TriMesh {
            vertices: vec![[crown[0], crown[1], z]],
            faces: Vec::new(),
        };
        Self { mesh, last: None }
    }

    fn ring(&mut self, points: impl Iterator<Item = [f64; 3]>) {
        let start = self.mesh.vertices.len() as u32;
        self.mesh.vertices.extend(points);
        let n = self.mesh.vertices.len() as u32 - start;
        for k in 0..n {
            let next = (k + 1) % n;
            match self.last {
                None => self.mesh.faces.push([0, start + k, start + next]),
                Some((above, _)) => {
                    self.mesh.faces.push([above + k, start + k, start + next]);
                    self.mesh
                        .faces
                        .push([above + k, start + next, above + next]);
                }
            }
        }
        self.last = Some((start, n));
    }

    fn closed_at(mut self, centre: [f64; 2], z: f64) -> TriMesh {
        if let Some((ring, n)) = self.last {
            let middle = self.mesh.vertices.len() as u32;
            self.mesh.vertices.push([centre[0], centre[1], z]);
            for k in 0..n {
                self.mesh.faces.push([ring + k, middle, ring + (k + 1) % n]);
            }
        }
        self.mesh
    }
}

impl NaturalShape {
    /// Face and back over every square of four nodes, with walls around.
    fn surface(&self) -> TriMesh {
        let grid = &self.grid;
        let mut mesh = TriMesh::default();
        let mut number: BTreeMap<usize, u32> = BTreeMap::new();
        let mut sides: BTreeMap<(u32, u32), ()> = BTreeMap::new();
        for j in 1..grid.ny {
            for i in 1..grid.nx {
                let around = [
                    grid.index(i - 1, j - 1),
                    grid.index(i, j - 1),
                    grid.index(i, j),
                    grid.index(i - 1, j),
                ];
                if around.iter().any(|&k| !self.face_mm[k].is_finite()) {
                    continue;
                }
                // Face and back of a node stand one after the other.
                let top = around.map(|k| {
                    *number.entry(k).or_insert_with(|| {
                        let [x, y] = grid.at_index(k);
                        let first = mesh.vertices.len() as u32;
                        mesh.vertices.push([x, y, f64::from(self.face_mm[k])]);
                        mesh.vertices.push([x, y, f64::from(self.back_mm[k])]);
                        first
                    })
                });
                let under = top.map(|v| v + 1);
                mesh.faces.push([top[0], top[1], top[2]]);
                mesh.faces.push([top[0], top[2], top[3]]);
                mesh.faces.push([under[0], under[2], under[1]]);
                mesh.faces.push([under[0], under[3], under[2]]);
                for k in 0..4 {
                    let (p, q) = (top[k], top[(k + 1) % 4]);
                    // A side shared by two squares is met once each way.
                    if sides.remove(&(q, p)).is_none() {
                        sides.insert((p, q), ());
                    }
                }
            }
        }
        for &(p, q) in sides.keys() {
            mesh.faces.push([p, p + 1, q + 1]);
            mesh.faces.push([p, q + 1, q]);
        }
        mesh
    }
}
