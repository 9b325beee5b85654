//! What the search knows of the stone: the interiors boiled down to maps.

use crate::rules::BenchRules;
use opal_geom::edt::squared_distance_inside;
use opal_geom::{Grid, Outline};
use opal_interior::Interiors;
use opal_stone::Stone;
use opal_units::Seed;
use rand::Rng as _;

/// One bar, boiled down over the interiors that the search may look at.
#[derive(Clone, Debug)]
pub(crate) struct BarMaps {
    /// Mean height of the top, mm; NaN outside.
    pub(crate) top: Vec<f32>,
    /// Mean thickness where it is present, mm; 0 where it never is.
    pub(crate) thickness: Vec<f32>,
    /// Chance that enough of it is there to show, and below the skin.
    pub(crate) chance: Vec<f32>,
}

/// Stone, interiors, rules, and the maps made of them.
#[derive(Clone)]
pub(crate) struct Ground<'a> {
    pub(crate) stone: &'a Stone,
    pub(crate) interiors: &'a Interiors,
    pub(crate) rules: &'a BenchRules,
    pub(crate) grid: Grid,
    /// Distance to the side of the stone at each node, mm; 0 outside.
    pub(crate) clearance: Vec<f32>,
    /// False on ground that the cutter forbids.
    pub(crate) open: Vec<bool>,
    /// The border of the forbidden ground: an outline that keeps its own edge on open
    /// ground takes in forbidden ground only where it takes in one of these.
    pub(crate) closed_at: Vec<[f64; 2]>,
    pub(crate) bars: Vec<BarMaps>,
    /// The interiors that the search may look at; the others are kept back so
    /// that what is chosen is valued mostly on interiors it was not chosen by.
    pub(crate) training: Vec<usize>,
    /// A few of them, by which the many seats of a search are first told apart.
    pub(crate) scouts: Vec<usize>,
    /// The first so many interiors teach nothing.
    pub(crate) kept_back: usize,
    /// Per interior: the stone's luck against breaking, uniform.
    pub(crate) luck: Vec<f64>,
    /// Per interior: carats a mm³.
    pub(crate) carats_per_mm3: Vec<f64>,
    /// Per interior: where the backing left on a whole piece falls between the
    /// least and the most, uniform.
    pub(crate) backing_share: Vec<f64>,
    /// The stone's place in its plan, from 0: its luck is its own.
    pub(crate) number: usize,
    seed: Seed,
}

/// Most interiors that the search looks at. Chosen: the standard error of a
/// difference between two plans is then about a tenth of its spread.
const MOST_TRAINING: usize = 128;
/// One in so many of those is a scout. Chosen: see how many are told apart in the end.
const TRAINING_A_SCOUT: usize = 4;

impl<'a> Ground<'a> {
    pub(crate) fn new(
        stone: &'a Stone,
        interiors: &'a Interiors,
        rules: &'a BenchRules,
        seed: Seed,
        kept_back: usize,
        forbidden: &[Outline],
    ) -> Self {
        let grid = stone.grid;
        let clearance = clearance(stone);
        let open: Vec<bool> = (0..grid.len())
            .map(|k| !forbidden.iter().any(|f| f.contains(grid.at_index(k))))
            .collect();
        let mut closed_at: Vec<[f64; 2]> = forbidden
            .iter()
            .flat_map(|f| f.points().iter().copied())
            .collect();
        closed_at.extend(border(&grid, &open));
        let step = (interiors.n - kept_back).div_ceil(MOST_TRAINING).max(1);
        let training: Vec<usize> = (kept_back..interiors.n).step_by(step).collect();
        let scouts = training.iter().copied().step_by(TRAINING_A_SCOUT).collect();
        let bars = (0..interiors.bars.len())
            .map(|bar| bar_maps(stone, interiors, rules, bar, &training))
            .collect();
        let uniform = |purpose: &str| -> Vec<f64> {
            (0..interiors.n)
                .map(|i| unit_interval(seed.stream(purpose, i as u64).next_u64()))
                .collect()
        };
        let (first, second) = (
            uniform("plan-gravity-radius"),
            uniform("plan-gravity-angle"),
        );
        let carats_per_mm3 = first
            .iter()
            .zip(&second)
            .map(|(u, v)| {
                // Box & Muller (1958); cut at three standard deviations.
                let normal = (-2.0 * (1.0 - u).ln()).sqrt() * (std::f64::consts::TAU * v).cos();
                let gravity = stone.gravity.value + stone.gravity.sigma * normal.clamp(-3.0, 3.0);
                (opal_units::Volume::from_mm3(1.0) * gravity).carats()
            })
            .collect();
        Self {
            stone,
            interiors,
            rules,
            grid,
            clearance,
            open,
            closed_at,
            bars,
            training,
            scouts,
            kept_back,
            luck: uniform("plan-breakage"),
            carats_per_mm3,
            backing_share: uniform("plan-specimen-backing"),
            number: 0,
            seed,
        }
    }

    /// The same for the `k`th stone of a plan, whose luck at the wheel and with
    /// buyers is its own.
    pub(crate) fn for_stone(&self, k: usize) -> Self {
        let mut own = self.clone();
        own.number = k;
        if k > 0 {
            let purpose = format!("plan-breakage-{k}");
            own.luck = (0..self.interiors.n)
                .map(|i| unit_interval(self.seed.stream(&purpose, i as u64).next_u64()))
                .collect();
        }
        own
    }

