//! How long until it happens, when some are still waiting.

use opal_units::Rng;
use rand_distr::{Distribution as _, Exp1, Gamma};
use thiserror::Error;

/// Why waiting times were refused.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("{what} is {value}; it must be {limit}")]
pub struct WaitingError {
    /// Which number.
    pub what: &'static str,
    /// What it was.
    pub value: f64,
    /// What is allowed.
    pub limit: &'static str,
}

/// What is believed of a steady rate at which things happen: a gamma law.
///
/// # Method
/// Exponential waiting with a Gamma(events, time) law for its rate; what still
/// waits adds its time and no event (Gelman et al. 2013, *Bayesian Data
/// Analysis*, §2.6). The next wait follows a Lomax law: P(T > t) =
/// (time / (time + t))^events.
///
/// # Validity
/// A rate that stays the same however long one has waited.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Waiting {
    events: f64,
    time: f64,
}

impl Waiting {
    /// A belief worth `events` waits of `mean` length each.
    ///
    /// # Errors
    /// A number that is not finite and above 0.
    pub fn believed(mean: f64, events: f64) -> Result<Self, WaitingError> {
        for (what, value) in [("the mean wait", mean), ("its worth", events)] {
            if !(value.is_finite() && value > 0.0) {
                return Err(WaitingError {
                    what,
                    value,
                    limit: "finite and above 0",
                });
            }
        }
        Ok(Self {
            events,
            time: mean * events,
        })
    }

    /// After seeing some waits that ended and some that go on.
    ///
    /// # Errors
    /// A wait that is not finite or is negative.
    pub fn after(mut self, ended: &[f64], going_on: &[f64]) -> Result<Self, WaitingError> {
        for &wait in ended.iter().chain(going_on) {
            if !(wait.is_finite() && wait >= 0.0) {
                return Err(WaitingError {
                    what: "a wait",
                    value: wait,
                    limit: "finite and not below 0",
                });
            }
            self.time += wait;
        }
        self.events += ended.len() as f64;
        Ok(self)
    }

    /// The time within which that share of the next waits ends.
    #[must_use]
    pub fn quantile(&self, share: f64) -> f64 {
        let still = (1.0 - share).clamp(f64::MIN_POSITIVE, 1.0);
        self.time * (still.powf(-1.0 / self.events) - 1.0)
    }

    /// The chance that the next wait ends within `time`.
    #[must_use]
    pub fn chance_within(&self, time: f64) -> f64 {
        1.0 - (self.time / (self.time + time.max(0.0))).powf(self.events)
    }

    /// One next wait.
    #[must_use]
    pub fn draw(&self, rng: &mut Rng) -> f64 {
        let rate = Gamma::new(self.events, 1.0 / self.time)
            .expect("events and time are above 0")
            .sample(rng);
        let unit: f64 = Exp1.sample(rng);
        unit / rate.max(f64::MIN_POSITIVE)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use opal_units::Seed;

    /// scipy 1.17: `lomax(c=5, scale=400).ppf([.05, .5, .95])` and `.cdf(90)`.
    #[test]
    fn next_wait_is_lomax() {
        let waiting = Waiting::believed(60.0, 2.0)
            .and_then(|w| w.after(&[30.0, 80.0, 110.0], &[60.0]))
            .expect("good waits");
        for (share, days) in [
            (0.05, 4.124_583_7),
            (0.5, 59.479_342_0),
            (0.95, 328.225_681_2),
        ] {
            let got = waiting.quantile(share);
            assert!((got - days).abs() < 1e-5, "{share}: {got}");
        }
        assert!((waiting.chance_within(90.0) - 0.637_490_4).abs() < 1e-6);
        let n = 20_000;
        let within = (0..n)
            .filter(|&i| waiting.draw(&mut Seed(5).stream("wait", i)) <= 90.0)
            .count();
        // Four standard errors of a share.
        assert!((within as f64 / n as f64 - 0.6375).abs() < 0.0136);
    }

    /// What still waits makes the next wait longer, what was sold shorter.
    #[test]
    fn waiting_on_counts_against() {
        let before = Waiting::believed(60.0, 2.0).expect("good");
        let unsold = before.after(&[], &[400.0]).expect("good");
        let sold = before.after(&[5.0, 5.0, 5.0], &[]).expect("good");
        assert!(unsold.quantile(0.5) > before.quantile(0.5));
        assert!(sold.quantile(0.5) < before.quantile(0.5));
        assert!(before.after(&[-1.0], &[]).is_err());
        assert!(Waiting::believed(0.0, 2.0).is_err());
    }
}
