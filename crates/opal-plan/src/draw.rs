//! What a stone turns out to be in one interior.

use crate::footprint::{FootNode, Footprint};
use crate::ground::Ground;
use crate::plan::{Back, DomeProfile, StoneDraw};
use opal_interior::Interiors;
use opal_units::{Area, Length, Mass};

/// How a stone lies in the rough: edge plane about the crown, dome, wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Lay {
    /// Height of the edge plane at the crown, and its slopes.
    pub(crate) edge: [f64; 3],
    pub(crate) height: f64,
    pub(crate) exponent: f64,
    pub(crate) wall: f64,
}

impl Lay {
    pub(crate) fn profile(&self) -> DomeProfile {
        DomeProfile {
            height: Length::from_mm(self.height),
            exponent: self.exponent,
        }
    }

    pub(crate) fn back(&self, bevel: Length) -> Back {
        Back {
            wall: Length::from_mm(self.wall),
            bevel,
        }
    }

    /// The same stone lifted, and tilted, by a plane.
    pub(crate) fn shifted(mut self, by: [f64; 3]) -> Self {
        for (own, more) in self.edge.iter_mut().zip(by) {
            *own += more;
        }
        self
    }

    /// The usual profiles by squares, which is what the inner loop spends its
    /// time on.
    fn rise(&self, rho: f32) -> f32 {
        let square = rho * rho;
        if self.exponent == 2.0 {
            1.0 - square
        } else if self.exponent == 4.0 {
            1.0 - square * square
        } else {
            1.0 - rho.powf(self.exponent as f32)
        }
    }

    fn face_at(&self, dx: f64, dy: f64, rho: f64) -> f64 {
        self.edge[0]
            + self.edge[1] * dx
            + self.edge[2] * dy
            + self.height * f64::from(self.rise(rho as f32))
    }
}

/// The face and back heights of a stone over a node, in one interior.
///
/// A planned stone has them from its lay; a piece kept whole from its bar.
pub(crate) trait Surfaces {
    /// Face and back, mm, given the skin and the bar there.
    fn at(&self, node: &FootNode, skin: (f32, f32), bar_top: f32, thickness: f32) -> (f32, f32);
    /// The face under a place that is no node.
    fn face_at(&self, dx: f64, dy: f64, rho: f64, bar_top: f32, skin_top: f32) -> f64;
}

/// A planned stone.
pub(crate) struct Planned(pub(crate) Lay);

impl Surfaces for Planned {
    #[inline]
    fn at(&self, node: &FootNode, _: (f32, f32), _: f32, _: f32) -> (f32, f32) {
        let lay = &self.0;
        let plane =
            lay.edge[0] as f32 + lay.edge[1] as f32 * node.dx + lay.edge[2] as f32 * node.dy;
        (
            plane + lay.height as f32 * lay.rise(node.rho),
            plane - lay.wall as f32,
        )
    }

    fn face_at(&self, dx: f64, dy: f64, rho: f64, _: f32, _: f32) -> f64 {
        self.0.face_at(dx, dy, rho)
    }
}

/// A piece kept whole: its face follows the bar, its back is left.
pub(crate) struct Natural {
    /// Taken off everywhere, mm.
    pub(crate) skin: f32,
    /// Left under the bar, mm.
    pub(crate) backing: f32,
}

impl Surfaces for Natural {
    #[inline]
    fn at(&self, _: &FootNode, skin: (f32, f32), bar_top: f32, thickness: f32) -> (f32, f32) {
        let face = bar_top.min(skin.0 - self.skin);
        let back = (bar_top - thickness - self.backing).max(skin.1 + self.skin);
        (face, back)
    }

    fn face_at(&self, _: f64, _: f64, _: f64, bar_top: f32, skin_top: f32) -> f64 {
        f64::from(bar_top.min(skin_top - self.skin))
    }
}

/// Room that is used again from one interior to the next.
#[derive(Default)]
pub(crate) struct Scratch {
    depths: Vec<f32>,
}

/// What is seen on a face, beside the draw.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Seen {
    /// Share of the face with colour, specks not counted off.
    pub(crate) colour_share: f64,
    /// Share of the face that specks take.
    pub(crate) speck_share: f64,
    /// Share of the face on which potch still covers the bar.
    pub(crate) covered_share: f64,
}

