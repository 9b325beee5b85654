//! Where and how turned does each standard size pay best?

use crate::candidate::{Candidate, SEARCH_NODES, standard_kind};
use crate::footprint::Footprint;
use crate::ground::Ground;
use crate::options::StandardSize;
use crate::place_freeform::lies_in;
use crate::plan::Appraiser;
use crate::score::{best_dome, following_score, moved, told_apart};
use opal_geom::Outline;
use opal_geom::families::family;
use rayon::prelude::*;

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
    let tasks: Vec<(usize, &StandardSize)> = (0..ground.bars.len())
        .flat_map(|bar| sizes.iter().map(move |size| (bar, size)))
        .collect();
    let found: Vec<Candidate> = tasks
        .par_iter()
        .flat_map_iter(|&(bar, size)| seat_size(ground, appraiser, reach, bar, size, turns))
        .collect();
    told_apart(ground, appraiser, found)
}

#[derive(Clone, Copy)]
struct Seat {
    at: [f64; 2],
    turn: f64,
    chance: f64,
}

fn seat_size(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    reach: &[bool],
    bar: usize,
    size: &StandardSize,
    turns: usize,
) -> Option<Candidate> {
    let (length, width) = (size.length.mm(), size.width.mm());
    let shape = family(&size.family, length, width, POINTS)?;
    let kind = standard_kind(&size.family, length, width);
    coarse_seats(ground, &shape, bar, size, turns, reach, (2, width / 3.0))
        .into_iter()
        .filter_map(|seat| {
            let (outline, turn) = (shape.placed(seat.turn, seat.at), seat.turn);
            let foot = Footprint::new(&ground.grid, outline, SEARCH_NODES)?;
            best_dome(
                ground,
                appraiser,
                (foot, turn),
                kind.clone(),
                bar,
                &ground.scouts,
            )
        })
        .max_by(|p, q| p.score.total_cmp(&q.score))
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
    let (length, width) = (size.length.mm(), size.width.mm());
    let Some(shape) = family(&size.family, length, width, POINTS) else {
        return Vec::new();
    };
    let kind = standard_kind(&size.family, length, width);
    let seats: Vec<(usize, Seat)> = (0..ground.bars.len())
        .flat_map(|bar| {
            let apart = (most, width / 2.0);
            coarse_seats(ground, &shape, bar, size, turns, reach, apart)
                .into_iter()
                .map(move |seat| (bar, seat))
        })
        .collect();
    seats
        .par_iter()
        .filter_map(|&(bar, seat)| {
            let (outline, turn) = (shape.placed(seat.turn, seat.at), seat.turn);
            let foot = Footprint::new(&ground.grid, outline, SEARCH_NODES)?;
            best_dome(
                ground,
                appraiser,
                (foot, turn),
                kind.clone(),
                bar,
                &ground.training,
            )
        })
        .collect()
}

/// Seats with most chance of colour under a thin sample of the shape: so many,
/// so far apart (mm).
fn coarse_seats(
    ground: &Ground<'_>,
    shape: &Outline,
    bar: usize,
    size: &StandardSize,
    turns: usize,
    reach: &[bool],
    (most, apart): (usize, f64),
) -> Vec<Seat> {
    let grid = &ground.grid;
    let chance = &ground.bars[bar].chance;
    let samples = samples(shape);
    let step = (size.width.mm() / 6.0).max(grid.cell_mm);
    let stride = (step / grid.cell_mm).round().max(1.0) as usize;
    let turns = if size.family == "round" { 1 } else { turns };
    let half_turn = [
        "oval",
        "marquise",
        "rectangle",
        "octagon",
        "cushion",
        "square",
    ]
    .contains(&size.family.as_str());
    let sweep = if half_turn {
        std::f64::consts::PI
    } else {
        std::f64::consts::TAU
    };
    let least = (size.width.mm() / 2.0) as f32 * 0.6;
    let mut seats: Vec<Seat> = Vec::new();
    for t in 0..turns {
        let turn = sweep * t as f64 / turns as f64;
        let turned = shape.placed(turn, [0.0; 2]);
        let (sin, cos) = turn.sin_cos();
        let inner: Vec<[f64; 2]> = samples
            .iter()
            .map(|[x, y]| [cos * x - sin * y, sin * x + cos * y])
            .collect();
        for j in (0..grid.ny).step_by(stride) {
            for i in (0..grid.nx).step_by(stride) {
                let k = grid.index(i, j);
                // The middle of a stone stands well inside.
                if !reach[k] || ground.clearance[k] < least {
                    continue;
                }
                let at = grid.at(i, j);
                let fits = turned.points().iter().step_by(3).all(|p| {
                    grid.nearest([p[0] + at[0], p[1] + at[1]])
                        .is_some_and(|n| reach[n])
                });
                if !fits || ground.takes_in_forbidden(&turned, at) {
                    continue;
                }
                let sum: f32 = inner
                    .iter()
                    .filter_map(|p| grid.nearest([p[0] + at[0], p[1] + at[1]]))
                    .map(|n| chance[n])
                    .sum();
                seats.push(Seat {
                    at,
                    turn,
                    chance: f64::from(sum) / inner.len() as f64,
                });
            }
        }
    }
    seats.sort_by(|p, q| q.chance.total_cmp(&p.chance));
    let mut kept: Vec<Seat> = Vec::new();
    for seat in seats {
        let far = kept
            .iter()
            .all(|other| (other.at[0] - seat.at[0]).hypot(other.at[1] - seat.at[1]) > apart);
        if far {
            kept.push(seat);
            if kept.len() == most {
                break;
            }
        }
    }
    kept
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
