//! What a plan is worth on every interior: never revised, adapting, seen inside.

use crate::candidate::Candidate;
use crate::draw::{Lay, Scratch, Seen};
use crate::ground::Ground;
use crate::options::PlanError;
use crate::plan::{Appraiser, CutKind, CutStone, Plan, PlanValue, StoneDraw, StoneForecast};
use opal_decide::Fit;
use opal_units::Draws;
use rayon::prelude::*;

/// One way to go on once the face is open.
#[derive(Clone, Debug)]
pub(crate) struct Revision {
    /// In plain words.
    pub(crate) words: String,
    /// Which of the outlines.
    pub(crate) outline: usize,
    /// Against the level that the seen bar asks for, mm.
    pub(crate) lift: f64,
}

/// A stone, the outlines it may still become, and the ways to go on.
pub(crate) struct Choice {
    /// The planned outline first.
    pub(crate) outlines: Vec<Candidate>,
    /// What changing to each outline costs in work, beside the plan's own.
    pub(crate) extra_cost: Vec<f64>,
    pub(crate) revisions: Vec<Revision>,
}

/// The face is first opened this far above the level that the seen bar asks
/// for, mm. Chosen: what a careful cutter leaves before looking.
const OPENED_MM: f64 = 0.15;

impl Choice {
    /// The planned stone alone, never revised.
    pub(crate) fn none(candidate: Candidate) -> Self {
        Self {
            outlines: vec![candidate],
            extra_cost: vec![0.0],
            revisions: Vec::new(),
        }
    }

    /// The piece faced as a whole and then kept, or sawn for one of the stones;
    /// each with what sawing and cutting it costs.
    pub(crate) fn whole_or_cut(whole: Candidate, stones: Vec<(String, f64, Candidate)>) -> Self {
        let mut choice = Self::none(whole);
        let mut add = |words: String, outline: usize, lift: f64| {
            choice.revisions.push(Revision {
                words,
                outline,
                lift,
            });
        };
        add("kept whole".to_owned(), 0, 0.0);
        for (k, (words, cost, candidate)) in stones.into_iter().enumerate() {
            add(format!("sawn for the {words}"), k + 1, 0.0);
            add(format!("sawn for the {words}, 0.4 mm deeper"), k + 1, -0.4);
            choice.outlines.push(candidate);
            choice.extra_cost.push(cost);
        }
        choice
    }

    /// Stop at the level seen, or go on deeper; any other outline likewise.
    pub(crate) fn levels(outlines: Vec<(String, Candidate)>) -> Self {
        let deeper: [(f64, &str); 5] = [
            (OPENED_MM, "stopped high"),
            (0.0, "as planned, following the bar"),
            (-0.2, "0.2 mm deeper"),
            (-0.4, "0.4 mm deeper"),
            (-0.7, "0.7 mm deeper"),
        ];
        let mut revisions = Vec::new();
        for (outline, (words, _)) in outlines.iter().enumerate() {
            for &(lift, level) in &deeper {
                if outline == 0 {
                    revisions.push(Revision {
                        words: level.to_owned(),
                        outline,
                        lift,
                    });
                } else if lift == 0.0 || lift == -0.4 {
                    let deep = if lift < 0.0 { ", 0.4 mm deeper" } else { "" };
                    revisions.push(Revision {
                        words: format!("{words}{deep}"),
                        outline,
                        lift,
                    });
                }
            }
        }
        Self {
            extra_cost: vec![0.0; outlines.len()],
            outlines: outlines.into_iter().map(|o| o.1).collect(),
            revisions,
        }
    }
}

/// Numbers that describe what is seen.
const FEATURES: usize = 10;

/// Penalty on a standardised slope. Chosen: enough that features which move
/// together share an effect, too little to bend one that stands alone.
const RIDGE: f64 = 2e-3;

/// One stone in one interior.
#[derive(Clone, Copy)]
struct Outcome {
    drawn: StoneDraw,
    worth: f64,
}

/// One stone in one interior, every way.
struct Ways {
    fixed: Outcome,
    revised: Vec<Outcome>,
    /// What is seen, for each revision.
    seen: Vec<[f64; FEATURES]>,
}

/// A stone valued: what it is when the plan is never revised, when the cutter
/// adapts, and at best.
pub(crate) struct StoneValue {
    pub(crate) fixed: StoneForecast,
    pub(crate) adapting: StoneForecast,
    pub(crate) fixed_worth: Vec<f64>,
    pub(crate) adapting_worth: Vec<f64>,
    pub(crate) best_worth: Vec<f64>,
    /// How often each revision was chosen, commonest first.
    pub(crate) revisions: Vec<(String, f64)>,
}

