//! The regular grid of nodes that fields are drawn on.

/// A regular lattice: node (i, j) stands at `origin + cell · (i, j)`. A field
/// on it is a slice of `nx · ny` numbers, x running fastest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lattice {
    /// Nodes along x.
    pub nx: usize,
    /// Nodes along y.
    pub ny: usize,
    /// Distance between neighbours, in the length unit of the model's range.
    pub cell: f64,
    /// Where node (0, 0) stands.
    pub origin: [f64; 2],
}

impl Lattice {
    /// How many nodes.
    #[must_use]
    pub fn len(&self) -> usize {
        self.nx * self.ny
    }

    /// True when there is no node.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Where the node at a slice index stands.
    #[must_use]
    pub fn at_index(&self, index: usize) -> [f64; 2] {
        let (i, j) = (index % self.nx, index / self.nx);
        [
            self.origin[0] + self.cell * i as f64,
            self.origin[1] + self.cell * j as f64,
        ]
    }

    /// The middle of the lattice: the natural origin of a trend.
    #[must_use]
    pub fn centre(&self) -> [f64; 2] {
        let half = |n: usize| 0.5 * self.cell * (n.max(1) - 1) as f64;
        [
            self.origin[0] + half(self.nx),
            self.origin[1] + half(self.ny),
        ]
    }

    /// The four nodes around a place with their bilinear weights, or `None`
    /// outside (a hundred-thousandth of a cell is forgiven for rounding).
    #[must_use]
    pub fn bilinear(&self, at: [f64; 2]) -> Option<[(usize, f64); 4]> {
        let along = |x: f64, origin: f64, n: usize| -> Option<(usize, usize, f64)> {
            const ROUNDING: f64 = 1e-5;
            let last = n.checked_sub(1)? as f64;
            let u = (x - origin) / self.cell;
            if !(-ROUNDING..=last + ROUNDING).contains(&u) {
                return None;
            }
            let u = u.clamp(0.0, last);
            let i = (u as usize).min(n.saturating_sub(2));
            Some((i, (i + 1).min(n - 1), u - i as f64))
        };
        let (i, i1, p) = along(at[0], self.origin[0], self.nx)?;
        let (j, j1, q) = along(at[1], self.origin[1], self.ny)?;
        let index = |i: usize, j: usize| j * self.nx + i;
        Some([
            (index(i, j), (1.0 - p) * (1.0 - q)),
            (index(i1, j), p * (1.0 - q)),
            (index(i, j1), (1.0 - p) * q),
            (index(i1, j1), p * q),
        ])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bilinear_gives_back_a_plane_and_refuses_what_is_outside() {
        let lattice = Lattice {
            nx: 7,
            ny: 5,
            cell: 0.5,
            origin: [-1.0, 2.0],
        };
        let plane = |p: [f64; 2]| 3.0 + 0.7 * p[0] - 1.1 * p[1];
        for at in [[-1.0, 2.0], [2.0, 4.0], [0.3, 3.3], [1.99, 2.01]] {
            let nodes = lattice.bilinear(at).expect("inside");
            let sum: f64 = nodes
                .iter()
                .map(|&(k, w)| w * plane(lattice.at_index(k)))
                .sum();
            assert!((sum - plane(at)).abs() < 1e-12);
        }
        assert!(lattice.bilinear([2.1, 3.0]).is_none());
        assert!(lattice.bilinear([f64::NAN, 3.0]).is_none());
    }
}
