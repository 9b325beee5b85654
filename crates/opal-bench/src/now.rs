//! What now? The next actions, ranked.

use crate::facing::{Facing, FacingAsk, FacingError, FacingWalk, kept_whole};
use crate::rule::RIDGE;
use crate::{Stage, Stint, Worked};
use opal_decide::choose;
use opal_evidence::ExposureKind;
use opal_finish::Wheel;
use opal_interior::{Interiors, bar_at};
use opal_plan::{Appraiser, BenchRules, Plan, PlanKind};
use opal_units::{Draws, Length, Seed, Volume};
use rand::RngExt as _;
use thiserror::Error;

/// What is asked.
#[derive(Clone, Copy)]
pub struct NowAsk<'a> {
    /// The stone as it is now, and what was seen.
    pub worked: &'a Worked,
    /// Its possible insides, given all that was seen.
    pub interiors: &'a Interiors,
    /// The ways to cut it that are still open; none where nothing can be cut.
    pub plans: &'a [Plan],
    /// Prices stones and work.
    pub appraiser: &'a dyn Appraiser,
    /// What the bench can do.
    pub rules: &'a BenchRules,
    /// The cutter's wheels, coarse to fine.
    pub wheels: &'a [Wheel],
    /// What a minute at the bench is worth, major units.
    pub minute: f64,
    /// What the luck starts from: the planner's seed gives its luck.
    pub seed: Seed,
}

/// Why there is no ranking.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NowError {
    /// A wheel is needed to say what a tenth costs.
    #[error("no wheels; give at least one")]
    NoWheels,
    /// Prices that are no numbers.
    #[error("the appraiser's worths cannot be used")]
    Worth,
    /// A face that cannot be valued.
    #[error(transparent)]
    Facing(#[from] FacingError),
}

/// One thing to do next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Action {
    /// Open a window here.
    OpenWindow {
        /// Where, mm.
        at_mm: [f64; 2],
    },
    /// Make the first saw cut of the plan.
    Saw,
    /// Take this much off the whole face, look, and go on by what shows.
    TakeOff {
        /// How much.
        depth: Length,
    },
    /// Dig one speck out and blend the dome around it.
    DigOut {
        /// Where, mm.
        at_mm: [f64; 2],
        /// How wide.
        radius: Length,
    },
    /// Go on with a finer wheel: its place in the list.
    FinerWheel {
        /// Which of the wheels.
        wheel: usize,
    },
    /// The face stays as it is: shape and polish.
    StopAndShape,
    /// Keep the piece whole.
    KeepWhole,
    /// Sell it as it is.
    SellAsItIs,
}

/// One ranked action.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// What to do.
    pub action: Action,
    /// The same in plain words.
    pub words: String,
    /// What it brings in the end, net of the work still to do, major units.
    pub worth: Draws,
    /// What it brings over the best thing without further risk: mean.
    pub gain: f64,
    /// Standard error of that mean, on equal luck.
    pub gain_error: f64,
    /// The chance that it ends with less than half of what can be had now.
    pub ruin: f64,
}

/// What now.
#[derive(Clone, Debug, PartialEq)]
pub struct Now {
    /// The best first.
    pub advice: Vec<Advice>,
    /// How many possible insides it rests on.
    pub n_interiors: usize,
    /// The face from here down, on the best plan that opens one.
    pub facing: Option<Facing>,
    /// Which of the plans that is.
    pub plan: Option<usize>,
    /// What the cutter should know beside.
    pub notes: Vec<String>,
}

/// Minutes that a window takes, with the look. Common practice, no source.
const WINDOW_MINUTES: f64 = 5.0;
/// Minutes that a change of wheel takes, with cleaning. Common practice, no source.
const CHANGE_MINUTES: f64 = 2.0;
/// How surely the damage of a wheel is to stay off the face. Chosen: nine in ten.
const DAMAGE_CONFIDENCE: f64 = 0.9;
/// One standard deviation of what is read in a window, mm. Chosen: callipers
/// over an uneven skin.
const WINDOW_SIGMA_MM: f64 = 0.1;
/// Ruin: less than this share of what can be had now is left. Chosen: half is
/// what nobody shrugs off.
const RUIN_SHARE: f64 = 0.5;
/// Depths that are offered, mm.
const OFFERED_MM: [f64; 3] = [0.1, 0.2, 0.5];

/// The wheels after what was done at each of them.
#[must_use]
pub fn taught(wheels: &[Wheel], stints: &[Stint]) -> Vec<Wheel> {
    wheels
        .iter()
        .map(|wheel| {
            let own = stints.iter().filter(|s| same(&s.wheel, &wheel.name));
            own.fold(wheel.clone(), |wheel, stint| {
                wheel.after_stint(stint.removed.max(Volume::ZERO), stint.minutes)
            })
        })
        .collect()
}

