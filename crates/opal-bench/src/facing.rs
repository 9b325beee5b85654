//! Another tenth, or stop? Facing as optimal stopping.

use crate::face::{Face, Shaped, Visible, quantile};
use opal_decide::{Fit, FitError, StoppingPolicy, StoppingProblem};
use opal_interior::Interiors;
use opal_plan::{Appraiser, BenchRules, CutStone};
use opal_stone::{Spot, Stone};
use opal_units::{Draws, Length, Seed};
use rand::RngExt as _;
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

/// Step of depth, mm. Chosen: what callipers tell apart.
const STEP_MM: f64 = 0.1;
/// Most steps; beyond it the step grows.
const MOST_STEPS: usize = 40;
/// How far below where half of the bar is gone the walk ends, mm.
const BEYOND_MM: f64 = 0.2;
/// One standard deviation of the bar's thickness as read on the edge, mm.
/// Chosen: a loupe and a steel rule.
const EDGE_SIGMA_MM: f64 = 0.1;
/// What is seen at one depth, in numbers.
const FEATURES: usize = 7;
/// Penalty on a standardised slope. Chosen: enough that features which move
/// together share an effect, too little to bend one that stands alone.
const RIDGE: f64 = 2e-3;

/// What a face shows at one depth, in numbers; only what can be seen there.
pub(crate) type Row = [f64; FEATURES];

fn row(seen: &Visible, misread_mm: f64) -> Row {
    let edge = (seen.edge_mm + misread_mm).max(0.0);
    [
        seen.colour,
        seen.covered,
        seen.covered * seen.covered,
        seen.through,
        seen.specks,
        edge,
        (seen.thin_edge_mm + misread_mm).max(0.0),
    ]
}

/// The depths of a walk, as lifts above the planned dome, mm.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Depths {
    /// As the face stands.
    pub(crate) standing_mm: f64,
    /// The levels, falling.
    pub(crate) lifts_mm: Vec<f64>,
}

impl Depths {
    /// From where anything can show, or the face as it stands if that is lower,
    /// to where half of the bar is gone in nearly all insides.
    fn of(face: &Face<'_>) -> Option<Self> {
        let lifts: Vec<(f64, f64)> = (0..face.interiors.n)
            .filter_map(|i| face.bar_lifts_mm(i))
            .collect();
        let standing_mm = face.standing_lift_mm();
        let first = quantile(lifts.iter().map(|l| l.0).collect(), 0.99)?.min(standing_mm);
        let last = quantile(lifts.iter().map(|l| l.1).collect(), 0.05)? - BEYOND_MM;
        let steps = (((first - last) / STEP_MM).ceil().max(1.0) as usize).min(MOST_STEPS);
        // Whole tenths, so that a step is what was advised.
        let tenths = ((first - last) / (STEP_MM * steps as f64)).ceil().max(1.0);
        Some(Self {
            standing_mm,
            lifts_mm: (0..=steps)
                .map(|k| first - STEP_MM * tenths * k as f64)
                .collect(),
        })
    }
}

/// Every inside, walked down: truth and what is seen, path after path.
pub(crate) struct Walks {
    n_steps: usize,
    stop: Vec<f64>,
    rows: Vec<f64>,
    seen: Vec<Visible>,
}

impl Walks {
    pub(crate) fn down(face: &Face<'_>, ask: &FacingAsk<'_>, depths: &Depths) -> Self {
        let paths: Vec<Vec<(f64, Row, Visible)>> = (0..face.interiors.n)
            .into_par_iter()
            .map(|i| {
                // One pair of eyes reads the edge the same way all along.
                let mut rng = ask.seed.stream("edge-reading", i as u64);
                let misread_mm = EDGE_SIGMA_MM * (rng.random::<f64>() - 0.5) * 12.0_f64.sqrt();
                depths
                    .lifts_mm
                    .iter()
                    .map(|&lift_mm| {
                        let (_, seen) = face.draw(
                            i,
                            Shaped::Dome {
                                lift_mm,
                                dish: None,
                            },
                        );
                        let down = (depths.standing_mm - lift_mm).max(0.0);
                        let worth = finished(face, ask, i, lift_mm, None);
                        (worth - ask.cost_per_mm * down, row(&seen, misread_mm), seen)
                    })
                    .collect()
            })
            .collect();
        let mut walks = Self {
            n_steps: depths.lifts_mm.len(),
            stop: Vec::new(),
            rows: Vec::new(),
            seen: Vec::new(),
        };
        for (stop, row, seen) in paths.into_iter().flatten() {
            walks.stop.push(stop);
            walks.rows.extend(row);
            walks.seen.push(seen);
        }
        walks
    }

