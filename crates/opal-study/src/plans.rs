//! What the advice where to cut is worth: invented stones with known insides are
//! planned, beside three plain rules, and cut as they truly are.

use crate::invented::{InventedStone, invented_stone};
use crate::plain_rules::MeanBar;
use crate::study::{Going, StudyError, go_on};
use crate::true_inside::{true_inside, truth_first};
use opal_evidence::{Brightness, Evidence, Faults, Form, Look, Variety};
use opal_files::{example_prices, read_prices};
use opal_interior::{DrawOptions, Interiors};
use opal_job::{BookAppraiser, Settings};
use opal_plan::{
    BenchRules, Effort, Origin, PinnedOutline, PlanError, PlanKind, PlanOptions, ValuedPlan,
    Wishes, plan,
};
use opal_testkit::{Departing, Looking, look_over};
use opal_units::Seed;
use rand::RngExt as _;
use rayon::prelude::*;
use std::cmp::Ordering;

/// What to run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlansOptions {
    /// Stones, shared evenly among the forms.
    pub stones: usize,
    /// Possible insides that each stone is planned on; as many are kept aside.
    pub interiors: usize,
    /// Most stones in one plan.
    pub most_stones: usize,
    /// How hard to look.
    pub effort: Effort,
    /// Look several times as hard too, to tell what that would have found.
    pub longer: bool,
    /// The law of the truth.
    pub law: Departing,
    /// Where it all starts from.
    pub seed: Seed,
}

impl Default for PlansOptions {
    fn default() -> Self {
        Self {
            stones: 200,
            interiors: 300,
            most_stones: 4,
            effort: Effort::Settled,
            longer: false,
            law: Departing::Not,
            seed: Seed(2024),
        }
    }
}

/// Ways to choose what to cut, in the order of [`PlannedStone::brought`].
pub const CHOICES: [&str; 4] = [
    "the best plan found",
    "biggest oval in the mean bar",
    "keep whole",
    "biggest inscribed freeform",
];

/// One stone: invented money, net of the work.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedStone {
    /// Its form.
    pub form: Form,
    /// What each choice brought when the face was opened and the cutter adapted.
    pub brought: [f64; 4],
    /// What it brought when cut as laid out, whatever was seen.
    pub brought_unrevised: [f64; 4],
    /// What the best plan found was forecast to bring.
    pub forecast: Forecast,
    /// The same of the best plan that looking several times as hard found, where that
    /// was asked.
    pub longer: Option<Forecast>,
    /// The best plan known to one who sees the inside: of those made on it, and of
    /// every way that was looked at without seeing.
    pub best: f64,
}

/// What the best plan found was forecast to bring on one stone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    /// Mean over the insides that it was sought and chosen on.
    pub mean: f64,
    /// Mean over as many others, from which nothing was learnt: choosing the best of
    /// many flatters the first mean, not this one.
    pub aside: f64,
    /// Share of all those insides in which it brings less than it brought; those in
    /// which it brings the same count half.
    pub rank: f64,
}

/// How the choices did.
#[derive(Clone, Debug, PartialEq)]
pub struct PlansReport {
    /// What was run.
    pub options: PlansOptions,
    /// The stones.
    pub stones: Vec<PlannedStone>,
    /// Stones that were left out: no bar was seen on them.
    pub left_out: usize,
}

const FORMS: [Form; 4] = [Form::Seam, Form::Nobby, Form::Boulder, Form::Pipe];

