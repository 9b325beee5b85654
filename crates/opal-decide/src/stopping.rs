//! Optimal stopping by least-squares Monte Carlo.

use crate::regression::{Fit, FitError};

/// Paths through a decision that may be stopped at every step.
///
/// Arrays are path-major: step `k` of path `i` stands at `i · n_steps + k`.
/// After the last step there is nothing: a path that was not stopped before is
/// stopped there.
#[derive(Clone, Copy, Debug)]
pub struct StoppingProblem<'a> {
    /// How many steps.
    pub n_steps: usize,
    /// What stopping there would bring, truly: used for valuing, never for deciding.
    pub stop: &'a [f64],
    /// What the one who decides expects stopping there to bring, from what can
    /// be seen. The same slice as `stop` where it is fully visible.
    pub stop_seen: &'a [f64],
    /// How many features a step has.
    pub n_features: usize,
    /// What can be seen at each step: `n_features` numbers.
    pub features: &'a [f64],
    /// Where there is a choice. Elsewhere the path goes on (to its last step,
    /// where it must stop).
    pub live: &'a [bool],
    /// What one unit at the next step is worth now.
    pub discount: f64,
}

impl StoppingProblem<'_> {
    fn n_paths(&self) -> usize {
        self.stop.len() / self.n_steps.max(1)
    }

    fn row(&self, path: usize, step: usize) -> &[f64] {
        let at = (path * self.n_steps + step) * self.n_features;
        &self.features[at..at + self.n_features]
    }
}

/// A rule for stopping: at each step a linear guess of what going on is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct StoppingPolicy {
    going_on: Vec<Option<Fit>>,
}

/// What a rule brought on one path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stopped {
    /// The step at which it stopped.
    pub step: usize,
    /// What it brought, discounted to before the first step's own discount:
    /// `stop · discount^step`.
    pub value: f64,
}

impl StoppingPolicy {
    /// Fits the rule on some of the paths.
    ///
    /// # Method
    /// Longstaff & Schwartz (2001, Review of Financial Studies 14, 113–147):
    /// backward from the last step, what going on *did* bring under the rule so
    /// far (not its fitted value) is regressed on the features where there is a
    /// choice; the rule stops where stopping is seen to bring at least the fit.
    /// # Validity
    /// Valued on the paths it was fitted on the rule looks too good; on fresh
    /// paths it is a lower bound of the best rule. Use [`Self::cross_fitted`].
    /// # Errors
    /// A number that is not finite.
    pub fn fit(
        problem: &StoppingProblem<'_>,
        paths: &[usize],
        ridge: f64,
    ) -> Result<Self, FitError> {
        let last = problem.n_steps.saturating_sub(1);
        // Discounted to the step under review.
        let mut brings: Vec<f64> = paths
            .iter()
            .map(|&i| problem.stop[i * problem.n_steps + last])
            .collect();
        let mut going_on = vec![None; problem.n_steps];
        for step in (0..last).rev() {
            for value in &mut brings {
                *value *= problem.discount;
            }
            let choosing: Vec<usize> = (0..paths.len())
                .filter(|&k| problem.live[paths[k] * problem.n_steps + step])
                .collect();
            // With no more paths than unknowns a fit would only repeat them.
            if choosing.len() <= problem.n_features + 1 {
                continue;
            }
            let rows: Vec<f64> = choosing
                .iter()
                .flat_map(|&k| problem.row(paths[k], step).iter().copied())
                .collect();
            let values: Vec<f64> = choosing.iter().map(|&k| brings[k]).collect();
            let fit = Fit::new(&rows, problem.n_features, &values, ridge)?;
            for &k in &choosing {
                let at = paths[k] * problem.n_steps + step;
                if problem.stop_seen[at] >= fit.at(problem.row(paths[k], step)) {
                    brings[k] = problem.stop[at];
                }
            }
            going_on[step] = Some(fit);
        }
        Ok(Self { going_on })
    }

    /// What going on from a step is guessed to be worth, seen from that step;
    /// `None` where the rule never stops.
    #[must_use]
    pub fn going_on(&self, step: usize, features: &[f64]) -> Option<f64> {
        self.going_on
            .get(step)?
            .as_ref()
            .map(|fit| fit.at(features))
    }

    /// Follows the rule along one path.
    #[must_use]
    pub fn follow(&self, problem: &StoppingProblem<'_>, path: usize) -> Stopped {
        let last = problem.n_steps.saturating_sub(1);
        let mut factor = 1.0;
        for step in 0..last {
            let at = path * problem.n_steps + step;
            if problem.live[at]
                && self
                    .going_on(step, problem.row(path, step))
                    .is_some_and(|worth| problem.stop_seen[at] >= worth)
            {
                return Stopped {
                    step,
                    value: problem.stop[at] * factor,
                };
            }
            factor *= problem.discount;
        }
        Stopped {
            step: last,
            value: problem.stop[path * problem.n_steps + last] * factor,
        }
    }

    /// Fits on one half of the paths and follows on the other, both ways round:
    /// an honest value for every path, in their order. Halves are the even and
    /// the odd paths, so that the answer does not depend on threads or luck.
    ///
    /// # Errors
    /// A number that is not finite.
    pub fn cross_fitted(
        problem: &StoppingProblem<'_>,
        ridge: f64,
    ) -> Result<Vec<Stopped>, FitError> {
        let halves: [Vec<usize>; 2] =
            [0, 1].map(|odd| (0..problem.n_paths()).filter(|i| i % 2 == odd).collect());
        let mut stopped = vec![
            Stopped {
                step: 0,
                value: 0.0
            };
            problem.n_paths()
        ];
        for (fit_on, follow_on) in [(0, 1), (1, 0)] {
            let policy = Self::fit(problem, &halves[fit_on], ridge)?;
            for &path in &halves[follow_on] {
                stopped[path] = policy.follow(problem, path);
            }
        }
        Ok(stopped)
    }
}
