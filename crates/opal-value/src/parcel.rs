//! A parcel: several pieces sold together, some of them looked into.

mod belief;
mod counts;
mod forecast;
mod looking;

pub use belief::{Usual, WorthBelief};
pub use counts::BetaBinomial;
pub use forecast::{ParcelForecast, Terms, forecast};
pub use looking::{LookPlan, Looks, Stake, looks};

use opal_units::{Mass, Money};
use thiserror::Error;

/// What is known of a parcel.
#[derive(Clone, Debug, PartialEq)]
pub struct Parcel {
    /// Pieces in it, those looked into among them.
    pub pieces: usize,
    /// All of it on one scale.
    pub weight: Mass,
    /// The pieces looked into, in any order.
    pub looked: Vec<LookedInto>,
    /// What is usual for such pieces.
    pub usual: Usual,
}

/// A parcel that is offered.
#[derive(Clone, Debug, PartialEq)]
pub struct ParcelOffer {
    /// What the cutter calls it.
    pub name: String,
    /// What is asked for it.
    pub asking: Option<Money>,
    /// True when the pieces looked into were taken blindly, by nobody's choice.
    pub taken_blindly: bool,
    /// What it takes to look into one piece, minutes; `None`: as long as any piece
    /// takes to look over.
    pub minutes_a_look: Option<f64>,
    /// What is known of it.
    pub parcel: Parcel,
}

/// One piece that was looked into.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LookedInto {
    /// Its weight.
    pub weight: Mass,
    /// What it brings once cut, net of work and selling, major units; 0 where it does
    /// not pay to cut it.
    pub worth: f64,
    /// One standard deviation of that.
    pub sigma: f64,
}

impl LookedInto {
    /// True when it pays to cut it.
    #[must_use]
    pub fn pays(&self) -> bool {
        self.worth > 0.0
    }

    /// What it brings a carat, where it pays.
    fn per_carat(&self) -> Option<f64> {
        self.pays().then(|| self.worth / self.weight.carats())
    }
}

/// What is wrong with a parcel.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("{field} is {value}; it must be {limit}")]
pub struct ParcelFault {
    /// Which field.
    pub field: String,
    /// What stood there.
    pub value: String,
    /// What is allowed.
    pub limit: String,
}

impl Parcel {
    /// Pieces that nobody looked into.
    #[must_use]
    pub fn unseen(&self) -> usize {
        self.pieces.saturating_sub(self.looked.len())
    }

    /// Weight of the pieces that nobody looked into.
    #[must_use]
    pub fn unseen_weight(&self) -> Mass {
        let seen: f64 = self.looked.iter().map(|p| p.weight.carats()).sum();
        Mass::from_carats((self.weight.carats() - seen).max(0.0))
    }

    /// Everything that is wrong with it, at once.
    #[must_use]
    pub fn faults(&self) -> Vec<ParcelFault> {
        /// Pieces from which it is no parcel that one looks through. Chosen: the draws
        /// take seconds there.
        const MOST_PIECES: usize = 2000;
        let mut faults = Vec::new();
        let mut hold = |field: String, value: f64, holds: bool, limit: &str| {
            if !holds {
                faults.push(ParcelFault {
                    field,
                    value: value.to_string(),
                    limit: limit.to_owned(),
                });
            }
        };
        let positive = |x: f64| x > 0.0 && x.is_finite();
        hold(
            "pieces".to_owned(),
            self.pieces as f64,
            (1..=MOST_PIECES).contains(&self.pieces),
            "from 1 to 2000",
        );
        hold(
            "looked".to_owned(),
            self.looked.len() as f64,
            self.looked.len() <= self.pieces,
            "at most the pieces in the parcel",
        );
        let weight = self.weight.carats();
        hold("weight".to_owned(), weight, positive(weight), "above 0 ct");
        for (k, piece) in self.looked.iter().enumerate() {
            let carats = piece.weight.carats();
            let fields = [
                ("weight", carats, positive(carats), "above 0 ct"),
                (
                    "worth",
                    piece.worth,
                    piece.worth.is_finite() && piece.worth >= 0.0,
                    "0 or more",
                ),
                (
                    "sigma",
                    piece.sigma,
                    piece.sigma.is_finite() && piece.sigma >= 0.0,
                    "0 or more",
                ),
            ];
            for (name, value, holds, limit) in fields {
                hold(format!("looked[{k}].{name}"), value, holds, limit);
            }
        }
        let seen: f64 = self.looked.iter().map(|p| p.weight.carats()).sum();
        // A scale's last digit, piece by piece.
        let slack = 0.01 * (self.looked.len() + 1) as f64;
        let (fits, limit) = if self.unseen() == 0 {
            (true, "")
        } else {
            (
                seen + slack < weight,
                "more than the pieces looked into weigh together",
            )
        };
        hold("weight".to_owned(), weight, fits, limit);
        for (name, value, holds, limit) in self.usual.limits() {
            hold(format!("usual.{name}"), value, holds, limit);
        }
        faults
    }
}
