//! Several stones from one piece, by halving the ground.

use crate::candidate::Candidate;
use crate::ground::Ground;
use crate::options::StandardSize;
use crate::partings::gap;
use crate::place_freeform::{freeforms, reachable};
use crate::place_standard::best_standards;
use crate::plan::Appraiser;

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

/// A part of the ground, and the stone that pays best there, if one pays its work.
struct Part {
    allowed: Vec<bool>,
    best: Option<Candidate>,
}

impl CutTree<'_> {
    /// The stones, best known set of at most `most`.
    pub(crate) fn stones(&self, most: usize) -> Vec<Candidate> {
        let everywhere = vec![true; self.ground.grid.len()];
        let parts = self.split(self.part(everywhere), most);
        parts
            .into_iter()
            .filter_map(|part| self.better(part))
            .collect()
    }

    /// The best stone of a part: a standard size where one pays better.
    fn better(&self, part: Part) -> Option<Candidate> {
        let reach = reachable(self.ground, &part.allowed);
        let standard = best_standards(self.ground, self.appraiser, &reach, self.sizes, 6);
        let free = part.best?;
        standard
            .into_iter()
            .next()
            .filter(|s| s.score > free.score)
            .or(Some(free))
    }

    fn best_in(&self, allowed: &[bool]) -> Option<Candidate> {
        let found = freeforms(self.ground, self.appraiser, allowed, 1);
        found.into_iter().next().filter(|c| c.score > self.cost)
    }

    /// The stones of a part, at most so many, where its best single stone is known.
    fn split(&self, part: Part, most: usize) -> Vec<Part> {
        let alone = self.net(&part);
        if most >= 2
            && let Some(halves) = self.best_halving(&part.allowed)
        {
            let together: f64 = halves.iter().map(|half| self.net(half)).sum();
            // Chosen: a first halving may lose a little that a second wins back.
            if together > 0.85 * alone {
                let parts: Vec<Part> = halves
                    .into_iter()
                    .zip([most.div_ceil(2), most / 2])
                    .flat_map(|(half, most)| self.split(half, most))
                    .collect();
                let net: f64 = parts.iter().map(|part| self.net(part)).sum();
                if parts.len() >= 2 && net > alone {
                    return parts;
                }
            }
        }
        if part.best.is_some() {
            vec![part]
        } else {
            Vec::new()
        }
    }

    fn net(&self, part: &Part) -> f64 {
        part.best.as_ref().map_or(0.0, |c| c.score - self.cost)
    }

    /// A part of the ground with its best single stone.
    fn part(&self, allowed: Vec<bool>) -> Part {
        Part {
            best: self.best_in(&allowed),
            allowed,
        }
    }

    /// The halving after which the best stone of each half brings most together.
    fn best_halving(&self, allowed: &[bool]) -> Option<[Part; 2]> {
        let mut best: Option<([Part; 2], f64)> = None;
        for d in 0..4 {
            let across = std::f64::consts::PI * f64::from(d) / 4.0;
            let Some(halves) = self.halves(allowed, across) else {
                continue;
            };
            let halves = halves.map(|half| self.part(half));
            let net: f64 = halves.iter().map(|half| self.net(half)).sum();
            if best.as_ref().is_none_or(|b| net > b.1) {
                best = Some((halves, net));
            }
        }
        best.map(|b| b.0)
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