fn same(a: &str, b: &str) -> bool {
    a.trim().eq_ignore_ascii_case(b.trim())
}

/// Depth of damage that must not reach the face, below where a wheel stops.
fn damage(wheel: &Wheel) -> Length {
    let um = wheel
        .damage_um
        .map_or(0.0, |belief| belief.quantile(DAMAGE_CONFIDENCE));
    Length::from_um(um)
}

/// One open way with what following it brings.
struct Way<'a> {
    plan: usize,
    walk: FacingWalk<'a>,
    facing: Facing,
    cost: Vec<f64>,
    net: Vec<f64>,
}

/// Ranks what may be done next by what it brings in the end.
///
/// # Method
/// Every action is valued on the same insides with equal luck. Actions that
/// look before they choose are valued by regress-and-compare on what is seen,
/// cross-fitted; going on by optimal stopping ([`FacingWalk`]).
/// # Errors
/// No wheels, or worths that are no numbers.
pub fn now(ask: &NowAsk<'_>) -> Result<Now, NowError> {
    let n = ask.interiors.n;
    let as_it_is: Vec<f64> = (0..n).map(|i| ask.appraiser.as_it_is(i)).collect();
    let mut notes = ask.worked.notes.clone();
    if ask.worked.broken {
        let worth = draws(as_it_is)?;
        return Ok(Now {
            advice: vec![advice(
                Action::SellAsItIs,
                SELL.to_owned(),
                worth.clone(),
                &worth,
            )],
            n_interiors: n,
            facing: None,
            plan: None,
            notes,
        });
    }
    let on_spindle = ask
        .worked
        .wheel
        .as_ref()
        .and_then(|name| ask.wheels.iter().position(|w| same(&w.name, name)));
    let wheel_at = on_spindle.unwrap_or_else(|| usual_first(ask.wheels));
    let wheel = ask.wheels.get(wheel_at).ok_or(NowError::NoWheels)?;
    let mut ways = Vec::new();
    let mut whole: Option<Draws> = None;
    for (k, plan) in ask.plans.iter().enumerate() {
        let Some(cut) = plan.stones.first() else {
            continue;
        };
        let cost = || -> Vec<f64> { (0..n).map(|i| ask.appraiser.cost(plan, i)).collect() };
        let asked = facing_ask(ask, cut, wheel);
        if plan.kind == PlanKind::Specimen {
            if whole.is_none() {
                whole = match kept_whole(&asked) {
                    Ok(Some(worth)) => Some(draws(less(worth.values(), &cost()))?),
                    Ok(None) | Err(FacingError::NoNodes { .. }) => None,
                    Err(error) => return Err(error.into()),
                };
            }
            continue;
        }
        if ways.len() >= MOST_WAYS || plan.kind == PlanKind::Several {
            continue;
        }
        let walk = match FacingWalk::new(asked) {
            Ok(walk) => walk,
            Err(FacingError::NoNodes { .. } | FacingError::NoBar { .. }) => continue,
            Err(error) => return Err(error.into()),
        };
        let facing = walk.facing()?;
        let cost = cost();
        let net = less(facing.advised.values(), &cost);
        ways.push(Way {
            plan: k,
            walk,
            facing,
            cost,
            net,
        });
    }
    ways.sort_by(|a, b| mean(&b.net).total_cmp(&mean(&a.net)));
    let mut open: Vec<(Action, String, Draws)> =
        vec![(Action::SellAsItIs, SELL.to_owned(), draws(as_it_is)?)];
    let uncut = ask.worked.stage == Stage::Rough;
    let best = ways.first();
    if let Some(way) = best.filter(|_| !uncut) {
        let worth = draws(less(way.facing.stop_now.values(), &way.cost))?;
        open.push((
            Action::StopAndShape,
            "Stop here: shape and polish with the face as it stands.".to_owned(),
            worth,
        ));
    }
    // The best that can be had without further risk: nothing more is opened.
    let held = open
        .iter()
        .max_by(|a, b| a.2.mean().total_cmp(&b.2.mean()))
        .map(|(_, _, worth)| worth.clone())
        .ok_or(NowError::Worth)?;
    if let Some(whole) = whole {
        open.push((Action::KeepWhole, WHOLE.to_owned(), whole));
    }
    if let Some(way) = best {
        let plan = &ask.plans[way.plan];
        match plan.cuts.first().filter(|_| uncut) {
            Some(cut) => open.push((Action::Saw, cut.words.clone(), draws(way.net.clone())?)),
            None => face_actions(ask, way, wheel_at, &mut open, &mut notes)?,
        }
        if ask.worked.stage < Stage::FaceOpen
            && let Some(window) = best_window(ask, &ways, &open)?
        {
            open.push(window);
        }
    }
    let mut ranked: Vec<Advice> = open
        .into_iter()
        .map(|(action, words, worth)| advice(action, words, worth, &held))
        .collect();
    ranked.sort_by(|a, b| b.gain.total_cmp(&a.gain));
    let plan = best.map(|way| way.plan);
    Ok(Now {
        advice: ranked,
        n_interiors: n,
        facing: ways.into_iter().next().map(|way| way.facing),
        plan,
        notes,
    })
}

