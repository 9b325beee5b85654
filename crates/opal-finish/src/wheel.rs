//! A wheel, by its grain.

use crate::{LogBelief, damage_belief};
use opal_units::Length;

/// The scale that a grit number belongs to. The same number means different
/// sizes on different scales, so a number is never kept without it.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum GritScale {
    /// Diamond by US mesh, sieve sizes (ISO 6106).
    DiamondMesh,
    /// Coated paper, P grades (ISO 6344).
    FepaP,
    /// Loose and bonded powder, F grades (ISO 8486).
    FepaF,
    /// Coated paper, the American grades (ANSI B74.18).
    Cami,
    /// The number is the size in micrometres.
    Micrometres,
}

/// A grain size with the number it is sold by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grain {
    /// The scale.
    pub scale: GritScale,
    /// The number on that scale.
    pub number: u32,
    /// The size.
    pub size: Length,
}

/// A wheel of the cutter's own.
#[derive(Clone, Debug, PartialEq)]
pub struct Wheel {
    /// What the cutter calls it.
    pub name: String,
    /// Its grain.
    pub grain: Grain,
    /// Depth of damage it leaves below the surface, scratches included, µm.
    /// `None` for the last, polishing wheel: it leaves none that shows.
    pub damage_um: Option<LogBelief>,
    /// Volume it removes a minute under the hand's usual pressure, mm³/min.
    ///
    /// A volume and not a depth: by Preston's law (1927) depth rate is
    /// k · pressure · speed, pressure is force over area, and the hand's force is
    /// what stays the same; so depth rate falls as the face grows.
    pub removal_mm3_per_min: LogBelief,
}

impl Wheel {
    /// A grinding wheel with the published belief of damage for its grain.
    /// `None` for a grain that is not positive.
    #[must_use]
    pub fn grinding(name: &str, grain: Grain, removal_mm3_per_min: LogBelief) -> Option<Self> {
        let damage_um = Some(damage_belief(grain.size)?);
        Some(Self {
            name: name.to_owned(),
            grain,
            damage_um,
            removal_mm3_per_min,
        })
    }

    /// A polishing wheel: it leaves no damage that shows.
    #[must_use]
    pub fn polishing(name: &str, grain: Grain, removal_mm3_per_min: LogBelief) -> Self {
        Self {
            name: name.to_owned(),
            grain,
            damage_um: None,
            removal_mm3_per_min,
        }
    }

    /// The wheel after the log has told of one stint: `removed` stone in `minutes`.
    #[must_use]
    pub fn after_stint(mut self, removed: opal_units::Volume, minutes: f64) -> Self {
        self.removal_mm3_per_min = self.removal_mm3_per_min.after(removed.mm3() / minutes);
        self
    }
}
