//! The unit that a scan's numbers are in.

use std::fmt;
use std::str::FromStr;

/// The unit of the lengths in a file. Mesh files do not say it themselves.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum MeshUnit {
    /// Millimetre.
    #[default]
    Millimetre,
    /// Centimetre.
    Centimetre,
    /// Metre.
    Metre,
    /// Inch of exactly 25.4 mm (international yard and pound agreement, 1959).
    Inch,
}

impl MeshUnit {
    /// How many millimetres make one.
    #[must_use]
    pub fn in_mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Metre => 1000.0,
            Self::Inch => 25.4,
        }
    }
}

impl fmt::Display for MeshUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Millimetre => "mm",
            Self::Centimetre => "cm",
            Self::Metre => "m",
            Self::Inch => "inch",
        })
    }
}

/// The word is no unit that scans come in.
#[derive(Clone, Debug, Eq, PartialEq, thiserror::Error)]
#[error("unit is {0:?}; one of mm, cm, m, inch is allowed")]
pub struct UnknownUnit(
    /// What stood there.
    pub String,
);

impl FromStr for MeshUnit {
    type Err = UnknownUnit;

    fn from_str(word: &str) -> Result<Self, UnknownUnit> {
        match word {
            "mm" => Ok(Self::Millimetre),
            "cm" => Ok(Self::Centimetre),
            "m" => Ok(Self::Metre),
            "inch" | "in" => Ok(Self::Inch),
            other => Err(UnknownUnit(other.to_owned())),
        }
    }
}
