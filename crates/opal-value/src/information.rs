//! What a look is worth before it is taken.
//!
//! Two actions or more, a few states of nature with their chances, and a look
//! whose answers are more or less likely in each state.

/// Pay of each action in each state: `pay[action][state]`.
pub type Pay<'a> = &'a [Vec<f64>];

/// The mean pay of the best action without any look.
///
/// `chances` are those of the states and add up to 1. 0 for no action.
#[must_use]
pub fn best_without_a_look(pay: Pay<'_>, chances: &[f64]) -> f64 {
    pay.iter()
        .map(|row| dot(row, chances))
        .reduce(f64::max)
        .unwrap_or(0.0)
}

/// What it would be worth to know the state outright: no look is worth more.
///
/// # Method
/// Σ p(state) · max over actions − max over actions of the mean (Raiffa 1968,
/// *Decision Analysis*).
#[must_use]
pub fn worth_of_knowing(pay: Pay<'_>, chances: &[f64]) -> f64 {
    let knowing: f64 = chances
        .iter()
        .enumerate()
        .map(|(state, chance)| {
            chance
                * pay
                    .iter()
                    .map(|row| row[state])
                    .reduce(f64::max)
                    .unwrap_or(0.0)
        })
        .sum();
    (knowing - best_without_a_look(pay, chances)).max(0.0)
}

/// What a look is worth: `answers[state][answer]` is the chance of each answer
/// in each state.
///
/// # Method
/// Preposterior analysis (Raiffa & Schlaifer 1961): for each answer the best
/// action on the updated chances, weighed by how likely the answer is.
#[must_use]
pub fn worth_of_a_look(pay: Pay<'_>, chances: &[f64], answers: &[Vec<f64>]) -> f64 {
    let n_answers = answers.iter().map(Vec::len).min().unwrap_or(0);
    let looking: f64 = (0..n_answers)
        .map(|answer| {
            let joint: Vec<f64> = chances
                .iter()
                .zip(answers)
                .map(|(chance, row)| chance * row[answer])
                .collect();
            best_without_a_look(pay, &joint)
        })
        .sum();
    (looking - best_without_a_look(pay, chances)).max(0.0)
}

/// By how many standard deviations of their errors the keenest of `bidders`
/// equally good judges is expected to overrate a piece.
///
/// # Method
/// The mean of the largest of n standard normal numbers, ∫ x n φ(x) Φ(x)ⁿ⁻¹ dx,
/// by Simpson's rule on −8..8 (error below 1e-9 up to 100 bidders).
#[must_use]
pub fn winners_overrating(bidders: u32) -> f64 {
    const STEPS: u32 = 2000;
    let step = 16.0 / f64::from(STEPS);
    let mut below = 0.0; // Φ(x), carried along by Simpson's rule too
    let mut sum = 0.0;
    let density = |x: f64| (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let at = |k: u32| -8.0 + step * f64::from(k);
    for k in 0..=STEPS {
        let x = at(k);
        if k > 0 {
            let (a, b) = (at(k - 1), x);
            below += step / 6.0 * (density(a) + 4.0 * density(0.5 * (a + b)) + density(b));
        }
        let weight = match k {
            0 | STEPS => 1.0,
            k if k % 2 == 1 => 4.0,
            _ => 2.0,
        };
        let rest = below.powi(i32::try_from(bidders.max(1)).unwrap_or(i32::MAX) - 1);
        sum += weight * x * f64::from(bidders.max(1)) * density(x) * rest;
    }
    sum * step / 3.0
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The oil wildcatter (Raiffa 1968, *Decision Analysis*): to drill pays
    /// −70, 50, 200 with chances .5, .3, .2; soundings as printed there.
    #[test]
    fn wildcatter() {
        let pay = [vec![-70.0, 50.0, 200.0], vec![0.0; 3]];
        let chances = [0.5, 0.3, 0.2];
        let sounding = [
            vec![0.6, 0.3, 0.1],
            vec![0.3, 0.4, 0.3],
            vec![0.1, 0.4, 0.5],
        ];
        assert!((best_without_a_look(&pay, &chances) - 20.0).abs() < 1e-9);
        assert!((worth_of_knowing(&pay, &chances) - 35.0).abs() < 1e-9);
        assert!((worth_of_a_look(&pay, &chances, &sounding) - 12.5).abs() < 1e-9);
    }

    /// The prototype example of decision analysis in Hillier & Lieberman,
    /// *Introduction to Operations Research*: drill for 700 or −100, or sell
    /// the land for 90; oil with chance .25; a survey that is right .6 and .8.
    #[test]
    fn land_and_oil() {
        let pay = [vec![700.0, -100.0], vec![90.0, 90.0]];
        let chances = [0.25, 0.75];
        let survey = [vec![0.6, 0.4], vec![0.2, 0.8]];
        assert!((best_without_a_look(&pay, &chances) - 100.0).abs() < 1e-9);
        assert!((worth_of_knowing(&pay, &chances) - 142.5).abs() < 1e-9);
        assert!((worth_of_a_look(&pay, &chances, &survey) - 53.0).abs() < 1e-9);
    }

    /// Means of the largest of 2, 3, 4, 5 and 10 standard normal numbers (order
    /// statistics; 1/√π and 3/(2√π) in closed form, the rest by quadrature).
    #[test]
    fn the_keenest_overrates() {
        for (bidders, mean) in [
            (1, 0.0),
            (2, 0.564_190),
            (3, 0.846_284),
            (4, 1.029_375),
            (5, 1.162_964),
            (10, 1.538_753),
        ] {
            assert!(
                (winners_overrating(bidders) - mean).abs() < 1e-5,
                "{bidders}"
            );
        }
    }
}
