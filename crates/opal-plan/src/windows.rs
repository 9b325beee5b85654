//! Where would a window teach most?

use crate::options::ValuedPlan;
use crate::region::{Region, Regions};
use opal_decide::choose;
use opal_interior::{Interiors, LEAST_VISIBLE_MM};
use opal_stone::Stone;
use rayon::prelude::*;

/// Places along each side of the lattice of windows.
const PLACES: usize = 7;
/// A window is ground down to at most this depth, mm. Chosen: what a cutter
/// gives away before the stone is known to be worth it.
const DEEPEST_MM: f64 = 2.5;
/// Plans that looking may choose between. Chosen: those further down hardly
/// ever win.
const PLANS: usize = 8;
/// Penalty of the fits: enough to steady features that nearly agree.
const RIDGE: f64 = 2e-3;
/// Interiors below which no fit is trusted.
const LEAST_INTERIORS: usize = 100;
/// What is seen of each bar.
const FEATURES: usize = 3;

/// What a window at one place would bring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindowWorth {
    /// From above, mm.
    pub at_mm: [f64; 2],
    /// Ground from above, or from below.
    pub above: bool,
    /// Which part of the piece that is.
    pub region: Region,
    /// What choosing the plan after looking brings over choosing now, on
    /// average, major units; the window's own cost not counted.
    pub gain: f64,
    /// Its standard error.
    pub error: f64,
    /// The chance that it shows colour.
    pub colour_chance: f64,
}

impl WindowWorth {
    /// True where the gain is more than chance: two and a half standard errors,
    /// because the best of a hundred places is looked at.
    #[must_use]
    pub fn teaches(&self) -> bool {
        self.gain > 2.5 * self.error && self.gain > 0.0
    }
}

/// A lattice of windows over both skins, the one that teaches most first.
///
/// # Method
/// Expected value of sample information by regression (Strong, Oakley, Brennan &
/// Breeze 2015, Medical Decision Making 35), cross-fitted: in each interior the
/// plan is chosen by what the window shows there (whether colour, and how deep),
/// with a rule fitted on the other half of the interiors.
pub(crate) fn windows(
    stone: &Stone,
    interiors: &Interiors,
    plans: &[ValuedPlan],
) -> Vec<WindowWorth> {
    let actions: Vec<Vec<f64>> = plans
        .iter()
        .take(PLANS)
        .map(|p| p.value.adapting.values().to_vec())
        .collect();
    let whole = actions.iter().all(|a| a.len() == interiors.n);
    if actions.len() < 2 || !whole || interiors.n < LEAST_INTERIORS {
        return Vec::new();
    }
    let regions = Regions::of(stone);
    let places: Vec<(usize, bool)> = places(stone)
        .into_iter()
        .flat_map(|k| [(k, true), (k, false)])
        .collect();
    let mut worth: Vec<WindowWorth> = places
        .into_par_iter()
        .filter_map(|(node, above)| {
            let (seen, colour_chance) = seen(stone, interiors, node, above);
            let features = FEATURES * interiors.bars.len();
            let (gain, error) = choose(&actions, &seen, features, RIDGE)
                .ok()?
                .gain(&actions);
            let at_mm = stone.grid.at_index(node);
            Some(WindowWorth {
                at_mm,
                above,
                region: regions.at(at_mm),
                gain,
                error,
                colour_chance,
            })
        })
        .collect();
    worth.sort_by(|p, q| q.gain.total_cmp(&p.gain));
    worth
}

/// Nodes on an even lattice where the stone is thick enough for a window.
fn places(stone: &Stone) -> Vec<usize> {
    let grid = stone.grid;
    let step = |n: usize| (n / PLACES).max(1);
    let (over, along) = (step(grid.nx), step(grid.ny));
    let mut found = Vec::new();
    for j in (along / 2..grid.ny).step_by(along) {
        for i in (over / 2..grid.nx).step_by(over) {
            let k = grid.index(i, j);
            if f64::from(stone.top_mm[k] - stone.bottom_mm[k]) > DEEPEST_MM {
                found.push(k);
            }
        }
    }
    found
}

/// For every interior and bar: does it show, how deep, and that squared; and the
/// chance that any shows.
fn seen(stone: &Stone, interiors: &Interiors, k: usize, above: bool) -> (Vec<f64>, f64) {
    let cells = interiors.cells();
    let mut features = Vec::with_capacity(interiors.n * interiors.bars.len() * FEATURES);
    let mut showing = 0.0;
    for i in 0..interiors.n {
        let inset = interiors.skin_inset_mm[i];
        let mut any = false;
        for draws in &interiors.bars {
            let (top, thick) = (draws.top(i, cells)[k], draws.thickness(i, cells)[k]);
            let (to_near, to_far) = if above {
                let skin = stone.top_mm[k] - inset;
                (skin - top, skin - top + thick)
            } else {
                let skin = stone.bottom_mm[k] + inset;
                (top - thick - skin, top - skin)
            };
            let depth = f64::from(to_near).max(0.0);
            let shows = f64::from(thick) >= LEAST_VISIBLE_MM && to_far > 0.0 && depth <= DEEPEST_MM;
            let depth = if shows { depth } else { DEEPEST_MM };
            any |= shows;
            features.extend([f64::from(u8::from(shows)), depth, depth * depth]);
        }
        showing += f64::from(u8::from(any));
    }
    (features, showing / interiors.n as f64)
}
