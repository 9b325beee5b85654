//! Several stones from one piece, freed by straight through-cuts.

use crate::candidate::Candidate;
use crate::ground::Ground;
use crate::options::StandardSize;
use crate::place_freeform::{freeforms, reachable};
use crate::place_standard::standards;
use crate::plan::Appraiser;
use opal_geom::Outline;

/// Directions in which a parting cut is tried: every two degrees.
const DIRECTIONS: usize = 90;

/// Outlines that touch to within this are parted by a blade of no width.
const ROUNDING_MM: f64 = 1e-9;

/// One parting cut, in the order in which it is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Parting {
    /// Angle of the direction across the cut, radians.
    pub(crate) across: f64,
    /// How far along that direction the middle of the blade runs, mm.
    pub(crate) at: f64,
    /// How far the stones of this piece reach along that direction, mm.
    pub(crate) reach: f64,
    /// Where they begin and end along the cut, a quarter turn on, mm.
    pub(crate) ends: [f64; 2],
}

/// The straight through-cuts that part convex outlines, with at least `gap`
/// between any two that a cut passes; `None` where no order of cuts does it.
///
/// # Method
/// Greedy without going back: where a set can be parted, so can each of its
/// subsets by the same lines, so any first line that fits will do.
pub(crate) fn partings(outlines: &[&Outline], gap: f64) -> Option<Vec<Parting>> {
    if outlines.len() < 2 {
        return Some(Vec::new());
    }
    for d in 0..DIRECTIONS {
        let across = std::f64::consts::PI * d as f64 / DIRECTIONS as f64;
        let mut spans: Vec<(f64, f64, usize)> = outlines
            .iter()
            .enumerate()
            .map(|(k, o)| (-o.reach(across + std::f64::consts::PI), o.reach(across), k))
            .collect();
        spans.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.2.cmp(&q.2)));
        let mut reached = spans[0].1;
        for k in 1..spans.len() {
            if spans[k].0 - reached >= gap - ROUNDING_MM {
                let side = |range: &[(f64, f64, usize)]| -> Vec<&Outline> {
                    range.iter().map(|s| outlines[s.2]).collect()
                };
                let farthest = |angle: f64| {
                    outlines
                        .iter()
                        .map(|o| o.reach(angle))
                        .fold(f64::NEG_INFINITY, f64::max)
                };
                let quarter = std::f64::consts::FRAC_PI_2;
                let mut cuts = vec![Parting {
                    across,
                    at: (reached + spans[k].0) / 2.0,
                    reach: farthest(across),
                    ends: [-farthest(across - quarter), farthest(across + quarter)],
                }];
                cuts.extend(partings(&side(&spans[..k]), gap)?);
                cuts.extend(partings(&side(&spans[k..]), gap)?);
                return Some(cuts);
            }
            reached = reached.max(spans[k].1);
        }
    }
    None
}

/// What must lie between two stones: the blade, and what is left outside the
/// line on both sides of it, mm.
pub(crate) fn gap(ground: &Ground<'_>) -> f64 {
    (ground.rules.kerf + ground.rules.saw_allowance * 2.0).mm()
}

/// Finds a set of stones by halving the ground with straight cuts.
///
/// # Method
/// Cut tree: the ground is halved by a line through the middle of its chances of
/// colour, in the direction after which the best stones of both halves bring
/// most; each half again, as long as it pays. Every set found can be sawn apart.
pub(crate) struct CutTree<'a> {
    pub(crate) ground: &'a Ground<'a>,
    pub(crate) appraiser: &'a dyn Appraiser,
    pub(crate) sizes: &'a [StandardSize],
    /// What one more stone costs in work, major units.
    pub(crate) cost: f64,
}

