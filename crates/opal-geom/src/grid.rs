//! A regular grid of nodes in the (x, y) plane.

/// A regular grid of nodes: node (i, j) stands at `origin + cell · (i, j)` and
/// speaks for the square of side `cell` around it. Values on a grid are slices
/// of `nx · ny` numbers, x running fastest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    /// Nodes along x.
    pub nx: usize,
    /// Nodes along y.
    pub ny: usize,
    /// Distance between neighbours, mm.
    pub cell_mm: f64,
    /// Where node (0, 0) stands, mm.
    pub origin_mm: [f64; 2],
}

impl Grid {
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

    /// The place of node (i, j) in a slice of values.
    #[must_use]
    pub fn index(&self, i: usize, j: usize) -> usize {
        j * self.nx + i
    }

    /// Where node (i, j) stands, mm.
    #[must_use]
    pub fn at(&self, i: usize, j: usize) -> [f64; 2] {
        [
            self.origin_mm[0] + self.cell_mm * i as f64,
            self.origin_mm[1] + self.cell_mm * j as f64,
        ]
    }

    /// Where the node at a slice index stands, mm.
    #[must_use]
    pub fn at_index(&self, index: usize) -> [f64; 2] {
        self.at(index % self.nx, index / self.nx)
    }

    /// Area that one node speaks for, mm².
    #[must_use]
    pub fn cell_area_mm2(&self) -> f64 {
        self.cell_mm * self.cell_mm
    }

    /// The nearest node, or `None` more than half a cell outside the grid.
    #[must_use]
    pub fn nearest(&self, at_mm: [f64; 2]) -> Option<usize> {
        let i = ((at_mm[0] - self.origin_mm[0]) / self.cell_mm).round();
        let j = ((at_mm[1] - self.origin_mm[1]) / self.cell_mm).round();
        if i < 0.0 || j < 0.0 || i >= self.nx as f64 || j >= self.ny as f64 {
            return None;
        }
        Some(self.index(i as usize, j as usize))
    }

    /// The four nodes around a point with their bilinear weights (which sum to
    /// 1), or `None` outside the grid.
    #[must_use]
    pub fn bilinear(&self, at_mm: [f64; 2]) -> Option<[(usize, f64); 4]> {
        let u = (at_mm[0] - self.origin_mm[0]) / self.cell_mm;
        let v = (at_mm[1] - self.origin_mm[1]) / self.cell_mm;
        let (last_i, last_j) = (self.nx.checked_sub(2)?, self.ny.checked_sub(2)?);
        if !(0.0..=(last_i + 1) as f64).contains(&u) || !(0.0..=(last_j + 1) as f64).contains(&v) {
            return None;
        }
        let (i, j) = ((u as usize).min(last_i), (v as usize).min(last_j));
        let (p, q) = (u - i as f64, v - j as f64);
        Some([
            (self.index(i, j), (1.0 - p) * (1.0 - q)),
            (self.index(i + 1, j), p * (1.0 - q)),
            (self.index(i, j + 1), (1.0 - p) * q),
            (self.index(i + 1, j + 1), p * q),
        ])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bilinear_gives_back_a_plane() {
        let grid = Grid {
            nx: 7,
            ny: 5,
            cell_mm: 0.5,
            origin_mm: [-1.0, 2.0],
        };
        let plane = |p: [f64; 2]| 3.0 + 0.7 * p[0] - 1.1 * p[1];
        for at in [[-1.0, 2.0], [2.0, 4.0], [0.3, 3.3], [1.99, 2.01]] {
            let nodes = grid.bilinear(at).expect("inside");
            let sum: f64 = nodes
                .iter()
                .map(|&(k, w)| w * plane(grid.at_index(k)))
                .sum();
            assert!((sum - plane(at)).abs() < 1e-12);
        }
        assert!(grid.bilinear([2.001, 3.0]).is_none());
    }
}
