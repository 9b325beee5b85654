//! Is it still losing water?

use crate::LogBelief;
use opal_units::{Draws, Mass, Seed};
use rand::RngExt as _;
use rand_distr::{Distribution as _, StandardNormal};
use thiserror::Error;

/// One weighing of a piece that lies to dry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weighing {
    /// Days since the first weighing.
    pub day: f64,
    /// What the scale said.
    pub weight: Mass,
}

/// Why the weights could not be judged.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum DryingError {
    /// Too few.
    #[error("{0} weighings; at least 3 on different days are needed")]
    TooFew(usize),
    /// One, counted from 0, is out of order or not a number.
    #[error(
        "weighing {} is on the same day as, or earlier than, the one before, or is not a positive number",
        .0 + 1
    )]
    Order(usize),
}

/// What the weights say.
#[derive(Clone, Debug, PartialEq)]
pub struct Drying {
    /// Where the weight is heading.
    pub settles_at: Mass,
    /// Days after which half of what it still had to lose is gone.
    pub half_life_days: f64,
    /// What it has still to lose, as a share of its weight now.
    pub still_to_lose: f64,
    /// The change between the last two weighings, as a share a week.
    pub last_change_per_week: f64,
    /// True when it may be cut: the last weighings agree within the limit and
    /// little is left to lose.
    pub settled: bool,
    /// Days from the last weighing until little is left to lose; 0 when settled.
    pub wait_days: f64,
}

/// Two readings that differ by less than this share count as equal: rule of
/// dealers who weigh weekly (common practice, no source).
pub(crate) const SETTLED_SHARE: f64 = 0.001;

impl Drying {
    /// Fits the approach to a final weight, w(t) = w∞ + a·exp(−t/τ), by least
    /// squares: τ by golden section on its logarithm, w∞ and a in closed form.
    ///
    /// # Errors
    /// Fewer than three weighings, or weighings out of order.
    pub fn fit(weighings: &[Weighing]) -> Result<Self, DryingError> {
        if weighings.len() < 3 {
            return Err(DryingError::TooFew(weighings.len()));
        }
        for (k, w) in weighings.iter().enumerate() {
            let ordered = k == 0 || w.day > weighings[k - 1].day;
            let number = w.weight.grams() > 0.0 && w.weight.is_finite() && w.day.is_finite();
            if !(ordered && number) {
                return Err(DryingError::Order(k));
            }
        }
        let first = weighings[0];
        let last = weighings[weighings.len() - 1];
        let span = last.day - first.day;
        let before = weighings[weighings.len() - 2];
        // Between a tenth of the span and ten spans: outside, the data cannot tell.
        let (mut low, mut high) = (libm::log(span / 10.0), libm::log(span * 10.0));
        const GOLDEN: f64 = 0.618_033_988_749_894_8;
        for _ in 0..80 {
            let a = high - GOLDEN * (high - low);
            let b = low + GOLDEN * (high - low);
            if line(weighings, libm::exp(a)).2 < line(weighings, libm::exp(b)).2 {
                high = b;
            } else {
                low = a;
            }
        }
        let tau = libm::exp(0.5 * (low + high));
        let (settles, amplitude, _) = line(weighings, tau);
        let now = last.weight.grams();
        let left = (amplitude * libm::exp(-(last.day - first.day) / tau)).max(0.0) / now;
        let last_change_per_week =
            (before.weight.grams() - now) / now / (last.day - before.day) * 7.0;
        let settled = last_change_per_week.abs() < SETTLED_SHARE && left < SETTLED_SHARE;
        let wait_days = if settled || left <= 0.0 {
            0.0
        } else {
            (tau * libm::log(left / SETTLED_SHARE)).max(0.0)
        };
        Ok(Self {
            settles_at: Mass::from_grams(settles),
            half_life_days: tau * std::f64::consts::LN_2,
            still_to_lose: left,
            last_change_per_week,
            settled,
            wait_days,
        })
    }
}

