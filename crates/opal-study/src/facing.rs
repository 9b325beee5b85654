//! What the advice to go on or to stop is worth: invented stones with known
//! insides, faced by the advice, by fixed rules, and by one who sees inside.

use crate::invented::{InventedStone, invented_stone};
use crate::study::{Going, StudyError, go_on};
use crate::true_inside::true_inside;
use opal_bench::{FacingAsk, FacingWalk};
use opal_evidence::{Evidence, Form};
use opal_interior::{CrackDraws, DrawOptions, Interiors};
use opal_plan::{
    Appraiser, BenchRules, CutStone, Effort, Plan, PlanKind, PlanOptions, StoneDraw, plan,
};
use opal_testkit::{Departing, Looking, look_over};
use opal_units::{Length, Seed};
use rand::RngExt as _;

/// What to run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FacingOptions {
    /// Stones.
    pub stones: usize,
    /// Possible insides that the advice is learnt on.
    pub interiors: usize,
    /// The law of the truth.
    pub law: Departing,
    /// Where it all starts from.
    pub seed: Seed,
}

impl Default for FacingOptions {
    fn default() -> Self {
        Self {
            stones: 200,
            interiors: 240,
            law: Departing::Not,
            seed: Seed(2024),
        }
    }
}

/// The ways to stop, in the order of [`FacingReport::means`].
pub const WAYS: [&str; 5] = [
    "the advice",
    "stop when half the face shows colour",
    "stop when no potch lies on the face",
    "chase every speck",
    "seeing inside",
];

/// How the ways to stop did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FacingReport {
    /// For each stone: what each way brought, invented money.
    pub stones: Vec<[f64; 5]>,
    /// For each stone: what the advice was forecast to bring.
    pub forecast: Vec<f64>,
    /// Stones on which the advice ended with the bar gone through somewhere.
    pub through: usize,
    /// Stones that were left out: nothing could be cut, or no bar was seen.
    pub left_out: usize,
}

/// An invented market: carats, paid by how clean the face is and by how thick
/// the colour is up to 0.8 mm; nothing for a broken stone.
struct InventedMarket;

impl Appraiser for InventedMarket {
    fn worth(&self, _: &CutStone, _: usize, draw: &StoneDraw, _: usize) -> f64 {
        if !draw.whole {
            return 0.0;
        }
        let bright = (draw.mean_colour.mm() / 0.8).min(1.0);
        30.0 * draw.weight.carats() * draw.clean_share * draw.clean_share * bright
    }

    fn cost(&self, _: &Plan, _: usize) -> f64 {
        0.0
    }

    fn as_it_is(&self, _: usize) -> f64 {
        0.0
    }
}

/// Faces invented stones by every way to stop.
///
/// # Errors
/// A stone that could not be forecast, planned or valued; or it was stopped.
pub fn facing(options: &FacingOptions, going: &Going<'_>) -> Result<FacingReport, StudyError> {
    let mut report = FacingReport::default();
    let forms = [Form::Seam, Form::Nobby];
    for k in 0..options.stones {
        go_on(going, k as f64 / options.stones as f64)?;
        let seed = options.seed.child("facing", k as u64);
        let invented = invented_stone(forms[k % forms.len()], options.law, &[], seed);
        match one(&invented, options, seed)? {
            Some((ways, forecast, through)) => {
                report.stones.push(ways);
                report.forecast.push(forecast);
                report.through += usize::from(through);
            }
            None => report.left_out += 1,
        }
    }
    Ok(report)
}

type Outcome = ([f64; 5], f64, bool);

fn one(
    invented: &InventedStone,
    options: &FacingOptions,
    seed: Seed,
) -> Result<Option<Outcome>, StudyError> {
    let mut rng = seed.stream("looking", 0);
    let looking = Looking {
        edge_places: rng.random_range(8..=20),
        windows: rng.random_range(1..=3),
        sigma_mm: 0.1,
    };
    let stone = &invented.stone;
    let bar = look_over(stone, &invented.bar, looking, seed);
    if bar.sightings.is_empty() {
        return Ok(None);
    }
    let evidence = Evidence {
        bars: vec![bar],
        ..invented.evidence.clone()
    };
    let drawing = DrawOptions {
        n: options.interiors,
        seed: seed.child("interiors", 0),
    };
    let interiors = Interiors::draw(&evidence, stone, &drawing, &|_| {})?;
    let rules = BenchRules::default();
    let planning = PlanOptions {
        seed: Some(seed),
        effort: Effort::Quick,
        most_stones: 1,
        ..PlanOptions::default()
    };
    let plans = plan(stone, &interiors, &InventedMarket, &rules, &planning)?;
    let cut = plans
        .iter()
        .find(|valued| matches!(valued.plan.kind, PlanKind::Freeform | PlanKind::Standard))
        .and_then(|valued| valued.plan.stones.first());
    let Some(cut) = cut else {
        return Ok(None);
    };
    let walk = FacingWalk::new(FacingAsk {
        stone,
        interiors: &interiors,
        cut,
        rules: &rules,
        appraiser: &InventedMarket,
        damage: Length::from_mm(0.05),
        cost_per_mm: 5.0,
        seed,
    })?;
    let facing = walk.facing()?;
    let mut truth = true_inside(invented, &evidence, seed)?;
    truth.cracks = CrackDraws {
        starts: vec![0, 0],
        cracks: Vec::new(),
    };
    let on = walk.on_truth(&truth)?;
    let [half, full, clean] = on.rules;
    Ok(Some((
        [on.advice, half, full, clean, on.knowing],
        facing.advised.mean(),
        on.through,
    )))
}
