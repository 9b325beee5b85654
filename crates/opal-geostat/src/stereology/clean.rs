//! The chance that a body holds no particle.

use std::f64::consts::PI;

/// What a convex body needs to be known by for Steiner's formula.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ConvexBody {
    /// Volume, mm³.
    pub volume_mm3: f64,
    /// Surface, mm².
    pub surface_mm2: f64,
    /// Integral of the mean curvature, mm: 2π times the mean caliper diameter.
    pub mean_curvature_mm: f64,
}

impl ConvexBody {
    /// A box.
    #[must_use]
    pub fn cuboid(a_mm: f64, b_mm: f64, c_mm: f64) -> Self {
        Self {
            volume_mm3: a_mm * b_mm * c_mm,
            surface_mm2: 2.0 * (a_mm * b_mm + b_mm * c_mm + c_mm * a_mm),
            mean_curvature_mm: PI * (a_mm + b_mm + c_mm),
        }
    }

    /// A ball.
    #[must_use]
    pub fn ball(radius_mm: f64) -> Self {
        Self {
            volume_mm3: 4.0 / 3.0 * PI * radius_mm.powi(3),
            surface_mm2: 4.0 * PI * radius_mm * radius_mm,
            mean_curvature_mm: 4.0 * PI * radius_mm,
        }
    }

    /// Volume of all points within `reach_mm` of the body, mm³.
    ///
    /// # Method
    /// Steiner's formula: V + S·r + M·r² + (4/3)π·r³ (Schneider & Weil 2008,
    /// *Stochastic and Integral Geometry*, §14.2).
    #[must_use]
    pub fn parallel_volume(&self, reach_mm: f64) -> f64 {
        let r = reach_mm;
        self.volume_mm3
            + self.surface_mm2 * r
            + self.mean_curvature_mm * r * r
            + 4.0 / 3.0 * PI * r.powi(3)
    }
}

/// The chance that no ball of `radius_mm` out of a Poisson process with
/// `per_mm3` balls a cubic millimetre touches the body.
#[must_use]
pub fn clean_chance(body: &ConvexBody, per_mm3: f64, radius_mm: f64) -> f64 {
    (-per_mm3 * body.parallel_volume(radius_mm)).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A 10 × 8 × 4 box, r = 0.25, 0.002 a mm³: 400.385140 mm³ and 0.448983
    /// (closed form).
    #[test]
    fn a_box_and_a_ball() {
        let body = ConvexBody::cuboid(10.0, 8.0, 4.0);
        assert!((body.parallel_volume(0.25) - 400.385_140).abs() < 1e-6);
        assert!((clean_chance(&body, 0.002, 0.25) - 0.448_983).abs() < 1e-6);
        // A ball grown by r is a ball.
        let grown = ConvexBody::ball(2.0).parallel_volume(0.5);
        assert!((grown - ConvexBody::ball(2.5).volume_mm3).abs() < 1e-9);
    }
}
