//! The finished stone as a closed surface.

use crate::plan::CutStone;
use opal_geom::TriMesh;

impl CutStone {
    /// The closed surface of the stone, for drawing and for volumes.
    #[must_use]
    pub fn surface(&self) -> TriMesh {
        TriMesh::default()
    }
}