    fn n(&self) -> usize {
        self.stop.len() / self.n_steps
    }

    fn worths(&self, step: usize) -> Vec<f64> {
        (0..self.n())
            .map(|i| self.stop[i * self.n_steps + step])
            .collect()
    }

    /// The same from a later step on.
    fn later(&self, first: usize) -> Self {
        let n_steps = self.n_steps - first;
        let mut later = Self {
            n_steps,
            stop: Vec::new(),
            rows: Vec::new(),
            seen: Vec::new(),
        };
        for i in 0..self.n() {
            let (a, b) = (i * self.n_steps + first, (i + 1) * self.n_steps);
            later.stop.extend(&self.stop[a..b]);
            later.rows.extend(&self.rows[a * FEATURES..b * FEATURES]);
            later.seen.extend(&self.seen[a..b]);
        }
        later
    }
}

/// What the finished stone brings when the wheel stops at this lift.
fn finished(
    face: &Face<'_>,
    ask: &FacingAsk<'_>,
    i: usize,
    lift_mm: f64,
    dish: Option<(&Spot, f64)>,
) -> f64 {
    let shaped = Shaped::Dome {
        lift_mm: lift_mm - ask.damage.mm(),
        dish,
    };
    let (drawn, _) = face.draw(i, shaped);
    ask.appraiser.worth(ask.cut, &drawn, i)
}

/// A rule learnt on some insides: what stopping is seen to bring, and what going on is.
pub(crate) struct Rule {
    stop_seen: Vec<Fit>,
    policy: StoppingPolicy,
}

impl Rule {
    /// # Method
    /// What stopping brings is itself hidden (nobody sees how thick the colour
    /// under the face is), so it too is regressed on what is seen; then least
    /// squares Monte Carlo (Longstaff & Schwartz 2001).
    fn fit(walks: &Walks, paths: &[usize]) -> Result<Self, FitError> {
        let n_steps = walks.n_steps;
        let mut stop_seen = Vec::with_capacity(n_steps);
        for step in 0..n_steps {
            let rows: Vec<f64> = paths
                .iter()
                .flat_map(|&i| {
                    let at = (i * n_steps + step) * FEATURES;
                    walks.rows[at..at + FEATURES].iter().copied()
                })
                .collect();
            let worths: Vec<f64> = paths
                .iter()
                .map(|&i| walks.stop[i * n_steps + step])
                .collect();
            stop_seen.push(Fit::new(&rows, FEATURES, &worths, RIDGE)?);
        }
        let seen = Self::seen(&stop_seen, walks);
        let live = vec![true; walks.stop.len()];
        let policy = StoppingPolicy::fit(&problem(walks, &seen, &live), paths, RIDGE)?;
        Ok(Self { stop_seen, policy })
    }

    fn seen(stop_seen: &[Fit], walks: &Walks) -> Vec<f64> {
        (0..walks.stop.len())
            .map(|at| {
                let row = &walks.rows[at * FEATURES..(at + 1) * FEATURES];
                stop_seen[at % walks.n_steps].at(row)
            })
            .collect()
    }

    /// The step at which the rule stops on these paths.
    pub(crate) fn steps(&self, walks: &Walks, paths: &[usize]) -> Vec<usize> {
        let seen = Self::seen(&self.stop_seen, walks);
        let live = vec![true; walks.stop.len()];
        let problem = problem(walks, &seen, &live);
        paths
            .iter()
            .map(|&i| self.policy.follow(&problem, i).step)
            .collect()
    }
}