/// Values one stone on every interior.
pub(crate) fn value_stone(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    choice: &Choice,
) -> Result<StoneValue, PlanError> {
    let stones: Vec<CutStone> = choice
        .outlines
        .iter()
        .map(|c| c.cut_stone(ground))
        .collect();
    let every: Vec<Ways> = (0..ground.interiors.n)
        .into_par_iter()
        .map_init(Scratch::default, |scratch, i| {
            ways(ground, appraiser, choice, &stones, i, scratch)
        })
        .collect();
    for (interior, ways) in every.iter().enumerate() {
        for outcome in std::iter::once(&ways.fixed).chain(&ways.revised) {
            if !outcome.worth.is_finite() {
                return Err(PlanError::NotANumber {
                    plan: kind_words(&stones[0].kind),
                    interior,
                    value: outcome.worth,
                });
            }
        }
    }
    let chosen = choose(&every, choice.revisions.len(), ground.kept_back);
    let fixed_worth: Vec<f64> = every.iter().map(|w| w.fixed.worth).collect();
    let mut adapting: Vec<Outcome> = every
        .iter()
        .zip(&chosen)
        .map(|(w, c)| c.map_or(w.fixed, |c| w.revised[c]))
        .collect();
    let mut counts = vec![0_usize; choice.revisions.len()];
    for &c in chosen.iter().flatten() {
        counts[c] += 1;
    }
    let told = ground.kept_back..every.len();
    let sum = |worth: &dyn Fn(usize) -> f64| told.clone().map(worth).sum::<f64>();
    if sum(&|i| adapting[i].worth) < sum(&|i| fixed_worth[i]) {
        // Whoever sees may still do as planned.
        adapting = every.iter().map(|w| w.fixed).collect();
        counts.fill(0);
    }
    let n = every.len() as f64;
    let mut revisions: Vec<(String, f64)> = choice
        .revisions
        .iter()
        .zip(&counts)
        .filter(|&(_, &count)| count > 0)
        .map(|(r, &count)| (r.words.clone(), count as f64 / n))
        .collect();
    revisions.sort_by(|p, q| q.1.total_cmp(&p.1));
    let best_worth = every
        .iter()
        .map(|w| {
            w.revised
                .iter()
                .fold(w.fixed.worth, |best, o| best.max(o.worth))
        })
        .collect();
    Ok(StoneValue {
        fixed: forecast(&every.iter().map(|w| w.fixed).collect::<Vec<_>>())?,
        adapting_worth: adapting.iter().map(|o| o.worth).collect(),
        adapting: forecast(&adapting)?,
        fixed_worth,
        best_worth,
        revisions,
    })
}

fn ways(
    ground: &Ground<'_>,
    appraiser: &dyn Appraiser,
    choice: &Choice,
    stones: &[CutStone],
    i: usize,
    scratch: &mut Scratch,
) -> Ways {
    let planned = &choice.outlines[0];
    let mut outcome = |outline: usize, lay: Lay| -> (Outcome, Seen) {
        let (drawn, seen) = choice.outlines[outline].draw(ground, lay, i, scratch);
        let worth = appraiser.worth(&stones[outline], ground.number, &drawn, i)
            - choice.extra_cost[outline];
        (Outcome { drawn, worth }, seen)
    };
    let (fixed, _) = outcome(0, planned.lay);
    if choice.revisions.is_empty() {
        return Ways {
            fixed,
            revised: Vec::new(),
            seen: Vec::new(),
        };
    }
    let bar = planned.seen_bar(ground, i);
    let whole = matches!(planned.kind, CutKind::Specimen);
    let followed = |outline: usize, lift: f64| -> Lay {
        let own = &choice.outlines[outline];
        if whole {
            // Sawn out of the faced piece, it shows its own edges.
            let seen = own.seen_bar(ground, i);
            return seen.followed(own.lay, [0.0; 2], lift, ground.rules);
        }
        // Only what is seen around the planned outline may move any of them.
        let moved = std::array::from_fn(|d| own.foot.crown[d] - planned.foot.crown[d]);
        bar.followed(own.lay, moved, lift, ground.rules)
    };
    let opened: Vec<Seen> = (0..choice.outlines.len())
        .map(|outline| {
            if whole {
                planned.seen_when_faced(ground, &choice.outlines[outline].foot, i)
            } else {
                outcome(outline, followed(outline, OPENED_MM)).1
            }
        })
        .collect();
    let mut revised = Vec::with_capacity(choice.revisions.len());
    let mut seen = Vec::with_capacity(choice.revisions.len());
    for revision in &choice.revisions {
        let lay = followed(revision.outline, revision.lift);
        revised.push(outcome(revision.outline, lay).0);
        let (own, whole) = (&opened[revision.outline], &opened[0]);
        seen.push([
            own.colour_share,
            own.colour_share * own.colour_share,
            own.speck_share,
            own.covered_share,
            whole.colour_share,
            bar.share,
            bar.thickness,
            bar.thickness * bar.thickness,
            bar.thinnest,
            bar.roughness,
        ]);
    }
    Ways {
        fixed,
        revised,
        seen,
    }
}

