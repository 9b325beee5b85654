//! A stone that may be cut: its outline, how it lies in the bar, how it follows
//! the bar once the edges are seen.

use crate::draw::{Lay, Natural, Planned, Scratch, Seen, draw};
use crate::footprint::Footprint;
use crate::ground::Ground;
use crate::plan::{CutKind, CutStone, NaturalShape, StoneDraw};
use crate::rules::{BenchRules, DomeChoice};
use opal_geom::dome::{DomeSite, fit_dome};
use opal_geom::plane::least_squares_plane;
use opal_units::{Angle, Length};
use std::sync::Arc;

/// Nodes looked at while searching, and when a plan is valued for good. Chosen:
/// 300 nodes give a share to 3 % at worst, 1,500 to 1.3 %, far below what one
/// interior differs from the next.
pub(crate) const SEARCH_NODES: usize = 300;
pub(crate) const VALUE_NODES: usize = 1500;

#[derive(Clone, Debug)]
pub(crate) struct Candidate {
    pub(crate) kind: CutKind,
    pub(crate) turn: f64,
    pub(crate) bar: usize,
    pub(crate) foot: Footprint,
    pub(crate) lay: Lay,
    /// Mean worth over the training interiors when the cutter follows the bar.
    pub(crate) score: f64,
    /// For a piece kept whole.
    pub(crate) natural: Option<Arc<NaturalShape>>,
}

impl Candidate {
    pub(crate) fn cut_stone(&self, ground: &Ground<'_>) -> CutStone {
        CutStone {
            kind: self.kind.clone(),
            outline_mm: self.foot.outline.points().to_vec(),
            crown_mm: self.foot.crown,
            turn: Angle::from_radians(self.turn),
            edge_mm: self.lay.edge,
            dome: self.lay.profile(),
            back: self.lay.back(ground.rules.bevel),
            bar: self.bar,
            natural: self.natural.clone(),
        }
    }

    /// What it turns out to be in interior `i` when laid as told.
    pub(crate) fn draw(
        &self,
        ground: &Ground<'_>,
        lay: Lay,
        i: usize,
        scratch: &mut Scratch,
    ) -> (StoneDraw, Seen) {
        if matches!(self.kind, CutKind::Specimen) {
            let surfaces = Natural {
                skin: ground.rules.skin_allowance.mm() as f32,
                backing: self.backing(ground, i) as f32,
            };
            return draw(ground, &self.foot, &surfaces, self.bar, i, scratch);
        }
        draw(ground, &self.foot, &Planned(lay), self.bar, i, scratch)
    }

    /// What is seen under an outline on the piece faced as a whole, its face
    /// following the bar: for a piece kept whole.
    pub(crate) fn seen_when_faced(&self, ground: &Ground<'_>, under: &Footprint, i: usize) -> Seen {
        let surfaces = Natural {
            skin: ground.rules.skin_allowance.mm() as f32,
            backing: self.backing(ground, i) as f32,
        };
        draw(
            ground,
            under,
            &surfaces,
            self.bar,
            i,
            &mut Scratch::default(),
        )
        .1
    }

    /// What is left under the bar of a piece kept whole, in interior `i`, mm.
    fn backing(&self, ground: &Ground<'_>, i: usize) -> f64 {
        let (least, most) = ground.rules.specimen_backing;
        (least + (most - least) * ground.backing_share[i]) * self.foot.width
    }

    /// How far the bar as seen in interior `i` — around the edge of the
    /// preform, and over the crown while the face is opened down to it — lies
    /// off the bar that the lay was fitted to.
    pub(crate) fn seen_bar(&self, ground: &Ground<'_>, i: usize) -> SeenBar {
        let cells = ground.interiors.cells();
        let draws = &ground.interiors.bars[self.bar];
        let (tops, thick) = (draws.top(i, cells), draws.thickness(i, cells));
        let maps = &ground.bars[self.bar];
        let showing = ground.rules.showing_colour.mm() as f32;
        let inset = ground.interiors.skin_inset_mm[i];
        let mut off = Vec::with_capacity(self.foot.edge.len() + 1);
        let (mut seen_thickness, mut thicker) = (0.0, 0.0);
        let mut thinnest = f64::INFINITY;
        for node in &self.foot.edge {
            let k = node.index as usize;
            let buried = tops[k] < ground.stone.top_mm[k] - inset;
            if thick[k] < showing || !buried || !maps.top[k].is_finite() {
                continue;
            }
            let middle = tops[k] - thick[k] / 2.0;
            let mean = maps.top[k] - maps.thickness[k] / 2.0;
            off.push([
                f64::from(node.dx),
                f64::from(node.dy),
                f64::from(middle - mean),
            ]);
            seen_thickness += f64::from(thick[k]);
            thicker += f64::from(thick[k] - maps.thickness[k]);
            thinnest = thinnest.min(f64::from(thick[k]));
        }
        let at_edge = off.len();
        let crown = ground
            .grid
            .nearest(self.foot.crown)
            .filter(|&k| thick[k] >= showing && maps.top[k].is_finite());
        if let Some(k) = crown {
            off.push([0.0, 0.0, f64::from(tops[k] - maps.top[k])]);
        }
        let share = at_edge as f64 / self.foot.edge.len().max(1) as f64;
        let (shift, roughness) = self.shift(ground, &off);
        SeenBar {
            shift,
            share,
            thicker: thicker / at_edge.max(1) as f64,
            thickness: if at_edge > 0 {
                seen_thickness / at_edge as f64
            } else {
                0.0
            },
            thinnest: if at_edge > 0 { thinnest } else { 0.0 },
            roughness,
        }
    }

