//! The largest circle and the largest ellipse that an outline holds.

use crate::lp::solve;
use crate::outline::Outline;
use std::collections::BinaryHeap;

/// A circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    /// Its centre, mm.
    pub centre: [f64; 2],
    /// Its radius, mm.
    pub radius: f64,
}

/// The largest circle inside an outline, its radius to within `precision`.
///
/// # Method
/// Branch and bound on squares: a square of half side h whose centre has
/// clearance d holds no centre better than d + h√2 (the pole of
/// inaccessibility, Garcia-Castellanos & Lombardo 2007, in quadtree form).
#[must_use]
pub fn largest_circle(outline: &Outline, precision: f64) -> Circle {
    let [low, high] = outline.bounds();
    let size = (high[0] - low[0]).min(high[1] - low[1]);
    let half = size / 2.0;
    let mut queue = BinaryHeap::new();
    let square = |centre: [f64; 2], half: f64| {
        let clearance = outline.clearance(centre);
        Square {
            centre,
            half,
            clearance,
            reach: clearance + half * std::f64::consts::SQRT_2,
        }
    };
    let steps = |d: usize| ((high[d] - low[d]) / size).ceil() as usize;
    for i in 0..steps(0) {
        for j in 0..steps(1) {
            let at = [
                low[0] + size * i as f64 + half,
                low[1] + size * j as f64 + half,
            ];
            queue.push(square(at, half));
        }
    }
    let middle = outline.centroid();
    let mut best = Circle {
        centre: middle,
        radius: outline.clearance(middle),
    };
    while let Some(top) = queue.pop() {
        if top.clearance > best.radius {
            best = Circle {
                centre: top.centre,
                radius: top.clearance,
            };
        }
        if top.reach - best.radius <= precision {
            break;
        }
        let quarter = top.half / 2.0;
        for [sx, sy] in [[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]] {
            let at = [top.centre[0] + sx * quarter, top.centre[1] + sy * quarter];
            queue.push(square(at, quarter));
        }
    }
    best
}

struct Square {
    centre: [f64; 2],
    half: f64,
    clearance: f64,
    reach: f64,
}

impl PartialEq for Square {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}
impl Eq for Square {}
impl PartialOrd for Square {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Square {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        // Ties by place, so that the order never depends on the queue's history.
        self.reach
            .total_cmp(&other.reach)
            .then(self.centre[0].total_cmp(&other.centre[0]))
            .then(self.centre[1].total_cmp(&other.centre[1]))
    }
}

/// An ellipse {shape · u + centre : |u| ≤ 1} with a symmetric shape matrix.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ellipse {
    /// Its centre, mm.
    pub centre: [f64; 2],
    /// `[xx, xy, yy]` of the shape matrix, mm.
    pub shape: [f64; 3],
}

impl Ellipse {
    /// Area, mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        let [xx, xy, yy] = self.shape;
        std::f64::consts::PI * (xx * yy - xy * xy)
    }

    /// Semi-axes, longer first, mm.
    #[must_use]
    pub fn semi_axes(&self) -> [f64; 2] {
        let [xx, xy, yy] = self.shape;
        let middle = (xx + yy) / 2.0;
        let apart = ((xx - yy) / 2.0).hypot(xy);
        [middle + apart, middle - apart]
    }
}

/// The largest ellipse inside a convex outline.
///
/// # Method
/// Largest log det B under |B·n| + n·d ≤ b for every side (Boyd & Vandenberghe
/// 2004, §8.4.1), by Newton steps on the log barrier.
#[must_use]
pub fn largest_ellipse(outline: &Outline) -> Ellipse {
    let start = largest_circle(outline, 1e-6 * outline.perimeter());
    let sides: Vec<([f64; 2], f64)> = outline
        .sides()
        .map(|(p, q)| {
            let length = (q[0] - p[0]).hypot(q[1] - p[1]);
            let normal = [(q[1] - p[1]) / length, (p[0] - q[0]) / length];
            (normal, normal[0] * p[0] + normal[1] * p[1])
        })
        .collect();
    let r = start.radius * 0.9;
    let mut x = [r, 0.0, r, start.centre[0], start.centre[1]];
    let mut weight = 1.0;
    // Each stage divides the barrier's weight by 5; sides × weight bounds the gap
    // in log det, below 1e-10 at the end.
    while weight * sides.len() as f64 > 1e-10 {
        for _ in 0..50 {
            let Some(at) = barrier(&x, &sides, weight) else {
                break;
            };
            let Some(step) = solve(at.hessian, at.gradient.map(|g| -g)) else {
                break;
            };
            let fall: f64 = step.iter().zip(&at.gradient).map(|(s, g)| s * g).sum();
            if fall > -1e-12 {
                break;
            }
            let mut share = 1.0;
            let moved = loop {
                let y: [f64; 5] = std::array::from_fn(|d| x[d] + share * step[d]);
                if let Some(next) = barrier(&y, &sides, weight)
                    && next.value <= at.value + 0.1 * share * fall
                {
                    break Some(y);
                }
                share /= 2.0;
                if share < 1e-10 {
                    break None;
                }
            };
            match moved {
                Some(y) => x = y,
                None => break,
            }
        }
        weight /= 5.0;
    }
    Ellipse {
        centre: [x[3], x[4]],
        shape: [x[0], x[1], x[2]],
    }
}

