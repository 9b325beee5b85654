//! Where and how turned does each standard size pay best?

use crate::candidate::{Candidate, SEARCH_NODES, standard_kind};
use crate::footprint::Footprint;
use crate::ground::Ground;
use crate::options::StandardSize;
use crate::place_freeform::lies_in;
use crate::plan::{Appraiser, CutKind};
use crate::score::{
    FINALISTS, best_dome, following_score, likeliest_dome, looked_at_again, moved, told_apart,
};
use opal_geom::families::family;
use opal_geom::{Grid, Outline};
use rayon::prelude::*;
use std::ops::Range;

/// Points of a standard outline.
const POINTS: usize = 96;

/// The best seat of each size that fits, best first.
pub(crate) fn standards(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    reach: &[bool],
    sizes: &[StandardSize],
    turns: usize,
) -> Vec<Candidate> {
    let found: Vec<Candidate> = sizes
        .par_iter()
        .flat_map_iter(|size| {
            let places = Places::of(ground, size, turns, reach);
            places
                .into_iter()
                .flat_map(move |places| places.best_in_each_bar(ground, appraiser, size))
        })
        .collect();
    told_apart(ground, appraiser, found)
}

/// Every so many of the scouts take the first look. Chosen.
const SCOUTS_A_FIRST_LOOK: usize = 4;
/// One in so many seats gets a second look, and no fewer than twice the finalists. Chosen.
const SEATS_A_SECOND_LOOK: usize = 3;

/// The sizes that pay best, best first; small ones that pay little are left out.
///
/// # Method
/// Successive halving (Karnin, Koren & Somekh 2013, ICML 30): all seats on a few
/// interiors and in one dome, the better ones on more and in every dome, the best on all
/// that train. The interiors are the same for all, so that few tell sizes apart.
pub(crate) fn best_standards(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    reach: &[bool],
    sizes: &[StandardSize],
    turns: usize,
) -> Vec<Candidate> {
    let few: Vec<usize> = ground
        .scouts
        .iter()
        .copied()
        .step_by(SCOUTS_A_FIRST_LOOK)
        .collect();
    let mut seated: Vec<Candidate> = sizes
        .par_iter()
        .flat_map_iter(|size| {
            let places = Places::of(ground, size, turns, reach);
            places
                .into_iter()
                .flat_map(|places| places.first_looks(ground, appraiser, size, &few))
                .collect::<Vec<_>>()
        })
        .collect();
    seated.sort_by(|p, q| q.score.total_cmp(&p.score));
    seated.truncate((seated.len() / SEATS_A_SECOND_LOOK).max(2 * FINALISTS));
    let again: Vec<Candidate> = seated
        .into_par_iter()
        .map(|c| looked_at_again(ground, appraiser, c, &ground.scouts))
        .collect();
    told_apart(ground, appraiser, again)
}

#[derive(Clone, Copy)]
struct Seat {
    at: [f64; 2],
    turn: f64,
    chance: f64,
}

/// Up to `most` seats of one size in each bar, well apart, each with its dome.
pub(crate) fn seats_of_size(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    reach: &[bool],
    size: &StandardSize,
    turns: usize,
    most: usize,
) -> Vec<Candidate> {
    let Some(places) = Places::of(ground, size, turns, reach) else {
        return Vec::new();
    };
    let apart = size.width.mm() / 2.0;
    let seats: Vec<(usize, Seat)> = (0..ground.bars.len())
        .flat_map(|bar| {
            let seats = places.seats(ground, bar, most, apart);
            seats.into_iter().map(move |seat| (bar, seat))
        })
        .collect();
    seats
        .par_iter()
        .filter_map(|&(bar, seat)| {
            places.laid(ground, appraiser, size, bar, seat, &ground.training)
        })
        .collect()
}

/// Where a size fits between the skins, whatever the bars do there.
struct Places {
    shape: Outline,
    /// Each turn tried, with some fifty points of the shape so turned.
    turns: Vec<(f64, Stencil)>,
    /// Turn and node of every place that fits.
    fits: Vec<(usize, usize)>,
}

