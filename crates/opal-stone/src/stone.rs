//! The layered solid.

use crate::weight::WeightCheck;
use crate::{GridChoice, callipers};
use opal_evidence::{Evidence, Fault, Faults, GravityEstimate, Shape, StoneFromMesh};
use opal_geom::{Grid, TriMesh};
use opal_units::{Length, Mass, Volume};
use std::sync::Arc;

/// What the shape rests on.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ShapeSource {
    /// A scan.
    Scan,
    /// An outline with heights.
    Outline,
    /// Three calliper sizes.
    Callipers,
}

/// Where the layered form departs from a scan that folds over itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Departure {
    /// Volume of the layered form less that of the scan.
    pub volume: Volume,
    /// The columns (grid nodes) that cross the skin more than twice.
    pub folded_nodes: Vec<usize>,
}

/// The rough, layered: at every node inside, one skin top above one skin bottom.
#[derive(Clone, Debug, PartialEq)]
pub struct Stone {
    /// The nodes.
    pub grid: Grid,
    /// Skin top at each node, mm in the stone frame; NaN outside.
    pub top_mm: Vec<f32>,
    /// Skin bottom at each node, mm; NaN outside.
    pub bottom_mm: Vec<f32>,
    /// What the shape rests on.
    pub source: ShapeSource,
    /// Volume of the solid, with one standard deviation.
    pub volume: (Volume, Volume),
    /// One standard deviation of where the skin lies, the same everywhere.
    pub skin_sigma: Length,
    /// What it weighs: by the scale where it was weighed, else by volume and
    /// specific gravity; with one standard deviation.
    pub weight: (Mass, Mass),
    /// Specific gravity to count with.
    pub gravity: GravityEstimate,
    /// The check of shape against weight, where it was weighed.
    pub check: Option<WeightCheck>,
    /// The scan in the stone frame, where there is one.
    pub mesh: Option<Arc<TriMesh>>,
    /// How the scan was turned into the stone frame.
    pub stone_from_mesh: Option<StoneFromMesh>,
    /// Where the layered form departs from the scan.
    pub departure: Option<Departure>,
    /// What the cutter should know of how this was made, in plain words.
    pub notes: Vec<String>,
}

impl Stone {
    /// Builds the rough from whatever is known of its outside.
    ///
    /// # Errors
    /// Sizes that cannot be, an outline without area, a scan without a solid
    /// inside, or a grid finer than can be computed: all faults at once.
    pub fn from_evidence(evidence: &Evidence, grid: GridChoice) -> Result<Self, Faults> {
        match &evidence.shape {
            Shape::Callipers(callipers) => callipers::stone(callipers, &evidence.piece, grid),
            Shape::Outline(_) | Shape::Scan(_) => Err(Faults::from(Fault::new(
                "shape",
                "an outline or a scan",
                "is not built yet",
            ))),
        }
    }
}
