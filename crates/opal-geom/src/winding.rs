//! How often a mesh winds round a point: inside or outside, even where it is open.

use crate::TriMesh;
use crate::mesh::{cross, dot, norm, sub};
use rayon::prelude::*;
use std::f64::consts::PI;

/// Generalised winding number of a mesh about a point: 1 inside a closed
/// outward mesh, 0 outside, in between near a hole. Above ½ is taken as inside.
///
/// # Method
/// Sum of the signed solid angles of the faces over 4π (Jacobson, Kavan &
/// Sorkine-Hornung 2013); the solid angle of a triangle by Van Oosterom &
/// Strackee (1983), in its two-argument arctangent form. A point on a corner or
/// edge of a face takes nothing from that face.
#[must_use]
pub fn winding_number(mesh: &TriMesh, point_mm: [f64; 3]) -> f64 {
    let partial: Vec<f64> = mesh
        .faces
        .par_chunks(8192)
        .map(|chunk| {
            chunk
                .iter()
                .map(|&face| solid_angle(mesh.corners(face), point_mm))
                .sum()
        })
        .collect();
    partial.into_iter().sum::<f64>() / (4.0 * PI)
}

/// Signed solid angle of a triangle seen from a point, steradian.
fn solid_angle(corners: [[f64; 3]; 3], point: [f64; 3]) -> f64 {
    let [a, b, c] = corners.map(|p| sub(p, point));
    let [la, lb, lc] = [norm(a), norm(b), norm(c)];
    let numerator = dot(a, cross(b, c));
    let denominator = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb;
    if numerator == 0.0 {
        return 0.0;
    }
    2.0 * numerator.atan2(denominator)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solids::cuboid;

    /// Closed forms by symmetry of solid angles: each face of a cube is seen
    /// from its centre under 4π/6, a corner sees an eighth of the sphere.
    #[test]
    fn a_cube_winds_once_inside_and_an_eighth_at_its_corner() {
        let cube = cuboid([-0.5; 3], [0.5; 3]);
        assert!((winding_number(&cube, [0.0; 3]) - 1.0).abs() < 1e-12);
        assert!(winding_number(&cube, [2.0, 0.3, 0.1]).abs() < 1e-12);
        assert!((winding_number(&cube, [0.5; 3]) - 0.125).abs() < 1e-12);
    }

    /// The centre of a cube without one face is wound five sixths; 0.49 towards
    /// the hole, 0.01 below it, 0.509002 (the solid angle of a square of half
    /// side a at distance d is 4·asin(a²/(a²+d²)), so 1 − asin(a²/(a²+d²))/π).
    #[test]
    fn a_cube_without_a_lid_winds_five_sixths() {
        let mut cube = cuboid([-0.5; 3], [0.5; 3]);
        cube.faces.retain(|&f| {
            cube.vertices[f[0] as usize][2] < 0.0
                || cube.vertices[f[1] as usize][2] < 0.0
                || cube.vertices[f[2] as usize][2] < 0.0
        });
        assert_eq!(cube.faces.len(), 10);
        assert!((winding_number(&cube, [0.0; 3]) - 5.0 / 6.0).abs() < 1e-12);
        let closed_form = 1.0 - (0.25_f64 / (0.25 + 0.01 * 0.01)).asin() / PI;
        let found = winding_number(&cube, [0.0, 0.0, 0.49]);
        assert!((found - closed_form).abs() < 1e-12);
        assert!((found - 0.509002).abs() < 1e-6);
    }
}
