//! A wheel, by its grain.

use crate::{LogBelief, damage_belief};
use opal_reference::grit as reference;
use opal_units::{Length, Money, Volume};

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
    /// What makers of diamond wheels for stones print; no standard.
    LapidaryDiamond,
    /// The number is the size in micrometres.
    Micrometres,
}

impl GritScale {
    /// The scale's key in the reference data; `None` for plain micrometres.
    #[must_use]
    pub fn key(self) -> Option<&'static str> {
        match self {
            Self::DiamondMesh => Some("diamond-mesh"),
            Self::FepaP => Some("fepa-p"),
            Self::FepaF => Some("fepa-f"),
            Self::Cami => Some("cami"),
            Self::LapidaryDiamond => Some("lapidary-diamond"),
            Self::Micrometres => None,
        }
    }

    /// The scale with this key in the reference data.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Self> {
        [
            Self::DiamondMesh,
            Self::FepaP,
            Self::FepaF,
            Self::Cami,
            Self::LapidaryDiamond,
        ]
        .into_iter()
        .find(|scale| scale.key() == Some(key))
    }
}

/// A grain size with the number it is sold by.
#[derive(Clone, Debug, PartialEq)]
pub struct Grain {
    /// The scale.
    pub scale: GritScale,
    /// The number on that scale, as it is printed.
    pub number: String,
    /// The size.
    pub size: Length,
}

/// How a wheel is used up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wear {
    /// What a new one costs.
    pub price: Money,
    /// How much stone it takes off before it is worn out.
    pub lasts: Volume,
}

impl Wear {
    /// What taking this much off uses up, major units.
    #[must_use]
    pub fn cost(&self, removed: Volume) -> f64 {
        self.price.major() * removed.mm3() / self.lasts.mm3()
    }
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
    /// How it is used up, where the cutter told.
    pub wear: Option<Wear>,
}

/// How far one stint's rate scatters around a wheel's true one, nine in ten.
/// Chosen: because a hand presses now harder, now softer.
pub const STINT_FACTOR: f64 = 2.0;

/// A usual set of wheels for opal, coarse to fine, the polishing one last; for
/// a cutter who has not written down their own yet.
#[must_use]
pub fn usual_wheels() -> Vec<Wheel> {
    reference::usual_wheels()
        .iter()
        .filter_map(|row| {
            let (scale, number) = (&row.grit.0, &row.grit.1);
            let grain = Grain::on_scale(GritScale::from_key(scale)?, number)?;
            let rate = LogBelief::new(row.removal_mm3_per_min, row.factor, STINT_FACTOR)?;
            match row.kind.as_str() {
                "polish" => Some(Wheel::polishing(&row.name, grain, rate)),
                _ => Wheel::grinding(&row.name, grain, rate),
            }
        })
        .collect()
}

impl Grain {
    /// The grain behind a number on a scale; `None` where its table has none.
    #[must_use]
    pub fn on_scale(scale: GritScale, number: &str) -> Option<Self> {
        Some(Self {
            scale,
            number: number.to_owned(),
            size: Length::from_um(reference::grit(scale.key()?, number)?.um),
        })
    }

    /// What it is sold as, with its scale: a number alone is several sizes.
    #[must_use]
    pub fn words(&self) -> String {
        match self.scale.key() {
            Some(key) => format!("{} on the scale {key}, {}", self.number, self.size_words()),
            None => self.size_words(),
        }
    }

    fn size_words(&self) -> String {
        format!("{} µm", self.size.um())
    }
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
            wear: None,
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
            wear: None,
        }
    }

    /// What must be seen under the loupe before the wheel is changed (common
    /// practice, no source).
    #[must_use]
    pub fn look_for(&self) -> &'static str {
        // Chosen: from 40 µm up a wheel roughs, from 10 µm up it shapes and smooths.
        match (self.damage_um, self.grain.size.um()) {
            (None, _) => "a lamp mirrored sharply from edge to edge, no haze, no ripple",
            (Some(_), um) if um >= 40.0 => {
                "only even scratches of this wheel, no pits, no chips along the edge"
            }
            (Some(_), um) if um >= 10.0 => "no scratch of the wheel before",
            (Some(_), _) => "an even satin; a bright line is an old scratch: go back a wheel",
        }
    }

    /// The wheel after the log has told of one stint: `removed` stone in `minutes`.
    #[must_use]
    pub fn after_stint(mut self, removed: Volume, minutes: f64) -> Self {
        self.removal_mm3_per_min = self.removal_mm3_per_min.after(removed.mm3() / minutes);
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_set_is_whole_and_gets_finer() {
        let wheels = usual_wheels();
        assert_eq!(wheels.len(), reference::usual_wheels().len());
        for pair in wheels.windows(2) {
            assert!(pair[1].grain.size.um() < pair[0].grain.size.um());
        }
        assert!(
            wheels
                .iter()
                .rev()
                .skip(1)
                .all(|wheel| wheel.damage_um.is_some())
        );
        assert!(wheels.last().is_some_and(|wheel| wheel.damage_um.is_none()));
    }

    #[test]
    fn every_stage_of_the_usual_set_has_its_own_check() {
        let mut checks: Vec<&str> = usual_wheels().iter().map(Wheel::look_for).collect();
        checks.dedup();
        assert_eq!(checks.len(), 4);
    }

    /// A stint at twice the believed rate raises the belief, but not all the way.
    #[test]
    fn a_stint_teaches() {
        let wheel = usual_wheels().remove(1);
        let before = wheel.removal_mm3_per_min;
        let after = wheel.after_stint(Volume::from_mm3(before.median() * 20.0), 10.0);
        let now = after.removal_mm3_per_min;
        assert!(now.median() > before.median() && now.median() < 2.0 * before.median());
        assert!(now.log_sd() < before.log_sd());
    }
}
