//! Every possible inside, walked down level by level.

use crate::face::{Face, quantile};
use crate::facing::FacingAsk;
use crate::under::{Shaped, Under, Visible};
use opal_stone::Spot;
use rand::RngExt as _;
use rayon::prelude::*;

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
pub(crate) const FEATURES: usize = 7;

/// What a face shows at one depth, in numbers; only what can be seen there.
type Row = [f64; FEATURES];

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
    pub(crate) fn of(face: &Face<'_>) -> Option<Self> {
        let (mut shows, mut gone): (Vec<f64>, Vec<f64>) = (0..face.interiors.n)
            .filter_map(|i| face.bar_lifts_mm(i))
            .unzip();
        let standing_mm = face.standing_lift_mm();
        let first = quantile(&mut shows, 0.99)?.min(standing_mm);
        let last = quantile(&mut gone, 0.05)? - BEYOND_MM;
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

    /// What has come off above a lift, mm.
    pub(crate) fn down_mm(&self, lift_mm: f64) -> f64 {
        (self.standing_mm - lift_mm).max(0.0)
    }
}

/// Every inside, walked down: truth and what is seen, path after path.
#[derive(Clone)]
pub(crate) struct Walks {
    pub(crate) n_steps: usize,
    /// What stopping there brings, after the time it took.
    pub(crate) stop: Vec<f64>,
    /// What shows there, in numbers.
    pub(crate) rows: Vec<f64>,
    pub(crate) seen: Vec<Visible>,
}

impl Walks {
    pub(crate) fn down(face: &Face<'_>, ask: &FacingAsk<'_>, depths: &Depths) -> Self {
        let paths: Vec<Vec<(f64, Row, Visible)>> = (0..face.interiors.n)
            .into_par_iter()
            .map(|i| {
                // One pair of eyes reads the edge the same way all along.
                let mut rng = ask.seed.stream("edge-reading", i as u64);
                let misread_mm = EDGE_SIGMA_MM * (rng.random::<f64>() - 0.5) * 12.0_f64.sqrt();
                let mut under = face.under(i);
                let step = |&lift_mm: &f64| {
                    let seen = under.seen(lift_mm);
                    let stop = stopped(&mut under, ask, i, lift_mm, depths);
                    (stop, row(&seen, misread_mm), seen)
                };
                depths.lifts_mm.iter().map(step).collect()
            })
            .collect();
        let mut walks = Self::with_room(depths.lifts_mm.len(), face.interiors.n);
        for (stop, row, seen) in paths.into_iter().flatten() {
            walks.stop.push(stop);
            walks.rows.extend(row);
            walks.seen.push(seen);
        }
        walks
    }

    /// The same walks with another wheel: what shows stays, what stopping brings
    /// does not.
    pub(crate) fn again(&self, face: &Face<'_>, ask: &FacingAsk<'_>, depths: &Depths) -> Self {
        let stop = (0..self.n())
            .into_par_iter()
            .flat_map_iter(|i| {
                let mut under = face.under(i);
                let stop = |&lift_mm: &f64| stopped(&mut under, ask, i, lift_mm, depths);
                depths.lifts_mm.iter().map(stop).collect::<Vec<f64>>()
            })
            .collect();
        Self {
            stop,
            ..self.clone()
        }
    }

    fn with_room(n_steps: usize, n: usize) -> Self {
        Self {
            n_steps,
            stop: Vec::with_capacity(n * n_steps),
            rows: Vec::with_capacity(n * n_steps * FEATURES),
            seen: Vec::with_capacity(n * n_steps),
        }
    }

    pub(crate) fn n(&self) -> usize {
        self.stop.len() / self.n_steps
    }

    pub(crate) fn worths(&self, step: usize) -> Vec<f64> {
        (0..self.n())
            .map(|i| self.stop[i * self.n_steps + step])
            .collect()
    }

    /// The same from a later step on.
    pub(crate) fn later(&self, first: usize) -> Self {
        let n_steps = self.n_steps - first;
        let mut later = Self::with_room(n_steps, self.n());
        for i in 0..self.n() {
            let (a, b) = (i * self.n_steps + first, (i + 1) * self.n_steps);
            later.stop.extend(&self.stop[a..b]);
            later.rows.extend(&self.rows[a * FEATURES..b * FEATURES]);
            later.seen.extend(&self.seen[a..b]);
        }
        later
    }
}

/// What stopping at a level brings, after the time it took to get there.
fn stopped(
    under: &mut Under<'_>,
    ask: &FacingAsk<'_>,
    i: usize,
    lift_mm: f64,
    depths: &Depths,
) -> f64 {
    finished(under, ask, i, lift_mm, None) - ask.cost_per_mm * depths.down_mm(lift_mm)
}

/// What the finished stone brings when the wheel stops at this lift.
pub(crate) fn finished(
    under: &mut Under<'_>,
    ask: &FacingAsk<'_>,
    i: usize,
    lift_mm: f64,
    dish: Option<(&Spot, f64)>,
) -> f64 {
    let drawn = under.stone(Shaped::Dome {
        lift_mm: lift_mm - ask.damage.mm(),
        dish,
    });
    ask.appraiser.worth(ask.cut, 0, &drawn, i)
}
