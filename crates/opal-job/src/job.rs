//! One stone's steps: evidence → stone → interiors → plans → bid.
//!
//! Each step keeps its result until what it rests on changes: a new price book
//! leaves the interiors as they are, a new sighting does not.

use crate::appraise::BookAppraiser;
use crate::ask::Ask;
use crate::error::JobError;
use crate::ports::{Progress, Stage};
use crate::rests_on;
use crate::settings::Settings;
use crate::step::{Kept, Of};
use opal_evidence::{Evidence, Look, Piece, Shape};
use opal_interior::{DrawOptions, Interiors, OriginPrior};
use opal_plan::{PlanError, PlanKind, PlanOptions, ValuedPlan};
use opal_stone::{GridChoice, Stone};
use opal_units::{Draws, Money, Seed};
use opal_value::{Bid, BidLimits, PastTender, PriceUnit, Rivals, Shaded};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// The plans of a stone, with how each would be priced.
#[derive(Clone, Debug, PartialEq)]
pub struct Plans {
    /// The best first.
    pub plans: Vec<ValuedPlan>,
    /// For each plan: by the carat or by the piece; `None` where nothing is cut.
    pub price_by: Vec<Option<PriceUnit>>,
    /// For each plan: how its price comes about, in plain words.
    pub price_why: Vec<Vec<String>>,
    /// For each plan: what its work costs, middle luck, major units.
    pub mean_cost: Vec<f64>,
    /// For each plan: the minutes that its work takes.
    pub minutes: Vec<Draws>,
    /// Why the first stands first, and what would change that.
    pub why: opal_plan::PlanWhy,
    /// What had to be assumed of look and prices, in plain words.
    pub notes: Vec<String>,
}

/// The most to pay, and what it rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct BidAnswer {
    /// The bid.
    pub bid: Bid,
    /// What was asked of it.
    pub limits: BidLimits,
    /// What happens at the asking price, where there is one.
    pub at_asking: Option<Bid>,
    /// How far to stay below it against others, where past tenders tell.
    pub tender: Option<Shaded>,
    /// The family of the plan that it is worked out on.
    pub plan: PlanKind,
    /// How to price what comes of that plan.
    pub price_by: Option<PriceUnit>,
    /// What it rests on, in a sentence.
    pub sentence: String,
    /// What it rests on, strongest first.
    pub rests_on: Vec<String>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

#[derive(Clone, Debug, PartialEq)]
struct StoneInputs {
    piece: Piece,
    shape: Shape,
    /// The sightings count where a scan is turned by them.
    bars: Option<Vec<opal_evidence::BarEvidence>>,
    grid: GridChoice,
}

#[derive(Clone, Debug, PartialEq)]
struct InteriorInputs {
    stone: Of<Stone>,
    bars: Vec<opal_evidence::BarEvidence>,
    exposures: Vec<opal_evidence::Exposure>,
    cracks: Vec<opal_evidence::CrackTrace>,
    step: Option<opal_evidence::Step>,
    torch: Option<opal_evidence::TorchLook>,
    origin: Option<OriginPrior>,
    n: usize,
    seed: Seed,
}

#[derive(Clone, Debug, PartialEq)]
struct PlanInputs {
    interiors: Of<Interiors>,
    look: Look,
    settings: Settings,
    effort: opal_plan::Effort,
    most_stones: usize,
    wishes: opal_plan::Wishes,
}

#[derive(Clone, Debug, PartialEq)]
struct BidInputs {
    plans: Of<Plans>,
    limits: BidLimits,
    tenders: Vec<PastTender>,
    asking: Option<Money>,
}

/// One stone on its way from evidence to bid.
#[derive(Debug)]
pub struct Job {
    evidence: Evidence,
    settings: Settings,
    origin: Option<OriginPrior>,
    ask: Ask,
    stone: Kept<StoneInputs, Stone>,
    interiors: Kept<InteriorInputs, Interiors>,
    plans: Kept<PlanInputs, Plans>,
    bid: Kept<BidInputs, BidAnswer>,
}

impl Job {
    /// A job on one stone's evidence.
    ///
    /// # Errors
    /// What is asked is out of its range.
    pub fn new(evidence: Evidence, settings: Settings, ask: Ask) -> Result<Self, JobError> {
        ask.check()?;
        Ok(Self {
            evidence,
            settings,
            origin: None,
            ask,
            stone: Kept::default(),
            interiors: Kept::default(),
            plans: Kept::default(),
            bid: Kept::default(),
        })
    }

