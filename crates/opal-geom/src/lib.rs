//! Grids, meshes, outlines and domes: geometry answers questions, it decides nothing.
//!
//! Layer 1: no word of opal in here, and no file is opened.

pub mod contour;
pub mod dome;
pub mod edt;
pub mod families;
pub mod freeform;
pub mod grid;
pub mod height_field;
pub mod inscribed;
pub mod lp;
pub mod mesh;
pub mod outline;
pub mod plane;
pub mod repair;
pub mod slice;
pub mod solids;
pub mod winding;

pub use grid::Grid;
pub use height_field::{Layers, layers};
pub use mesh::{Bounds, TriMesh};
pub use outline::Outline;
pub use repair::{MeshFault, RepairLimits, Repaired, repair, repair_within};
pub use slice::{CutPlane, Section, section, volume_above_mm3};
pub use winding::winding_number;
