//! A planned face over the rough as it is now.

use crate::under::Under;
use opal_geom::Outline;
use opal_interior::Interiors;
use opal_plan::{BenchRules, CutStone};
use opal_stone::Stone;
use opal_units::Seed;
use rand::Rng as _;

/// Nodes that one face is looked at on, at most about. Chosen: a share of the
/// face is then told to about a twentieth at worst, a mean to far better.
const MOST_NODES: f64 = 400.0;
/// Rays from the crown by which places are told to be inside the outline.
const N_RAYS: usize = 180;
/// From here out a node counts as the edge, where the bar is seen from the side.
const EDGE_FROM: f64 = 0.85;

/// A place that the face is looked at on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Node {
    /// In the stone's grid.
    pub(crate) index: usize,
    pub(crate) at_mm: [f64; 2],
    /// Edge plane, and the dome above it, of the stone as planned, mm.
    pub(crate) plane_mm: f64,
    pub(crate) dome_mm: f64,
    /// So far out that the bar is seen from the side.
    pub(crate) on_edge: bool,
}

/// A planned stone over the rough as it is now.
pub(crate) struct Face<'a> {
    pub(crate) stone: &'a Stone,
    pub(crate) interiors: &'a Interiors,
    pub(crate) rules: &'a BenchRules,
    pub(crate) cut: &'a CutStone,
    pub(crate) nodes: Vec<Node>,
    /// Area that one node stands for, mm².
    pub(crate) node_area: f64,
    /// Of the outline.
    pub(crate) area_mm2: f64,
    pub(crate) perimeter_mm: f64,
    rays: Vec<f64>,
    width_mm: f64,
    /// Per interior: luck against breaking, the same as the planner's.
    pub(crate) luck: Vec<f64>,
    /// Per interior: the chance that cracks leave it whole.
    pub(crate) sound: Vec<f64>,
}

impl<'a> Face<'a> {
    /// `None` for an outline that holds no node.
    pub(crate) fn new(
        stone: &'a Stone,
        interiors: &'a Interiors,
        rules: &'a BenchRules,
        cut: &'a CutStone,
        seed: Seed,
    ) -> Option<Self> {
        let outline = Outline::new(cut.outline_mm.clone())?;
        let area = outline.area();
        let grid = &stone.grid;
        let stride = (area / grid.cell_area_mm2() / MOST_NODES)
            .sqrt()
            .ceil()
            .max(1.0) as usize;
        let rays = outline.ray_lengths(cut.crown_mm, N_RAYS);
        let mut nodes = Vec::new();
        for j in (0..grid.ny).step_by(stride) {
            for i in (0..grid.nx).step_by(stride) {
                let at_mm = grid.at(i, j);
                let rho = rho(&rays, cut.crown_mm, at_mm);
                if rho > 1.0 {
                    continue;
                }
                let plane_mm = cut.edge_mm[0]
                    + cut.edge_mm[1] * (at_mm[0] - cut.crown_mm[0])
                    + cut.edge_mm[2] * (at_mm[1] - cut.crown_mm[1]);
                let rise = cut.dome.height.mm() * (1.0 - rho.powf(cut.dome.exponent));
                nodes.push(Node {
                    index: grid.index(i, j),
                    at_mm,
                    plane_mm,
                    dome_mm: plane_mm + rise,
                    on_edge: rho >= EDGE_FROM,
                });
            }
        }
        if nodes.is_empty() {
            return None;
        }
        let sizes = outline.calliper_sizes();
        let mut face = Self {
            stone,
            interiors,
            rules,
            cut,
            node_area: area / nodes.len() as f64,
            nodes,
            rays,
            width_mm: sizes.width,
            area_mm2: area,
            perimeter_mm: outline.perimeter(),
            luck: (0..interiors.n)
                .map(|i| {
                    let word = seed.stream("plan-breakage", i as u64).next_u64();
                    (word >> 11) as f64 / (1_u64 << 53) as f64
                })
                .collect(),
            sound: Vec::new(),
        };
        face.sound = (0..interiors.n).map(|i| face.chance_sound(i)).collect();
        Some(face)
    }

