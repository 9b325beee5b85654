//! Where to saw, and what is left for the wheel.

use crate::candidate::Candidate;
use crate::ground::Ground;
use crate::partings::{Parting, gap, partings};
use crate::plan::{SawCut, Stock};
use crate::region::side;
use opal_geom::Outline;
use opal_units::{Angle, Length, Volume};

/// Directions in which a cut is tried: every ten degrees.
const DIRECTIONS: usize = 36;
/// Most upright cuts around one stone.
const MOST_CUTS: usize = 6;
/// An offcut smaller than this is quicker ground away, mm³. Chosen: about a
/// carat and a half.
const LEAST_OFFCUT_MM3: f64 = 150.0;
/// An offcut smaller than this share of the piece is quicker ground away. Chosen.
const LEAST_OFFCUT_SHARE: f64 = 0.02;
/// A slice parallel to the bar must be at least this thick to hold, mm. Chosen.
const LEAST_SLICE_MM: f64 = 1.5;

/// The cuts that free a stone from the mean rough, and the stock left around it.
pub(crate) fn saw_and_stock(ground: &Ground<'_>, candidate: &Candidate) -> (Vec<SawCut>, Stock) {
    let mut block = Block::new(ground);
    let mut cuts = block.trim(&candidate.foot.outline);
    let slices = block.slice(candidate, cuts.len());
    cuts.extend(slices);
    let stock = block.stock(candidate);
    (cuts, stock)
}

/// The cuts that free several stones: barren ground around all of them first,
/// then the cuts that part them; `None` where straight cuts cannot part them.
pub(crate) fn saw_several(
    ground: &Ground<'_>,
    candidates: &[Candidate],
) -> Option<(Vec<SawCut>, Stock)> {
    let outlines: Vec<&Outline> = candidates.iter().map(|c| &c.foot.outline).collect();
    let parting = partings(&outlines, gap(ground))?;
    let all = outlines
        .iter()
        .flat_map(|o| o.points().iter().copied())
        .collect();
    let hull = Outline::new(all)?.convex_hull();
    let mut block = Block::new(ground);
    let mut cuts = block.trim(&hull);
    for Parting {
        across,
        at,
        reach,
        ends: [low, high],
    } in parting
    {
        let (sin, cos) = across.sin_cos();
        let quarter = across + std::f64::consts::FRAC_PI_2;
        let point = |along: f64| [cos * at - sin * along, sin * at + cos * along];
        if !block.within_reach(across, at) {
            return None;
        }
        cuts.push(SawCut {
            order: cuts.len() as u32 + 1,
            line_mm: [point(low), point(high)],
            tilt: Angle::from_degrees(0.0),
            stone: 0,
            level_mm: None,
            kerf: ground.rules.kerf,
            words: format!(
                "Saw straight down between the stones, {:.1} mm in from the outermost stone's \
                 line on the {} side. The cut lies {:.0}° from the x axis.",
                reach - at,
                side(across),
                quarter.to_degrees().rem_euclid(180.0),
            ),
        });
    }
    let each: Vec<Stock> = candidates.iter().map(|c| block.stock(c)).collect();
    let count = each.len() as f64;
    let mean = |f: fn(&Stock) -> Length| each.iter().map(f).sum::<Length>() / count;
    let whole = block.volume(|_| true);
    let stones: f64 = each.iter().map(|s| whole - s.volume.mm3()).sum();
    let stock = Stock {
        top: mean(|s| s.top),
        bottom: mean(|s| s.bottom),
        sides: mean(|s| s.sides),
        volume: Volume::from_mm3((whole - stones).max(0.0)),
    };
    Some((cuts, stock))
}

/// The mean rough, or what the saw has left of it.
struct Block<'a> {
    ground: &'a Ground<'a>,
    kept: Vec<bool>,
    top: Vec<f32>,
    bottom: Vec<f32>,
    whole_mm3: f64,
}

impl<'a> Block<'a> {
    fn new(ground: &'a Ground<'a>) -> Self {
        let kept: Vec<bool> = (0..ground.grid.len())
            .map(|k| ground.stone.inside(k))
            .collect();
        let mut block = Self {
            ground,
            kept,
            top: ground.stone.top_mm.clone(),
            bottom: ground.stone.bottom_mm.clone(),
            whole_mm3: 0.0,
        };
        block.whole_mm3 = block.volume(|_| true);
        block
    }

    fn volume(&self, which: impl Fn(usize) -> bool) -> f64 {
        (0..self.kept.len())
            .filter(|&k| self.kept[k] && which(k))
            .map(|k| f64::from((self.top[k] - self.bottom[k]).max(0.0)))
            .sum::<f64>()
            * self.ground.grid.cell_area_mm2()
    }

    fn carats(&self, mm3: f64) -> f64 {
        (Volume::from_mm3(mm3) * self.ground.stone.gravity.value).carats()
    }

