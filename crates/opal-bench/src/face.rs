//! What a stone's face shows, and what the stone is, when it is ground to some
//! level in some interior.

use opal_geom::Outline;
use opal_interior::Interiors;
use opal_plan::{BenchRules, CutStone, StoneDraw};
use opal_stone::{Spot, Stone};
use opal_units::{Area, Length, Mass, Seed, Volume};
use rand::Rng as _;

/// Nodes that one face is looked at on, at most about. Chosen: a share of the
/// face is then told to about a twentieth at worst, a mean to far better.
const MOST_NODES: f64 = 400.0;
/// Rays from the crown by which places are told to be inside the outline.
const N_RAYS: usize = 180;
/// From here out a node counts as the edge, where the bar is seen from the side.
const EDGE_FROM: f64 = 0.85;

struct Node {
    index: usize,
    at_mm: [f64; 2],
    /// Edge plane, and the dome above it, of the stone as planned, mm.
    plane_mm: f64,
    dome_mm: f64,
    rho: f64,
}

/// How the face is shaped.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Shaped<'a> {
    /// The planned dome, this far above where it was planned, mm; with a dish in it.
    Dome {
        lift_mm: f64,
        dish: Option<(&'a Spot, f64)>,
    },
    /// Kept whole: the face follows the bar, backing is left under it, mm.
    Whole { backing_mm: f64 },
}

/// What can be seen with the face at a level: nothing of what lies below.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Visible {
    /// Share of the face that shows colour.
    pub(crate) colour: f64,
    /// Share over which potch still lies on the bar.
    pub(crate) covered: f64,
    /// Share at which the bar is gone.
    pub(crate) through: f64,
    /// Share that specks take.
    pub(crate) specks: f64,
    /// Mean thickness of colour left below the face at the edge, mm.
    pub(crate) edge_mm: f64,
    /// The least of it (a tenth of the edge has less), mm.
    pub(crate) thin_edge_mm: f64,
}

