//! Lengths, areas, volumes, masses, specific gravities and angles.
//!
//! One unit is held inside each type; numbers become quantities at the rim and
//! numbers again at the rim.

use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// None of it.
            pub const ZERO: Self = Self(0.0);

            /// True when the number is neither infinite nor NaN.
            #[must_use]
            pub fn is_finite(self) -> bool {
                self.0.is_finite()
            }

            /// The smaller of two.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The larger of two.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// The size without the sign.
            #[must_use]
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        /// How many times the one goes into the other; a plain number.
        impl Div for $name {
            type Output = f64;
            fn div(self, divisor: Self) -> f64 {
                self.0 / divisor.0
            }
        }
        impl std::iter::Sum for $name {
            fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
                iter.fold(Self::ZERO, Add::add)
            }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                if let Some(places) = f.precision() {
                    write!(f, concat!("{:.*} ", $unit), places, self.0)
                } else {
                    write!(f, concat!("{} ", $unit), self.0)
                }
            }
        }
    };
}

quantity! {
    /// A length. Held in millimetres.
    Length, "mm"
}
quantity! {
    /// An area. Held in square millimetres.
    Area, "mm²"
}
quantity! {
    /// A volume. Held in cubic millimetres.
    Volume, "mm³"
}
quantity! {
    /// A mass. Held in grams; the metric carat is exactly 0.2 g
    /// (4th General Conference on Weights and Measures, 1907).
    Mass, "g"
}
quantity! {
    /// A specific gravity: density over that of water at 4 °C.
    SpecificGravity, "SG"
}
quantity! {
    /// An angle. Held in radians.
    Angle, "rad"
}

/// Grams in one metric carat (4th CGPM, 1907: 200 mg).
const GRAMS_PER_CARAT: f64 = 0.2;
/// Millimetres in one inch (international yard and pound agreement, 1959: exactly 25.4).
const MM_PER_INCH: f64 = 25.4;
/// Density of water at 4 °C in g/mm³ (Tanaka et al. 2001, Metrologia 38: 999.974 950 kg/m³).
const WATER_G_PER_MM3: f64 = 0.000_999_974_95;

impl Length {
    /// From millimetres.
    #[must_use]
    pub const fn from_mm(mm: f64) -> Self {
        Self(mm)
    }
    /// From centimetres.
    #[must_use]
    pub const fn from_cm(cm: f64) -> Self {
        Self(cm * 10.0)
    }
    /// From metres.
    #[must_use]
    pub const fn from_m(m: f64) -> Self {
        Self(m * 1000.0)
    }
    /// From inches.
    #[must_use]
    pub const fn from_inch(inch: f64) -> Self {
        Self(inch * MM_PER_INCH)
    }
    /// From micrometres.
    #[must_use]
    pub const fn from_um(um: f64) -> Self {
        Self(um / 1000.0)
    }
    /// In millimetres.
    #[must_use]
    pub const fn mm(self) -> f64 {
        self.0
    }
    /// In micrometres.
    #[must_use]
    pub const fn um(self) -> f64 {
        self.0 * 1000.0
    }
}

impl Mul for Length {
    type Output = Area;
    fn mul(self, other: Self) -> Area {
        Area(self.0 * other.0)
    }
}

impl Area {
    /// From square millimetres.
    #[must_use]
    pub const fn from_mm2(mm2: f64) -> Self {
        Self(mm2)
    }
    /// In square millimetres.
    #[must_use]
    pub const fn mm2(self) -> f64 {
        self.0
    }
}

impl Mul<Length> for Area {
    type Output = Volume;
    fn mul(self, other: Length) -> Volume {
        Volume(self.0 * other.0)
    }
}

impl Volume {
    /// From cubic millimetres.
    #[must_use]
    pub const fn from_mm3(mm3: f64) -> Self {
        Self(mm3)
    }
    /// In cubic millimetres.
    #[must_use]
    pub const fn mm3(self) -> f64 {
        self.0
    }
}

impl Mul<SpecificGravity> for Volume {
    type Output = Mass;
    fn mul(self, gravity: SpecificGravity) -> Mass {
        Mass(self.0 * gravity.0 * WATER_G_PER_MM3)
    }
}

impl Mass {
    /// From grams.
    #[must_use]
    pub const fn from_grams(grams: f64) -> Self {
        Self(grams)
    }
    /// From metric carats.
    #[must_use]
    pub const fn from_carats(carats: f64) -> Self {
        Self(carats * GRAMS_PER_CARAT)
    }
    /// In grams.
    #[must_use]
    pub const fn grams(self) -> f64 {
        self.0
    }
    /// In metric carats.
    #[must_use]
    pub const fn carats(self) -> f64 {
        self.0 / GRAMS_PER_CARAT
    }
    /// The volume that this mass fills at a specific gravity.
    #[must_use]
    pub fn volume_at(self, gravity: SpecificGravity) -> Volume {
        Volume(self.0 / (gravity.0 * WATER_G_PER_MM3))
    }
}

impl SpecificGravity {
    /// From the plain ratio.
    #[must_use]
    pub const fn new(ratio: f64) -> Self {
        Self(ratio)
    }
    /// The plain ratio.
    #[must_use]
    pub const fn ratio(self) -> f64 {
        self.0
    }
}

impl Angle {
    /// From radians.
    #[must_use]
    pub const fn from_radians(radians: f64) -> Self {
        Self(radians)
    }
    /// From degrees.
    #[must_use]
    pub fn from_degrees(degrees: f64) -> Self {
        Self(degrees.to_radians())
    }
    /// In radians.
    #[must_use]
    pub const fn radians(self) -> f64 {
        self.0
    }
    /// In degrees.
    #[must_use]
    pub fn degrees(self) -> f64 {
        self.0.to_degrees()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 5 ct = 1 g and one avoirdupois ounce = 141.747 615 625 ct: both exact by
    /// definition (CGPM 1907; international pound of 1959, 28.349 523 125 g).
    #[test]
    fn carats_and_ounces() {
        assert_eq!(Mass::from_carats(5.0).grams(), 1.0);
        let ounce = Mass::from_grams(28.349_523_125);
        assert!((ounce.carats() - 141.747_615_625).abs() < 1e-9);
    }

    #[test]
    fn weight_and_volume_invert() {
        let volume = Volume::from_mm3(84.823);
        let gravity = SpecificGravity::new(2.1);
        let back = (volume * gravity).volume_at(gravity);
        assert!((back.mm3() - 84.823).abs() < 1e-9);
    }

    #[test]
    fn an_inch_is_25_4_mm() {
        assert_eq!(Length::from_inch(1.0).mm(), 25.4);
        assert_eq!(format!("{:.1}", Length::from_inch(2.0)), "50.8 mm");
    }
}
