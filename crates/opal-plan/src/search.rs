//! The planner: proposes, values, ranks.

use crate::candidate::Candidate;
use crate::ground::Ground;
use crate::options::{Effort, PlanError, PlanOptions, Progress, Stage, StandardSize, ValuedPlan};
use crate::place_freeform::{freeforms, reachable};
use crate::place_standard::{polished, standards};
use crate::plan::{Appraiser, CutKind, Plan, PlanKind, PlanValue, Stock};
use crate::revisions::revisions;
use crate::rules::BenchRules;
use crate::saw::{saw_and_stock, saw_several};
use crate::several::CutTree;
use crate::value::{Choice, plan_value, value_stone};
use crate::whole::specimens;
use opal_interior::Interiors;
use opal_stone::Stone;
use opal_units::{Draws, Length, Volume};
use rayon::prelude::*;
use std::sync::atomic::Ordering;

/// How many candidates each effort looks at.
struct Counts {
    starts: usize,
    turns: usize,
    polish: usize,
    rounds: usize,
    freeforms: usize,
    standards: usize,
}

impl Counts {
    fn of(effort: Effort) -> Self {
        match effort {
            Effort::Quick => Self {
                starts: 1,
                turns: 6,
                polish: 0,
                rounds: 0,
                freeforms: 1,
                standards: 1,
            },
            Effort::Settled => Self {
                starts: 3,
                turns: 12,
                polish: 3,
                rounds: 12,
                freeforms: 2,
                standards: 3,
            },
            Effort::Thorough => Self {
                starts: 6,
                turns: 36,
                polish: 10,
                rounds: 40,
                freeforms: 5,
                standards: 8,
            },
        }
    }
}

/// The ways to cut the piece, best first by the mean of the adapting cutter.
///
/// Always holds the best freeform, the best standard size, the piece kept whole
/// and the piece sold as it is, as far as each is possible at all.
///
/// # Errors
/// Rules out of range, interiors of another stone, an appraiser that gives no
/// number, or an end from outside before there was a first plan.
pub fn plan(
    stone: &Stone,
    interiors: &Interiors,
    appraiser: &dyn Appraiser,
    rules: &BenchRules,
    options: &PlanOptions<'_>,
) -> Result<Vec<ValuedPlan>, PlanError> {
    rules.check().map_err(PlanError::Rules)?;
    if interiors.n == 0 {
        return Err(PlanError::NoInteriors);
    }
    if interiors.cells() != stone.grid.len() {
        return Err(PlanError::OtherStone {
            interiors: interiors.cells(),
            stone: stone.grid.len(),
        });
    }
    if !(0..stone.grid.len()).any(|k| stone.inside(k)) {
        return Err(PlanError::EmptyStone);
    }
    let ground = Ground::new(
        stone,
        interiors,
        rules,
        options.seed.unwrap_or(interiors.seed),
    );
    Search {
        ground: &ground,
        appraiser,
        options,
        counts: Counts::of(options.effort),
    }
    .run()
}

/// Nothing to take off.
const NO_STOCK: Stock = Stock {
    top: Length::ZERO,
    bottom: Length::ZERO,
    sides: Length::ZERO,
    volume: Volume::ZERO,
};

struct Search<'a> {
    ground: &'a Ground<'a>,
    appraiser: &'a dyn Appraiser,
    options: &'a PlanOptions<'a>,
    counts: Counts,
}