/// The stone in interior `i`.
pub(crate) fn draw(
    ground: &Ground<'_>,
    foot: &Footprint,
    surfaces: &impl Surfaces,
    bar: usize,
    i: usize,
    scratch: &mut Scratch,
) -> (StoneDraw, Seen) {
    let interiors = ground.interiors;
    let cells = interiors.cells();
    let inset = interiors.skin_inset_mm[i];
    let tops = interiors.bars[bar].top(i, cells);
    let thick = interiors.bars[bar].thickness(i, cells);
    let showing = ground.rules.showing_colour.mm() as f32;
    scratch.depths.clear();
    let (mut height_sum, mut colour_sum, mut solid, mut covered) = (0.0_f32, 0.0_f32, 0, 0);
    for node in &foot.nodes {
        let k = node.index as usize;
        let skin = (
            ground.stone.top_mm[k] - inset,
            ground.stone.bottom_mm[k] + inset,
        );
        // The comparison is false where there is no stone (NaN).
        let solid_here = skin.0 > skin.1 && ground.clearance[k] >= inset;
        if !solid_here {
            continue;
        }
        let (bar_top, thickness) = (tops[k], thick[k]);
        let (face, back) = surfaces.at(node, skin, bar_top, thickness);
        let (high, low) = (face.min(skin.0), back.max(skin.1));
        if high <= low {
            continue;
        }
        solid += 1;
        height_sum += high - low;
        if thickness > 0.0 {
            let under = (bar_top - thickness).max(low);
            colour_sum += (high.min(bar_top) - under).max(0.0);
            if face > bar_top {
                covered += 1;
            } else if face <= skin.0 && face - under >= showing {
                scratch.depths.push(face - under);
            }
        }
    }
    for (other, draws) in interiors.bars.iter().enumerate() {
        if other != bar {
            colour_sum += other_colour(ground, foot, surfaces, i, (tops, thick), draws);
        }
    }
    let bevel = ground.rules.bevel.mm();
    let node_area = foot.node_area;
    let gross = f64::from(height_sum) * node_area;
    let volume = (gross - foot.perimeter * bevel * bevel / 2.0).max(0.0);
    let colour_volume = (f64::from(colour_sum) * node_area).min(volume);
    let face_area = f64::from(solid) * node_area;
    let nodes = foot.nodes.len() as f64;
    let colour_share = scratch.depths.len() as f64 / nodes;
    let faults = faults_on_face(ground, foot, surfaces, bar, i);
    let clean_share = (colour_share - faults.spoilt_mm2 / foot.area).max(0.0);
    let (least, mean) = depths(&mut scratch.depths);
    let carats = ground.carats_per_mm3[i];
    let chance_whole = (1.0 - ground.rules.breakage) * faults.chance_whole;
    let drawn = StoneDraw {
        weight: Mass::from_carats(volume * carats),
        colour: Mass::from_carats(colour_volume * carats),
        face: Area::from_mm2(face_area),
        clean_share,
        least_colour: Length::from_mm(least),
        mean_colour: Length::from_mm(mean),
        thickness: Length::from_mm(if solid > 0 { volume / face_area } else { 0.0 }),
        whole: ground.luck[i] < chance_whole && f64::from(solid) > 0.5 * nodes,
    };
    let seen = Seen {
        colour_share,
        speck_share: (faults.speck_mm2 / foot.area).min(1.0),
        covered_share: f64::from(covered) / nodes,
    };
    (drawn, seen)
}

/// Colour of the bars that the face does not show, summed over nodes, mm.
fn other_colour(
    ground: &Ground<'_>,
    foot: &Footprint,
    surfaces: &impl Surfaces,
    i: usize,
    (tops, thick): (&[f32], &[f32]),
    other: &opal_interior::BarDraws,
) -> f32 {
    let cells = ground.interiors.cells();
    let inset = ground.interiors.skin_inset_mm[i];
    let (other_tops, other_thick) = (other.top(i, cells), other.thickness(i, cells));
    let mut sum = 0.0;
    for node in &foot.nodes {
        let k = node.index as usize;
        let skin = (
            ground.stone.top_mm[k] - inset,
            ground.stone.bottom_mm[k] + inset,
        );
        let solid_here = skin.0 > skin.1 && ground.clearance[k] >= inset;
        if !solid_here || other_thick[k] <= 0.0 {
            continue;
        }
        let (face, back) = surfaces.at(node, skin, tops[k], thick[k]);
        let high = face.min(skin.0).min(other_tops[k]);
        let low = back.max(skin.1).max(other_tops[k] - other_thick[k]);
        sum += (high - low).max(0.0);
    }
    sum
}

/// Fifth centile and mean; zeros for none.
fn depths(depths: &mut [f32]) -> (f64, f64) {
    if depths.is_empty() {
        return (0.0, 0.0);
    }
    let mean = depths.iter().sum::<f32>() / depths.len() as f32;
    let at = depths.len() / 20;
    let (_, fifth, _) = depths.select_nth_unstable_by(at, f32::total_cmp);
    (f64::from(*fifth), f64::from(mean))
}

struct Faults {
    spoilt_mm2: f64,
    speck_mm2: f64,
    chance_whole: f64,
}