impl Places {
    /// `None` for a family that is not known.
    fn of(ground: &Ground<'_>, size: &StandardSize, turns: usize, reach: &[bool]) -> Option<Self> {
        let grid = &ground.grid;
        let (length, width) = (size.length.mm(), size.width.mm());
        let shape = family(&size.family, length, width, POINTS)?;
        let samples = samples(&shape);
        let step = (width / 6.0).max(grid.cell_mm);
        let stride = (step / grid.cell_mm).round().max(1.0) as usize;
        // The middle of a stone stands well inside.
        let least = (width / 2.0) as f32 * 0.6;
        let mut places = Self {
            turns: Vec::new(),
            fits: Vec::new(),
            shape,
        };
        for turn in turns_of(&size.family, turns) {
            let turned = places.shape.placed(turn, [0.0; 2]);
            let border = Stencil::new(grid, turned.points().iter().step_by(3).copied());
            let (sin, cos) = turn.sin_cos();
            let inner = samples
                .iter()
                .map(|[x, y]| [cos * x - sin * y, sin * x + cos * y]);
            let inner = Stencil::new(grid, inner);
            let [columns, rows] = [0, 1].map(|d| {
                let [own, other] = [&border, &inner].map(|s| s.room(grid, d));
                own.start.max(other.start)..own.end.min(other.end)
            });
            for j in on_stride(rows, stride) {
                for i in on_stride(columns.clone(), stride) {
                    let k = grid.index(i, j);
                    if reach[k]
                        && ground.clearance[k] >= least
                        && border.nodes(k).all(|n| reach[n])
                        && !ground.takes_in_forbidden(&turned, grid.at(i, j))
                    {
                        places.fits.push((places.turns.len(), k));
                    }
                }
            }
            places.turns.push((turn, inner));
        }
        Some(places)
    }

    /// The best of the likeliest seats in each bar that holds any colour.
    fn best_in_each_bar(
        &self,
        ground: &Ground<'_>,
        appraiser: &dyn Appraiser,
        size: &StandardSize,
    ) -> Vec<Candidate> {
        let apart = size.width.mm() / 3.0;
        (0..ground.bars.len())
            .filter_map(|bar| {
                self.seats(ground, bar, 2, apart)
                    .into_iter()
                    .filter_map(|seat| {
                        self.laid(ground, appraiser, size, bar, seat, &ground.scouts)
                    })
                    .max_by(|p, q| p.score.total_cmp(&q.score))
            })
            .collect()
    }

    /// The likeliest seats in each bar, each in its likeliest dome.
    fn first_looks(
        &self,
        ground: &Ground<'_>,
        appraiser: &dyn Appraiser,
        size: &StandardSize,
        on: &[usize],
    ) -> Vec<Candidate> {
        let apart = size.width.mm() / 3.0;
        (0..ground.bars.len())
            .flat_map(|bar| {
                let seats = self.seats(ground, bar, 2, apart);
                seats.into_iter().map(move |seat| (bar, seat))
            })
            .filter_map(|(bar, seat)| {
                let (foot, kind) = self.foot(ground, size, seat)?;
                likeliest_dome(ground, appraiser, (foot, seat.turn), kind, bar, on)
            })
            .collect()
    }

    /// Seats with most chance of colour under a thin sample of the shape: so many, so
    /// far apart (mm). Where there is no chance of colour there is no seat.
    fn seats(&self, ground: &Ground<'_>, bar: usize, most: usize, apart: f64) -> Vec<Seat> {
        let chance = &ground.bars[bar].chance;
        if self.fits.is_empty() || chance.iter().all(|&c| c <= 0.0) {
            return Vec::new();
        }
        let mut seats: Vec<Seat> = self
            .fits
            .iter()
            .map(|&(turn, k)| {
                let (turn, inner) = &self.turns[turn];
                let sum: f32 = inner.nodes(k).map(|n| chance[n]).sum();
                Seat {
                    at: ground.grid.at_index(k),
                    turn: *turn,
                    chance: f64::from(sum) / inner.steps.len() as f64,
                }
            })
            .collect();
        let mut kept = Vec::with_capacity(most);
        while kept.len() < most {
            // Of equals the one found first.
            let best = seats.iter().copied().reduce(|best, seat| {
                if seat.chance > best.chance {
                    seat
                } else {
                    best
                }
            });
            let Some(best) = best else { break };
            kept.push(best);
            seats.retain(|s| (best.at[0] - s.at[0]).hypot(best.at[1] - s.at[1]) > apart);
        }
        kept
    }

    /// The size on a seat, in its best dome.
    fn laid(
        &self,
        ground: &Ground<'_>,
        appraiser: &dyn Appraiser,
        size: &StandardSize,
        bar: usize,
        seat: Seat,
        on: &[usize],
    ) -> Option<Candidate> {
        let (foot, kind) = self.foot(ground, size, seat)?;
        best_dome(ground, appraiser, (foot, seat.turn), kind, bar, on)
    }

    fn foot(
        &self,
        ground: &Ground<'_>,
        size: &StandardSize,
        seat: Seat,
    ) -> Option<(Footprint, CutKind)> {
        let outline = self.shape.placed(seat.turn, seat.at);
        let foot = Footprint::new(&ground.grid, outline, SEARCH_NODES)?;
        let kind = standard_kind(&size.family, size.length.mm(), size.width.mm());
        Some((foot, kind))
    }
}

