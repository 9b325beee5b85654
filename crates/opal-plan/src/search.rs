//! The planner: proposes, values, ranks.

use crate::across::{Between, between, neighbours};
use crate::candidate::{Candidate, SEARCH_NODES, lay_in_mean_bar};
use crate::footprint::Footprint;
use crate::ground::Ground;
use crate::options::{Effort, PlanError, PlanOptions, Progress, Stage, StandardSize, ValuedPlan};
use crate::order::Order;
use crate::pack::{Step, grow, pool, settled};
use crate::partings::gap;
use crate::place_freeform::{freeforms, reachable};
use crate::place_standard::{best_standards, polished, seats_of_size, standards};
use crate::plan::{Appraiser, CutKind, Origin, Plan, PlanKind, PlanValue, Stock};
use crate::reasons::reasons;
use crate::revisions::{levels_only, revisions, whole_or_cut};
use crate::rules::{BenchRules, DomeChoice};
use crate::saw::{saw_and_stock, saw_several};
use crate::score::best_dome;
use crate::several::CutTree;
use crate::value::{Choice, plan_value, value_stone};
use crate::whole::specimens;
use opal_interior::Interiors;
use opal_stone::Stone;
use opal_units::{Draws, Length, Volume};
use rayon::prelude::*;
use std::borrow::Cow;
use std::sync::atomic::Ordering;

/// Seats that are tried of each size of an order, in each bar. Chosen.
const SEATS_OF_AN_ORDER: usize = 40;
/// Freeforms that may join several stones. Chosen.
const FREEFORMS_IN_POOL: usize = 6;
/// Turns at which a size is tried while bars are parted. Chosen.
const TURNS_ACROSS: usize = 8;

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
    let ground = ground(stone, interiors, rules, options)?;
    Search::on(&ground, appraiser, options).run()
}

/// The piece kept whole, the best freeform and the best standard size, as far as each
/// is possible, not valued: for whoever values them by what the bench shows.
///
/// # Errors
/// Rules out of range, interiors of another stone.
pub fn propose(
    stone: &Stone,
    interiors: &Interiors,
    appraiser: &dyn Appraiser,
    rules: &BenchRules,
    options: &PlanOptions<'_>,
) -> Result<Vec<Plan>, PlanError> {
    let ground = ground(stone, interiors, rules, options)?;
    Ok(Search::on(&ground, appraiser, options).proposed())
}