/// Plans invented stones and cuts them as they truly are.
///
/// Prices are the example price book's: invented money.
///
/// # Errors
/// A stone that could not be forecast, priced or planned; or it was stopped.
pub fn plans(options: &PlansOptions, going: &Going<'_>) -> Result<PlansReport, StudyError> {
    // Blocks, so that few stones are half done at a time.
    const BLOCK: usize = 8;
    let settings = settings()?;
    let mut report = PlansReport {
        options: *options,
        stones: Vec::new(),
        left_out: 0,
    };
    for first in (0..options.stones).step_by(BLOCK) {
        let end = (first + BLOCK).min(options.stones);
        let block: Vec<_> = (first..end)
            .into_par_iter()
            .map(|k| {
                // Stopping waits for the stones at hand, not for the block.
                go_on(going, first as f64 / options.stones as f64)?;
                one_stone(options, &settings, k)
            })
            .collect::<Result<_, StudyError>>()?;
        report.left_out += block.iter().filter(|stone| stone.is_none()).count();
        report.stones.extend(block.into_iter().flatten());
    }
    Ok(report)
}

fn settings() -> Result<Settings, Faults> {
    let prices = read_prices("example", example_prices().as_bytes())?;
    let rules = BenchRules::default();
    Ok(Settings::new(
        prices.book,
        prices.costs,
        prices.limits,
        rules,
    ))
}

/// Stone `k`: drawn, looked at, planned and cut; `None` where no bar was seen.
fn one_stone(
    options: &PlansOptions,
    settings: &Settings,
    k: usize,
) -> Result<Option<PlannedStone>, StudyError> {
    let form = FORMS[k % FORMS.len()];
    let seed = options.seed.child("plans", k as u64);
    let invented = invented_stone(form, options.law, &[], seed);
    let Some(evidence) = looked_over(&invented, seed) else {
        return Ok(None);
    };
    let drawing = DrawOptions {
        n: 2 * options.interiors,
        seed: seed.child("interiors", 0),
    };
    let drawn = Interiors::draw(&evidence, &invented.stone, &drawing, &|_| {})?;
    let truth = true_inside(&invented, &evidence, seed)?;
    let trial = Trial {
        options,
        settings,
        invented: &invented,
        evidence: &evidence,
        seed,
    };
    trial.run(form, &drawn, &truth).map(Some)
}

/// As a cutter with a torch would: the edge here and there, a window or none; how
/// bright it is stands settled, so that luck with the look does not drown what the
/// layout brings.
fn looked_over(invented: &InventedStone, seed: Seed) -> Option<Evidence> {
    let mut rng = seed.stream("looking", 0);
    let looking = Looking {
        edge_places: rng.random_range(6..=20),
        windows: rng.random_range(0..=2),
        sigma_mm: 0.1 + 0.1 * rng.random::<f64>(),
    };
    let bar = look_over(&invented.stone, &invented.bar, looking, seed);
    (!bar.sightings.is_empty()).then(|| Evidence {
        bars: vec![bar],
        look: Look {
            variety: Some(Variety::Light),
            brightness: vec![Brightness::Bright],
            ..Look::default()
        },
        ..invented.evidence.clone()
    })
}

struct Trial<'a> {
    options: &'a PlansOptions,
    settings: &'a Settings,
    invented: &'a InventedStone,
    evidence: &'a Evidence,
    seed: Seed,
}