/// A planned stone over the rough as it is now.
pub(crate) struct Face<'a> {
    pub(crate) stone: &'a Stone,
    pub(crate) interiors: &'a Interiors,
    pub(crate) rules: &'a BenchRules,
    pub(crate) cut: &'a CutStone,
    nodes: Vec<Node>,
    node_area: f64,
    outline: Outline,
    rays: Vec<f64>,
    width_mm: f64,
    /// Per interior: luck against breaking, the same as the planner's.
    luck: Vec<f64>,
    /// Per interior: the chance that cracks leave it whole.
    sound: Vec<f64>,
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
                    rho,
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
            outline,
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

    /// Area of the face, mm².
    pub(crate) fn area_mm2(&self) -> f64 {
        self.outline.area()
    }

    /// How far the stone's top stands above the planned dome: the lift at which
    /// all but a twentieth of the face is as it stands now, mm.
    pub(crate) fn standing_lift_mm(&self) -> f64 {
        let above = self.nodes.iter().filter_map(|node| {
            let top = f64::from(self.stone.top_mm[node.index]);
            top.is_finite().then_some(top - node.dome_mm)
        });
        quantile(above.collect(), 0.95).unwrap_or(0.0)
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
        let first = quantile(present.iter().map(|p| p.0).collect(), 0.95)?;
        let last = quantile(present.iter().map(|p| p.1).collect(), 0.5)?;
        Some((first, last))
    }

    /// What shows, and what the stone is, in interior `i`.
    pub(crate) fn draw(&self, i: usize, shaped: Shaped<'_>) -> (StoneDraw, Visible) {
        let interiors = self.interiors;
        let cells = interiors.cells();
        let inset = f64::from(interiors.skin_inset_mm[i]);
        let Some(bar) = interiors.bars.get(self.cut.bar) else {
            return (self.nothing(), Visible::default());
        };
        let (tops, thick) = (bar.top(i, cells), bar.thickness(i, cells));
        let showing = self.rules.showing_colour.mm();
        let skin = self.rules.skin_allowance.mm();
        let mut seen = Visible::default();
        let (mut height, mut colour, mut solid) = (0.0, 0.0, 0_usize);
        let (mut depths, mut edge) = (Vec::new(), Vec::new());
        for node in &self.nodes {
            let k = node.index;
            let top = f64::from(self.stone.top_mm[k]) - inset.max(0.0);
            let bottom = f64::from(self.stone.bottom_mm[k]) + inset.max(0.0);
            let (bar_top, thickness) = (f64::from(tops[k]), f64::from(thick[k]));
            let bar_bottom = bar_top - thickness;
            let (face, back) = match shaped {
                Shaped::Dome { lift_mm, dish } => {
                    let dug = dish.map_or(0.0, |(spot, depth)| depth * spot.share(node.at_mm));
                    let back = node.plane_mm + lift_mm - self.cut.back.wall.mm();
                    (node.dome_mm + lift_mm - dug, back)
                }
                Shaped::Whole { backing_mm } => {
                    ((top - skin).min(bar_top), bar_bottom - backing_mm)
                }
            };
            let (high, low) = (face.min(top), back.max(bottom));
            // False where there is no stone (NaN).
            let stands = high > low;
            if !stands {
                continue;
            }
            solid += 1;
            height += high - low;
            if thickness <= 0.0 {
                continue;
            }
            let left = high - bar_bottom.max(low);
            if high > bar_top {
                seen.covered += 1.0;
                colour += (bar_top - bar_bottom.max(low)).max(0.0);
            } else if left > 0.0 {
                seen.colour += 1.0;
                colour += left;
                if left >= showing {
                    depths.push(left);
                }
            } else if face < top {
                // Ground away; not merely missing below a thin skin.
                seen.through += 1.0;
            }
            if node.rho >= EDGE_FROM {
                edge.push((high.min(bar_top) - bar_bottom).max(0.0));
            }
        }
        let nodes = self.nodes.len() as f64;
        seen.colour /= nodes;
        seen.covered /= nodes;
        seen.through /= nodes;
        if !edge.is_empty() {
            seen.edge_mm = edge.iter().sum::<f64>() / edge.len() as f64;
            seen.thin_edge_mm = quantile(edge, 0.1).unwrap_or(0.0);
        }
        let specks = self.specks_mm2(i, shaped) / self.area_mm2();
        seen.specks = specks.min(1.0);
        let clean = (depths.len() as f64 / nodes - specks).max(0.0);
        let mean = depths.iter().sum::<f64>() / depths.len().max(1) as f64;
        let least = quantile(depths, 0.05).unwrap_or(0.0);
        let bevel = self.rules.bevel.mm();
        let volume =
            (height * self.node_area - self.outline.perimeter() * bevel * bevel / 2.0).max(0.0);
        let mass = |mm3: f64| Volume::from_mm3(mm3) * self.stone.gravity.value;
        let face_area = solid as f64 * self.node_area;
        let whole = (1.0 - self.rules.breakage) * self.sound[i];
        let drawn = StoneDraw {
            weight: mass(volume),
            colour: mass((colour * self.node_area).min(volume)),
            face: Area::from_mm2(face_area),
            clean_share: clean,
            least_colour: Length::from_mm(least),
            mean_colour: Length::from_mm(mean),
            thickness: Length::from_mm(if solid > 0 { volume / face_area } else { 0.0 }),
            whole: self.luck[i] < whole && solid as f64 > 0.5 * nodes,
        };
        (drawn, seen)
    }

    fn nothing(&self) -> StoneDraw {
        StoneDraw {
            weight: Mass::ZERO,
            colour: Mass::ZERO,
            face: Area::ZERO,
            clean_share: 0.0,
            least_colour: Length::ZERO,
            mean_colour: Length::ZERO,
            thickness: Length::ZERO,
            whole: false,
        }
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

    /// Area that specks take on the face, mm².
    fn specks_mm2(&self, i: usize, shaped: Shaped<'_>) -> f64 {
        let cells = self.interiors.cells();
        let mut sum = 0.0;
        for speck in self.interiors.specks.of(i) {
            let [x, y, z] = speck.at_mm.map(f64::from);
            let Some(dome) = self.dome_at([x, y]) else {
                continue;
            };
            let Some(k) = self.stone.grid.nearest([x, y]) else {
                continue;
            };
            let top = f64::from(self.stone.top_mm[k]);
            let face = match shaped {
                Shaped::Dome { lift_mm, dish } => {
                    dome + lift_mm - dish.map_or(0.0, |(spot, d)| d * spot.share([x, y]))
                }
                Shaped::Whole { .. } => {
                    f64::from(self.interiors.bars[self.cut.bar].top(i, cells)[k])
                }
            };
            let away = z - face.min(top);
            let radius = f64::from(speck.radius_mm);
            let disc = radius * radius - away * away;
            if disc > 0.0 {
                sum += std::f64::consts::PI * disc;
            }
        }
        sum
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
    let away = dx.hypot(dy);
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
pub(crate) fn quantile(mut values: Vec<f64>, p: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let at = (last as f64 * p).round() as usize;
    let (_, value, _) = values.select_nth_unstable_by(at, f64::total_cmp);
    Some(*value)
}
