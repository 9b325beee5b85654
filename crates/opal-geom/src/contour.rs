//! Where does a field on a grid cross a level?

use crate::grid::Grid;
use crate::outline::Outline;
use std::collections::BTreeMap;

/// Closed outlines around the places where the field stands above the level,
/// largest first; holes are left out. NaN counts as below, and so does
/// everything beyond the grid.
///
/// # Method
/// Marching squares (Lorensen & Cline 1987, in the plane) with crossings placed
/// linearly; a saddle is parted.
#[must_use]
pub fn contours(grid: &Grid, field: &[f64], level: f64) -> Vec<Outline> {
    let value = |i: i64, j: i64| -> f64 {
        if i < 0 || j < 0 || i >= grid.nx as i64 || j >= grid.ny as i64 {
            return f64::NEG_INFINITY;
        }
        let v = field[grid.index(i as usize, j as usize)];
        if v.is_nan() { f64::NEG_INFINITY } else { v }
    };
    let place = |p: (i64, i64), q: (i64, i64)| -> [f64; 2] {
        let (low, high) = (value(p.0, p.1), value(q.0, q.1));
        let t = if low.is_finite() && high.is_finite() {
            (level - low) / (high - low)
        } else {
            0.5
        };
        let at = |d: usize, p: i64, q: i64| {
            grid.origin_mm[d] + grid.cell_mm * (p as f64 + t * (q - p) as f64)
        };
        [at(0, p.0, q.0), at(1, p.1, q.1)]
    };
    // Each crossing is keyed by its grid edge; a piece of contour runs from one
    // edge to the next with the high side on its left.
    type Edge = (i64, i64, bool);
    let mut next: BTreeMap<Edge, (Edge, [f64; 2])> = BTreeMap::new();
    for j in -1..grid.ny as i64 {
        for i in -1..grid.nx as i64 {
            let corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)];
            let high = corners.map(|(a, b)| value(a, b) > level);
            let edges: [Edge; 4] = [
                (i, j, false),
                (i + 1, j, true),
                (i, j + 1, false),
                (i, j, true),
            ];
            // Going round anticlockwise, the contour enters where low follows
            // high and leaves where high follows low.
            for k in 0..4 {
                if high[k] && !high[(k + 1) % 4] {
                    let mut back = k;
                    while high[back] {
                        back = (back + 3) % 4;
                    }
                    let from = place(corners[k], corners[(k + 1) % 4]);
                    next.insert(edges[k], (edges[back], from));
                }
            }
        }
    }
    let mut outlines = Vec::new();
    while let Some((&start, _)) = next.iter().next() {
        let mut points = Vec::new();
        let mut edge = start;
        while let Some((to, at)) = next.remove(&edge) {
            points.push(at);
            edge = to;
        }
        let twice: f64 = (0..points.len())
            .map(|k| {
                let (p, q) = (points[k], points[(k + 1) % points.len()]);
                p[0] * q[1] - p[1] * q[0]
            })
            .sum();
        if twice > 0.0 {
            outlines.extend(Outline::new(points));
        }
    }
    outlines.sort_by(|p, q| q.area().total_cmp(&p.area()));
    outlines
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// A cone's level lines are circles (closed form).
    #[test]
    fn circles_around_two_cones() {
        let grid = Grid {
            nx: 121,
            ny: 81,
            cell_mm: 0.25,
            origin_mm: [-10.0, -8.0],
        };
        let field: Vec<f64> = (0..grid.len())
            .map(|k| {
                let [x, y] = grid.at_index(k);
                (4.0 - (x + 3.0).hypot(y)).max(2.0 - (x - 9.0).hypot(y - 4.0))
            })
            .collect();
        let found = contours(&grid, &field, 0.0);
        assert_eq!(found.len(), 2);
        assert!((found[0].area() / (16.0 * PI) - 1.0).abs() < 0.003);
        assert!((found[1].area() / (4.0 * PI) - 1.0).abs() < 0.01);
        assert!((found[0].centroid()[0] + 3.0).abs() < 0.01);
    }

    #[test]
    fn a_field_above_everywhere_ends_at_the_grid() {
        let grid = Grid {
            nx: 3,
            ny: 2,
            cell_mm: 1.0,
            origin_mm: [0.0, 0.0],
        };
        let found = contours(&grid, &[1.0; 6], 0.0);
        assert_eq!(found.len(), 1);
        assert!((found[0].area() - 5.5).abs() < 1e-9, "corners are cut off");
    }
}
