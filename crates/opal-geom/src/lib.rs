//! Grids, meshes, outlines and domes: geometry answers questions, it decides nothing.
//!
//! Layer 1: no word of opal in here, and no file is opened.

pub mod grid;
pub mod mesh;

pub use grid::Grid;
pub use mesh::TriMesh;
