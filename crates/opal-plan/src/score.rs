//! How good is a candidate, on the interiors the search may look at?

use crate::candidate::{Candidate, lay_in_mean_bar};
use crate::draw::{Lay, Scratch};
use crate::footprint::Footprint;
use crate::ground::Ground;
use crate::plan::{Appraiser, CutKind, CutStone};
use crate::rules::DomeChoice;
use rayon::prelude::*;

/// Candidates that are told apart on every training interior, of those that stand
/// first on the scouts. Chosen.
pub(crate) const FINALISTS: usize = 16;

/// A candidate of this outline in its best dome, scored on some interiors: all that
/// train, or the scouts where it is to be told apart from many others. `None` where no
/// dome can be laid.
pub(crate) fn best_dome(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    (foot, turn): (Footprint, f64),
    kind: CutKind,
    bar: usize,
    on: &[usize],
) -> Option<Candidate> {
    let bare = bare(foot, kind, turn, bar);
    best_of(ground, appraiser, bare, &ground.rules.domes, on)
}

/// A candidate of this outline in the dome that lies best in the mean bar, scored on
/// some interiors: a first look. `None` where no dome can be laid.
pub(crate) fn likeliest_dome(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    (foot, turn): (Footprint, f64),
    kind: CutKind,
    bar: usize,
    on: &[usize],
) -> Option<Candidate> {
    let mut candidate = bare(foot, kind, turn, bar);
    let (lay, _) = ground
        .rules
        .domes
        .iter()
        .filter_map(|&dome| lay_in_mean_bar(ground, &candidate.foot, bar, dome))
        .reduce(|best, lay| if lay.1 > best.1 { lay } else { best })?;
    candidate.lay = lay;
    candidate.score = scores_on(ground, appraiser, &candidate, &[lay], on)[0];
    Some(candidate)
}

/// The candidate in that of all domes which is worth most over some interiors.
pub(crate) fn looked_at_again(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    candidate: Candidate,
    on: &[usize],
) -> Candidate {
    let domes = &ground.rules.domes;
    best_of(ground, appraiser, candidate.clone(), domes, on).unwrap_or(candidate)
}

/// The same candidate moved onto another footprint, in the dome it has.
pub(crate) fn moved(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    candidate: &Candidate,
    foot: Footprint,
    turn: f64,
) -> Option<Candidate> {
    let dome = DomeChoice {
        rise_over_width: candidate.lay.height / candidate.foot.width,
        exponent: candidate.lay.exponent,
    };
    let bare = bare(foot, candidate.kind.clone(), turn, candidate.bar);
    best_of(ground, appraiser, bare, &[dome], &ground.training)
}

/// The candidates best first, the first few scored anew on every training interior,
/// each in its best dome.
pub(crate) fn told_apart(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    mut scouted: Vec<Candidate>,
) -> Vec<Candidate> {
    scouted.sort_by(|p, q| q.score.total_cmp(&p.score));
    let rest = scouted.split_off(scouted.len().min(FINALISTS));
    let mut found: Vec<Candidate> = scouted
        .into_par_iter()
        .map(|c| looked_at_again(ground, appraiser, c, &ground.training))
        .collect();
    found.sort_by(|p, q| q.score.total_cmp(&p.score));
    found.extend(rest);
    found
}

/// A candidate not laid yet.
fn bare(foot: Footprint, kind: CutKind, turn: f64, bar: usize) -> Candidate {
    let lay = Lay {
        edge: [0.0; 3],
        height: 0.0,
        exponent: 2.0,
        wall: 0.0,
    };
    Candidate {
        kind,
        turn,
        bar,
        foot,
        lay,
        score: 0.0,
        natural: None,
    }
}

/// The candidate in that of the domes which is worth most over some interiors.
fn best_of(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    mut candidate: Candidate,
    domes: &[DomeChoice],
    on: &[usize],
) -> Option<Candidate> {
    let lays: Vec<(Lay, f64)> = domes
        .iter()
        .filter_map(|&dome| lay_in_mean_bar(ground, &candidate.foot, candidate.bar, dome))
        .collect();
    // A dome that leaves the mean bar by far more than the best one does is not
    // worth valuing.
    let widest = lays.iter().map(|l| l.1).fold(f64::NEG_INFINITY, f64::max);
    let lays: Vec<Lay> = lays
        .into_iter()
        .filter(|(_, margin)| *margin >= widest.min(0.0) - 0.5)
        .map(|(lay, _)| lay)
        .collect();
    let scores = scores_on(ground, appraiser, &candidate, &lays, on);
    let mut best: Option<(Lay, f64)> = None;
    for (lay, score) in lays.into_iter().zip(scores) {
        if best.is_none_or(|(_, b)| score > b) {
            best = Some((lay, score));
        }
    }
    (candidate.lay, candidate.score) = best?;
    Some(candidate)
}

/// Mean worth over the training interiors when the cutter follows the bar that the
/// edges show.
pub(crate) fn following_score(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    candidate: &Candidate,
) -> f64 {
    let scores = scores_on(
        ground,
        appraiser,
        candidate,
        &[candidate.lay],
        &ground.training,
    );
    scores[0]
}

/// The mean worth of the candidate in each of the lays, over some interiors.
///
/// All lays in one interior before the next: what lies under the outline is then read
/// from memory once.
fn scores_on(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    candidate: &Candidate,
    lays: &[Lay],
    on: &[usize],
) -> Vec<f64> {
    let laid: Vec<(Candidate, CutStone)> = lays
        .iter()
        .map(|&lay| {
            let mut laid = candidate.clone();
            laid.lay = lay;
            let stone = laid.cut_stone(ground);
            (laid, stone)
        })
        .collect();
    let mut scratch = Scratch::default();
    let mut sums = vec![0.0; lays.len()];
    for &i in on {
        for (sum, (laid, stone)) in sums.iter_mut().zip(&laid) {
            *sum += following_worth(ground, appraiser, laid, stone, i, &mut scratch);
        }
    }
    sums.iter().map(|sum| sum / on.len() as f64).collect()
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
