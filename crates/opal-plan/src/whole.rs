//! The piece kept whole: skin and barren stock off, natural outline left.

use crate::candidate::{Candidate, VALUE_NODES};
use crate::draw::Lay;
use crate::footprint::Footprint;
use crate::ground::Ground;
use crate::plan::{Appraiser, CutKind, NaturalShape};
use crate::score::following_score;
use opal_geom::contour::contours;
use opal_geom::edt::squared_distance_to;
use std::sync::Arc;

/// Colour is believed in where the chance of it is above this. Chosen low: a
/// specimen keeps its doubtful ends.
const BELIEVED: f32 = 0.25;
/// Stock without colour is kept this far beyond it, as part of the picture, mm.
/// Chosen.
const FRAME_MM: f64 = 3.0;

/// The whole piece faced on each bar, the better first; empty where the stone
/// holds no workable outline.
pub(crate) fn specimens(ground: &Ground<'_>, appraiser: &dyn Appraiser) -> Vec<Candidate> {
    let mut found: Vec<Candidate> = (0..ground.bars.len())
        .filter_map(|bar| {
            let mut candidate = specimen(ground, bar)?;
            candidate.score = following_score(ground, appraiser, &candidate);
            Some(candidate)
        })
        .collect();
    found.sort_by(|p, q| q.score.total_cmp(&p.score));
    found
}

fn specimen(ground: &Ground<'_>, bar: usize) -> Option<Candidate> {
    let grid = ground.grid;
    let maps = &ground.bars[bar];
    let believed: Vec<bool> = maps.chance.iter().map(|&c| c >= BELIEVED).collect();
    let any = believed.iter().any(|&b| b);
    let to_colour = squared_distance_to(&believed, grid.nx, grid.ny);
    let margin = ground.side_margin();
    let closed: Vec<bool> = ground.open.iter().map(|open| !open).collect();
    let to_closed = squared_distance_to(&closed, grid.nx, grid.ny);
    let field: Vec<f64> = (0..grid.len())
        .map(|k| {
            // Nothing at the open nodes beside forbidden ground, whose edge runs
            // somewhere between those and the closed ones.
            let beside = (to_closed[k].sqrt() - 1.0) * grid.cell_mm;
            let inside = (f64::from(ground.clearance[k]) - margin).min(beside);
            if any {
                inside.min(FRAME_MM - to_colour[k].sqrt() * grid.cell_mm)
            } else {
                inside
            }
        })
        .collect();
    let outline = contours(&grid, &field, 0.0).into_iter().next()?;
    // Where the natural outline hides part of itself from its middle, its hull
    // stands in for it; nodes outside the stone then simply hold nothing.
    let foot = Footprint::new(&grid, outline.clone(), VALUE_NODES)
        .or_else(|| Footprint::new(&grid, outline.convex_hull(), VALUE_NODES))?;
    let (least, most) = ground.rules.specimen_backing;
    let backing = ((least + most) / 2.0 * foot.width) as f32;
    let skin = ground.rules.skin_allowance.mm() as f32;
    let mut face_mm = vec![f32::NAN; grid.len()];
    let mut back_mm = vec![f32::NAN; grid.len()];
    let (mut height, mut thickness, mut count) = (0.0, 0.0, 0.0);
    for k in 0..grid.len() {
        if field[k] < 0.0 || !maps.top[k].is_finite() {
            continue;
        }
        let face = maps.top[k].min(ground.stone.top_mm[k] - skin);
        let back = (ground.mean_bottom(bar, k) - backing).max(ground.stone.bottom_mm[k] + skin);
        if face > back {
            face_mm[k] = face;
            back_mm[k] = back;
            height += f64::from(face);
            thickness += f64::from(face - back);
            count += 1.0;
        }
    }
    if count == 0.0 {
        return None;
    }
    Some(Candidate {
        kind: CutKind::Specimen,
        turn: foot.outline.calliper_sizes().long_axis,
        bar,
        foot,
        lay: Lay {
            edge: [height / count, 0.0, 0.0],
            height: 0.0,
            exponent: 2.0,
            wall: thickness / count,
        },
        score: 0.0,
        natural: Some(Arc::new(NaturalShape {
            grid,
            face_mm,
            back_mm,
        })),
    })
}
