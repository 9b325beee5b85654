//! The wheels and the saw of one bench.

use crate::{SawSide, Wheel, usual_wheels};
use opal_units::{Area, Money};

/// What a cutter has to work with.
#[derive(Clone, Debug, PartialEq)]
pub struct WheelSet {
    /// What the cutter calls it, with of when it is.
    pub title: String,
    /// Coarse to fine, the polishing one last.
    pub wheels: Vec<Wheel>,
    /// The saw.
    pub saw: Saw,
}

/// A saw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Saw {
    /// Area cut a minute at the usual feed, mm²/min.
    pub feed_mm2_per_min: f64,
    /// Minutes to set a stone up and to clean after.
    pub set_up_minutes: f64,
    /// What a blade costs, and how much it cuts before it is worn out.
    pub blade: Option<(Money, Area)>,
    /// How wear grows with the feed; see [`SawSide::wear_exponent`].
    pub wear_exponent: f64,
}

impl Saw {
    /// A usual trim saw: 10 mm a minute by hand through 9 mm of stone, two
    /// minutes around it (common practice, no source).
    pub const USUAL: Self = Self {
        feed_mm2_per_min: 90.0,
        set_up_minutes: 2.0,
        blade: None,
        wear_exponent: Self::WEAR_EXPONENT,
    };

    /// How wear grows with the feed where nobody told. Chosen: pressing twice as
    /// hard costs four times the blade for a cut; common practice (sparks cost
    /// the blade), no source for the power.
    pub const WEAR_EXPONENT: f64 = 2.0;

    /// One cut through `cut`, pressed `pressure` times as hard as usual.
    #[must_use]
    pub fn side(&self, cut: Area, pressure: f64) -> SawSide {
        SawSide {
            cut,
            feed_mm2_per_min: self.feed_mm2_per_min,
            set_up_minutes: self.set_up_minutes,
            blade_cost_per_mm2: self
                .blade
                .map_or(0.0, |(price, lasts)| price.major() / lasts.mm2()),
            pressure,
            wear_exponent: self.wear_exponent,
        }
    }
}

impl WheelSet {
    /// A usual set, for a cutter who has not written down their own yet.
    #[must_use]
    pub fn usual() -> Self {
        Self {
            title: "a usual set of wheels".to_owned(),
            wheels: usual_wheels(),
            saw: Saw::USUAL,
        }
    }

    /// The wheel of this name, capitals and spaces around it aside.
    #[must_use]
    pub fn wheel(&self, name: &str) -> Option<&Wheel> {
        let same = |wheel: &&Wheel| wheel.name.trim().eq_ignore_ascii_case(name.trim());
        self.wheels.iter().find(same)
    }

    /// The wheel that ordinary roughing starts with: the second coarsest, where
    /// there are three or more (common practice, no source: the coarsest is for
    /// large barren stock).
    #[must_use]
    pub fn roughing(&self) -> Option<&Wheel> {
        self.wheels.get(usize::from(self.wheels.len() >= 3))
    }
}