/// What the search knows of the stone, once all that is asked was looked over.
fn ground<'a>(
    stone: &'a Stone,
    interiors: &'a Interiors,
    rules: &'a BenchRules,
    options: &PlanOptions<'_>,
) -> Result<Ground<'a>, PlanError> {
    rules.check().map_err(PlanError::Rules)?;
    if interiors.n <= options.kept_back {
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
    options
        .wishes
        .check(stone, interiors.bars.len())
        .map_err(PlanError::Wishes)?;
    Ok(Ground::new(
        stone,
        interiors,
        rules,
        options.seed.unwrap_or(interiors.seed),
        options.kept_back,
        &options.wishes.forbidden_outlines(),
    ))
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

impl<'a> Search<'a> {
    fn on(
        ground: &'a Ground<'a>,
        appraiser: &'a dyn Appraiser,
        options: &'a PlanOptions<'a>,
    ) -> Self {
        Self {
            ground,
            appraiser,
            options,
            counts: Counts::of(options.effort),
        }
    }

    fn proposed(&self) -> Vec<Plan> {
        let allowed = vec![true; self.ground.grid.len()];
        let reach = reachable(self.ground, &allowed);
        let sizes = self.sizes();
        let mut free = freeforms(self.ground, self.appraiser, &allowed, self.counts.starts);
        let mut standard = best_standards(
            self.ground,
            self.appraiser,
            &reach,
            &sizes,
            self.counts.turns,
        );
        self.polish(&mut free, &reach);
        self.polish(&mut standard, &reach);
        let whole = specimens(self.ground, self.appraiser).into_iter().take(1);
        let stones = free.into_iter().take(1).chain(standard.into_iter().take(1));
        whole.chain(stones).map(|c| self.plan_of(&c)).collect()
    }

    /// The standard sizes to try.
    fn sizes(&self) -> Cow<'a, [StandardSize]> {
        if self.options.sizes.is_empty() {
            Cow::Owned(StandardSize::ovals_and_rounds())
        } else {
            Cow::Borrowed(&self.options.sizes)
        }
    }

    fn run(&self) -> Result<Vec<ValuedPlan>, PlanError> {
        let mut plans = vec![self.as_it_is()?];
        self.tell(Stage::Placing, 0.0, &plans);
        let sizes = &*self.sizes();
        plans.extend(self.pinned(sizes)?);
        plans.extend(self.ordered()?);
        if self.options.only_wishes {
            return Ok(ranked(plans));
        }
        let whole = specimens(self.ground, self.appraiser).into_iter().next();
        if let Some(whole) = &whole {
            plans.push(self.kept_whole(whole, &[])?);
        }
        self.tell(Stage::Placing, 0.1, &plans);
        let allowed = vec![true; self.ground.grid.len()];
        let reach = reachable(self.ground, &allowed);
        let mut free = freeforms(self.ground, self.appraiser, &allowed, self.counts.starts);
        self.tell(Stage::Placing, 0.3, &plans);
        if self.ended() {
            self.value_all(&free[..free.len().min(1)], sizes, &mut plans)?;
            return Ok(ranked(plans));
        }
        // Only a search that fills the ground with many asks after the small ones.
        let find = if self.counts.rounds > 0 && self.options.most_stones >= 2 {
            standards
        } else {
            best_standards
        };
        let mut standard = find(
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
        if let Some(whole) = &whole {
            let stones: Vec<&Candidate> =
                free.first().into_iter().chain(standard.first()).collect();
            let place = |p: &ValuedPlan| p.plan.kind == PlanKind::Specimen;
            if let Some(known) = plans.iter_mut().find(|p| place(p)) {
                *known = self.kept_whole(whole, &stones)?;
            }
        }
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
            plans.extend(self.several(sizes, &free, &standard)?);
            plans.extend(self.across_bars(sizes)?);
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
        let plan = self.plan_of(candidate);
        self.finished(plan, &[(self.ground, choice)])
    }

    /// The piece faced as a whole, then kept or sawn for one of the stones.
    fn kept_whole(
        &self,
        whole: &Candidate,
        stones: &[&Candidate],
    ) -> Result<ValuedPlan, PlanError> {
        let training = &self.ground.training;
        let stones: Vec<(&Candidate, f64)> = stones
            .iter()
            .map(|&stone| {
                let plan = self.plan_of(stone);
                let sum: f64 = training
                    .iter()
                    .map(|&i| self.appraiser.cost(&plan, i))
                    .sum();
                (stone, sum / training.len() as f64)
            })
            .collect();
        let choice = whole_or_cut(self.ground, whole, &stones);
        self.finished(self.plan_of(whole), &[(self.ground, choice)])
    }

    /// The plan of one stone alone.
    fn plan_of(&self, candidate: &Candidate) -> Plan {
        let (cuts, stock) = saw_and_stock(self.ground, candidate);
        let kind = match candidate.kind {
            CutKind::Freeform => PlanKind::Freeform,
            CutKind::Standard { .. } => PlanKind::Standard,
            CutKind::Specimen => PlanKind::Specimen,
        };
        Plan {
            kind,
            stones: vec![candidate.cut_stone(self.ground)],
            cuts,
            stock,
            origin: Origin::Found,
        }
    }

    /// The outlines that the cutter drew, all in one plan.
    fn pinned(&self, sizes: &[StandardSize]) -> Result<Option<ValuedPlan>, PlanError> {
        let pinned = &self.options.wishes.pinned;
        let mut stones = Vec::with_capacity(pinned.len());
        for (k, one) in pinned.iter().enumerate() {
            let bars = match one.bar {
                Some(bar) => bar..bar + 1,
                None => 0..self.ground.bars.len(),
            };
            let best = bars
                .filter_map(|bar| {
                    let foot = Footprint::new(&self.ground.grid, one.outline()?, SEARCH_NODES)?;
                    let turn = foot.outline.calliper_sizes().long_axis;
                    let kind = one.kind.clone();
                    best_dome(
                        self.ground,
                        self.appraiser,
                        (foot, turn),
                        kind,
                        bar,
                        &self.ground.training,
                    )
                })
                .max_by(|p, q| p.score.total_cmp(&q.score));
            stones.push(best.ok_or(PlanError::NothingUnderOutline { outline: k })?);
        }
        if stones.is_empty() {
            return Ok(None);
        }
        let plan = self.together(&stones, Origin::Pinned, |c| {
            revisions(self.ground, self.appraiser, c, sizes)
        })?;
        plan.map(Some).ok_or(PlanError::CannotPart {
            outlines: stones.len(),
            gap_mm: gap(self.ground),
        })
    }

    /// The cutter's order, filled as well as can be.
    fn ordered(&self) -> Result<Option<ValuedPlan>, PlanError> {
        let wishes = &self.options.wishes;
        let mut orders: Vec<&Order> = wishes.orders.iter().collect();
        // The largest first: small ones find a place beside them.
        let area = |o: &Order| o.size.length.mm() * o.size.width.mm();
        orders.sort_by(|p, q| area(q).total_cmp(&area(p)));
        let reach = reachable(self.ground, &vec![true; self.ground.grid.len()]);
        let mut pool: Vec<Candidate> = Vec::new();
        let mut steps = Vec::new();
        for order in orders {
            let seats = seats_of_size(
                self.ground,
                self.appraiser,
                &reach,
                &order.size,
                self.counts.turns,
                SEATS_OF_AN_ORDER,
            );
            let from: Vec<usize> = (pool.len()..pool.len() + seats.len()).collect();
            pool.extend(seats);
            for k in 0..order.count {
                steps.push(Step {
                    from: from.clone(),
                    like_before: k > 0,
                    same_bar: k > 0 && order.matched,
                });
            }
        }
        if steps.is_empty() {
            return Ok(None);
        }
        let grown = grow(&pool, &steps, gap(self.ground), 0.0);
        let refused = |fitted: usize| PlanError::OrderDoesNotFit {
            order: wishes.orders_title(),
            wanted: steps.len(),
            fitted,
        };
        let Some(full) = grown.get(steps.len() - 1) else {
            return Err(refused(grown.len()));
        };
        let mut stones: Vec<Candidate> = full.stones.iter().map(|&k| pool[k].clone()).collect();
        self.match_domes(&mut stones, &steps);
        let choice = |c: &Candidate| levels_only(self.ground, c);
        let mut plan = self
            .together(&stones, Origin::Ordered, choice)?
            .ok_or_else(|| refused(1))?;
        plan.why
            .insert(0, format!("Fills the order: {}.", wishes.orders_title()));
        Ok(Some(plan))
    }

    /// Stones that must match get the dome of the first of them.
    fn match_domes(&self, stones: &mut [Candidate], steps: &[Step]) {
        for k in 1..stones.len() {
            if !steps[k].same_bar {
                continue;
            }
            let first = &stones[k - 1];
            let dome = DomeChoice {
                rise_over_width: first.lay.height / first.foot.width,
                exponent: first.lay.exponent,
            };
            let own = &stones[k];
            if let Some((lay, _)) = lay_in_mean_bar(self.ground, &own.foot, own.bar, dome) {
                stones[k].lay = lay;
            }
        }
    }

    /// Several stones, where more than one pays.
    fn several(
        &self,
        sizes: &[StandardSize],
        free: &[Candidate],
        standard: &[Candidate],
    ) -> Result<Option<ValuedPlan>, PlanError> {
        let most = self.options.most_stones;
        let cost = self.cost_of_one();
        let tree = CutTree {
            ground: self.ground,
            appraiser: self.appraiser,
            sizes,
            cost,
        };
        let halved = tree.stones(most);
        let net = |set: &[Candidate]| set.iter().map(|c| c.score - cost).sum::<f64>();
        let mut best = halved.clone();
        if self.counts.rounds > 0 && !self.ended() {
            let mut found = halved;
            found.extend(free.iter().take(FREEFORMS_IN_POOL).cloned());
            let pool = pool(self.ground, self.appraiser, &found, standard, cost);
            let any = Step {
                from: (0..pool.len()).collect(),
                like_before: true,
                same_bar: false,
            };
            let grown = grow(&pool, &vec![any; most], gap(self.ground), cost);
            for set in grown.iter().filter(|set| set.stones.len() >= 2) {
                let set: Vec<Candidate> = set.stones.iter().map(|&k| pool[k].clone()).collect();
                if best.len() < 2 || net(&set) > net(&best) {
                    best = set;
                }
            }
            if !self.ended() {
                best = settled(self.ground, self.appraiser, best, self.counts.rounds);
            }
        }
        if best.len() < 2 {
            return Ok(None);
        }
        self.together(&best, Origin::Found, |c| {
            revisions(self.ground, self.appraiser, c, sizes)
        })
    }

    /// A plan of these stones side by side; `None` where straight cuts cannot
    /// part them.
    fn together(
        &self,
        stones: &[Candidate],
        origin: Origin,
        choice: impl Fn(&Candidate) -> Choice,
    ) -> Result<Option<ValuedPlan>, PlanError> {
        let sawn = match stones {
            [one] => Some(saw_and_stock(self.ground, one)),
            _ => saw_several(self.ground, stones),
        };
        let Some((cuts, stock)) = sawn else {
            return Ok(None);
        };
        let kind = match stones {
            [one] if matches!(one.kind, CutKind::Standard { .. }) => PlanKind::Standard,
            [_] => PlanKind::Freeform,
            _ => PlanKind::Several,
        };
        let grounds: Vec<Ground<'_>> = (0..stones.len())
            .map(|k| self.ground.for_stone(k))
            .collect();
        let choices: Vec<(&Ground<'_>, Choice)> =
            grounds.iter().zip(stones.iter().map(choice)).collect();
        let plan = Plan {
            kind,
            stones: stones.iter().map(|c| c.cut_stone(self.ground)).collect(),
            cuts,
            stock,
            origin,
        };
        self.finished(plan, &choices).map(Some)
    }

    /// One stone from each of two bars that lie over each other, where a cut
    /// fits between: the best over all neighbours and over which goes first.
    fn across_bars(&self, sizes: &[StandardSize]) -> Result<Option<ValuedPlan>, PlanError> {
        let cost = self.cost_of_one();
        let mut best: Option<(f64, Between, Candidate, Candidate)> = None;
        for [over, under] in neighbours(self.ground) {
            for (first, second, upper) in [(over, under, true), (under, over, false)] {
                if self.ended() {
                    break;
                }
                let ground = self.ground.part(self.ground.stone, first);
                let Some(chosen) = self.best_alone(&ground, sizes, cost) else {
                    continue;
                };
                let cut = between(&ground, &chosen, upper);
                let left = self.ground.part(&cut.rest, second);
                let Some(other) = self.best_alone(&left, sizes, cost) else {
                    continue;
                };
                let net = chosen.score + other.score;
                if best.as_ref().is_none_or(|b| net > b.0) {
                    best = Some((net, cut, chosen, other));
                }
            }
        }
        let Some((_, Between { own, rest, cut }, chosen, other)) = best else {
            return Ok(None);
        };
        let first = self.ground.part(&own, chosen.bar);
        let second = self.ground.part(&rest, other.bar).for_stone(1);
        let mut cuts = vec![cut];
        let mut stock = NO_STOCK;
        for (k, (ground, candidate)) in [(&first, &chosen), (&second, &other)].iter().enumerate() {
            let (own_cuts, own_stock) = saw_and_stock(ground, candidate);
            for mut own_cut in own_cuts {
                own_cut.order = cuts.len() as u32 + 1;
                own_cut.stone = k;
                own_cut.words = format!("Stone {}: {}", k + 1, own_cut.words);
                cuts.push(own_cut);
            }
            stock = Stock {
                top: stock.top + own_stock.top / 2.0,
                bottom: stock.bottom + own_stock.bottom / 2.0,
                sides: stock.sides + own_stock.sides / 2.0,
                volume: stock.volume + own_stock.volume,
            };
        }
        let plan = Plan {
            kind: PlanKind::Several,
            stones: vec![chosen.cut_stone(&first), other.cut_stone(&second)],
            cuts,
            stock,
            origin: Origin::Found,
        };
        let choices = [
            (&first, revisions(&first, self.appraiser, &chosen, sizes)),
            (&second, revisions(&second, self.appraiser, &other, sizes)),
        ];
        let mut valued = self.finished(plan, &choices)?;
        let name = |bar: usize| &self.ground.interiors.bars[bar].name;
        valued.why.insert(
            0,
            format!(
                "Bars {} and {} are parted by a saw cut between them; each gives a stone.",
                name(chosen.bar),
                name(other.bar)
            ),
        );
        Ok(Some(valued))
    }

    /// The one stone that pays best on a ground, if it pays its work.
    fn best_alone(
        &self,
        ground: &Ground<'_>,
        sizes: &[StandardSize],
        cost: f64,
    ) -> Option<Candidate> {
        let everywhere = vec![true; ground.grid.len()];
        let reach = reachable(ground, &everywhere);
        let free = freeforms(ground, self.appraiser, &everywhere, 1).into_iter();
        let turns = self.counts.turns.min(TURNS_ACROSS);
        let standard = best_standards(ground, self.appraiser, &reach, sizes, turns).into_iter();
        free.take(1)
            .chain(standard.take(1))
            .map(|c| polished(ground, self.appraiser, &reach, c, self.counts.rounds / 2))
            .max_by(|p, q| p.score.total_cmp(&q.score))
            .filter(|c| c.score > cost)
    }

    /// What one more stone costs in work, on average, by the difference between
    /// plans that differ in nothing else.
    fn cost_of_one(&self) -> f64 {
        let empty = Plan {
            kind: PlanKind::Several,
            stones: Vec::new(),
            cuts: Vec::new(),
            stock: NO_STOCK,
            origin: Origin::Found,
        };
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

    fn finished(
        &self,
        plan: Plan,
        choices: &[(&Ground<'_>, Choice)],
    ) -> Result<ValuedPlan, PlanError> {
        let stones = choices
            .iter()
            .map(|(ground, choice)| value_stone(ground, self.appraiser, choice))
            .collect::<Result<Vec<_>, _>>()?;
        let value = plan_value(self.appraiser, &plan, &stones, self.ground.interiors.n)?;
        let why = reasons(&plan, &stones, &value);
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
                origin: Origin::Found,
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