impl Trial<'_> {
    fn run(
        &self,
        form: Form,
        drawn: &Interiors,
        truth: &Interiors,
    ) -> Result<PlannedStone, StudyError> {
        let all = truth_first(truth, drawn);
        let stone = &self.invented.stone;
        let kept_back = 1 + self.options.interiors;
        let effort = self.options.effort;
        let found = self.planned(&all, kept_back, Wishes::default(), effort)?;
        let chosen = best_forecast(&found, kept_back)?;
        let longer = if self.options.longer {
            let found = self.planned(&all, kept_back, Wishes::default(), Effort::Thorough)?;
            Some(Forecast::of(best_forecast(&found, kept_back)?, kept_back))
        } else {
            None
        };
        let whole = found
            .iter()
            .find(|p| p.plan.kind == PlanKind::Specimen)
            .unwrap_or(chosen);
        let mean_bar = MeanBar::new(stone, drawn, &self.settings.rules);
        let oval = self.pinned(&all, kept_back, mean_bar.biggest_oval(&self.settings.sizes))?;
        let freeform = self.pinned(&all, kept_back, mean_bar.biggest_freeform())?;
        // Where nothing fits the mean bar, the piece is kept whole; kept whole is
        // kept, whatever is seen.
        let adapting = |p: &ValuedPlan| p.value.adapting.values()[0];
        let fixed = |p: &ValuedPlan| p.value.fixed.values()[0];
        let or_whole = |rule: &Option<ValuedPlan>, of: &dyn Fn(&ValuedPlan) -> f64| {
            rule.as_ref().map_or(fixed(whole), of)
        };
        let by = |of: &dyn Fn(&ValuedPlan) -> f64| {
            [
                of(chosen),
                or_whole(&oval, of),
                fixed(whole),
                or_whole(&freeform, of),
            ]
        };
        let seeing = self.planned(truth, 0, Wishes::default(), effort)?;
        let best = seeing
            .iter()
            .chain(&found)
            .chain(&oval)
            .chain(&freeform)
            .map(|p| p.value.seen_inside.values()[0])
            .fold(f64::NEG_INFINITY, f64::max);
        Ok(PlannedStone {
            form,
            brought: by(&adapting),
            brought_unrevised: by(&fixed),
            forecast: Forecast::of(chosen, kept_back),
            longer,
            best,
        })
    }

    fn planned(
        &self,
        interiors: &Interiors,
        kept_back: usize,
        wishes: Wishes,
        effort: Effort,
    ) -> Result<Vec<ValuedPlan>, StudyError> {
        let stone = &self.invented.stone;
        let appraiser =
            BookAppraiser::new(self.evidence, stone, self.settings, interiors.n, self.seed)?;
        let options = PlanOptions {
            seed: Some(self.seed),
            effort,
            sizes: self.settings.sizes.clone(),
            most_stones: self.options.most_stones,
            only_wishes: !wishes.is_empty(),
            wishes,
            kept_back,
            ..PlanOptions::default()
        };
        Ok(plan(
            stone,
            interiors,
            &appraiser,
            &self.settings.rules,
            &options,
        )?)
    }

    /// The plan of an outline as a rule drew it; `None` where there is none, or no
    /// dome can be laid under it.
    fn pinned(
        &self,
        all: &Interiors,
        kept_back: usize,
        outline: Option<PinnedOutline>,
    ) -> Result<Option<ValuedPlan>, StudyError> {
        let Some(outline) = outline else {
            return Ok(None);
        };
        let wishes = Wishes {
            pinned: vec![outline],
            ..Wishes::default()
        };
        match self.planned(all, kept_back, wishes, self.options.effort) {
            Ok(plans) => Ok(plans.into_iter().find(|p| p.plan.origin == Origin::Pinned)),
            Err(StudyError::Plan(PlanError::NothingUnderOutline { .. })) => Ok(None),
            Err(error) => Err(error),
        }
    }
}

/// The plan of the best mean over the insides that it was sought on.
fn best_forecast(plans: &[ValuedPlan], kept_back: usize) -> Result<&ValuedPlan, PlanError> {
    let mean = |p: &ValuedPlan| Forecast::of(p, kept_back).mean;
    plans
        .iter()
        .max_by(|p, q| mean(p).total_cmp(&mean(q)))
        .ok_or(PlanError::Cancelled)
}

impl Forecast {
    /// From the worth of a plan on the true inside, those kept aside, and its own.
    fn of(valued: &ValuedPlan, kept_back: usize) -> Self {
        let worth = valued.value.adapting.values();
        let (brought, own) = (worth[0], &worth[kept_back..]);
        let mean = |draws: &[f64]| draws.iter().sum::<f64>() / draws.len().max(1) as f64;
        let below = |w: &f64| match w.total_cmp(&brought) {
            Ordering::Less => 1.0,
            Ordering::Equal => 0.5,
            Ordering::Greater => 0.0,
        };
        Self {
            mean: mean(own),
            aside: mean(&worth[1..kept_back]),
            rank: worth[1..].iter().map(below).sum::<f64>() / (worth.len() - 1) as f64,
        }
    }
}