    /// Upright cuts, each the one that takes most barren stock.
    fn trim(&mut self, outline: &Outline) -> Vec<SawCut> {
        let rules = self.ground.rules;
        let (allowance, kerf) = (rules.saw_allowance.mm(), rules.kerf.mm());
        let least = LEAST_OFFCUT_MM3.max(LEAST_OFFCUT_SHARE * self.whole_mm3);
        let mut cuts = Vec::new();
        while cuts.len() < MOST_CUTS {
            let best = (0..DIRECTIONS)
                .map(|d| {
                    let angle = std::f64::consts::TAU * d as f64 / DIRECTIONS as f64;
                    let at = outline.reach(angle) + allowance;
                    let (sin, cos) = angle.sin_cos();
                    let grid = &self.ground.grid;
                    let beyond = |k: usize| {
                        let [x, y] = grid.at_index(k);
                        cos * x + sin * y > at + kerf
                    };
                    (angle, at, self.volume(beyond))
                })
                .filter(|&(angle, at, _)| self.within_reach(angle, at))
                .max_by(|p, q| p.2.total_cmp(&q.2));
            let Some((angle, at, offcut)) = best else {
                break;
            };
            if offcut < least {
                break;
            }
            cuts.push(self.cut(cuts.len() + 1, angle, at, offcut));
        }
        cuts
    }

    /// True where the saw gets through along a line, the piece laid either way.
    fn within_reach(&self, across: f64, at: f64) -> bool {
        let (sin, cos) = across.sin_cos();
        let grid = &self.ground.grid;
        let (mut low, mut high, mut deep) = (f64::INFINITY, f64::NEG_INFINITY, 0.0_f64);
        for k in (0..self.kept.len()).filter(|&k| self.kept[k]) {
            let [x, y] = grid.at_index(k);
            if (cos * x + sin * y - at).abs() <= grid.cell_mm {
                let along = cos * y - sin * x;
                low = low.min(along);
                high = high.max(along);
                deep = deep.max(f64::from(self.top[k] - self.bottom[k]));
            }
        }
        deep.min(high - low) <= self.ground.rules.saw_reach.mm()
    }

    fn cut(&mut self, order: usize, angle: f64, at: f64, offcut: f64) -> SawCut {
        let rules = self.ground.rules;
        let (sin, cos) = angle.sin_cos();
        let (mut low, mut high, mut farthest) = (f64::INFINITY, f64::NEG_INFINITY, at);
        for k in 0..self.kept.len() {
            let [x, y] = self.ground.grid.at_index(k);
            let out = cos * x + sin * y;
            if self.kept[k] && out > at {
                self.kept[k] = false;
                let along = cos * y - sin * x;
                low = low.min(along);
                high = high.max(along);
                farthest = farthest.max(out);
            }
        }
        let point = |along: f64| [cos * at - sin * along, sin * at + cos * along];
        let words = format!(
            "Saw straight down, {:.1} mm in from the farthest point on the {} side. The side \
             lies at {:.0}° from the x axis. Keep the blade {:.1} mm outside the stone's line. \
             The offcut weighs about {:.0} ct.",
            farthest - at,
            side(angle),
            angle.to_degrees(),
            rules.saw_allowance.mm(),
            self.carats(offcut),
        );
        SawCut {
            order: order as u32,
            line_mm: [point(low), point(high)],
            tilt: Angle::from_degrees(0.0),
            stone: 0,
            level_mm: None,
            kerf: rules.kerf,
            words,
        }
    }

    /// Slices parallel to the edge plane, above the crown and below the back.
    fn slice(&mut self, candidate: &Candidate, before: usize) -> Vec<SawCut> {
        let rules = self.ground.rules;
        let (allowance, kerf) = (rules.saw_allowance.mm(), rules.kerf.mm());
        let lay = &candidate.lay;
        let mut cuts = Vec::new();
        let axis = long_axis(candidate);
        let mut push = |level_mm: f64, words: String| {
            cuts.push(SawCut {
                order: (before + cuts.len() + 1) as u32,
                line_mm: axis,
                tilt: Angle::from_degrees(90.0),
                stone: 0,
                level_mm: Some(level_mm),
                kerf: rules.kerf,
                words,
            });
        };
        // The face of a piece kept whole follows the bar: the slice stays above
        // its highest place, by twice as much because the bar may stand higher.
        let above = match &candidate.natural {
            Some(natural) => {
                let highest = natural
                    .face_mm
                    .iter()
                    .copied()
                    .fold(f32::NEG_INFINITY, f32::max);
                f64::from(highest) - lay.edge[0] + 2.0 * allowance
            }
            None => lay.height + allowance,
        };
        let stock = self.mean_over(candidate, |k, plane| f64::from(self.top[k]) - plane - above);
        if stock > LEAST_SLICE_MM + kerf {
            push(
                above,
                format!(
                    "Saw parallel to the bar, {:.1} mm below the highest point above the stone. \
                     That is {:.1} mm above the planned face. The slice is about {:.1} mm thick.",
                    self.extreme(candidate, |k, plane| f64::from(self.top[k]) - plane - above),
                    above - lay.height,
                    stock - kerf,
                ),
            );
            self.lower_top(candidate, above);
        }
        let below = lay.wall + allowance;
        let stock = self.mean_over(candidate, |k, plane| {
            plane - below - f64::from(self.bottom[k])
        });
        if stock > LEAST_SLICE_MM + kerf {
            push(
                -below,
                format!(
                    "Saw parallel to the bar, {:.1} mm up from the lowest point under the stone. \
                     That is {:.1} mm below the planned back. The slice is about {:.1} mm thick.",
                    self.extreme(candidate, |k, plane| plane
                        - below
                        - f64::from(self.bottom[k])),
                    allowance,
                    stock - kerf,
                ),
            );
            self.raise_bottom(candidate, below);
        }
        cuts
    }

