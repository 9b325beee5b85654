//! Grids, meshes, outlines and domes: geometry answers questions, it decides nothing.
//!
//! Layer 1: no word of opal in here, and no file is opened.

pub mod grid;
pub mod height_field;
pub mod mesh;
pub mod slice;
pub mod solids;
pub mod winding;

pub use grid::Grid;
pub use height_field::{Layers, layers};
pub use mesh::{Bounds, TriMesh};
pub use slice::{CutPlane, Section, section, volume_above_mm3};
pub use winding::winding_number;