    /// What is left of the stone after a cut, with colour looked for in one bar.
    pub(crate) fn part<'b>(&self, stone: &'b Stone, bar: usize) -> Ground<'b>
    where
        'a: 'b,
    {
        let mut part = Ground {
            stone,
            interiors: self.interiors,
            rules: self.rules,
            grid: self.grid,
            clearance: clearance(stone),
            open: self.open.clone(),
            closed_at: self.closed_at.clone(),
            bars: Vec::new(),
            training: self.training.clone(),
            scouts: self.scouts.clone(),
            kept_back: self.kept_back,
            luck: self.luck.clone(),
            carats_per_mm3: self.carats_per_mm3.clone(),
            backing_share: self.backing_share.clone(),
            number: self.number,
            seed: self.seed,
        };
        part.bars = (0..self.interiors.bars.len())
            .map(|b| {
                if b == bar {
                    bar_maps(stone, self.interiors, self.rules, b, &self.training)
                } else {
                    // Nothing is laid where there is no chance of colour.
                    BarMaps {
                        chance: vec![0.0; self.grid.len()],
                        ..self.bars[b].clone()
                    }
                }
            })
            .collect();
        part
    }

    /// True when a shape, moved to a place, takes in ground that the cutter forbids. The
    /// shape's own edge must lie on open ground.
    pub(crate) fn takes_in_forbidden(&self, shape: &Outline, at: [f64; 2]) -> bool {
        if self.closed_at.is_empty() {
            return false;
        }
        // The box first: most of the border lies nowhere near.
        let [low, high] = shape.bounds();
        self.closed_at
            .iter()
            .map(|p| [p[0] - at[0], p[1] - at[1]])
            .filter(|p| (0..2).all(|d| low[d] <= p[d] && p[d] <= high[d]))
            .any(|p| shape.contains(p))
    }

    /// Mean height of a bar's bottom where it is present, mm.
    pub(crate) fn mean_bottom(&self, bar: usize, node: usize) -> f32 {
        self.bars[bar].top[node] - self.bars[bar].thickness[node]
    }

    /// How far an outline must stay from the side of the stone, mm.
    pub(crate) fn side_margin(&self) -> f64 {
        (self.rules.skin_allowance + self.rules.finishing_allowance).mm()
    }
}

/// Distance to the side of the stone at each node, mm. Half a cell less: the
/// side runs between the last node inside and the first outside.
fn clearance(stone: &Stone) -> Vec<f32> {
    let grid = stone.grid;
    let inside: Vec<bool> = (0..grid.len()).map(|k| stone.inside(k)).collect();
    squared_distance_inside(&inside, grid.nx, grid.ny)
        .iter()
        .map(|&d2| (((d2.sqrt() - 0.5).max(0.0)) * grid.cell_mm) as f32)
        .collect()
}

/// Closed nodes beside open ground or at the edge of the grid.
fn border<'g>(grid: &'g Grid, open: &'g [bool]) -> impl Iterator<Item = [f64; 2]> + 'g {
    let closed_all_round = |i: usize, j: usize| {
        i > 0
            && j > 0
            && i + 1 < grid.nx
            && j + 1 < grid.ny
            && [(i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)]
                .iter()
                .all(|&(i, j)| !open[grid.index(i, j)])
    };
    (0..grid.ny)
        .flat_map(move |j| (0..grid.nx).map(move |i| (i, j)))
        .filter(move |&(i, j)| !open[grid.index(i, j)] && !closed_all_round(i, j))
        .map(|(i, j)| grid.at(i, j))
}

/// The 53 high bits as a number in 0..1.
fn unit_interval(word: u64) -> f64 {
    (word >> 11) as f64 / (1_u64 << 53) as f64
}

fn bar_maps(
    stone: &Stone,
    interiors: &Interiors,
    rules: &BenchRules,
    bar: usize,
    training: &[usize],
) -> BarMaps {
    let cells = interiors.cells();
    let draws = &interiors.bars[bar];
    let showing = rules.showing_colour.mm() as f32;
    let skin = rules.skin_allowance.mm() as f32;
    let mut top = vec![0.0_f32; cells];
    let mut thickness = vec![0.0_f32; cells];
    let mut present = vec![0.0_f32; cells];
    let mut shows = vec![0.0_f32; cells];
    for &i in training {
        let (tops, thick) = (draws.top(i, cells), draws.thickness(i, cells));
        for k in 0..cells {
            if !stone.top_mm[k].is_finite() {
                continue;
            }
            top[k] += tops[k];
            if thick[k] > 0.0 {
                thickness[k] += thick[k];
                present[k] += 1.0;
            }
            let face = tops[k].min(stone.top_mm[k] - skin);
            let under = (tops[k] - thick[k]).max(stone.bottom_mm[k]);
            if thick[k] >= showing && face - under >= showing {
                shows[k] += 1.0;
            }
        }
    }
    let n = training.len() as f32;
    for k in 0..cells {
        if stone.top_mm[k].is_finite() {
            top[k] /= n;
            thickness[k] = if present[k] > 0.0 {
                thickness[k] / present[k]
            } else {
                0.0
            };
            shows[k] /= n;
        } else {
            top[k] = f32::NAN;
        }
    }
    BarMaps {
        top,
        thickness,
        chance: shows,
    }
}