    /// What is known.
    #[must_use]
    pub fn evidence(&self) -> &Evidence {
        &self.evidence
    }

    /// Prices, costs, limits, rules.
    #[must_use]
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// What is asked.
    #[must_use]
    pub fn ask(&self) -> &Ask {
        &self.ask
    }

    /// Puts other evidence in place; steps that do not rest on the difference
    /// keep their results.
    pub fn set_evidence(&mut self, evidence: Evidence) {
        self.evidence = evidence;
    }

    /// Puts other settings in place.
    pub fn set_settings(&mut self, settings: Settings) {
        self.settings = settings;
    }

    /// Puts in place what the cutter's own stones of the same field have taught.
    pub fn set_origin(&mut self, origin: Option<OriginPrior>) {
        self.origin = origin;
    }

    /// Asks something else.
    ///
    /// # Errors
    /// It is out of its range; what was asked before stays.
    pub fn set_ask(&mut self, ask: Ask) -> Result<(), JobError> {
        ask.check()?;
        self.ask = ask;
        Ok(())
    }

    fn stone_inputs(&self) -> StoneInputs {
        let turned_by_the_bar = matches!(
            &self.evidence.shape,
            Shape::Scan(scan) if scan.stone_from_mesh.is_none()
        );
        StoneInputs {
            piece: Piece {
                // The asking price says nothing of the stone.
                asking: None,
                ..self.evidence.piece.clone()
            },
            shape: self.evidence.shape.clone(),
            bars: turned_by_the_bar.then(|| self.evidence.bars.clone()),
            grid: self.ask.grid(),
        }
    }

    fn interior_inputs(&self, stone: &Arc<Stone>) -> InteriorInputs {
        InteriorInputs {
            stone: Of(Arc::clone(stone)),
            bars: self.evidence.bars.clone(),
            exposures: self.evidence.exposures.clone(),
            cracks: self.evidence.cracks.clone(),
            step: self.evidence.step,
            torch: self.evidence.torch,
            origin: self.origin.clone(),
            n: self.ask.n_interiors,
            seed: self.ask.seed,
        }
    }

    fn plan_inputs(&self, interiors: &Arc<Interiors>) -> PlanInputs {
        PlanInputs {
            interiors: Of(Arc::clone(interiors)),
            look: self.evidence.look.clone(),
            settings: Settings {
                // The limits and the tenders only count for the bid.
                limits: BidLimits::default(),
                rules: self.ask.rules(&self.settings.rules),
                tenders: Vec::new(),
                ..self.settings.clone()
            },
            effort: self.ask.effort,
            most_stones: self.ask.most_stones,
            wishes: self.ask.wishes.clone(),
        }
    }

    fn bid_inputs(&self, plans: &Arc<Plans>) -> BidInputs {
        BidInputs {
            plans: Of(Arc::clone(plans)),
            limits: self.settings.limits,
            tenders: self.settings.tenders.clone(),
            asking: self.evidence.piece.asking,
        }
    }

    /// The stages whose result is not there or no longer holds, in order.
    #[must_use]
    pub fn stale(&self) -> Vec<Stage> {
        let stone = self.stone.peek(&self.stone_inputs());
        let interiors = stone
            .as_ref()
            .and_then(|stone| self.interiors.peek(&self.interior_inputs(stone)));
        let plans = interiors
            .as_ref()
            .and_then(|interiors| self.plans.peek(&self.plan_inputs(interiors)));
        let bid = plans
            .as_ref()
            .and_then(|plans| self.bid.peek(&self.bid_inputs(plans)));
        [
            (Stage::Stone, stone.is_none()),
            (Stage::Interiors, interiors.is_none()),
            (Stage::Plans, plans.is_none()),
            (Stage::Bid, bid.is_none()),
        ]
        .into_iter()
        .filter_map(|(stage, stale)| stale.then_some(stage))
        .collect()
    }

    /// The rough as a solid.
    ///
    /// # Errors
    /// The shape cannot be.
    pub fn stone(&mut self, progress: &dyn Progress) -> Result<Arc<Stone>, JobError> {
        let inputs = self.stone_inputs();
        let evidence = &self.evidence;
        let grid = self.ask.grid();
        self.stone.get(inputs, || {
            stop_if_cancelled(progress)?;
            progress.at(Stage::Stone, 0.0);
            let stone = Stone::from_evidence(evidence, grid)?;
            progress.at(Stage::Stone, 1.0);
            Ok(stone)
        })
    }