/// What the weights leave open: draws of what is still to come.
#[derive(Clone, Debug, PartialEq)]
pub struct DryingSpread {
    /// What it has still to lose, as a share of its weight now.
    pub still_to_lose: Draws,
    /// Days from the last weighing until little is left to lose.
    pub wait_days: Draws,
    /// The chance that little is left to lose already.
    pub settled: f64,
}

/// One standard deviation of a weighing as a share of the weight, at least.
/// Chosen: damp and dry air move a stone by a few ten-thousandths.
const AIR_SHARE: f64 = 2e-4;
/// One standard deviation of the water that a piece may lose, as a share of its
/// weight. Chosen: common opal holds a few per cent of water, a tenth at most.
const WATER_SHARE: f64 = 0.05;
/// Days in which a piece loses two thirds of what it has to lose, before anything
/// was weighed, and the factor either way of nine pieces in ten: dealers watch rough
/// for four to twelve weeks, opal that takes up water for one (common practice, no
/// source).
const USUAL_DAYS: (f64, f64) = (14.0, 4.0);
/// Rates that are weighed against each other.
const N_RATES: usize = 160;

impl DryingSpread {
    /// What the weights say of what is still to come, `scale` being one standard
    /// deviation of the scale.
    ///
    /// # Method
    /// As [`Drying::fit`], with a flat prior on the final weight, a log-normal one
    /// on τ and a normal one on what is lost in all; exact given τ, τ on a grid,
    /// then `n` draws.
    /// # Errors
    /// As [`Drying::fit`].
    pub fn of(
        weighings: &[Weighing],
        scale: Mass,
        seed: Seed,
        n: usize,
    ) -> Result<Self, DryingError> {
        let fitted = Drying::fit(weighings)?;
        let (first, last) = (weighings[0], weighings[weighings.len() - 1]);
        let span = last.day - first.day;
        let now = last.weight.grams();
        let sigma = scale.grams().max(AIR_SHARE * now);
        let belief =
            LogBelief::new(USUAL_DAYS.0, USUAL_DAYS.1, USUAL_DAYS.1).expect("both are above 1");
        let prior_variance = (WATER_SHARE * now) * (WATER_SHARE * now);
        let rates: Vec<(f64, f64, f64, f64)> = (0..N_RATES)
            .map(|k| {
                let share = (k as f64 + 0.5) / N_RATES as f64;
                // Three standard deviations either way.
                let z = 6.0 * share - 3.0;
                let tau = belief.at_sd(z);
                let (cross, square) = moments(weighings, tau);
                let precision = square / (sigma * sigma) + 1.0 / prior_variance;
                let mean = cross / (sigma * sigma) / precision;
                let log_weight = 0.5 * mean * mean * precision
                    - 0.5 * libm::log(prior_variance * precision)
                    - 0.5 * z * z;
                (tau, mean, 1.0 / precision.sqrt(), log_weight)
            })
            .collect();
        let most = rates.iter().map(|r| r.3).fold(f64::NEG_INFINITY, f64::max);
        let mut sum = 0.0;
        let cumulative: Vec<f64> = rates
            .iter()
            .map(|r| {
                sum += libm::exp(r.3 - most);
                sum
            })
            .collect();
        let (lefts, waits): (Vec<f64>, Vec<f64>) = (0..n as u64)
            .map(|i| {
                let mut rng = seed.stream("drying", i);
                let u = rng.random::<f64>() * sum;
                let k = cumulative.partition_point(|c| *c < u).min(N_RATES - 1);
                let (tau, mean, sd, _) = rates[k];
                let z: f64 = StandardNormal.sample(&mut rng);
                let left = ((mean + sd * z) * libm::exp(-span / tau) / now).max(0.0);
                (left, (tau * libm::log(left / SETTLED_SHARE)).max(0.0))
            })
            .unzip();
        let settled = lefts.iter().filter(|left| **left < SETTLED_SHARE).count() as f64;
        let few = |_| DryingError::TooFew(weighings.len());
        Ok(Self {
            settled: if fitted.last_change_per_week.abs() < SETTLED_SHARE {
                settled / n.max(1) as f64
            } else {
                0.0
            },
            still_to_lose: Draws::new(lefts).map_err(few)?,
            wait_days: Draws::new(waits).map_err(few)?,
        })
    }
}

