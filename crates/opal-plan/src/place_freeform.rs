//! Which smooth outlines of their own are worth trying?

use crate::candidate::{Candidate, SEARCH_NODES};
use crate::footprint::Footprint;
use crate::ground::Ground;
use crate::plan::{Appraiser, CutKind};
use crate::score::{best_dome, told_apart};
use opal_geom::Outline;
use opal_geom::edt::{opened_by_disc, squared_distance_inside};
use opal_geom::freeform::{FreeformLimits, WorthMap, grow_freeform};
use opal_geom::inscribed::Circle;
use rayon::prelude::*;

/// How sure of colour a place must be to be worth taking in, tried in turn: a
/// low demand gives a large stone with bad patches, a high one a small clean
/// stone. The appraiser says which pays.
const DEMANDS: [f32; 4] = [0.2, 0.45, 0.65, 0.8];
/// Worth per area of ground outside the stone, against +1 for sure colour:
/// enough to keep the outline in.
const OUTSIDE: f64 = -6.0;

/// The freeforms found, best first.
pub(crate) fn freeforms(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    allowed: &[bool],
    starts: usize,
) -> Vec<Candidate> {
    let tasks: Vec<(usize, f32)> = (0..ground.bars.len())
        .flat_map(|bar| DEMANDS.map(|demand| (bar, demand)))
        .collect();
    let mut found: Vec<Candidate> = tasks
        .par_iter()
        .flat_map_iter(|&(bar, demand)| grown_for(ground, appraiser, allowed, bar, demand, starts))
        .collect();
    found.sort_by(|p, q| q.score.total_cmp(&p.score));
    told_apart(ground, appraiser, apart(found))
}

fn limits(ground: &Ground<'_>) -> FreeformLimits {
    FreeformLimits {
        least_radius: ground.rules.least_radius.mm(),
        least_width: ground.rules.least_width.mm(),
        most_aspect: ground.rules.most_aspect,
    }
}

fn grown_for(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    allowed: &[bool],
    bar: usize,
    demand: f32,
    starts: usize,
) -> Vec<Candidate> {
    let limits = limits(ground);
    let chance = &ground.bars[bar].chance;
    let reach: Vec<bool> = reachable(ground, allowed);
    let worth = worth_map(ground, &reach, |k| f64::from(chance[k] - demand));
    let good: Vec<bool> = (0..chance.len())
        .map(|k| reach[k] && chance[k] > demand)
        .collect();
    let mut found = Vec::new();
    for circle in seats(ground, &good, limits.least_radius, starts) {
        let Some((outline, _)) = grow_freeform(&worth, circle, &limits) else {
            continue;
        };
        let Some(first) = seated(ground, appraiser, outline, bar, &reach) else {
            continue;
        };
        // Once more with the dome known: ground that the dome leaves the bar
        // over is worth less, whatever the bar does there.
        let held = worth_map(ground, &reach, |k| {
            let [x, y] = ground.grid.at_index(k);
            let (dx, dy) = (x - first.foot.crown[0], y - first.foot.crown[1]);
            let plane = first.lay.edge[0] + first.lay.edge[1] * dx + first.lay.edge[2] * dy;
            let out = (plane + first.lay.height / 2.0 - f64::from(ground.bars[bar].top[k]))
                .max(f64::from(ground.mean_bottom(bar, k)) - plane)
                .max(0.0);
            // Chosen: half a millimetre out of the mean bar halves the chance.
            f64::from(chance[k]) * (-out / 0.7).exp() - f64::from(demand)
        });
        let again = Circle {
            centre: first.foot.crown,
            radius: (first.foot.width / 2.0).max(limits.least_radius),
        };
        if let Some(second) = grow_freeform(&held, again, &limits)
            .and_then(|(outline, _)| seated(ground, appraiser, outline, bar, &reach))
        {
            found.push(second);
        }
        found.push(first);
    }
    found
}

/// Nodes where an outline may lie.
pub(crate) fn reachable(ground: &Ground<'_>, allowed: &[bool]) -> Vec<bool> {
    let margin = ground.side_margin() as f32;
    ground
        .clearance
        .iter()
        .zip(allowed)
        .zip(&ground.open)
        .map(|((&c, &a), &open)| a && open && c >= margin)
        .collect()
}

