//! The stand-in for a stone of which only three sizes are known.

/// |x/a|ⁿ + |y/b|ⁿ + |z/c|ⁿ ≤ 1: a double pyramid at n = 1, an ellipsoid at 2,
/// nearly a block when n is large.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Superellipsoid {
    /// Half sizes, mm.
    pub(crate) half_mm: [f64; 3],
    /// The exponent n.
    pub(crate) exponent: f64,
}

/// Exponents that are used; fills from 0.17 to 0.98.
const EXPONENTS: (f64, f64) = (1.0, 20.0);

impl Superellipsoid {
    /// The body that fills this share of its box.
    ///
    /// # Method
    /// Fill Γ(1+1/n)³ / Γ(1+3/n) (Dirichlet's integral; Barr 1981, IEEE
    /// Computer Graphics and Applications 1, for the family), inverted by
    /// bisection: the fill rises with n.
    pub(crate) fn filling(size_mm: [f64; 3], fill: f64) -> Self {
        let (mut low, mut high) = EXPONENTS;
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if fill_of(middle) < fill {
                low = middle;
            } else {
                high = middle;
            }
        }
        Self {
            half_mm: size_mm.map(|s| 0.5 * s),
            exponent: 0.5 * (low + high),
        }
    }

    /// The volume, mm³.
    #[cfg(test)]
    pub(crate) fn volume_mm3(&self) -> f64 {
        8.0 * self.half_mm.iter().product::<f64>() * fill_of(self.exponent)
    }

    /// Half the thickness above a point given from the centre, mm; `None`
    /// outside the outline.
    pub(crate) fn half_thickness_mm(&self, x: f64, y: f64) -> Option<f64> {
        let n = self.exponent;
        let r = (x / self.half_mm[0]).abs().powf(n) + (y / self.half_mm[1]).abs().powf(n);
        (r < 1.0).then(|| self.half_mm[2] * (1.0 - r).powf(1.0 / n))
    }
}

fn fill_of(n: f64) -> f64 {
    libm::tgamma(1.0 + 1.0 / n).powi(3) / libm::tgamma(1.0 + 3.0 / n)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms: octahedron 1/6, ellipsoid π/6, and a block in the limit.
    #[test]
    fn fills_of_known_bodies() {
        assert!((fill_of(1.0) - 1.0 / 6.0).abs() < 1e-12);
        assert!((fill_of(2.0) - std::f64::consts::PI / 6.0).abs() < 1e-12);
        assert!(fill_of(20.0) > 0.98);
        let body = Superellipsoid::filling([48.0, 33.0, 21.0], std::f64::consts::PI / 6.0);
        assert!((body.exponent - 2.0).abs() < 1e-9);
        let ellipsoid = std::f64::consts::PI / 6.0 * 48.0 * 33.0 * 21.0;
        assert!((body.volume_mm3() / ellipsoid - 1.0).abs() < 1e-9);
    }

    #[test]
    fn any_fill_is_met() {
        for percent in 20..=97 {
            let fill = f64::from(percent) / 100.0;
            let body = Superellipsoid::filling([10.0, 8.0, 5.0], fill);
            assert!((body.volume_mm3() / 400.0 - fill).abs() < 1e-9, "{fill}");
        }
    }
}
