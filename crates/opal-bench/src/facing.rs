//! Another tenth, or stop? Facing as optimal stopping.

use crate::face::{Face, quantile};
use crate::rule::{Rule, cross_fitted};
use crate::under::{Shaped, Visible};
use crate::walk::{Depths, Walks, finished};
use opal_decide::FitError;
use opal_interior::Interiors;
use opal_plan::{Appraiser, BenchRules, CutStone};
use opal_stone::{Spot, Stone};
use opal_units::{Draws, Length, Seed};
use rayon::prelude::*;
use thiserror::Error;

/// What is asked.
#[derive(Clone, Copy)]
pub struct FacingAsk<'a> {
    /// The stone as it is now.
    pub stone: &'a Stone,
    /// Its possible insides, given all that was seen.
    pub interiors: &'a Interiors,
    /// The stone that is being cut.
    pub cut: &'a CutStone,
    /// What the bench can do.
    pub rules: &'a BenchRules,
    /// Prices a stone.
    pub appraiser: &'a dyn Appraiser,
    /// How deep the damage of the wheel reaches that takes the face down: what
    /// the finer wheels still take off below the place where it stops.
    pub damage: Length,
    /// What taking one millimetre off the whole face costs in time, major units.
    pub cost_per_mm: f64,
    /// What the breakage luck starts from: the planner's seed gives its luck.
    pub seed: Seed,
}

/// Why there is no advice.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum FacingError {
    /// The outline holds no node of the stone's grid.
    #[error("the outline holds no node of the stone's grid of {cell_mm} mm")]
    NoNodes {
        /// Distance between nodes.
        cell_mm: f64,
    },
    /// The bar that the face is to show is in none of the insides.
    #[error("the bar under the face is there in none of {n} possible insides")]
    NoBar {
        /// How many.
        n: usize,
    },
    /// The worths could not be fitted.
    #[error("the appraiser's worths cannot be used: {0}")]
    Worth(#[from] FitError),
}

/// What a face at one depth brings.
#[derive(Clone, Debug, PartialEq)]
pub struct FacingStep {
    /// Below the face as it stands.
    pub depth: Length,
    /// What stopping here brings, after the time it took, major units.
    pub worth: Draws,
    /// Share of the face on which potch still lies, on average.
    pub covered: f64,
    /// Share of the face that shows colour, on average.
    pub colour: f64,
    /// The chance of having gone through the bar somewhere (see [`THROUGH_SHARE`]).
    pub through: f64,
}

/// Gone through: the bar is gone on more than this share of the face. Chosen:
/// a fiftieth is a spot that nobody overlooks.
pub const THROUGH_SHARE: f64 = 0.02;

/// A face from here down, and the rule that stops it.
#[derive(Clone, Debug, PartialEq)]
pub struct Facing {
    /// Depth by depth, from the first at which anything can show.
    pub steps: Vec<FacingStep>,
    /// What can come off before anything can show in 99 of 100 insides.
    pub blind: Length,
    /// What stopping now brings.
    pub stop_now: Draws,
    /// What following the rule brings, in every inside.
    pub advised: Draws,
    /// Where the rule stops, below the face as it stands, mm.
    pub stop_depth_mm: Draws,
    /// In each inside, whether the bar was gone through somewhere where the rule stopped.
    pub advised_through: Vec<bool>,
    /// What the best fixed depth brings, and which it is.
    pub best_fixed: (Length, Draws),
    /// What would be had if one could see inside: the best depth of every inside.
    pub seen_inside: Draws,
}

fn draws(values: Vec<f64>) -> Result<Draws, FitError> {
    Draws::new(values).map_err(|_| FitError::Empty)
}

fn face_of<'a>(ask: &FacingAsk<'a>) -> Result<Face<'a>, FacingError> {
    let cell_mm = ask.stone.grid.cell_mm;
    Face::new(ask.stone, ask.interiors, ask.rules, ask.cut, ask.seed)
        .ok_or(FacingError::NoNodes { cell_mm })
}

/// What the rule brings on these walks, learnt on one half and valued on the other.
fn advised(walks: &Walks) -> Result<Draws, FitError> {
    let stopped = cross_fitted(walks)?;
    let at = |(i, step): (usize, &usize)| walks.stop[i * walks.n_steps + step];
    draws(stopped.iter().enumerate().map(at).collect())
}

