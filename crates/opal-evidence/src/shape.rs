//! The outside of the piece.

use opal_geom::TriMesh;
use opal_units::Length;
use std::sync::Arc;

/// The rotation and shift that turn mesh coordinates into the stone frame:
/// `point_in_stone = rotation · point_in_mesh + translation`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StoneFromMesh {
    /// Row-major rotation.
    pub rotation: [f64; 9],
    /// Shift, mm.
    pub translation_mm: [f64; 3],
}

impl StoneFromMesh {
    /// The file's axes are the stone's.
    pub const IDENTITY: Self = Self {
        rotation: [1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0],
        translation_mm: [0.0; 3],
    };

    /// Where a point of the mesh lies in the stone frame, mm.
    #[must_use]
    pub fn apply(&self, p: [f64; 3]) -> [f64; 3] {
        let r = &self.rotation;
        let t = &self.translation_mm;
        [
            r[0] * p[0] + r[1] * p[1] + r[2] * p[2] + t[0],
            r[3] * p[0] + r[4] * p[1] + r[5] * p[2] + t[1],
            r[6] * p[0] + r[7] * p[1] + r[8] * p[2] + t[2],
        ]
    }
}

/// The unit in which a scan's file counts.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub enum LengthUnit {
    /// Millimetres.
    #[default]
    Mm,
    /// Centimetres.
    Cm,
    /// Metres.
    M,
    /// Inches.
    Inch,
}

impl LengthUnit {
    /// All units.
    pub const ALL: [Self; 4] = [Self::Mm, Self::Cm, Self::M, Self::Inch];

    /// Its word, as files write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Cm => "cm",
            Self::M => "m",
            Self::Inch => "inch",
        }
    }

    /// How long one of it is.
    #[must_use]
    pub const fn length(self) -> Length {
        match self {
            Self::Mm => Length::from_mm(1.0),
            Self::Cm => Length::from_cm(1.0),
            Self::M => Length::from_m(1.0),
            Self::Inch => Length::from_inch(1.0),
        }
    }
}

/// A scan, read and repaired, still in the frame of its file but in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct ScanShape {
    /// The mesh, mm.
    pub mesh: Arc<TriMesh>,
    /// Where it came from, for the record: the file's name.
    pub source: String,
    /// The unit that its file counts in; the mesh here is in mm.
    pub file_unit: LengthUnit,
    /// What was repaired, in plain words.
    pub repairs: Vec<String>,
    /// How it lies in the stone frame. `None`: the file's axes are the
    /// stone's. To lay the bar flat, see [`crate::Evidence::levelled`].
    pub stone_from_mesh: Option<StoneFromMesh>,
}

/// A traced outline with heights measured here and there.
#[derive(Clone, Debug, PartialEq)]
pub struct OutlineShape {
    /// The outline from above, closed by itself, mm.
    pub points_mm: Vec<[f64; 2]>,
    /// Rows of x, y and the skin's top z there, mm.
    pub heights_mm: Vec<[f64; 3]>,
    /// Rows of x, y and the skin's bottom z there, mm; one row for a flat base.
    pub base_mm: Vec<[f64; 3]>,
}

/// Three calliper sizes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Callipers {
    /// Along x.
    pub length: Length,
    /// Along y.
    pub width: Length,
    /// Along z, across the bar.
    pub height: Length,
    /// Volume over that of the box, where the cutter gave it.
    pub solidity: Option<f64>,
}

/// The outside, in order of trust.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A scan.
    Scan(ScanShape),
    /// An outline with heights.
    Outline(OutlineShape),
    /// Three sizes.
    Callipers(Callipers),
}
