//! The nodes under an outline, and where each stands between crown and edge.

use opal_geom::{Grid, Outline};

/// Rays from the crown by which places are told to be inside or outside.
const RAYS: usize = 360;

/// One node under the outline.
#[derive(Clone, Copy, Debug)]
pub(crate) struct FootNode {
    /// Its place in the grid.
    pub(crate) index: u32,
    /// From the crown, mm.
    pub(crate) dx: f32,
    pub(crate) dy: f32,
    /// 0 at the crown, 1 at the edge.
    pub(crate) rho: f32,
}

/// An outline laid on the grid.
#[derive(Clone, Debug)]
pub(crate) struct Footprint {
    pub(crate) outline: Outline,
    pub(crate) crown: [f64; 2],
    pub(crate) nodes: Vec<FootNode>,
    /// Nodes at even steps along the edge.
    pub(crate) edge: Vec<FootNode>,
    /// Area that one node speaks for, mm².
    pub(crate) node_area: f64,
    pub(crate) area: f64,
    pub(crate) perimeter: f64,
    /// Shorter calliper size, mm.
    pub(crate) width: f64,
    /// Longer calliper size, mm.
    pub(crate) length: f64,
    /// Farthest point of the outline from the crown, mm.
    pub(crate) reach: f64,
    rays: Vec<f64>,
}

impl Footprint {
    /// Lays an outline on the grid with at most about `most_nodes` nodes; `None`
    /// where it holds no node or is not star-shaped about its centroid.
    pub(crate) fn new(grid: &Grid, outline: Outline, most_nodes: usize) -> Option<Self> {
        let crown = outline.centroid();
        if !outline.is_star_shaped_about(crown) {
            return None;
        }
        let area = outline.area();
        let cells = area / grid.cell_area_mm2();
        let stride = (cells / most_nodes as f64).sqrt().ceil().max(1.0) as usize;
        let rays = outline.ray_lengths(crown, RAYS);
        let sizes = outline.calliper_sizes();
        let mut foot = Self {
            crown,
            nodes: Vec::new(),
            edge: Vec::new(),
            node_area: 0.0,
            area,
            perimeter: outline.perimeter(),
            width: sizes.width,
            length: sizes.length,
            reach: rays.iter().copied().fold(0.0, f64::max),
            rays,
            outline,
        };
        let [low, high] = foot.outline.bounds();
        let column = |x: f64| (x - grid.origin_mm[0]) / grid.cell_mm;
        let row = |y: f64| (y - grid.origin_mm[1]) / grid.cell_mm;
        let last = |v: f64, n: usize| (v.floor().max(0.0) as usize).min(n - 1);
        let first = |v: f64| v.ceil().max(0.0) as usize;
        for j in (first(row(low[1]))..=last(row(high[1]), grid.ny)).step_by(stride) {
            for i in (first(column(low[0]))..=last(column(high[0]), grid.nx)).step_by(stride) {
                let at = grid.at(i, j);
                let rho = foot.rho(at);
                if rho <= 1.0 {
                    foot.nodes.push(FootNode {
                        index: grid.index(i, j) as u32,
                        dx: (at[0] - crown[0]) as f32,
                        dy: (at[1] - crown[1]) as f32,
                        rho: rho as f32,
                    });
                }
            }
        }
        if foot.nodes.is_empty() {
            return None;
        }
        foot.node_area = area / foot.nodes.len() as f64;
        foot.edge = edge_nodes(grid, &foot.outline, crown);
        Some(foot)
    }

    /// Where a place stands between crown (0) and edge (1); above 1 outside.
    pub(crate) fn rho(&self, at: [f64; 2]) -> f64 {
        let (dx, dy) = (at[0] - self.crown[0], at[1] - self.crown[1]);
        // Millimetres neither overflow nor vanish: `hypot` would only be slower.
        let from_crown = (dx * dx + dy * dy).sqrt();
        if from_crown < 1e-9 {
            return 0.0;
        }
        let turn = dy.atan2(dx).rem_euclid(std::f64::consts::TAU) / std::f64::consts::TAU;
        let slot = turn * RAYS as f64;
        let k = (slot as usize).min(RAYS - 1);
        let t = slot - k as f64;
        let edge = self.rays[k] * (1.0 - t) + self.rays[(k + 1) % RAYS] * t;
        from_crown / edge.max(1e-9)
    }
}

/// Sixteen nodes nearest to even steps along the outline.
fn edge_nodes(grid: &Grid, outline: &Outline, crown: [f64; 2]) -> Vec<FootNode> {
    const STEPS: usize = 16;
    let points = outline.points();
    (0..STEPS)
        .filter_map(|k| {
            let at = points[k * points.len() / STEPS];
            let index = grid.nearest(at)?;
            let node = grid.at_index(index);
            Some(FootNode {
                index: index as u32,
                dx: (node[0] - crown[0]) as f32,
                dy: (node[1] - crown[1]) as f32,
                rho: 1.0,
            })
        })
        .collect()
}