/// What keeping the piece whole brings; `None` where no inside holds the bar.
///
/// # Errors
/// An outline without a node, or a worth that is no number.
pub(crate) fn kept_whole(ask: &FacingAsk<'_>) -> Result<Option<Draws>, FacingError> {
    let face = face_of(ask)?;
    let n = ask.interiors.n;
    if (0..n).all(|i| face.bar_lifts_mm(i).is_none()) {
        return Ok(None);
    }
    let (least, most) = ask.rules.specimen_backing;
    let backing_mm = 0.5 * (least + most) * face.area_mm2.sqrt();
    let worth = |i: usize| {
        let drawn = face.under(i).stone(Shaped::Whole { backing_mm });
        ask.appraiser.worth(ask.cut, 0, &drawn, i)
    };
    Ok(Some(draws((0..n).into_par_iter().map(worth).collect())?))
}

/// A face walked down, ready for questions.
pub struct FacingWalk<'a> {
    ask: FacingAsk<'a>,
    face: Face<'a>,
    depths: Depths,
    walks: Walks,
}

impl<'a> FacingWalk<'a> {
    /// Walks every inside down, step by step.
    ///
    /// # Validity
    /// The dome keeps its shape and tilt on its way down; what the face shows
    /// depends on the interiors alone.
    /// # Errors
    /// An outline without a node, or no bar in any inside.
    pub fn new(ask: FacingAsk<'a>) -> Result<Self, FacingError> {
        let face = face_of(&ask)?;
        let n = ask.interiors.n;
        let depths = Depths::of(&face).ok_or(FacingError::NoBar { n })?;
        let walks = Walks::down(&face, &ask, &depths);
        Ok(Self {
            ask,
            face,
            depths,
            walks,
        })
    }

    /// The curve and the rule.
    ///
    /// # Method
    /// Least-squares Monte Carlo over the interiors, features only of what shows
    /// at that depth, learnt on one half of the insides and valued on the other.
    /// # Errors
    /// A worth that is no number.
    pub fn facing(&self) -> Result<Facing, FacingError> {
        let walks = &self.walks;
        let (n, m) = (walks.n(), walks.n_steps);
        let mean = |step: usize, f: &dyn Fn(&Visible) -> f64| {
            (0..n).map(|i| f(&walks.seen[i * m + step])).sum::<f64>() / n as f64
        };
        let mut steps = Vec::with_capacity(m);
        for step in 0..m {
            steps.push(FacingStep {
                depth: self.depth(step),
                worth: draws(walks.worths(step))?,
                covered: mean(step, &|s| s.covered),
                colour: mean(step, &|s| s.colour),
                through: mean(step, &|s| f64::from(u8::from(s.through > THROUGH_SHARE))),
            });
        }
        let stopped = cross_fitted(walks)?;
        let at = |i: usize, step: usize| walks.stop[i * m + step];
        let best = (0..m)
            .max_by(|&a, &b| {
                let of = |k: usize| steps[k].worth.mean();
                of(a).total_cmp(&of(b)).then(b.cmp(&a))
            })
            .unwrap_or(0);
        let best_fixed = (steps[best].depth, steps[best].worth.clone());
        Ok(Facing {
            blind: steps[0].depth,
            stop_now: self.stop_now(&self.ask)?,
            advised: draws((0..n).map(|i| at(i, stopped[i])).collect())?,
            stop_depth_mm: draws(stopped.iter().map(|&s| self.depth(s).mm()).collect())?,
            advised_through: (0..n)
                .map(|i| walks.seen[i * m + stopped[i]].through > THROUGH_SHARE)
                .collect(),
            seen_inside: draws(
                (0..n)
                    .map(|i| (0..m).map(|s| at(i, s)).fold(f64::NEG_INFINITY, f64::max))
                    .collect(),
            )?,
            best_fixed,
            steps,
        })
    }

    fn depth(&self, step: usize) -> Length {
        Length::from_mm(self.depths.down_mm(self.depths.lifts_mm[step]))
    }

    /// What stopping with the face as it stands brings.
    fn stop_now(&self, ask: &FacingAsk<'_>) -> Result<Draws, FitError> {
        let lift = self.depths.standing_mm;
        let worth = |i: usize| finished(&mut self.face.under(i), ask, i, lift, None);
        draws((0..self.walks.n()).into_par_iter().map(worth).collect())
    }

    /// What it brings to take at least this much off and follow the rule from
    /// there; `None` beyond the last step.
    ///
    /// # Errors
    /// A worth that is no number.
    pub fn going_on(&self, depth: Length) -> Result<Option<Draws>, FacingError> {
        let first = (0..self.walks.n_steps).find(|&k| self.depth(k).mm() >= depth.mm() - 1e-9);
        let Some(first) = first else {
            return Ok(None);
        };
        if first + 1 >= self.walks.n_steps {
            return Ok(Some(draws(self.walks.worths(first))?));
        }
        Ok(Some(advised(&self.walks.later(first))?))
    }