    /// The possible insides.
    ///
    /// # Errors
    /// As [`Job::stone`]; the sightings cannot be honoured; stopped.
    pub fn interiors(&mut self, progress: &dyn Progress) -> Result<Arc<Interiors>, JobError> {
        let stone = self.stone(progress)?;
        let inputs = self.interior_inputs(&stone);
        let (evidence, origin) = (&self.evidence, self.origin.as_ref());
        let options = DrawOptions {
            n: self.ask.n_interiors,
            seed: self.ask.seed,
        };
        self.interiors.get(inputs, || {
            stop_if_cancelled(progress)?;
            progress.at(Stage::Interiors, 0.0);
            let told = |share| progress.at(Stage::Interiors, share);
            let interiors = match origin {
                Some(origin) => {
                    Interiors::draw_for_origin(evidence, &stone, origin, &options, &told)?
                }
                None => Interiors::draw(evidence, &stone, &options, &told)?,
            };
            stop_if_cancelled(progress)?;
            progress.at(Stage::Interiors, 1.0);
            Ok(interiors)
        })
    }

    /// The ways to cut, the best first.
    ///
    /// # Errors
    /// As [`Job::interiors`]; the price book does not cover the stone; stopped.
    pub fn plans(&mut self, progress: &dyn Progress) -> Result<Arc<Plans>, JobError> {
        let stone = self.stone(progress)?;
        let interiors = self.interiors(progress)?;
        let inputs = self.plan_inputs(&interiors);
        let (evidence, settings, ask) = (&self.evidence, &self.settings, &self.ask);
        self.plans.get(inputs, || {
            stop_if_cancelled(progress)?;
            progress.at(Stage::Plans, 0.0);
            let plans = make_plans(evidence, settings, ask, &stone, &interiors, progress)?;
            progress.at(Stage::Plans, 1.0);
            Ok(plans)
        })
    }

    /// The most to pay.
    ///
    /// # Errors
    /// As [`Job::plans`]; a limit out of its range; an asking price in another
    /// currency.
    pub fn bid(&mut self, progress: &dyn Progress) -> Result<Arc<BidAnswer>, JobError> {
        let interiors = self.interiors(progress)?;
        let plans = self.plans(progress)?;
        let inputs = self.bid_inputs(&plans);
        let (evidence, settings) = (&self.evidence, &self.settings);
        self.bid.get(inputs, || {
            stop_if_cancelled(progress)?;
            progress.at(Stage::Bid, 0.0);
            let answer = make_bid(evidence, settings, &interiors, &plans)?;
            progress.at(Stage::Bid, 1.0);
            Ok(answer)
        })
    }

    /// What would happen at a price of the cutter's own choice.
    ///
    /// # Errors
    /// As [`Job::bid`]; the price is in another currency.
    pub fn at_price(&mut self, price: Money, progress: &dyn Progress) -> Result<Bid, JobError> {
        let plans = self.plans(progress)?;
        price_of_own_choice(&plans, &self.settings, price)
    }
}

fn stop_if_cancelled(progress: &dyn Progress) -> Result<(), JobError> {
    if progress.cancelled() {
        Err(JobError::Cancelled)
    } else {
        Ok(())
    }
}

