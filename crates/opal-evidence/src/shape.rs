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

/// A scan, read and repaired, still in the frame of its file but in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct ScanShape {
    /// The mesh, mm.
    pub mesh: Arc<TriMesh>,
    /// Where it came from, for the record.
    pub source: String,
    /// What was repaired, in plain words.
    pub repairs: Vec<String>,
    /// How it lies in the stone frame. `None`: fit it to the bar's sightings,
    /// or take the file's axes when there are too few.
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