    /// A speck on the face as it stands: dug out alone, or the whole face
    /// lowered until it is out. `None` where no inside holds it there.
    ///
    /// # Method
    /// In every inside the dish is as deep as that inside's speck and seven
    /// times as wide, so that it can be blended in (chosen: a slope of 0.3 at
    /// the rim is hardly seen on a dome).
    /// # Errors
    /// A worth that is no number.
    pub fn relief(&self, at_mm: [f64; 2]) -> Result<Option<Relief>, FacingError> {
        let lift = self.depths.standing_mm;
        let n = self.walks.n();
        let digs: Vec<Option<f64>> = (0..n).map(|i| self.face.dig_mm(i, at_mm, lift)).collect();
        let mut found: Vec<f64> = digs.iter().flatten().copied().collect();
        let Some(deepest) = quantile(&mut found, 0.5) else {
            return Ok(None);
        };
        let spot = |dig: f64| Spot {
            at_mm,
            radius: Length::from_mm((7.0 * dig).max(LEAST_DISH_MM)),
        };
        let (local, whole): (Vec<f64>, Vec<f64>) = digs
            .par_iter()
            .enumerate()
            .map(|(i, dig)| {
                let dig = dig.unwrap_or(deepest);
                let spot = spot(dig);
                let area = std::f64::consts::PI * spot.radius.mm() * spot.radius.mm() / 2.0;
                let share = (area / self.face.area_mm2).min(1.0);
                let cost = self.ask.cost_per_mm * dig;
                let mut under = self.face.under(i);
                (
                    finished(&mut under, &self.ask, i, lift, Some((&spot, dig))) - cost * share,
                    finished(&mut under, &self.ask, i, lift - dig, None) - cost,
                )
            })
            .unzip();
        let depths = digs.iter().map(|d| d.unwrap_or(deepest)).collect();
        Ok(Some(Relief {
            at_mm,
            radius: spot(deepest).radius,
            depth_mm: draws(depths)?,
            local: draws(local)?,
            whole: draws(whole)?,
        }))
    }

    /// What stopping now and following the rule bring with another wheel, whose
    /// damage and cost these are.
    pub(crate) fn with_wheel(
        &self,
        damage: Length,
        cost_per_mm: f64,
    ) -> Result<[Draws; 2], FacingError> {
        let ask = FacingAsk {
            damage,
            cost_per_mm,
            ..self.ask
        };
        let walks = self.walks.again(&self.face, &ask, &self.depths);
        Ok([self.stop_now(&ask)?, advised(&walks)?])
    }

    /// The rule followed on another inside of the same stone, given alone: what
    /// the advice, three fixed rules and knowing bring there.
    ///
    /// # Errors
    /// A worth that is no number, or another grid.
    pub fn on_truth(&self, truth: &Interiors) -> Result<OnTruth, FacingError> {
        let ask = FacingAsk {
            interiors: truth,
            ..self.ask
        };
        let face = face_of(&ask)?;
        let walks = Walks::down(&face, &ask, &self.depths);
        let all: Vec<usize> = (0..self.walks.n()).collect();
        let rule = Rule::fit(&self.walks, &all)?;
        let step = rule.steps(&walks, &[0])[0];
        let last = walks.n_steps - 1;
        let first = |meets: &dyn Fn(&Visible) -> bool| {
            (0..=last).find(|&k| meets(&walks.seen[k])).unwrap_or(last)
        };
        let shows = first(&|s| s.colour >= 0.5);
        let full = first(&|s| s.covered <= 0.02 && s.colour > 0.0);
        let clean = first(&|s| {
            (s.covered <= 0.02 && s.colour > 0.0 && s.specks <= 0.001) || s.through > THROUGH_SHARE
        });
        Ok(OnTruth {
            advice: walks.stop[step],
            rules: [walks.stop[shows], walks.stop[full], walks.stop[clean]],
            knowing: walks.stop.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            through: walks.seen[step].through > THROUGH_SHARE,
        })
    }
}

/// The least radius of a dish, mm. Chosen: the crown of a small wheel.
const LEAST_DISH_MM: f64 = 2.0;

/// One speck dug out, or the whole face lowered.
#[derive(Clone, Debug, PartialEq)]
pub struct Relief {
    /// Where the speck is.
    pub at_mm: [f64; 2],
    /// How wide the dish gets, in the middle.
    pub radius: Length,
    /// How deep it goes, mm.
    pub depth_mm: Draws,
    /// What digging it out alone brings.
    pub local: Draws,
    /// What lowering the whole face brings.
    pub whole: Draws,
}

/// What ways to stop bring on one inside that they did not know.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnTruth {
    /// The advice.
    pub advice: f64,
    /// Fixed rules: stop when half the face shows colour; when no potch lies on
    /// it; when no speck shows either, or the bar is gone through.
    pub rules: [f64; 3],
    /// The best depth of all.
    pub knowing: f64,
    /// The advice went through the bar.
    pub through: bool,
}
