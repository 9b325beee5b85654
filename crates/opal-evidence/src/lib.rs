//! What was seen, weighed and measured of a piece of rough, and how sure.
//!
//! Layer 2. These are the facts, already checked; the file that carries them
//! (`opalwright-evidence/1`) is read and written in `opal-files`.

mod exposure;
mod fault;
mod levelled;
mod look;
mod piece;
mod shape;
mod sighting;
mod step;

pub use exposure::{CrackTrace, Exposure, ExposureKind, SpeckKind, SpeckSeen};
pub use fault::{Fault, Faults};
pub use look::{BodyTone, Brightness, Look, TorchLook, Variety};
pub use piece::{Form, GravityEstimate, Piece};
pub use shape::{Callipers, LengthUnit, OutlineShape, ScanShape, Shape, StoneFromMesh};
pub use sighting::{BarEvidence, QuickBar, Reading, Seen, Sighting};
pub use step::Step;

/// Everything known of one piece, in the stone frame (x, y in the plane of the
/// main bar, z up toward the face, mm).
///
/// For callipers the frame's origin is the lower corner of the measured box:
/// x from 0 to the length, y from 0 to the width, z from 0 to the height.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// Name, form, weight.
    pub piece: Piece,
    /// The outside.
    pub shape: Shape,
    /// The colour bars, main bar first. Empty: no bar has been seen yet.
    pub bars: Vec<BarEvidence>,
    /// Surfaces on which inclusions were counted.
    pub exposures: Vec<Exposure>,
    /// Cracks that were seen.
    pub cracks: Vec<CrackTrace>,
    /// A line along which the bars break off.
    pub step: Option<Step>,
    /// What the torch showed.
    pub torch: Option<TorchLook>,
    /// How the colour looks: what the price depends on beside size.
    pub look: Look,
}