/// The revision chosen in each interior by what is seen there, with the rule
/// learnt on the other half of the interiors; `None` where there is none.
///
/// # Method
/// Regress-and-compare (Longstaff & Schwartz 2001, Rev. Financial Studies 14;
/// gains over the revision best on average, Strong et al. 2015, Medical Decision
/// Making 35), cross-fitted in two halves, so that no interior's own outcome
/// enters the rule that chooses for it. Each revision is judged by what is seen
/// of its own outline.
fn choose(every: &[Ways], revisions: usize, kept_back: usize) -> Vec<Option<usize>> {
    let mut chosen = vec![None; every.len()];
    if revisions == 0 || every.len() < 4 * FEATURES {
        return chosen;
    }
    for half in 0..2 {
        let learnt: Vec<&Ways> = every
            .iter()
            .enumerate()
            .skip(kept_back)
            .filter(|(i, _)| i % 2 != half)
            .map(|(_, w)| w)
            .collect();
        let mean = |r: usize| learnt.iter().map(|w| w.revised[r].worth).sum::<f64>();
        let base = (0..revisions)
            .max_by(|&p, &q| mean(p).total_cmp(&mean(q)).then(q.cmp(&p)))
            .unwrap_or(0);
        let fits: Vec<Option<Fit>> = (0..revisions)
            .into_par_iter()
            .map(|r| {
                if r == base {
                    return None;
                }
                let seen: Vec<f64> = learnt.iter().flat_map(|w| w.seen[r]).collect();
                let gains: Vec<f64> = learnt
                    .iter()
                    .map(|w| w.revised[r].worth - w.revised[base].worth)
                    .collect();
                Fit::new(&seen, FEATURES, &gains, RIDGE).ok()
            })
            .collect();
        for (i, ways) in every.iter().enumerate().filter(|(i, _)| i % 2 == half) {
            let mut best = (base, 0.0);
            for (r, fit) in fits.iter().enumerate() {
                if let Some(gain) = fit.as_ref().map(|f| f.at(&ways.seen[r]))
                    && gain > best.1
                {
                    best = (r, gain);
                }
            }
            chosen[i] = Some(best.0);
        }
    }
    chosen
}

fn forecast(outcomes: &[Outcome]) -> Result<StoneForecast, PlanError> {
    let take = |f: &dyn Fn(&Outcome) -> f64| -> Result<Draws, PlanError> {
        Draws::new(outcomes.iter().map(f).collect()).map_err(|_| PlanError::NoInteriors)
    };
    let whole = outcomes.iter().filter(|o| o.drawn.whole).count();
    Ok(StoneForecast {
        weight_ct: take(&|o| o.drawn.weight.carats())?,
        colour_ct: take(&|o| o.drawn.colour.carats())?,
        potch_ct: take(&|o| (o.drawn.weight - o.drawn.colour).carats())?,
        clean_share: take(&|o| o.drawn.clean_share)?,
        least_colour_mm: take(&|o| o.drawn.least_colour.mm())?,
        mean_colour_mm: take(&|o| o.drawn.mean_colour.mm())?,
        thickness_mm: take(&|o| o.drawn.thickness.mm())?,
        face_mm2: take(&|o| o.drawn.face.mm2())?,
        whole_chance: whole as f64 / outcomes.len() as f64,
        worth: take(&|o| o.worth)?,
    })
}

