//! The map between two views of a plane.

use faer::Mat;

/// A projective map of the plane, row by row, scaled so that its last number is 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Homography(pub [f64; 9]);

impl Homography {
    /// The map that takes the first of each pair to the second, as nearly as can be.
    /// `None` with fewer than four pairs, or when they do not pin it down (three of
    /// four on a line).
    ///
    /// # Method
    /// Normalised direct linear transform (Hartley & Zisserman 2004, algorithm 4.2).
    #[must_use]
    pub fn through(pairs: &[([f64; 2], [f64; 2])]) -> Option<Self> {
        if pairs.len() < 4 {
            return None;
        }
        let from = Normalised::of(pairs.iter().map(|p| p.0))?;
        let to = Normalised::of(pairs.iter().map(|p| p.1))?;
        // Nine rows at least, so that the null space is among the singular vectors.
        let mut rows = Mat::<f64>::zeros((2 * pairs.len()).max(9), 9);
        for (k, (p, q)) in pairs.iter().enumerate() {
            let ([x, y], [u, v]) = (from.put(*p), to.put(*q));
            let upper = [-x, -y, -1.0, 0.0, 0.0, 0.0, u * x, u * y, u];
            let lower = [0.0, 0.0, 0.0, -x, -y, -1.0, v * x, v * y, v];
            for c in 0..9 {
                rows[(2 * k, c)] = upper[c];
                rows[(2 * k + 1, c)] = lower[c];
            }
        }
        let svd = rows.thin_svd().ok()?;
        let strengths = svd.S().column_vector();
        if strengths[7] < 1e-9 * strengths[0] {
            return None;
        }
        let right = svd.V();
        let inner = Self(std::array::from_fn(|c| right[(c, 8)]));
        to.back().after(&inner)?.after(&from.there())
    }

    /// Where a point goes.
    #[must_use]
    pub fn apply(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let m = &self.0;
        let w = m[6] * x + m[7] * y + m[8];
        [
            (m[0] * x + m[1] * y + m[2]) / w,
            (m[3] * x + m[4] * y + m[5]) / w,
        ]
    }

    /// Derivatives of where a point goes: rows of ∂u/∂x, ∂u/∂y; ∂v/∂x, ∂v/∂y.
    #[must_use]
    pub fn slope_at(&self, [x, y]: [f64; 2]) -> [[f64; 2]; 2] {
        let m = &self.0;
        let w = m[6] * x + m[7] * y + m[8];
        let [u, v] = self.apply([x, y]);
        [
            [(m[0] - u * m[6]) / w, (m[1] - u * m[7]) / w],
            [(m[3] - v * m[6]) / w, (m[4] - v * m[7]) / w],
        ]
    }

    /// This map after another. `None` when the result sends the origin to infinity.
    #[must_use]
    pub fn after(&self, first: &Self) -> Option<Self> {
        let (a, b) = (&self.0, &first.0);
        let product = std::array::from_fn(|k| {
            let (r, c) = (k / 3, k % 3);
            (0..3).map(|i| a[3 * r + i] * b[3 * i + c]).sum()
        });
        Self(product).scaled()
    }

    /// The map back. `None` when there is none.
    #[must_use]
    pub fn inverse(&self) -> Option<Self> {
        let m = &self.0;
        let minor = |a: usize, b: usize, c: usize, d: usize| m[a] * m[d] - m[b] * m[c];
        Self([
            minor(4, 5, 7, 8),
            -minor(1, 2, 7, 8),
            minor(1, 2, 4, 5),
            -minor(3, 5, 6, 8),
            minor(0, 2, 6, 8),
            -minor(0, 2, 3, 5),
            minor(3, 4, 6, 7),
            -minor(0, 1, 6, 7),
            minor(0, 1, 3, 4),
        ])
        .scaled()
    }

    fn scaled(self) -> Option<Self> {
        let last = self.0[8];
        let largest = self.0.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        let there = last.is_finite() && last.abs() > 1e-14 * largest && largest > 0.0;
        there.then(|| Self(self.0.map(|v| v / last)))
    }
}

/// Shift and scale that bring points to mean zero and mean distance √2.
struct Normalised {
    centre: [f64; 2],
    scale: f64,
}

impl Normalised {
    fn of(points: impl Iterator<Item = [f64; 2]> + Clone) -> Option<Self> {
        let n = points.clone().count() as f64;
        let sum = points
            .clone()
            .fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
        let centre = sum.map(|v| v / n);
        let mean = points
            .map(|p| (p[0] - centre[0]).hypot(p[1] - centre[1]))
            .sum::<f64>()
            / n;
        let scale = std::f64::consts::SQRT_2 / mean;
        scale.is_finite().then_some(Self { centre, scale })
    }

    fn put(&self, p: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|k| self.scale * (p[k] - self.centre[k]))
    }

    fn there(&self) -> Homography {
        let (s, [x, y]) = (self.scale, self.centre);
        Homography([s, 0.0, -s * x, 0.0, s, -s * y, 0.0, 0.0, 1.0])
    }

    fn back(&self) -> Homography {
        let (s, [x, y]) = (1.0 / self.scale, self.centre);
        Homography([s, 0.0, x, 0.0, s, y, 0.0, 0.0, 1.0])
    }
}
