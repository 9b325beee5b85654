//! What may a planned stone still become once its face is open?

use crate::candidate::{Candidate, VALUE_NODES, lay_in_mean_bar, standard_kind};
use crate::footprint::Footprint;
use crate::ground::Ground;
use crate::options::StandardSize;
use crate::plan::{Appraiser, CutKind};
use crate::rules::DomeChoice;
use crate::score::following_score;
use crate::value::{Choice, kind_words};
use opal_geom::Outline;
use opal_geom::families::family;

/// A smaller outline, against the planned one. Chosen: a third of the face less.
const SMALLER: f64 = 0.82;

/// Levels, smaller outlines to every side and a standard size inside for a
/// freeform; levels and smaller sizes for a standard. For a piece kept whole see
/// [`whole_or_cut`].
pub(crate) fn revisions(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    candidate: &Candidate,
    sizes: &[StandardSize],
) -> Choice {
    let planned = revalued(ground, candidate, candidate.foot.outline.clone(), None);
    let Some(planned) = planned else {
        return Choice::none(candidate.clone());
    };
    let mut outlines = vec![(String::new(), planned)];
    match &candidate.kind {
        CutKind::Specimen => return Choice::none(candidate.clone()),
        CutKind::Freeform => {
            outlines.extend(smaller(ground, candidate));
            outlines.extend(inside(ground, appraiser, candidate, sizes, None));
        }
        CutKind::Standard { family, .. } => {
            outlines.extend(inside(ground, appraiser, candidate, sizes, Some(family)));
        }
    }
    Choice::levels(outlines)
}

/// The piece faced as a whole, then kept or sawn for one of the stones given,
/// each with what its work costs. Only stones that show the bar of the piece's
/// own face count: no other was seen.
pub(crate) fn whole_or_cut(
    ground: &Ground<'_>,
    whole: &Candidate,
    stones: &[(&Candidate, f64)],
) -> Choice {
    let stones = stones
        .iter()
        .filter(|(stone, _)| stone.bar == whole.bar)
        .filter_map(|&(stone, cost)| {
            let outline = stone.foot.outline.clone();
            let valued = revalued(ground, stone, outline, None)?;
            Some((kind_words(&stone.kind), cost, valued))
        })
        .collect();
    Choice::whole_or_cut(whole.clone(), stones)
}

/// The outline as it stands; only the level follows what is seen.
pub(crate) fn levels_only(ground: &Ground<'_>, candidate: &Candidate) -> Choice {
    match revalued(ground, candidate, candidate.foot.outline.clone(), None) {
        Some(planned) => Choice::levels(vec![(String::new(), planned)]),
        None => Choice::none(candidate.clone()),
    }
}

/// A candidate like the given one on another outline, laid anew in the mean bar
/// where the outline differs.
fn revalued(
    ground: &Ground<'_>,
    like: &Candidate,
    outline: Outline,
    kind: Option<CutKind>,
) -> Option<Candidate> {
    let same = kind.is_none() && outline == like.foot.outline;
    let foot = Footprint::new(&ground.grid, outline, VALUE_NODES)?;
    let lay = if same {
        like.lay
    } else {
        let dome = DomeChoice {
            rise_over_width: like.lay.height / like.foot.width,
            exponent: like.lay.exponent,
        };
        lay_in_mean_bar(ground, &foot, like.bar, dome)?.0
    };
    Some(Candidate {
        kind: kind.unwrap_or_else(|| like.kind.clone()),
        turn: like.turn,
        bar: like.bar,
        foot,
        lay,
        score: 0.0,
        natural: None,
    })
}

fn smaller(ground: &Ground<'_>, candidate: &Candidate) -> Vec<(String, Candidate)> {
    let foot = &candidate.foot;
    let least = ground.rules.least_width.mm();
    if foot.width * SMALLER < least {
        return Vec::new();
    }
    let shrunk = foot.outline.scaled_about(foot.crown, SMALLER);
    let (sin, cos) = candidate.turn.sin_cos();
    let (long, wide) = (
        foot.length * (1.0 - SMALLER) / 2.0,
        foot.width * (1.0 - SMALLER) / 2.0,
    );
    [
        [0.0, 0.0],
        [cos * long, sin * long],
        [-cos * long, -sin * long],
        [-sin * wide, cos * wide],
        [sin * wide, -cos * wide],
    ]
    .into_iter()
    .filter_map(|by| {
        let outline = shrunk.placed(0.0, by);
        let words = if by == [0.0, 0.0] {
            "smaller freeform"
        } else {
            "smaller freeform to one side"
        };
        Some((
            words.to_owned(),
            revalued(ground, candidate, outline, None)?,
        ))
    })
    .collect()
}

/// Standard sizes that the outline holds: the one that pays best, or for a
/// standard stone the best of its own family's smaller sizes.
fn inside(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    candidate: &Candidate,
    sizes: &[StandardSize],
    only: Option<&str>,
) -> Option<(String, Candidate)> {
    let mut fitting: Vec<(f64, Candidate)> = sizes
        .iter()
        .filter(|size| only.is_none_or(|key| size.family == key))
        .filter_map(|size| {
            let shape = family(&size.family, size.length.mm(), size.width.mm(), 96)?;
            let placed = shape.placed(candidate.turn, candidate.foot.crown);
            let holds = placed.area() < 0.97 * candidate.foot.area
                && placed
                    .points()
                    .iter()
                    .all(|&p| candidate.foot.rho(p) <= 1.0);
            if !holds {
                return None;
            }
            let kind = standard_kind(&size.family, size.length.mm(), size.width.mm());
            let area = placed.area();
            Some((area, revalued(ground, candidate, placed, Some(kind))?))
        })
        .collect();
    fitting.sort_by(|p, q| q.0.total_cmp(&p.0));
    fitting.truncate(4);
    fitting
        .into_iter()
        .map(|(_, mut c)| {
            c.score = following_score(ground, appraiser, &c);
            c
        })
        .max_by(|p, q| p.score.total_cmp(&q.score))
        .map(|c| (format!("{} instead", kind_words(&c.kind)), c))
}