    fn plane(&self, candidate: &Candidate, k: usize) -> f64 {
        let [x, y] = self.ground.grid.at_index(k);
        let lay = &candidate.lay;
        let crown = candidate.foot.crown;
        lay.edge[0] + lay.edge[1] * (x - crown[0]) + lay.edge[2] * (y - crown[1])
    }

    fn under(&self, candidate: &Candidate) -> impl Iterator<Item = usize> + '_ {
        let nodes: Vec<usize> = candidate
            .foot
            .nodes
            .iter()
            .map(|n| n.index as usize)
            .filter(|&k| self.kept[k] && self.top[k].is_finite())
            .collect();
        nodes.into_iter()
    }

    fn mean_over(&self, candidate: &Candidate, f: impl Fn(usize, f64) -> f64) -> f64 {
        let (mut sum, mut count) = (0.0, 0.0);
        for k in self.under(candidate) {
            sum += f(k, self.plane(candidate, k));
            count += 1.0;
        }
        if count > 0.0 { sum / count } else { 0.0 }
    }

    fn extreme(&self, candidate: &Candidate, f: impl Fn(usize, f64) -> f64) -> f64 {
        self.under(candidate)
            .map(|k| f(k, self.plane(candidate, k)))
            .fold(0.0, f64::max)
    }

    fn lower_top(&mut self, candidate: &Candidate, above: f64) {
        for k in 0..self.kept.len() {
            let limit = (self.plane(candidate, k) + above) as f32;
            self.top[k] = self.top[k].min(limit);
        }
    }

    fn raise_bottom(&mut self, candidate: &Candidate, below: f64) {
        for k in 0..self.kept.len() {
            let limit = (self.plane(candidate, k) - below) as f32;
            self.bottom[k] = self.bottom[k].max(limit);
        }
    }

    fn stock(&self, candidate: &Candidate) -> Stock {
        let ground = self.ground;
        let (face, back): (Vec<f32>, Vec<f32>) = candidate
            .foot
            .nodes
            .iter()
            .map(|node| {
                let k = node.index as usize;
                if let Some(natural) = &candidate.natural {
                    return (natural.face_mm[k], natural.back_mm[k]);
                }
                let lay = &candidate.lay;
                let plane = self.plane(candidate, k);
                let rise = lay.height * (1.0 - f64::from(node.rho).powf(lay.exponent));
                ((plane + rise) as f32, (plane - lay.wall) as f32)
            })
            .unzip();
        let (mut above, mut under, mut stone, mut count) = (0.0, 0.0, 0.0, 0.0);
        for (node, (&face, &back)) in candidate.foot.nodes.iter().zip(face.iter().zip(&back)) {
            let k = node.index as usize;
            if !self.kept[k] || !face.is_finite() {
                continue;
            }
            let (high, low) = (face.min(self.top[k]), back.max(self.bottom[k]));
            above += f64::from(self.top[k] - high);
            under += f64::from(low - self.bottom[k]);
            stone += f64::from((high - low).max(0.0)) * candidate.foot.node_area;
            count += 1.0;
        }
        let count = f64::max(count, 1.0);
        let every = (self.kept.len() / 4000).max(1);
        let sides = (0..self.kept.len())
            .step_by(every)
            .filter(|&k| self.kept[k])
            .map(|k| -candidate.foot.outline.clearance(ground.grid.at_index(k)))
            .fold(0.0, f64::max);
        Stock {
            top: Length::from_mm(above / count),
            bottom: Length::from_mm(under / count),
            sides: Length::from_mm(sides),
            volume: Volume::from_mm3((self.volume(|_| true) - stone).max(0.0)),
        }
    }
}

/// The ends of the stone's longer size.
fn long_axis(candidate: &Candidate) -> [[f64; 2]; 2] {
    let sizes = candidate.foot.outline.calliper_sizes();
    let (sin, cos) = sizes.long_axis.sin_cos();
    let half = sizes.length / 2.0;
    let crown = candidate.foot.crown;
    [
        [crown[0] - half * cos, crown[1] - half * sin],
        [crown[0] + half * cos, crown[1] + half * sin],
    ]
}
