//! Look, then choose: regress and compare.

use crate::regression::{Fit, FitError};

/// What looking first and then choosing brings.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The action chosen in each draw.
    pub action: Vec<usize>,
    /// What it brought there.
    pub value: Vec<f64>,
    /// The best single action on average, without looking.
    pub without_looking: usize,
}

impl Choice {
    /// The mean of what looking first brings over the best action without it,
    /// and its standard error over the draws (paired).
    #[must_use]
    pub fn gain(&self, actions: &[Vec<f64>]) -> (f64, f64) {
        let n = self.value.len() as f64;
        let plain = &actions[self.without_looking];
        let gains = self
            .value
            .iter()
            .zip(plain)
            .map(|(with, without)| with - without);
        let mean = gains.clone().sum::<f64>() / n;
        let variance = gains.map(|g| (g - mean) * (g - mean)).sum::<f64>() / (n - 1.0).max(1.0);
        (mean, (variance / n).sqrt())
    }
}

/// Chooses in each draw the action whose fitted value is largest, from what can
/// be seen in that draw; fitted on one half of the draws and applied to the
/// other, both ways round.
///
/// `actions[a][i]` is what action `a` brings in draw `i`; `features` holds
/// `n_features` numbers a draw. What is fitted is each action's gain over the
/// one that is best on average, which removes the luck that they share.
///
/// # Method
/// Regression-based value of sample information (Strong, Oakley, Brennan &
/// Breeze 2015, Medical Decision Making 35, 570–583), cross-fitted so that it
/// does not flatter itself.
/// # Errors
/// Shapes that do not agree, no draws, or a number that is not finite.
pub fn choose(
    actions: &[Vec<f64>],
    features: &[f64],
    n_features: usize,
    ridge: f64,
) -> Result<Choice, FitError> {
    let n = actions.first().map_or(0, Vec::len);
    if n == 0 {
        return Err(FitError::Empty);
    }
    if let Some(odd) = actions.iter().find(|a| a.len() != n) {
        return Err(FitError::Shape {
            values: odd.len(),
            rows: n,
            features: n_features,
        });
    }
    let mean = |a: &[f64], half: Option<usize>| {
        let of = a
            .iter()
            .enumerate()
            .filter(|(i, _)| half.is_none_or(|h| i % 2 == h));
        let (sum, count) = of.fold((0.0, 0.0), |(s, c), (_, v)| (s + v, c + 1.0));
        if count > 0.0 {
            sum / count
        } else {
            f64::NEG_INFINITY
        }
    };
    let best = |half: Option<usize>| {
        (0..actions.len())
            .max_by(|&a, &b| {
                mean(&actions[a], half)
                    .total_cmp(&mean(&actions[b], half))
                    .then(b.cmp(&a))
            })
            .unwrap_or(0)
    };
    let mut action = vec![0; n];
    for (fit_on, apply_to) in [(0, 1), (1, 0)] {
        let rows: Vec<usize> = (0..n).filter(|i| i % 2 == fit_on).collect();
        let base = best(Some(fit_on));
        let seen: Vec<f64> = rows
            .iter()
            .flat_map(|&i| {
                features[i * n_features..(i + 1) * n_features]
                    .iter()
                    .copied()
            })
            .collect();
        let mut fits = Vec::with_capacity(actions.len());
        for (k, a) in actions.iter().enumerate() {
            if k == base || rows.is_empty() {
                fits.push(None);
                continue;
            }
            let gains: Vec<f64> = rows.iter().map(|&i| a[i] - actions[base][i]).collect();
            fits.push(Some(Fit::new(&seen, n_features, &gains, ridge)?));
        }
        for i in (0..n).filter(|i| i % 2 == apply_to) {
            let row = &features[i * n_features..(i + 1) * n_features];
            let mut chosen = base;
            let mut gain = 0.0;
            for (k, fit) in fits.iter().enumerate() {
                if let Some(guess) = fit.as_ref().map(|f| f.at(row))
                    && guess > gain
                {
                    (chosen, gain) = (k, guess);
                }
            }
            action[i] = chosen;
        }
    }
    let value = action
        .iter()
        .enumerate()
        .map(|(i, &a)| actions[a][i])
        .collect();
    Ok(Choice {
        action,
        value,
        without_looking: best(None),
    })
}