/// Ways to cut that are walked down. Chosen: the best of each family, within
/// the half second that a wet hand waits.
const MOST_WAYS: usize = 2;
const SELL: &str = "Sell it as it is.";
const WHOLE: &str =
    "Keep it whole: open the face along the bar, leave the outline, sell it as a specimen.";

/// The wheel that ordinary roughing starts with: the second coarsest, where
/// there are three or more (common practice, no source: the coarsest is for
/// large barren stock).
fn usual_first(wheels: &[Wheel]) -> usize {
    usize::from(wheels.len() >= 3)
}

fn facing_ask<'a>(ask: &NowAsk<'a>, cut: &'a opal_plan::CutStone, wheel: &Wheel) -> FacingAsk<'a> {
    let area: f64 = opal_geom::Outline::new(cut.outline_mm.clone()).map_or(0.0, |o| o.area());
    FacingAsk {
        stone: &ask.worked.stone,
        interiors: ask.interiors,
        cut,
        rules: ask.rules,
        appraiser: ask.appraiser,
        damage: damage(wheel),
        cost_per_mm: area / wheel.removal_mm3_per_min.median() * ask.minute,
        seed: ask.seed,
    }
}

fn face_actions(
    ask: &NowAsk<'_>,
    way: &Way<'_>,
    wheel_at: usize,
    open: &mut Vec<(Action, String, Draws)>,
    notes: &mut Vec<String>,
) -> Result<(), NowError> {
    let blind = way.facing.blind.mm();
    if blind >= 0.1 {
        notes.push(format!(
            "About {blind:.1} mm can come off before colour is likely to show anywhere."
        ));
    }
    for mm in OFFERED_MM {
        let Some(worth) = way.walk.going_on(Length::from_mm(mm))? else {
            continue;
        };
        open.push((
            Action::TakeOff {
                depth: Length::from_mm(mm),
            },
            format!("Take {mm} mm off the whole face, look, and go on by what shows."),
            draws(less(worth.values(), &way.cost))?,
        ));
    }
    for at_mm in specks_on_face(ask.worked) {
        let Some(relief) = way.walk.relief(at_mm)? else {
            continue;
        };
        open.push((
            Action::DigOut {
                at_mm,
                radius: relief.radius,
            },
            format!(
                "Dig out the speck at {:.1}, {:.1} alone, about {:.1} mm deep, and blend {:.0} mm \
                 around it.",
                at_mm[0],
                at_mm[1],
                relief.depth_mm.quantile(0.5),
                2.0 * relief.radius.mm()
            ),
            draws(less(relief.local.values(), &way.cost))?,
        ));
    }
    let finer = ask.wheels.get(wheel_at + 1);
    if let (Some(cut), Some(finer)) = (ask.plans[way.plan].stones.first(), finer) {
        let asked = facing_ask(ask, cut, finer);
        let [stop, rule] = way.walk.with_wheel(asked.damage, asked.cost_per_mm)?;
        let change = CHANGE_MINUTES * ask.minute;
        let better = if stop.mean() > rule.mean() {
            stop
        } else {
            rule
        };
        let worth: Vec<f64> = less(better.values(), &way.cost)
            .iter()
            .map(|v| v - change)
            .collect();
        open.push((
            Action::FinerWheel {
                wheel: wheel_at + 1,
            },
            format!(
                "Change to the finer wheel ({}): its damage reaches {:.2} mm deep in place of \
                 {:.2} mm, so less colour goes after you stop.",
                finer.name,
                damage(finer).mm(),
                damage(&ask.wheels[wheel_at]).mm()
            ),
            draws(worth)?,
        ));
    }
    Ok(())
}

