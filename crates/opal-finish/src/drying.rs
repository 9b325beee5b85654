//! Is it still losing water?

use opal_units::Mass;
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
    /// One is out of order or not a number.
    #[error(
        "weighing {0} is on the same day as, or earlier than, the one before, or is not a positive number"
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

/// For a fixed τ: w∞, amplitude and the sum of squares.
fn line(weighings: &[Weighing], tau: f64) -> (f64, f64, f64) {
    let start = weighings[0].day;
    let n = weighings.len() as f64;
    let e = |w: &Weighing| libm::exp(-(w.day - start) / tau);
    let mean_e = weighings.iter().map(e).sum::<f64>() / n;
    let mean_w = weighings.iter().map(|w| w.weight.grams()).sum::<f64>() / n;
    let (mut cross, mut square) = (0.0, 0.0);
    for w in weighings {
        cross += (e(w) - mean_e) * (w.weight.grams() - mean_w);
        square += (e(w) - mean_e) * (e(w) - mean_e);
    }
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

    #[test]
    fn faults_are_named() {
        assert_eq!(Drying::fit(&[]), Err(DryingError::TooFew(0)));
        let mut bad = series(80.0, 1.0, 5.0, &[0.0, 7.0, 14.0]);
        bad[2].day = 7.0;
        assert_eq!(Drying::fit(&bad), Err(DryingError::Order(2)));
    }
}