/// The turns to try, so many in the sweep after which the shape is its own.
fn turns_of(family: &str, turns: usize) -> Vec<f64> {
    let sweep = match family {
        "round" => return vec![0.0],
        "oval" | "marquise" | "rectangle" | "octagon" | "cushion" | "square" => {
            std::f64::consts::PI
        }
        _ => std::f64::consts::TAU,
    };
    (0..turns)
        .map(|t| sweep * t as f64 / turns as f64)
        .collect()
}

/// The numbers of a range that are multiples of the stride.
fn on_stride(range: Range<usize>, stride: usize) -> impl Iterator<Item = usize> {
    (range.start.next_multiple_of(stride)..range.end).step_by(stride)
}

/// The nodes nearest to some points about a node, as steps from it: a shape is laid on
/// many nodes, and its points lie alike about each.
struct Stencil {
    steps: Vec<isize>,
    /// Least and most columns, and rows, away.
    spans: [(isize, isize); 2],
}

impl Stencil {
    fn new(grid: &Grid, points: impl Iterator<Item = [f64; 2]>) -> Self {
        let away: Vec<[isize; 2]> = points
            .map(|p| p.map(|v| (v / grid.cell_mm).round() as isize))
            .collect();
        let span = |d: usize| {
            away.iter()
                .fold((0, 0), |(low, high), a| (low.min(a[d]), high.max(a[d])))
        };
        Self {
            spans: [span(0), span(1)],
            steps: away.iter().map(|[i, j]| j * grid.nx as isize + i).collect(),
        }
    }

    /// The columns (0) or rows (1) of the nodes from which no point leaves the grid.
    fn room(&self, grid: &Grid, d: usize) -> Range<usize> {
        let (low, high) = self.spans[d];
        let count = [grid.nx, grid.ny][d];
        low.unsigned_abs()..count.saturating_sub(high.unsigned_abs())
    }

    /// The nodes about node `k`, one for each point.
    fn nodes(&self, k: usize) -> impl Iterator<Item = usize> {
        self.steps
            .iter()
            .map(move |step| k.wrapping_add_signed(*step))
    }
}

/// Some fifty points spread evenly over the shape.
fn samples(shape: &Outline) -> Vec<[f64; 2]> {
    let [low, high] = shape.bounds();
    let mut inside = Vec::new();
    for i in 0..8 {
        for j in 0..8 {
            let at = [
                low[0] + (high[0] - low[0]) * (f64::from(i) + 0.5) / 8.0,
                low[1] + (high[1] - low[1]) * (f64::from(j) + 0.5) / 8.0,
            ];
            if shape.contains(at) {
                inside.push(at);
            }
        }
    }
    inside
}

/// Moves, turns and lifts a candidate a little, in the dome it has, as long as it
/// pays; then tries the other domes where it came to lie.
pub(crate) fn polished(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    reach: &[bool],
    start: Candidate,
    rounds: usize,
) -> Candidate {
    let mut best = start;
    let mut step = (best.foot.width / 8.0).max(ground.grid.cell_mm);
    let mut lift = 0.2;
    for _ in 0..rounds {
        let mut helped = false;
        for [dx, dy, turn] in [
            [1.0, 0.0, 0.0],
            [-1.0, 0.0, 0.0],
            [0.0, 1.0, 0.0],
            [0.0, -1.0, 0.0],
            [0.0, 0.0, 1.0],
            [0.0, 0.0, -1.0],
        ] {
            let crown = best.foot.crown;
            let by = turn * step / best.foot.length;
            let to = [crown[0] + dx * step, crown[1] + dy * step];
            let outline = best
                .foot
                .outline
                .placed(0.0, [-crown[0], -crown[1]])
                .placed(by, to);
            if !lies_in(ground, &outline, reach) {
                continue;
            }
            let Some(foot) = Footprint::new(&ground.grid, outline, SEARCH_NODES) else {
                continue;
            };
            let tried = moved(ground, appraiser, &best, foot, best.turn + by);
            if let Some(tried) = tried.filter(|t| t.score > best.score) {
                best = tried;
                helped = true;
                break;
            }
        }
        for way in [lift, -lift] {
            let mut tried = best.clone();
            tried.lay = best.lay.shifted([way, 0.0, 0.0]);
            tried.lay.wall = (best.lay.wall + way).max(ground.rules.girdle.mm());
            tried.score = following_score(ground, appraiser, &tried);
            if tried.score > best.score {
                best = tried;
                helped = true;
                break;
            }
        }
        if !helped {
            step /= 2.0;
            lift /= 2.0;
            if step < ground.grid.cell_mm / 2.0 {
                break;
            }
        }
    }
    let (foot, kind) = (best.foot.clone(), best.kind.clone());
    best_dome(
        ground,
        appraiser,
        (foot, best.turn),
        kind,
        best.bar,
        &ground.training,
    )
    .filter(|other| other.score > best.score)
    .unwrap_or(best)
}
