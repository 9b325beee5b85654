//! Triangle meshes.

/// A triangle mesh. Vertices in mm; faces run anticlockwise seen from outside
/// when the mesh is oriented.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TriMesh {
    /// Corners, mm.
    pub vertices: Vec<[f64; 3]>,
    /// Three corners a face.
    pub faces: Vec<[u32; 3]>,
}
