//! A rule that says where to stop, learnt from walks.

use crate::walk::{FEATURES, Walks};
use opal_decide::{Fit, FitError, StoppingPolicy, StoppingProblem};

/// Penalty on a standardised slope. Chosen: enough that features which move
/// together share an effect, too little to bend one that stands alone.
pub(crate) const RIDGE: f64 = 2e-3;

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
    pub(crate) fn fit(walks: &Walks, paths: &[usize]) -> Result<Self, FitError> {
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
pub(crate) fn cross_fitted(walks: &Walks) -> Result<Vec<usize>, FitError> {
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