fn make_plans(
    evidence: &Evidence,
    settings: &Settings,
    ask: &Ask,
    stone: &Stone,
    interiors: &Interiors,
    progress: &dyn Progress,
) -> Result<Plans, JobError> {
    let appraiser = BookAppraiser::new(evidence, stone, settings, interiors.n, ask.seed)?;
    let cancel = AtomicBool::new(false);
    let told = |at: opal_plan::Progress| {
        progress.at(Stage::Plans, at.done);
        if progress.cancelled() {
            cancel.store(true, Ordering::Relaxed);
        }
    };
    let options = PlanOptions {
        seed: Some(ask.seed),
        effort: ask.effort,
        sizes: settings.sizes.clone(),
        most_stones: ask.most_stones,
        wishes: ask.wishes.clone(),
        only_wishes: false,
        kept_back: 0,
        progress: Some(&told),
        cancel: Some(&cancel),
    };
    let rules = ask.rules(&settings.rules);
    let made = opal_plan::plan(stone, interiors, &appraiser, &rules, &options);
    // The planner ends early with the best so far; an answer that was stopped
    // is not kept, so that the same question always has the same answer.
    if cancel.load(Ordering::Relaxed) {
        return Err(JobError::Cancelled);
    }
    let plans = made.map_err(|error| match error {
        PlanError::Cancelled => JobError::Cancelled,
        other => other.into(),
    })?;
    let mut price_by = Vec::with_capacity(plans.len());
    let mut price_why = Vec::with_capacity(plans.len());
    let mut mean_cost = Vec::with_capacity(plans.len());
    let mut minutes = Vec::with_capacity(plans.len());
    for valued in &plans {
        let priced = match (valued.plan.stones.first(), valued.stones.first()) {
            (Some(cut), Some(forecast)) => Some(appraiser.priced(cut, forecast)?),
            _ => None,
        };
        price_by.push(priced.as_ref().map(|priced| priced.unit));
        price_why.push(priced.map(|priced| priced.why).unwrap_or_default());
        mean_cost.push(appraiser.middle_cost(&valued.plan));
        minutes.push(appraiser.minutes(&valued.plan)?);
    }
    Ok(Plans {
        why: opal_plan::why(stone, interiors, &plans),
        plans,
        price_by,
        price_why,
        mean_cost,
        minutes,
        notes: appraiser.notes().to_vec(),
    })
}

fn make_bid(
    evidence: &Evidence,
    settings: &Settings,
    interiors: &Interiors,
    plans: &Plans,
) -> Result<BidAnswer, JobError> {
    let limits = settings.limits;
    let (chosen, bid) = best_for_the_bid(plans, settings)?;
    let best = &plans.plans[chosen];
    let at_asking = evidence
        .piece
        .asking
        .map(|asking| price_of_own_choice(plans, settings, asking))
        .transpose()?;
    let price_by = plans.price_by.get(chosen).copied().flatten();
    let mut warnings = interiors.warnings.clone();
    if chosen != 0 {
        warnings.push(rests_on::SAFER_PLAN.to_owned());
    }
    if settings.prices_invented() {
        warnings.push(rests_on::INVENTED_PRICES.to_owned());
    }
    Ok(BidAnswer {
        limits,
        at_asking,
        tender: against_others(&settings.tenders, bid.price)?,
        plan: best.plan.kind,
        price_by,
        sentence: rests_on::sentence(evidence, settings, interiors, best, &bid),
        rests_on: rests_on::list(settings, interiors, plans),
        warnings,
        bid,
    })
}

/// How far to stay below a price against others; nothing without past tenders,
/// or where nothing is bid.
fn against_others(tenders: &[PastTender], price: Money) -> Result<Option<Shaded>, JobError> {
    if tenders.is_empty() || price.minor() <= 0 {
        return Ok(None);
    }
    Ok(Some(Rivals::learn(tenders)?.shade(price.major())))
}

/// The plan that allows the highest price within the limits, and that price; the
/// plan with the best mean where none allows more. A safe plan with a smaller
/// mean may carry a higher price than a bold one whose losses bind.
fn best_for_the_bid(plans: &Plans, settings: &Settings) -> Result<(usize, Bid), JobError> {
    let mut best: Option<(usize, Bid)> = None;
    for (k, valued) in plans.plans.iter().enumerate() {
        let bid = opal_value::bid(
            &valued.value.adapting,
            &settings.limits,
            settings.currency(),
        )?;
        if best
            .as_ref()
            .is_none_or(|(_, so_far)| bid.price.minor() > so_far.price.minor())
        {
            best = Some((k, bid));
        }
    }
    best.ok_or(JobError::from(PlanError::NoInteriors))
}

fn price_of_own_choice(plans: &Plans, settings: &Settings, price: Money) -> Result<Bid, JobError> {
    let (chosen, _) = best_for_the_bid(plans, settings)?;
    let best = &plans.plans[chosen];
    // Adding nothing in the book's currency refuses a price in another one.
    let nothing = Money::from_minor(0, settings.currency());
    let price = price.plus(nothing)?;
    Ok(opal_value::at_price(
        &best.value.adapting,
        &settings.limits,
        price,
    )?)
}