/// Specks and cracks that cut the face, and whether the cracks break the stone.
fn faults_on_face(
    ground: &Ground<'_>,
    foot: &Footprint,
    surfaces: &impl Surfaces,
    bar: usize,
    i: usize,
) -> Faults {
    let interiors = ground.interiors;
    let mut found = Faults {
        spoilt_mm2: 0.0,
        speck_mm2: 0.0,
        chance_whole: 1.0,
    };
    for speck in interiors.specks.of(i) {
        let at = [f64::from(speck.at_mm[0]), f64::from(speck.at_mm[1])];
        let (dx, dy) = (at[0] - foot.crown[0], at[1] - foot.crown[1]);
        if dx.abs() > foot.reach || dy.abs() > foot.reach {
            continue;
        }
        let rho = foot.rho(at);
        let Some(node) = ground.grid.nearest(at) else {
            continue;
        };
        if rho > 1.0 {
            continue;
        }
        let Some((face, colour)) = face_and_colour(ground, surfaces, bar, i, node, [dx, dy], rho)
        else {
            continue;
        };
        let radius = f64::from(speck.radius_mm);
        let from_face = f64::from(speck.at_mm[2]) - face;
        let disc = std::f64::consts::PI * (radius * radius - from_face * from_face);
        if disc > 0.0 {
            found.speck_mm2 += disc;
            if colour {
                found.spoilt_mm2 += disc;
            }
        }
    }
    for crack in interiors.cracks.of(i) {
        let cut = crack_in_stone(ground, foot, surfaces, bar, i, crack);
        found.spoilt_mm2 += cut.on_face_mm * 2.0 * ground.rules.crack_half_width.mm();
        found.chance_whole *= 1.0 - ground.rules.crack_breakage * cut.share_across;
    }
    found
}

/// The face at a node, and whether colour shows there; `None` outside the stone.
fn face_and_colour(
    ground: &Ground<'_>,
    surfaces: &impl Surfaces,
    bar: usize,
    i: usize,
    node: usize,
    [dx, dy]: [f64; 2],
    rho: f64,
) -> Option<(f64, bool)> {
    let interiors: &Interiors = ground.interiors;
    let skin_top = ground.stone.top_mm[node] - interiors.skin_inset_mm[i];
    if !skin_top.is_finite() {
        return None;
    }
    let cell = i * interiors.cells() + node;
    let bar_top = interiors.bars[bar].top_mm[cell];
    let bottom = bar_top - interiors.bars[bar].thickness_mm[cell];
    let face = surfaces.face_at(dx, dy, rho, bar_top, skin_top);
    let showing = ground.rules.showing_colour.mm();
    let colour = face <= f64::from(bar_top)
        && face <= f64::from(skin_top)
        && face - f64::from(bottom) >= showing;
    Some((face, colour))
}

struct CrackCut {
    /// Length of its trace on the face, mm.
    on_face_mm: f64,
    /// How much of the way across the stone it runs, 0..=1.
    share_across: f64,
}

/// Where a crack's disc meets the face: its trace taken straight at the height
/// of the face over its middle, sampled along the line.
fn crack_in_stone(
    ground: &Ground<'_>,
    foot: &Footprint,
    surfaces: &impl Surfaces,
    bar: usize,
    i: usize,
    crack: &opal_interior::CrackPlane,
) -> CrackCut {
    const NONE: CrackCut = CrackCut {
        on_face_mm: 0.0,
        share_across: 0.0,
    };
    const SAMPLES: i32 = 24;
    let at = crack.at_mm.map(f64::from);
    let [nx, ny, nz] = crack.normal.map(f64::from);
    let radius = f64::from(crack.radius_mm);
    let level = nx.hypot(ny);
    if (at[0] - foot.crown[0]).hypot(at[1] - foot.crown[1]) > foot.reach + radius {
        return NONE;
    }
    let Some(node) = ground.grid.nearest(foot.crown) else {
        return NONE;
    };
    let Some((face, _)) = face_and_colour(ground, surfaces, bar, i, node, [0.0; 2], 0.0) else {
        return NONE;
    };
    if level < 0.2 {
        // Lies nearly flat: it parts the stone where it runs under the face.
        let depth = face - at[2];
        let inside = foot.rho([at[0], at[1]]) <= 1.0;
        let thickness = ground.rules.least_thickness.mm();
        let across = (2.0 * radius / foot.length).min(1.0);
        let share_across = if inside && (0.0..thickness).contains(&depth) {
            across
        } else {
            0.0
        };
        return CrackCut {
            on_face_mm: 0.0,
            share_across,
        };
    }
    // The line nx·x + ny·y = d in the plane of the face.
    let [ux, uy] = [nx / level, ny / level];
    let down = (face - at[2]) * nz / level;
    let middle = [at[0] - ux * down, at[1] - uy * down];
    let half2 = radius * radius - down * down - (face - at[2]) * (face - at[2]);
    if half2 <= 0.0 {
        return NONE;
    }
    let half = half2.sqrt();
    let along = [-uy, ux];
    let to_crown = (foot.crown[0] - middle[0]) * along[0] + (foot.crown[1] - middle[1]) * along[1];
    let step = 2.0 * foot.reach / f64::from(SAMPLES);
    let (mut chord, mut cracked) = (0.0, 0.0);
    for s in 0..=SAMPLES {
        let t = to_crown - foot.reach + step * f64::from(s);
        let place = [middle[0] + t * along[0], middle[1] + t * along[1]];
        if foot.rho(place) <= 1.0 {
            chord += step;
            if t.abs() <= half {
                cracked += step;
            }
        }
    }
    if chord <= 0.0 {
        return NONE;
    }
    // A crack that only nicks a corner hardly endangers the stone.
    CrackCut {
        on_face_mm: cracked,
        share_across: cracked / chord * (chord / foot.width).min(1.0),
    }
}