    /// The plane through what was seen, its tilt held back where few places
    /// were seen, and how far they stray from it.
    fn shift(&self, ground: &Ground<'_>, off: &[[f64; 3]]) -> ([f64; 3], f64) {
        let Some(mut plane) = least_squares_plane(off) else {
            return ([0.0; 3], 0.0);
        };
        let count = off.len() as f64;
        let mean = off.iter().map(|p| p[2]).sum::<f64>() / count;
        let middle: [f64; 2] =
            std::array::from_fn(|d| off.iter().map(|p| p[d]).sum::<f64>() / count);
        // Chosen: four places' worth of belief in no tilt.
        let belief = count / (count + 4.0);
        let most = ground.rules.most_slope;
        for d in 0..2 {
            let own = self.lay.edge[d + 1];
            plane[d + 1] = (plane[d + 1] * belief).clamp(-most - own, most - own);
        }
        plane[0] = mean - plane[1] * middle[0] - plane[2] * middle[1];
        let square: f64 = off
            .iter()
            .map(|p| (p[2] - plane[0] - plane[1] * p[0] - plane[2] * p[1]).powi(2))
            .sum();
        (plane, (square / count).sqrt())
    }
}

/// What the edges of the preform, and the first colour over the crown, show.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SeenBar {
    /// Plane by which the bar lies off the bar the lay was fitted to.
    pub(crate) shift: [f64; 3],
    /// Share of the edge on which colour shows.
    pub(crate) share: f64,
    /// By how much it is thicker there than the bar the lay was fitted to, mm.
    pub(crate) thicker: f64,
    /// Mean thickness where it shows, mm.
    pub(crate) thickness: f64,
    /// Least thickness where it shows, mm.
    pub(crate) thinnest: f64,
    /// How far the seen heights stray from a plane, mm.
    pub(crate) roughness: f64,
}

impl SeenBar {
    /// A lay that follows what was seen and goes on by a lift (negative is
    /// deeper): the face keeps its place in the bar, the back its place under it.
    pub(crate) fn followed(&self, lay: Lay, moved: [f64; 2], lift: f64, rules: &BenchRules) -> Lay {
        let [level, a, b] = self.shift;
        let level = level + a * moved[0] + b * moved[1];
        let mut followed = lay.shifted([level + lift, a, b]);
        // Half of what is thicker lies under the middle.
        let wall = lay.wall + self.thicker / 2.0 + lift;
        followed.wall = wall.max(least_wall(rules, lay.height));
        followed
    }
}

/// The least wall under a dome: a girdle, and enough for the whole to be strong.
fn least_wall(rules: &BenchRules, height: f64) -> f64 {
    rules.girdle.mm().max(rules.least_thickness.mm() - height)
}

/// How a stone of this outline and dome lies best in the mean bar: as far as
/// can be from its top and from the least colour over its bottom.
pub(crate) fn lay_in_mean_bar(
    ground: &Ground<'_>,
    foot: &Footprint,
    bar: usize,
    dome: DomeChoice,
) -> Option<(Lay, f64)> {
    let rules = ground.rules;
    let maps = &ground.bars[bar];
    let least = rules.least_colour.mm();
    let finish = rules.finishing_allowance.mm();
    let skin = rules.skin_allowance.mm();
    let site = |index: u32, dx: f32, dy: f32, rho: f32| {
        let k = index as usize;
        if !maps.top[k].is_finite() || maps.chance[k] < 0.3 {
            return None;
        }
        let under_skin = f64::from(ground.stone.top_mm[k]) - skin;
        Some(DomeSite {
            dx: f64::from(dx),
            dy: f64::from(dy),
            rise: 1.0 - f64::from(rho).powf(dome.exponent),
            floor: f64::from(ground.mean_bottom(bar, k)) + least,
            ceiling: f64::from(maps.top[k]).min(under_skin) - finish,
        })
    };
    let every = (foot.nodes.len() / 120).max(1);
    let sites: Vec<DomeSite> = foot
        .nodes
        .iter()
        .step_by(every)
        .chain(&foot.edge)
        .filter_map(|n| site(n.index, n.dx, n.dy, n.rho))
        .collect();
    if sites.len() < 4 {
        return None;
    }
    let height = dome.rise_over_width * foot.width;
    let fitted = fit_dome(&sites, rules.most_slope, (height, height)).ok()?;
    let mean_bottom = sites.iter().map(|s| s.floor - least).sum::<f64>() / sites.len() as f64;
    let wanted =
        least_wall(rules, height).max(fitted.edge[0] - mean_bottom + rules.accepted_backing.mm());
    let under: Vec<f64> = foot
        .nodes
        .iter()
        .step_by(every)
        .map(|n| f64::from(ground.stone.bottom_mm[n.index as usize]))
        .filter(|z| z.is_finite())
        .collect();
    let ground_under = under.iter().sum::<f64>() / under.len().max(1) as f64;
    let room = fitted.edge[0] - ground_under - skin;
    let lay = Lay {
        edge: fitted.edge,
        height,
        exponent: dome.exponent,
        wall: wanted.min(room.max(rules.girdle.mm())),
    };
    Some((lay, fitted.margin))
}

/// A standard size as a kind.
pub(crate) fn standard_kind(family: &str, length_mm: f64, width_mm: f64) -> CutKind {
    CutKind::Standard {
        family: family.to_owned(),
        length: Length::from_mm(length_mm),
        width: Length::from_mm(width_mm),
    }
}
