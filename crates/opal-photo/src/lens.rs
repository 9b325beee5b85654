//! A lens that bends straight lines.

/// One radial term about the picture's middle (Brown 1971; the division model of
/// Fitzgibbon 2001 is not needed at a telephone's small distortion):
/// `undistorted = middle + (seen − middle) · (1 + k r²)`, r the distance from the
/// middle over half of the picture's diagonal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RadialLens {
    /// The picture's middle, pixels.
    pub middle: [f64; 2],
    /// Half of its diagonal, pixels.
    pub reach_px: f64,
    /// The term; 0: straight lines stay straight.
    pub k: f64,
}

impl RadialLens {
    /// A lens that bends nothing.
    #[must_use]
    pub fn straight(width: usize, height: usize) -> Self {
        let middle = [width, height].map(|v| 0.5 * (v as f64 - 1.0));
        Self {
            middle,
            reach_px: 0.5 * (width as f64).hypot(height as f64),
            k: 0.0,
        }
    }

    /// Where a point would be seen through a straight lens.
    #[must_use]
    pub fn straightened(&self, seen: [f64; 2]) -> [f64; 2] {
        let from = [seen[0] - self.middle[0], seen[1] - self.middle[1]];
        let r2 = (from[0].powi(2) + from[1].powi(2)) / self.reach_px.powi(2);
        [0, 1].map(|d| self.middle[d] + from[d] * (1.0 + self.k * r2))
    }

    /// Where a point of the straightened picture is seen.
    #[must_use]
    pub fn seen(&self, straight: [f64; 2]) -> [f64; 2] {
        let from = [straight[0] - self.middle[0], straight[1] - self.middle[1]];
        let r = from[0].hypot(from[1]) / self.reach_px;
        // Newton on s (1 + k s²) = r; it is steep enough wherever a lens may bend.
        let mut s = r;
        for _ in 0..20 {
            s -= (s * (1.0 + self.k * s * s) - r) / (1.0 + 3.0 * self.k * s * s);
        }
        let factor = if r > 0.0 { s / r } else { 1.0 };
        [0, 1].map(|d| self.middle[d] + factor * from[d])
    }
}
