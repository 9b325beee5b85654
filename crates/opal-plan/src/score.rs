//! How good is a candidate, on the interiors the search may look at?

use crate::candidate::{Candidate, lay_in_mean_bar};
use crate::draw::{Lay, Scratch};
use crate::footprint::Footprint;
use crate::ground::Ground;
use crate::plan::{Appraiser, CutKind, CutStone};

/// A candidate of this outline in its best dome and level, scored; `None` where
/// no dome can be laid.
pub(crate) fn best_dome(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    foot: Footprint,
    kind: CutKind,
    turn: f64,
    bar: usize,
) -> Option<Candidate> {
    let lays: Vec<(Lay, f64)> = ground
        .rules
        .domes
        .iter()
        .filter_map(|&dome| lay_in_mean_bar(ground, &foot, bar, dome))
        .collect();
    let (lay, _) = *lays.first()?;
    let mut candidate = Candidate {
        kind,
        turn,
        bar,
        foot,
        lay,
        score: 0.0,
        natural: None,
    };
    let mut best: Option<(Lay, f64)> = None;
    // A dome that leaves the mean bar by far more than the best one does is not
    // worth valuing.
    let widest = lays.iter().map(|l| l.1).fold(f64::NEG_INFINITY, f64::max);
    for (lay, margin) in lays {
        if margin < widest.min(0.0) - 0.5 {
            continue;
        }
        candidate.lay = lay;
        let score = following_score(ground, appraiser, &candidate);
        if best.is_none_or(|(_, b)| score > b) {
            best = Some((lay, score));
        }
    }
    let (lay, score) = best?;
    candidate.lay = lay;
    candidate.score = score;
    Some(candidate)
}

/// Mean worth when the cutter follows the bar that the edges show.
pub(crate) fn following_score(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    candidate: &Candidate,
) -> f64 {
    let stone = candidate.cut_stone(ground);
    let mut scratch = Scratch::default();
    let sum: f64 = ground
        .training
        .iter()
        .map(|&i| following_worth(ground, appraiser, candidate, &stone, i, &mut scratch))
        .sum();
    sum / ground.training.len() as f64
}

fn following_worth(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    candidate: &Candidate,
    stone: &CutStone,
    i: usize,
    scratch: &mut Scratch,
) -> f64 {
    let lay = if matches!(candidate.kind, CutKind::Specimen) {
        candidate.lay
    } else {
        let seen = candidate.seen_bar(ground, i);
        seen.followed(candidate.lay, [0.0; 2], 0.0, ground.rules)
    };
    let (drawn, _) = candidate.draw(ground, lay, i, scratch);
    appraiser.worth(stone, ground.number, &drawn, i)
}