impl CutTree<'_> {
    /// The stones, best known set of at most `most`.
    pub(crate) fn stones(&self, most: usize) -> Vec<Candidate> {
        let everywhere = vec![true; self.ground.grid.len()];
        let mut found = self.split(&everywhere, most);
        for (candidate, allowed) in &mut found {
            let reach = reachable(self.ground, allowed);
            let standard = standards(self.ground, self.appraiser, &reach, self.sizes, 6);
            if let Some(better) = standard
                .into_iter()
                .next()
                .filter(|s| s.score > candidate.score)
            {
                *candidate = better;
            }
        }
        found.into_iter().map(|f| f.0).collect()
    }

    fn best_in(&self, allowed: &[bool]) -> Option<Candidate> {
        let found = freeforms(self.ground, self.appraiser, allowed, 1);
        found.into_iter().next().filter(|c| c.score > self.cost)
    }

    fn split(&self, allowed: &[bool], most: usize) -> Vec<(Candidate, Vec<bool>)> {
        let whole = self.best_in(allowed);
        let alone = whole.as_ref().map_or(0.0, |c| c.score - self.cost);
        if most >= 2
            && let Some((halves, together)) = self.best_halving(allowed)
        {
            // Chosen: a first halving may lose a little that a second wins back.
            if together > 0.85 * alone {
                let parts: Vec<(Candidate, Vec<bool>)> = halves
                    .iter()
                    .zip([most.div_ceil(2), most / 2])
                    .flat_map(|(half, most)| self.split(half, most))
                    .collect();
                let net: f64 = parts.iter().map(|p| p.0.score - self.cost).sum();
                if parts.len() >= 2 && net > alone {
                    return parts;
                }
            }
        }
        whole.map(|c| (c, allowed.to_vec())).into_iter().collect()
    }

    /// The halving after which the best stone of each half brings most together.
    fn best_halving(&self, allowed: &[bool]) -> Option<([Vec<bool>; 2], f64)> {
        let mut best: Option<([Vec<bool>; 2], f64)> = None;
        for d in 0..4 {
            let across = std::f64::consts::PI * f64::from(d) / 4.0;
            let Some(halves) = self.halves(allowed, across) else {
                continue;
            };
            let net: f64 = halves
                .iter()
                .filter_map(|half| self.best_in(half))
                .map(|c| c.score - self.cost)
                .sum();
            if best.as_ref().is_none_or(|b| net > b.1) {
                best = Some((halves, net));
            }
        }
        best
    }

    /// The two sides of a line through the middle of the chances, the blade and
    /// what is left beside it taken out.
    fn halves(&self, allowed: &[bool], across: f64) -> Option<[Vec<bool>; 2]> {
        let grid = &self.ground.grid;
        let (sin, cos) = across.sin_cos();
        let along = |k: usize| {
            let [x, y] = grid.at_index(k);
            cos * x + sin * y
        };
        let chance = |k: usize| {
            self.ground
                .bars
                .iter()
                .map(|b| b.chance[k])
                .fold(0.0, f32::max)
        };
        let mut order: Vec<(f64, f32)> = (0..grid.len())
            .filter(|&k| allowed[k] && chance(k) > 0.0)
            .map(|k| (along(k), chance(k)))
            .collect();
        order.sort_by(|p, q| p.0.total_cmp(&q.0));
        let half = order.iter().map(|o| f64::from(o.1)).sum::<f64>() / 2.0;
        let mut sum = 0.0;
        let middle = order.iter().find(|o| {
            sum += f64::from(o.1);
            sum >= half
        })?;
        let keep = gap(self.ground) / 2.0;
        let side = |sign: f64| -> Vec<bool> {
            (0..grid.len())
                .map(|k| allowed[k] && sign * (along(k) - middle.0) > keep)
                .collect()
        };
        Some([side(-1.0), side(1.0)])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_geom::families::ellipse;

    fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Outline {
        Outline::new(vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]]).expect("a rectangle")
    }

    /// Four 2 × 1 rectangles around a unit hole cannot be parted by straight
    /// through-cuts; any three of them can (geometry; the textbook pinwheel).
    #[test]
    fn a_pinwheel_cannot_be_parted() {
        let four = [
            rectangle(0.0, 0.0, 2.0, 1.0),
            rectangle(2.0, 0.0, 1.0, 2.0),
            rectangle(1.0, 2.0, 2.0, 1.0),
            rectangle(0.0, 1.0, 1.0, 2.0),
        ];
        let all: Vec<&Outline> = four.iter().collect();
        assert!(partings(&all, 0.0).is_none());
        for left_out in 0..4 {
            let three: Vec<&Outline> = (0..4)
                .filter(|&k| k != left_out)
                .map(|k| &four[k])
                .collect();
            assert_eq!(partings(&three, 0.0).map(|c| c.len()), Some(2));
        }
    }

    /// Six circles of radius 1 in two rows 2.1 apart, spaced 2.3: parted by a
    /// blade of no width, not by one of 0.2 (geometry).
    #[test]
    fn a_blade_needs_room() {
        let circles: Vec<Outline> = (0..6)
            .map(|k| {
                let row = f64::from(k / 3);
                let at = [2.3 * f64::from(k % 3) + 1.15 * row, 2.1 * row];
                ellipse(2.0, 2.0, 360).placed(0.0, at)
            })
            .collect();
        let all: Vec<&Outline> = circles.iter().collect();
        assert!(partings(&all, 0.0).is_some());
        assert!(partings(&all, 0.2).is_none());
    }
}