struct Barrier {
    value: f64,
    gradient: [f64; 5],
    hessian: [[f64; 5]; 5],
}

/// −log det B − weight·Σ log slack at x = (xx, xy, yy, centre); `None` outside.
fn barrier(x: &[f64; 5], sides: &[([f64; 2], f64)], weight: f64) -> Option<Barrier> {
    let [xx, xy, yy, cx, cy] = *x;
    let det = xx * yy - xy * xy;
    if det <= 0.0 || xx <= 0.0 {
        return None;
    }
    let mut value = -det.ln();
    let det_gradient = [yy, -2.0 * xy, xx, 0.0, 0.0];
    let mut gradient: [f64; 5] = det_gradient.map(|g| -g / det);
    let mut hessian = [[0.0; 5]; 5];
    for p in 0..5 {
        for q in 0..5 {
            hessian[p][q] = det_gradient[p] * det_gradient[q] / (det * det);
        }
    }
    hessian[0][2] -= 1.0 / det;
    hessian[2][0] -= 1.0 / det;
    hessian[1][1] += 2.0 / det;
    for &([nx, ny], b) in sides {
        let image = [xx * nx + xy * ny, xy * nx + yy * ny];
        let norm = image[0].hypot(image[1]);
        let slack = b - norm - nx * cx - ny * cy;
        if slack <= 0.0 {
            return None;
        }
        value -= weight * slack.ln();
        let unit = [image[0] / norm, image[1] / norm];
        // Derivatives of the norm by (xx, xy, yy): the image moves by these.
        let moves = [[nx, 0.0], [ny, nx], [0.0, ny]];
        let along = moves.map(|m| unit[0] * m[0] + unit[1] * m[1]);
        let slope = [-along[0], -along[1], -along[2], -nx, -ny];
        for p in 0..5 {
            gradient[p] -= weight * slope[p] / slack;
            for q in 0..5 {
                hessian[p][q] += weight * slope[p] * slope[q] / (slack * slack);
            }
        }
        for p in 0..3 {
            for q in 0..3 {
                let both = moves[p][0] * moves[q][0] + moves[p][1] * moves[q][1];
                hessian[p][q] += weight * (both - along[p] * along[q]) / norm / slack;
            }
        }
    }
    Some(Barrier {
        value,
        gradient,
        hessian,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outline(points: &[[f64; 2]]) -> Outline {
        Outline::new(points.to_vec()).expect("outline")
    }

    /// Incircle of the 3-4-5 triangle: radius 1 at (1, 1). L of three unit
    /// squares: 2 − √2 (closed forms).
    #[test]
    fn circles_by_closed_form() {
        let triangle = largest_circle(&outline(&[[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]]), 1e-9);
        assert!((triangle.radius - 1.0).abs() < 1e-8);
        assert!((triangle.centre[0] - 1.0).abs() < 1e-4);
        let corner = outline(&[
            [0.0, 0.0],
            [2.0, 0.0],
            [2.0, 1.0],
            [1.0, 1.0],
            [1.0, 2.0],
            [0.0, 2.0],
        ]);
        let circle = largest_circle(&corner, 1e-9);
        assert!((circle.radius - 0.585_786_4).abs() < 1e-6);
    }

    /// Steiner's inellipse of the 3-4-5 triangle: area 3.627599, centre (4/3, 1),
    /// semi-axes 1.469929 and 0.785548 (closed form).
    #[test]
    fn steiners_inellipse() {
        let got = largest_ellipse(&outline(&[[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]]));
        assert!((got.area() - 3.627_599).abs() < 1e-5, "{got:?}");
        let [a, b] = got.semi_axes();
        assert!((a - 1.469_929).abs() < 1e-5 && (b - 0.785_548).abs() < 1e-5);
        assert!((got.centre[0] - 4.0 / 3.0).abs() < 1e-5 && (got.centre[1] - 1.0).abs() < 1e-5);
    }

    /// The polygon of Boyd & Vandenberghe's §8.4.1 example data: area 2.849078 at
    /// (1.34375, 0.5), by two general-purpose conic solvers.
    #[test]
    fn the_textbook_polygon() {
        let got = largest_ellipse(&outline(&[
            [0.0, 0.0],
            [1.0, -0.5],
            [3.0, 0.5],
            [2.0, 1.5],
            [0.5, 1.0],
        ]));
        assert!((got.area() - 2.849_078).abs() < 1e-5, "{got:?}");
        assert!((got.centre[0] - 1.343_75).abs() < 1e-4 && (got.centre[1] - 0.5).abs() < 1e-4);
    }
}