fn worth_map(ground: &Ground<'_>, reach: &[bool], worth: impl Fn(usize) -> f64) -> WorthMap {
    let worth: Vec<f64> = (0..reach.len())
        .map(|k| if reach[k] { worth(k) } else { OUTSIDE })
        .collect();
    WorthMap::new(ground.grid, &worth, OUTSIDE)
}

/// Circles to start from: the widest places of the good ground that a disc of
/// the least radius can reach, far apart from each other.
pub(crate) fn seats(
    ground: &Ground<'_>,
    good: &[bool],
    least_radius: f64,
    most: usize,
) -> Vec<Circle> {
    let grid = &ground.grid;
    let opened = opened_by_disc(good, grid.nx, grid.ny, least_radius / grid.cell_mm);
    let distance = squared_distance_inside(&opened, grid.nx, grid.ny);
    let mut order: Vec<usize> = (0..distance.len()).filter(|&k| distance[k] > 0.0).collect();
    order.sort_by(|&p, &q| distance[q].total_cmp(&distance[p]).then(p.cmp(&q)));
    let mut seats: Vec<Circle> = Vec::new();
    for k in order {
        let at = grid.at_index(k);
        let radius = distance[k].sqrt() * grid.cell_mm;
        let far = seats
            .iter()
            .all(|s| (s.centre[0] - at[0]).hypot(s.centre[1] - at[1]) > 0.8 * (s.radius + radius));
        if far {
            seats.push(Circle { centre: at, radius });
            if seats.len() == most {
                break;
            }
        }
    }
    seats
}

/// A scored freeform, shrunk about its middle until it lies in the stone.
fn seated(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    outline: Outline,
    bar: usize,
    reach: &[bool],
) -> Option<Candidate> {
    let outline = drawn_in(ground, outline, reach)?;
    let foot = Footprint::new(&ground.grid, outline, SEARCH_NODES)?;
    let turn = foot.outline.calliper_sizes().long_axis;
    best_dome(
        ground,
        appraiser,
        (foot, turn),
        CutKind::Freeform,
        bar,
        &ground.scouts,
    )
}

/// The outline, shrunk about its middle until it lies in the stone; `None` when
/// nothing workable is left.
pub(crate) fn drawn_in(ground: &Ground<'_>, outline: Outline, reach: &[bool]) -> Option<Outline> {
    let limits = limits(ground);
    let centre = outline.centroid();
    let mut scale = 1.0;
    while scale > 0.5 {
        let tried = outline.scaled_about(centre, scale);
        if lies_in(ground, &tried, reach) {
            let workable = tried.calliper_sizes().width >= limits.least_width * 0.999
                && tried.least_convex_radius() >= limits.least_radius * 0.9;
            return workable.then_some(tried);
        }
        scale -= 0.02;
    }
    None
}

/// True when every point of the outline lies on ground that may be used.
pub(crate) fn lies_in(ground: &Ground<'_>, outline: &Outline, reach: &[bool]) -> bool {
    outline
        .points()
        .iter()
        .all(|&p| ground.grid.nearest(p).is_some_and(|k| reach[k]))
        && !ground.takes_in_forbidden(outline, [0.0; 2])
}

/// Leaves out candidates that hardly differ from a better one.
pub(crate) fn apart(found: Vec<Candidate>) -> Vec<Candidate> {
    let mut kept: Vec<Candidate> = Vec::new();
    for candidate in found {
        let like = |other: &Candidate| {
            let apart = (other.foot.crown[0] - candidate.foot.crown[0])
                .hypot(other.foot.crown[1] - candidate.foot.crown[1]);
            other.kind == candidate.kind
                && other.bar == candidate.bar
                && apart < 0.1 * other.foot.width
                && (other.foot.area / candidate.foot.area - 1.0).abs() < 0.1
        };
        if !kept.iter().any(like) {
            kept.push(candidate);
        }
    }
    kept
}
