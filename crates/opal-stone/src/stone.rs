//! The layered solid.

use crate::weight::WeightCheck;
use crate::{GridChoice, callipers, outline, scan};
use opal_evidence::{Evidence, Faults, GravityEstimate, Shape, StoneFromMesh};
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
            Shape::Outline(shape) => outline::stone(shape, &evidence.piece, grid),
            Shape::Scan(shape) => scan::stone(shape, &evidence.piece, grid),
        }
    }

    /// The same stone with all lengths scaled about the frame's origin so that
    /// its volume is that of its weight; `None` where it was not weighed.
    ///
    /// # Validity
    /// For a scan or a drawing in the wrong scale. Sightings are left as they
    /// are: those measured on the scan need the same factor.
    #[must_use]
    pub fn scaled_to_weight(&self) -> Option<Self> {
        let check = self.check.as_ref()?;
        let factor = (check.volume_by_weight.0 / self.volume.0).cbrt();
        let mut scaled = self.clone();
        scaled.grid.cell_mm *= factor;
        scaled.grid.origin_mm = scaled.grid.origin_mm.map(|x| x * factor);
        for z in scaled.top_mm.iter_mut().chain(&mut scaled.bottom_mm) {
            *z = (f64::from(*z) * factor) as f32;
        }
        scaled.mesh = self.mesh.as_ref().map(|mesh| Arc::new(mesh.scaled(factor)));
        if let Some(departure) = &mut scaled.departure {
            departure.volume = departure.volume * factor.powi(3);
        }
        scaled.volume = check.volume_by_weight;
        let mut check = check.clone();
        check.scaled_by *= factor;
        check.verdict = format!(
            "Lengths were scaled by {factor:.3} so that the shape holds what the scale said, \
             {:.1} ct.",
            check.weighed.carats()
        );
        scaled.check = Some(check);
        Some(scaled)
    }
}