/// Specks seen on the face as it stands, the largest first, three at most.
fn specks_on_face(worked: &Worked) -> Vec<[f64; 2]> {
    /// How far below or above the face a speck may have been logged, mm.
    const NEAR_MM: f64 = 0.3;
    let mut specks: Vec<(f64, [f64; 2])> = worked
        .evidence
        .exposures
        .iter()
        .filter(|look| look.kind == ExposureKind::Face)
        .flat_map(|look| &look.specks)
        .filter_map(|speck| {
            let [x, y, z] = speck.at_mm?;
            let face = worked.stone.skin_at([x, y])?.0;
            ((face - z).abs() <= NEAR_MM).then_some((speck.diameter.mm(), [x, y]))
        })
        .collect();
    specks.sort_by(|a, b| b.0.total_cmp(&a.0));
    specks.into_iter().take(3).map(|(_, at)| at).collect()
}

/// The window that is worth most, where one pays.
///
/// # Method
/// Worth of a look before a choice by regression on what is seen (Strong et al.
/// 2015, Medical Decision Making 35), cross-fitted.
fn best_window(
    ask: &NowAsk<'_>,
    ways: &[Way<'_>],
    open: &[(Action, String, Draws)],
) -> Result<Option<(Action, String, Draws)>, NowError> {
    let n = ask.interiors.n;
    let Some(best) = ways.first() else {
        return Ok(None);
    };
    let Some(cut) = ask.plans[best.plan].stones.first() else {
        return Ok(None);
    };
    let mut actions: Vec<Vec<f64>> = ways.iter().map(|way| way.net.clone()).collect();
    actions.extend(open.iter().map(|(_, _, worth)| worth.values().to_vec()));
    let mut found: Option<(f64, [f64; 2], Vec<f64>)> = None;
    for (place, at_mm) in places(cut).into_iter().enumerate() {
        let looked = ask.worked.evidence.bars.get(cut.bar).is_some_and(|bar| {
            bar.sightings
                .iter()
                .any(|s| (s.at_mm[0] - at_mm[0]).hypot(s.at_mm[1] - at_mm[1]) < NEAR_LOOK_MM)
        });
        if looked || ask.worked.stone.skin_at(at_mm).is_none() {
            continue;
        }
        let mut seen = Vec::with_capacity(n * 4);
        for i in 0..n {
            let mut rng = ask.seed.stream("window", (place * n + i) as u64);
            let mut misread = || WINDOW_SIGMA_MM * (rng.random::<f64>() - 0.5) * 12.0_f64.sqrt();
            let (top, thickness) = bar_at(ask.interiors, cut.bar, i, at_mm).unwrap_or((0.0, 0.0));
            let there = f64::from(u8::from(thickness > 0.0));
            let read = there * (thickness + misread());
            seen.extend([there * (top + misread()), read, read * read, there]);
        }
        let Ok(choice) = choose(&actions, &seen, 4, RIDGE) else {
            return Err(NowError::Worth);
        };
        let brings = mean(&choice.value);
        if found.as_ref().is_none_or(|(so_far, ..)| brings > *so_far) {
            found = Some((brings, at_mm, choice.value));
        }
    }
    let cost = WINDOW_MINUTES * ask.minute;
    Ok(match found {
        Some((_, at_mm, value)) => Some((
            Action::OpenWindow { at_mm },
            format!(
                "Open a window at {:.1}, {:.1} first, and choose by what it shows.",
                at_mm[0], at_mm[1]
            ),
            draws(value.iter().map(|v| v - cost).collect())?,
        )),
        None => None,
    })
}

/// A place nearer than this to a look says little new, mm. Chosen.
const NEAR_LOOK_MM: f64 = 1.5;

/// Places for a window: the crown, and two rings of six.
fn places(cut: &opal_plan::CutStone) -> Vec<[f64; 2]> {
    let points = cut.outline_mm.len();
    let mut places = vec![cut.crown_mm];
    for share in [0.4, 0.75] {
        for k in 0..6 {
            let Some(edge) = cut.outline_mm.get(k * points / 6) else {
                continue;
            };
            places.push(std::array::from_fn(|d| {
                cut.crown_mm[d] + share * (edge[d] - cut.crown_mm[d])
            }));
        }
    }
    places
}

fn advice(action: Action, words: String, worth: Draws, held: &Draws) -> Advice {
    let gains: Vec<f64> = less(worth.values(), held.values());
    let n = gains.len() as f64;
    let gain = mean(&gains);
    let square: f64 = gains.iter().map(|g| (g - gain) * (g - gain)).sum();
    let ruined = worth
        .values()
        .iter()
        .zip(held.values())
        .filter(|(with, now)| **now > 0.0 && **with < RUIN_SHARE * **now)
        .count();
    Advice {
        action,
        words,
        gain,
        gain_error: (square / (n - 1.0).max(1.0) / n).sqrt(),
        ruin: ruined as f64 / n,
        worth,
    }
}

fn less(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn draws(values: Vec<f64>) -> Result<Draws, NowError> {
    Draws::new(values).map_err(|_| NowError::Worth)
}