/// For a fixed τ: sums of products about the means, of e(t) with the weight and
/// with itself.
fn moments(weighings: &[Weighing], tau: f64) -> (f64, f64) {
    let start = weighings[0].day;
    let n = weighings.len() as f64;
    let e = |w: &Weighing| libm::exp(-(w.day - start) / tau);
    let mean_e = weighings.iter().map(e).sum::<f64>() / n;
    let mean_w = weighings.iter().map(|w| w.weight.grams()).sum::<f64>() / n;
    weighings.iter().fold((0.0, 0.0), |(cross, square), w| {
        let d = e(w) - mean_e;
        (cross + d * (w.weight.grams() - mean_w), square + d * d)
    })
}

/// For a fixed τ: w∞, amplitude and the sum of squares.
fn line(weighings: &[Weighing], tau: f64) -> (f64, f64, f64) {
    let start = weighings[0].day;
    let n = weighings.len() as f64;
    let e = |w: &Weighing| libm::exp(-(w.day - start) / tau);
    let mean_e = weighings.iter().map(e).sum::<f64>() / n;
    let mean_w = weighings.iter().map(|w| w.weight.grams()).sum::<f64>() / n;
    let (cross, square) = moments(weighings, tau);
    let amplitude = if square > 0.0 { cross / square } else { 0.0 };
    let settles = mean_w - amplitude * mean_e;
    let rest: f64 = weighings
        .iter()
        .map(|w| {
            let r = w.weight.grams() - settles - amplitude * e(w);
            r * r
        })
        .sum();
    (settles, amplitude, rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(settles: f64, loses: f64, tau: f64, days: &[f64]) -> Vec<Weighing> {
        days.iter()
            .map(|&day| Weighing {
                day,
                weight: Mass::from_grams(settles + loses * (-day / tau).exp()),
            })
            .collect()
    }

    /// Exact exponentials are given back (closed form).
    #[test]
    fn gives_back_an_exact_approach() {
        let drying = Drying::fit(&series(80.0, 2.0, 9.0, &[0.0, 7.0, 14.0, 21.0])).expect("fits");
        assert!((drying.settles_at.grams() - 80.0).abs() < 1e-3);
        assert!((drying.half_life_days - 9.0 * std::f64::consts::LN_2).abs() < 1e-2);
        assert!(!drying.settled);
        assert!(drying.wait_days > 0.0);
    }

    #[test]
    fn a_steady_weight_is_settled() {
        let drying = Drying::fit(&series(80.0, 0.02, 3.0, &[0.0, 7.0, 14.0, 21.0])).expect("fits");
        assert!(drying.settled);
        assert_eq!(drying.wait_days, 0.0);
    }

    /// The truth of an exact approach lies within the spread, and a piece that
    /// stopped losing long ago is told as settled.
    #[test]
    fn the_spread_holds_the_truth() {
        let scale = Mass::from_grams(0.002);
        let of =
            |series: &[Weighing]| DryingSpread::of(series, scale, Seed(1), 2000).expect("fits");
        let drying = series(80.0, 2.0, 9.0, &[0.0, 7.0, 14.0, 21.0]);
        let spread = of(&drying);
        let truth = 2.0 * (-21.0_f64 / 9.0).exp() / drying[3].weight.grams();
        let at = |p| spread.still_to_lose.quantile(p);
        assert!(at(0.05) < truth && truth < at(0.95), "{truth}");
        assert!(spread.settled < 0.05 && spread.wait_days.quantile(0.5) > 0.0);
        let steady = of(&series(80.0, 0.5, 3.0, &[0.0, 7.0, 14.0, 21.0, 28.0, 35.0]));
        assert!(steady.settled > 0.9, "{}", steady.settled);
        assert_eq!(spread, of(&drying));
    }

    #[test]
    fn faults_are_named() {
        assert_eq!(Drying::fit(&[]), Err(DryingError::TooFew(0)));
        let mut bad = series(80.0, 1.0, 5.0, &[0.0, 7.0, 14.0]);
        bad[2].day = 7.0;
        assert_eq!(Drying::fit(&bad), Err(DryingError::Order(2)));
    }
}
