//! Inclusions counted on surfaces, and cracks.

use opal_units::{Angle, Area, Length};

/// What an inclusion is.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum SpeckKind {
    /// A speck of potch in the colour.
    Potch,
    /// A grain or pocket of sand.
    Sand,
    /// A lens of other ground.
    Lens,
}

impl SpeckKind {
    /// All kinds, in the order in which they are counted.
    pub const ALL: [Self; 3] = [Self::Potch, Self::Sand, Self::Lens];

    /// Its word, as files and pages write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Potch => "potch",
            Self::Sand => "sand",
            Self::Lens => "lens",
        }
    }
}

/// The surface that was looked at.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ExposureKind {
    /// A broken or ground edge.
    Edge,
    /// A face opened along the bar.
    Face,
    /// A small flat ground into the skin.
    Window,
    /// A sawn surface.
    Sawn,
}

impl ExposureKind {
    /// All kinds.
    pub const ALL: [Self; 4] = [Self::Edge, Self::Face, Self::Window, Self::Sawn];

    /// Its word, as files and pages write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Edge => "edge",
            Self::Face => "face",
            Self::Window => "window",
            Self::Sawn => "sawn",
        }
    }
}

/// One inclusion that was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeckSeen {
    /// What it is.
    pub kind: SpeckKind,
    /// Where, stone frame, mm. `None`: counted, its place not noted.
    pub at_mm: Option<[f64; 3]>,
    /// Diameter of the section that was seen.
    pub diameter: Length,
}

/// A surface on which inclusions were counted. None seen is evidence too.
#[derive(Clone, Debug, PartialEq)]
pub struct Exposure {
    /// What surface.
    pub kind: ExposureKind,
    /// How much of it was looked at.
    pub area: Area,
    /// The smallest section that would have been seen.
    pub smallest_seen: Length,
    /// What was seen.
    pub specks: Vec<SpeckSeen>,
}

/// A crack seen as a line on a surface.
#[derive(Clone, Debug, PartialEq)]
pub struct CrackTrace {
    /// The line from above, stone frame, mm; two points or more.
    pub trace_mm: Vec<[f64; 2]>,
    /// Dip below the horizontal; 90° stands upright.
    pub dip: Angle,
    /// How deep it reaches below the surface it was seen on.
    pub depth: Length,
}