/// The three figures of a plan, net of what its work costs.
pub(crate) fn plan_value(
    appraiser: &dyn Appraiser,
    plan: &Plan,
    stones: &[StoneValue],
    n: usize,
) -> Result<PlanValue, PlanError> {
    let costs: Vec<f64> = (0..n).map(|i| appraiser.cost(plan, i)).collect();
    let net = |worth: &dyn Fn(&StoneValue, usize) -> f64| -> Result<Draws, PlanError> {
        let values: Vec<f64> = (0..n)
            .map(|i| stones.iter().map(|s| worth(s, i)).sum::<f64>() - costs[i])
            .collect();
        if let Some(interior) = values.iter().position(|v| !v.is_finite()) {
            return Err(PlanError::NotANumber {
                plan: format!("{:?}", plan.kind).to_lowercase(),
                interior,
                value: values[interior],
            });
        }
        Draws::new(values).map_err(|_| PlanError::NoInteriors)
    };
    Ok(PlanValue {
        fixed: net(&|s, i| s.fixed_worth[i])?,
        adapting: net(&|s, i| s.adapting_worth[i])?,
        seen_inside: net(&|s, i| s.best_worth[i])?,
    })
}

/// The kind in plain words.
pub(crate) fn kind_words(kind: &CutKind) -> String {
    match kind {
        CutKind::Freeform => "freeform".to_owned(),
        CutKind::Specimen => "specimen".to_owned(),
        CutKind::Standard {
            family,
            length,
            width,
        } if length == width => {
            format!("{family} {} mm", length.mm())
        }
        CutKind::Standard {
            family,
            length,
            width,
        } => {
            format!("{family} {} × {} mm", length.mm(), width.mm())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_units::{Area, Length, Mass};

    const SEEN: usize = 4;
    const HIDDEN: usize = 3;
    const WAYS: usize = 3;
    /// What each way brings, by what is seen and what stays hidden; invented.
    const PAY: [[[f64; HIDDEN]; WAYS]; SEEN] = [
        [[9.0, 1.0, 2.0], [5.0, 5.0, 5.0], [0.0, 8.0, 3.0]],
        [[7.0, 6.0, 2.0], [4.0, 4.0, 4.0], [1.0, 9.0, 9.0]],
        [[3.0, 2.0, 9.0], [6.0, 1.0, 1.0], [2.0, 2.0, 2.0]],
        [[0.0, 4.0, 1.0], [3.0, 3.0, 6.0], [8.0, 0.0, 2.0]],
    ];

    fn outcome(worth: f64) -> Outcome {
        let drawn = StoneDraw {
            weight: Mass::from_carats(1.0),
            colour: Mass::from_carats(1.0),
            face: Area::from_mm2(1.0),
            clean_share: 1.0,
            least_colour: Length::from_mm(1.0),
            mean_colour: Length::from_mm(1.0),
            thickness: Length::from_mm(1.0),
            whole: true,
        };
        Outcome { drawn, worth }
    }

    /// A case small enough to be solved by backward induction (Bellman 1957): the
    /// best rule on what is seen brings the mean over what is seen of the best
    /// mean over what is hidden. The fitted rule finds it; never revising lies
    /// below, the bound that knows the hidden too lies above (information
    /// relaxation: Brown, Smith & Sun 2010).
    #[test]
    fn the_fitted_rule_is_the_exact_one_where_that_can_be_counted() {
        let every: Vec<Ways> = (0..1200)
            .map(|i| {
                // Both halves meet every case equally often.
                let (seen, hidden) = ((i / 2) % SEEN, (i / 2 / SEEN) % HIDDEN);
                let mut features = [0.0; FEATURES];
                features[seen] = 1.0;
                Ways {
                    fixed: outcome(PAY[seen][0][hidden]),
                    revised: (0..WAYS).map(|w| outcome(PAY[seen][w][hidden])).collect(),
                    seen: vec![features; WAYS],
                }
            })
            .collect();
        let n = every.len() as f64;
        let chosen = choose(&every, WAYS, 0);
        let policy = every
            .iter()
            .zip(&chosen)
            .map(|(ways, way)| ways.revised[way.expect("a way")].worth)
            .sum::<f64>()
            / n;
        let over = |of: &dyn Fn(&[[f64; HIDDEN]; WAYS]) -> f64| {
            PAY.iter().map(of).sum::<f64>() / SEEN as f64
        };
        let mean = |pay: &[f64; HIDDEN]| pay.iter().sum::<f64>() / HIDDEN as f64;
        let exact = over(&|pay| pay.iter().map(mean).fold(0.0, f64::max));
        let never = over(&|pay| mean(&pay[0]));
        let bound = over(&|pay| {
            let best = |h: usize| pay.iter().map(|way| way[h]).fold(0.0, f64::max);
            (0..HIDDEN).map(best).sum::<f64>() / HIDDEN as f64
        });
        assert!((policy - exact).abs() < 1e-9, "{policy} {exact}");
        assert!(never < exact && exact < bound, "{never} {exact} {bound}");
    }
}