impl Search<'_> {
    fn run(&self) -> Result<Vec<ValuedPlan>, PlanError> {
        let mut plans = vec![self.as_it_is()?];
        self.tell(Stage::Placing, 0.0, &plans);
        let usual;
        let sizes = if self.options.sizes.is_empty() {
            usual = StandardSize::ovals_and_rounds();
            &usual
        } else {
            &self.options.sizes
        };
        let whole = specimens(self.ground, self.appraiser);
        self.value_all(&whole[..whole.len().min(1)], sizes, &mut plans)?;
        self.tell(Stage::Placing, 0.1, &plans);
        let allowed = vec![true; self.ground.grid.len()];
        let reach = reachable(self.ground, &allowed);
        let mut free = freeforms(self.ground, self.appraiser, &allowed, self.counts.starts);
        self.tell(Stage::Placing, 0.3, &plans);
        if self.ended() {
            self.value_all(&free[..free.len().min(1)], sizes, &mut plans)?;
            return Ok(ranked(plans));
        }
        let mut standard = standards(
            self.ground,
            self.appraiser,
            &reach,
            sizes,
            self.counts.turns,
        );
        self.tell(Stage::Polishing, 0.5, &plans);
        self.polish(&mut free, &reach);
        self.tell(Stage::Polishing, 0.6, &plans);
        self.polish(&mut standard, &reach);
        self.tell(Stage::Valuing, 0.7, &plans);
        self.value_all(
            &free[..free.len().min(self.counts.freeforms)],
            sizes,
            &mut plans,
        )?;
        self.tell(Stage::Valuing, 0.85, &plans);
        self.value_all(
            &standard[..standard.len().min(self.counts.standards)],
            sizes,
            &mut plans,
        )?;
        if self.options.most_stones >= 2 && !self.ended() {
            self.tell(Stage::Valuing, 0.9, &plans);
            plans.extend(self.several(sizes)?);
        }
        let plans = ranked(plans);
        self.tell(Stage::Done, 1.0, &plans);
        Ok(plans)
    }

    fn ended(&self) -> bool {
        self.options
            .cancel
            .is_some_and(|flag| flag.load(Ordering::Relaxed))
    }

    fn tell(&self, stage: Stage, done: f64, plans: &[ValuedPlan]) {
        if let Some(progress) = self.options.progress {
            let best_so_far = plans
                .iter()
                .map(|p| (p.plan.kind, p.value.adapting.mean()))
                .max_by(|p, q| p.1.total_cmp(&q.1));
            progress(Progress {
                stage,
                done,
                best_so_far,
            });
        }
    }

    fn polish(&self, found: &mut [Candidate], reach: &[bool]) {
        let most = found.len().min(self.counts.polish);
        let better: Vec<Candidate> = found[..most]
            .par_iter()
            .map(|candidate| {
                if self.ended() {
                    return candidate.clone();
                }
                let start = candidate.clone();
                polished(
                    self.ground,
                    self.appraiser,
                    reach,
                    start,
                    self.counts.rounds,
                )
            })
            .collect();
        found[..most].clone_from_slice(&better);
        found.sort_by(|p, q| q.score.total_cmp(&p.score));
    }

    fn value_all(
        &self,
        candidates: &[Candidate],
        sizes: &[StandardSize],
        plans: &mut Vec<ValuedPlan>,
    ) -> Result<(), PlanError> {
        for candidate in candidates {
            if self.ended() && plans.len() > 1 {
                break;
            }
            plans.push(self.valued(candidate, sizes)?);
        }
        Ok(())
    }

    fn valued(
        &self,
        candidate: &Candidate,
        sizes: &[StandardSize],
    ) -> Result<ValuedPlan, PlanError> {
        let choice = revisions(self.ground, self.appraiser, candidate, sizes);
        let (cuts, stock) = saw_and_stock(self.ground, candidate);
        let kind = match candidate.kind {
            CutKind::Freeform => PlanKind::Freeform,
            CutKind::Standard { .. } => PlanKind::Standard,
            CutKind::Specimen => PlanKind::Specimen,
        };
        let plan = Plan {
            kind,
            stones: vec![candidate.cut_stone(self.ground)],
            cuts,
            stock,
        };
        self.finished(plan, &[choice])
    }

    /// Several stones, where more than one pays.
    fn several(&self, sizes: &[StandardSize]) -> Result<Option<ValuedPlan>, PlanError> {
        let empty = Plan {
            kind: PlanKind::Several,
            stones: Vec::new(),
            cuts: Vec::new(),
            stock: NO_STOCK,
        };
        let cost = self.cost_of_one(&empty);
        let tree = CutTree {
            ground: self.ground,
            appraiser: self.appraiser,
            sizes,
            cost,
        };
        let found = tree.stones(self.options.most_stones);
        if found.len() < 2 {
            return Ok(None);
        }
        let Some((cuts, stock)) = saw_several(self.ground, &found) else {
            return Ok(None);
        };
        let choices: Vec<Choice> = found
            .iter()
            .map(|c| revisions(self.ground, self.appraiser, c, sizes))
            .collect();
        let stones = found.iter().map(|c| c.cut_stone(self.ground)).collect();
        let plan = Plan {
            stones,
            cuts,
            stock,
            ..empty
        };
        self.finished(plan, &choices).map(Some)
    }

    /// What one more stone costs in work, on average, by the difference between
    /// plans that differ in nothing else.
    fn cost_of_one(&self, empty: &Plan) -> f64 {
        let Some(stone) = specimens(self.ground, self.appraiser)
            .first()
            .map(|c| c.cut_stone(self.ground))
        else {
            return 0.0;
        };
        let one = Plan {
            stones: vec![stone.clone()],
            ..empty.clone()
        };
        let two = Plan {
            stones: vec![stone.clone(), stone],
            ..empty.clone()
        };
        let training = &self.ground.training;
        let sum: f64 = training
            .iter()
            .map(|&i| self.appraiser.cost(&two, i) - self.appraiser.cost(&one, i))
            .sum();
        sum / training.len() as f64
    }

    fn finished(&self, plan: Plan, choices: &[Choice]) -> Result<ValuedPlan, PlanError> {
        let stones = choices
            .iter()
            .map(|choice| value_stone(self.ground, self.appraiser, choice))
            .collect::<Result<Vec<_>, _>>()?;
        let value = plan_value(self.appraiser, &plan, &stones, self.ground.interiors.n)?;
        let why = crate::why::reasons(&plan, &stones, &value);
        Ok(ValuedPlan {
            plan,
            revisions: stones.iter().flat_map(|s| s.revisions.clone()).collect(),
            stones_fixed: stones.iter().map(|s| s.fixed.clone()).collect(),
            stones: stones.into_iter().map(|s| s.adapting).collect(),
            value,
            why,
        })
    }

    fn as_it_is(&self) -> Result<ValuedPlan, PlanError> {
        let n = self.ground.interiors.n;
        let values: Vec<f64> = (0..n).map(|i| self.appraiser.as_it_is(i)).collect();
        if let Some(interior) = values.iter().position(|v| !v.is_finite()) {
            let value = values[interior];
            return Err(PlanError::NotANumber {
                plan: "as it is".to_owned(),
                interior,
                value,
            });
        }
        let draws = Draws::new(values).map_err(|_| PlanError::NoInteriors)?;
        Ok(ValuedPlan {
            plan: Plan {
                kind: PlanKind::AsItIs,
                stones: Vec::new(),
                cuts: Vec::new(),
                stock: NO_STOCK,
            },
            stones: Vec::new(),
            stones_fixed: Vec::new(),
            value: PlanValue {
                fixed: draws.clone(),
                adapting: draws.clone(),
                seen_inside: draws,
            },
            revisions: Vec::new(),
            why: vec!["Sold as it is: no work, no risk at the saw.".to_owned()],
        })
    }
}

/// Best first by the adapting mean; equal ones stay in the order they were found.
fn ranked(mut plans: Vec<ValuedPlan>) -> Vec<ValuedPlan> {
    plans.sort_by(|p, q| q.value.adapting.mean().total_cmp(&p.value.adapting.mean()));
    plans
}