fn problem<'a>(walks: &'a Walks, stop_seen: &'a [f64], live: &'a [bool]) -> StoppingProblem<'a> {
    StoppingProblem {
        n_steps: walks.n_steps,
        stop: &walks.stop,
        stop_seen,
        n_features: FEATURES,
        features: &walks.rows,
        live,
        discount: 1.0,
    }
}

/// Learnt on one half, followed on the other, both ways round: the step at
/// which each path stops.
fn cross_fitted(walks: &Walks) -> Result<Vec<usize>, FitError> {
    let halves: [Vec<usize>; 2] =
        [0, 1].map(|odd| (0..walks.n()).filter(|i| i % 2 == odd).collect());
    let mut stopped = vec![0; walks.n()];
    for (fit_on, follow_on) in [(0, 1), (1, 0)] {
        let rule = Rule::fit(walks, &halves[fit_on])?;
        let steps = rule.steps(walks, &halves[follow_on]);
        for (&i, step) in halves[follow_on].iter().zip(steps) {
            stopped[i] = step;
        }
    }
    Ok(stopped)
}

fn draws(values: Vec<f64>) -> Result<Draws, FitError> {
    Draws::new(values).map_err(|_| FitError::Empty)
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
        let face = Face::new(ask.stone, ask.interiors, ask.rules, ask.cut, ask.seed).ok_or(
            FacingError::NoNodes {
                cell_mm: ask.stone.grid.cell_mm,
            },
        )?;
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
            stop_now: draws(self.stop_now())?,
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
        Length::from_mm((self.depths.standing_mm - self.depths.lifts_mm[step]).max(0.0))
    }

    fn stop_now(&self) -> Vec<f64> {
        (0..self.walks.n())
            .into_par_iter()
            .map(|i| finished(&self.face, &self.ask, i, self.depths.standing_mm, None))
            .collect()
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
        let later = self.walks.later(first);
        let stopped = cross_fitted(&later)?;
        let worths = (0..later.n()).map(|i| later.stop[i * later.n_steps + stopped[i]]);
        Ok(Some(draws(worths.collect())?))
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
        let Some(deepest) = quantile(digs.iter().flatten().copied().collect(), 0.5) else {
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
                let share = (area / self.face.area_mm2()).min(1.0);
                let cost = self.ask.cost_per_mm * dig;
                (
                    finished(&self.face, &self.ask, i, lift, Some((&spot, dig))) - cost * share,
                    finished(&self.face, &self.ask, i, lift - dig, None) - cost,
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

    /// What stopping now would bring with another wheel's damage.
    pub(crate) fn stop_now_with(&self, damage: Length) -> Result<Draws, FacingError> {
        let ask = FacingAsk { damage, ..self.ask };
        let worths = (0..self.walks.n())
            .into_par_iter()
            .map(|i| finished(&self.face, &ask, i, self.depths.standing_mm, None))
            .collect();
        Ok(draws(worths)?)
    }

    /// What keeping the piece whole brings.
    pub(crate) fn kept_whole(&self) -> Result<Draws, FacingError> {
        let (least, most) = self.ask.rules.specimen_backing;
        let width = self.face.area_mm2().sqrt();
        let backing_mm = 0.5 * (least + most) * width;
        let worths = (0..self.walks.n())
            .into_par_iter()
            .map(|i| {
                let (drawn, _) = self.face.draw(i, Shaped::Whole { backing_mm });
                self.ask.appraiser.worth(self.ask.cut, &drawn, i)
            })
            .collect();
        Ok(draws(worths)?)
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
        let face = Face::new(ask.stone, truth, ask.rules, ask.cut, ask.seed).ok_or(
            FacingError::NoNodes {
                cell_mm: ask.stone.grid.cell_mm,
            },
        )?;
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