    /// Interior `i` below this face.
    pub(crate) fn under(&self, i: usize) -> Under<'_> {
        Under::new(self, i)
    }

    /// How far the stone's top stands above the planned dome: the lift at which
    /// all but a twentieth of the face is as it stands now, mm.
    pub(crate) fn standing_lift_mm(&self) -> f64 {
        let above = self.nodes.iter().filter_map(|node| {
            let top = f64::from(self.stone.top_mm[node.index]);
            top.is_finite().then_some(top - node.dome_mm)
        });
        quantile(&mut above.collect::<Vec<f64>>(), 0.95).unwrap_or(0.0)
    }

    /// In interior `i`: the lifts at which the bar first shows (a twentieth of
    /// the face) and at which half of it is gone, mm; `None` without a bar.
    pub(crate) fn bar_lifts_mm(&self, i: usize) -> Option<(f64, f64)> {
        let cells = self.interiors.cells();
        let bar = self.interiors.bars.get(self.cut.bar)?;
        let (tops, thick) = (bar.top(i, cells), bar.thickness(i, cells));
        let present: Vec<(f64, f64)> = self
            .nodes
            .iter()
            .filter(|node| thick[node.index] > 0.0)
            .map(|node| {
                let top = f64::from(tops[node.index]);
                let bottom = top - f64::from(thick[node.index]);
                (top - node.dome_mm, bottom - node.dome_mm)
            })
            .collect();
        let mut tops: Vec<f64> = present.iter().map(|p| p.0).collect();
        let mut bottoms: Vec<f64> = present.iter().map(|p| p.1).collect();
        let first = quantile(&mut tops, 0.95)?;
        let last = quantile(&mut bottoms, 0.5)?;
        Some((first, last))
    }

    /// The planned face at a place, mm; `None` beyond the outline.
    pub(crate) fn dome_at(&self, at_mm: [f64; 2]) -> Option<f64> {
        let cut = self.cut;
        let rho = rho(&self.rays, cut.crown_mm, at_mm);
        (rho <= 1.0).then(|| {
            cut.edge_mm[0]
                + cut.edge_mm[1] * (at_mm[0] - cut.crown_mm[0])
                + cut.edge_mm[2] * (at_mm[1] - cut.crown_mm[1])
                + cut.dome.height.mm() * (1.0 - rho.powf(cut.dome.exponent))
        })
    }

    /// How deep a seen speck must be dug out in interior `i`, mm below a face at
    /// this lift: the speck nearest the place, within a millimetre.
    pub(crate) fn dig_mm(&self, i: usize, at_mm: [f64; 2], lift_mm: f64) -> Option<f64> {
        let face = self.dome_at(at_mm)? + lift_mm;
        let near = |x: f32, y: f32| (f64::from(x) - at_mm[0]).hypot(f64::from(y) - at_mm[1]);
        self.interiors
            .specks
            .of(i)
            .iter()
            .map(|s| (near(s.at_mm[0], s.at_mm[1]), s))
            .filter(|(away, s)| {
                // It shows on the face, or did just above it.
                let deep = face - f64::from(s.at_mm[2]);
                *away < 1.0 && deep.abs() <= f64::from(s.radius_mm) + 0.3
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, s)| (face - f64::from(s.at_mm[2]) + f64::from(s.radius_mm)).max(0.0))
    }

    /// The chance that the cracks of interior `i` leave the stone in one piece.
    fn chance_sound(&self, i: usize) -> f64 {
        let crown = self.cut.crown_mm;
        let face = self.cut.edge_mm[0] + self.cut.dome.height.mm();
        let mut chance = 1.0;
        for crack in self.interiors.cracks.of(i) {
            let at = crack.at_mm.map(f64::from);
            let [nx, ny, nz] = crack.normal.map(f64::from);
            let radius = f64::from(crack.radius_mm);
            let level = nx.hypot(ny);
            let mut across_mm = 0.0;
            if level < 0.2 {
                let deep = face - at[2];
                let under = (0.0..self.rules.least_thickness.mm()).contains(&deep);
                if under && rho(&self.rays, crown, [at[0], at[1]]) <= 1.0 {
                    across_mm = 2.0 * radius;
                }
            } else {
                // Its trace at the height of the face.
                let down = (face - at[2]) * nz / level;
                let middle = [at[0] - nx / level * down, at[1] - ny / level * down];
                let half2 = radius * radius - down * down - (face - at[2]) * (face - at[2]);
                if half2 > 0.0 {
                    let half = half2.sqrt();
                    const SAMPLES: usize = 24;
                    let inside = (0..SAMPLES).filter(|&s| {
                        let t = half * (2.0 * (s as f64 + 0.5) / SAMPLES as f64 - 1.0);
                        let p = [middle[0] - ny / level * t, middle[1] + nx / level * t];
                        rho(&self.rays, crown, p) <= 1.0
                    });
                    across_mm = 2.0 * half * inside.count() as f64 / SAMPLES as f64;
                }
            }
            let share = (across_mm / self.width_mm).min(1.0);
            chance *= 1.0 - self.rules.crack_breakage * share;
        }
        chance
    }
}

/// Where a place stands between crown (0) and edge (1); above 1 outside.
fn rho(rays: &[f64], crown: [f64; 2], at: [f64; 2]) -> f64 {
    let (dx, dy) = (at[0] - crown[0], at[1] - crown[1]);
    // Millimetres neither overflow nor vanish: `hypot` would only be slower.
    let away = (dx * dx + dy * dy).sqrt();
    if away < 1e-9 {
        return 0.0;
    }
    let turn = dy.atan2(dx).rem_euclid(std::f64::consts::TAU) / std::f64::consts::TAU;
    let slot = turn * rays.len() as f64;
    let k = (slot as usize).min(rays.len() - 1);
    let t = slot - k as f64;
    let edge = rays[k] * (1.0 - t) + rays[(k + 1) % rays.len()] * t;
    away / edge.max(1e-9)
}

/// The value below which this share lies; `None` for none.
/// The values are put in another order.
pub(crate) fn quantile(values: &mut [f64], p: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let at = (last as f64 * p).round() as usize;
    let (_, value, _) = values.select_nth_unstable_by(at, f64::total_cmp);
    Some(*value)
}
