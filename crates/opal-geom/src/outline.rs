//! A closed outline in the plane, and what can be asked of it.

use geo::algorithm::buffer::{Buffer, BufferStyle, LineJoin};
use geo::{LineString, Polygon, Simplify};

/// A simple closed polygon, anticlockwise, its first point not repeated at the
/// end; smooth outlines are given by many points.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    points: Vec<[f64; 2]>,
}

impl Outline {
    /// Takes the points over, turned anticlockwise; `None` with fewer than three
    /// points, a point that is not finite, or no area.
    #[must_use]
    pub fn new(mut points: Vec<[f64; 2]>) -> Option<Self> {
        points.dedup();
        if points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        if points.len() < 3 || points.iter().flatten().any(|v| !v.is_finite()) {
            return None;
        }
        let area = signed_area(&points);
        if area == 0.0 {
            return None;
        }
        if area < 0.0 {
            points.reverse();
        }
        Some(Self { points })
    }

    /// The points.
    #[must_use]
    pub fn points(&self) -> &[[f64; 2]] {
        &self.points
    }

    /// Gives the points back.
    #[must_use]
    pub fn into_points(self) -> Vec<[f64; 2]> {
        self.points
    }

    /// The sides, each from one point to the next.
    pub fn sides(&self) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
        let next = self.points.iter().cycle().skip(1);
        self.points.iter().copied().zip(next.copied())
    }

    /// Area, mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        signed_area(&self.points)
    }

    /// Length of the way round, mm.
    #[must_use]
    pub fn perimeter(&self) -> f64 {
        self.sides().map(|(p, q)| distance(p, q)).sum()
    }

    /// Centre of gravity of the area, mm.
    #[must_use]
    pub fn centroid(&self) -> [f64; 2] {
        let origin = self.points[0];
        let (mut twice, mut x, mut y) = (0.0, 0.0, 0.0);
        for (p, q) in self.sides() {
            let (p, q) = (minus(p, origin), minus(q, origin));
            let across = cross(p, q);
            twice += across;
            x += across * (p[0] + q[0]);
            y += across * (p[1] + q[1]);
        }
        [origin[0] + x / (3.0 * twice), origin[1] + y / (3.0 * twice)]
    }

    /// True inside; a point on the boundary may go either way.
    #[must_use]
    pub fn contains(&self, at: [f64; 2]) -> bool {
        let mut inside = false;
        for (p, q) in self.sides() {
            if (p[1] > at[1]) != (q[1] > at[1]) {
                let x = p[0] + (at[1] - p[1]) / (q[1] - p[1]) * (q[0] - p[0]);
                if at[0] < x {
                    inside = !inside;
                }
            }
        }
        inside
    }

    /// Distance to the boundary: positive inside, negative outside, mm.
    #[must_use]
    pub fn clearance(&self, at: [f64; 2]) -> f64 {
        let nearest = self
            .sides()
            .map(|(p, q)| distance_to_segment(at, p, q))
            .fold(f64::INFINITY, f64::min);
        if self.contains(at) { nearest } else { -nearest }
    }

    /// Corners of the upright box around it: lowest, highest.
    #[must_use]
    pub fn bounds(&self) -> [[f64; 2]; 2] {
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for point in &self.points {
            for d in 0..2 {
                low[d] = low[d].min(point[d]);
                high[d] = high[d].max(point[d]);
            }
        }
        [low, high]
    }

    /// Turned about the origin, anticlockwise, then moved.
    #[must_use]
    pub fn placed(&self, turn: f64, to: [f64; 2]) -> Self {
        let (sin, cos) = turn.sin_cos();
        let points = self
            .points
            .iter()
            .map(|&[x, y]| [to[0] + cos * x - sin * y, to[1] + sin * x + cos * y])
            .collect();
        Self { points }
    }

    /// Grown or shrunk about a point.
    #[must_use]
    pub fn scaled_about(&self, centre: [f64; 2], factor: f64) -> Self {
        let points = self
            .points
            .iter()
            .map(|&p| std::array::from_fn(|d| centre[d] + factor * (p[d] - centre[d])))
            .collect();
        Self { points }
    }

    /// How far it reaches along a direction from the origin, mm.
    #[must_use]
    pub fn reach(&self, angle: f64) -> f64 {
        let (sin, cos) = angle.sin_cos();
        self.points
            .iter()
            .map(|p| cos * p[0] + sin * p[1])
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// Calliper sizes: the least width over all turns, the size across it, and
    /// the angle of the longer of the two, in radians.
    ///
    /// # Method
    /// One side of the least calliper width lies flush with a side of the convex
    /// hull (Freeman & Shapira 1975, Comm. ACM 18).
    #[must_use]
    pub fn calliper_sizes(&self) -> CalliperSizes {
        let mut best: Option<CalliperSizes> = None;
        for (p, q) in self.sides() {
            let along = (q[1] - p[1]).atan2(q[0] - p[0]);
            let quarter = std::f64::consts::FRAC_PI_2;
            let half_turn = std::f64::consts::PI;
            let across = self.reach(along + quarter) + self.reach(along - quarter);
            let flush = self.reach(along) + self.reach(along + half_turn);
            let sizes = if across <= flush {
                CalliperSizes {
                    width: across,
                    length: flush,
                    long_axis: along,
                }
            } else {
                CalliperSizes {
                    width: flush,
                    length: across,
                    long_axis: along + quarter,
                }
            };
            if best.is_none_or(|b| sizes.width < b.width - 1e-12) {
                best = Some(sizes);
            }
        }
        best.unwrap_or(CalliperSizes {
            width: 0.0,
            length: 0.0,
            long_axis: 0.0,
        })
    }

    /// Least radius of the circles through three neighbouring points where the
    /// outline turns left: the least radius of curvature of a smooth outline.
    #[must_use]
    pub fn least_convex_radius(&self) -> f64 {
        let n = self.points.len();
        (0..n)
            .filter_map(|k| {
                let p = self.points[(k + n - 1) % n];
                let q = self.points[k];
                let r = self.points[(k + 1) % n];
                let twice_area = cross(minus(q, p), minus(r, q));
                (twice_area > 0.0)
                    .then(|| distance(p, q) * distance(q, r) * distance(r, p) / (2.0 * twice_area))
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// True when every ray from the point meets the boundary once.
    #[must_use]
    pub fn is_star_shaped_about(&self, centre: [f64; 2]) -> bool {
        self.sides()
            .all(|(p, q)| cross(minus(p, centre), minus(q, centre)) > 0.0)
    }

    /// Distance from the centre to the boundary along each of `n` rays at equal
    /// angles, the first along x; the farthest crossing where there are several.
    #[must_use]
    pub fn ray_lengths(&self, centre: [f64; 2], n: usize) -> Vec<f64> {
        let mut lengths = vec![0.0_f64; n];
        let step = std::f64::consts::TAU / n as f64;
        for (p, q) in self.sides() {
            let (p, q) = (minus(p, centre), minus(q, centre));
            let from = p[1].atan2(p[0]);
            let mut sweep = q[1].atan2(q[0]) - from;
            if sweep > std::f64::consts::PI {
                sweep -= std::f64::consts::TAU;
            } else if sweep < -std::f64::consts::PI {
                sweep += std::f64::consts::TAU;
            }
            let (low, high) = (from.min(from + sweep), from.max(from + sweep));
            let edge = minus(q, p);
            let first = (low / step - 1e-9).ceil() as i64;
            let last = (high / step + 1e-9).floor() as i64;
            for k in first..=last {
                let (sin, cos) = (k as f64 * step).sin_cos();
                let denominator = cos * edge[1] - sin * edge[0];
                if denominator.abs() > 1e-15 {
                    let t = (p[0] * edge[1] - p[1] * edge[0]) / denominator;
                    let slot = &mut lengths[k.rem_euclid(n as i64) as usize];
                    *slot = slot.max(t);
                }
            }
        }
        lengths
    }

    /// The outline at a distance outside (or, negative, inside), with round
    /// joins; several, or none, where a narrow place parts it.
    #[must_use]
    pub fn offset(&self, distance_mm: f64) -> Vec<Self> {
        // Chosen: 0.05 rad a step keeps a round join within 0.03 % of its radius.
        let style = BufferStyle::new(distance_mm).line_join(LineJoin::Round(0.05));
        self.polygon()
            .buffer_with_style(style)
            .into_iter()
            .filter_map(|polygon| Self::of(&polygon))
            .collect()
    }

    /// With fewer points, none of those left out farther from it than that
    /// (Douglas & Peucker 1973); itself where nothing would be left.
    #[must_use]
    pub fn simplified(&self, most_mm: f64) -> Self {
        Self::of(&self.polygon().simplify(most_mm)).unwrap_or_else(|| self.clone())
    }

    fn polygon(&self) -> Polygon {
        let round = self.points.iter().chain(self.points.first());
        let ring: LineString = round.map(|p| (p[0], p[1])).collect();
        Polygon::new(ring, vec![])
    }

    fn of(polygon: &Polygon) -> Option<Self> {
        Self::new(polygon.exterior().coords().map(|c| [c.x, c.y]).collect())
    }

    /// The smallest convex outline around it.
    #[must_use]
    pub fn convex_hull(&self) -> Self {
        // Andrew's monotone chain (1979).
        let mut sorted = self.points.clone();
        sorted.sort_by(|p, q| p[0].total_cmp(&q[0]).then(p[1].total_cmp(&q[1])));
        let chain = |points: &mut dyn Iterator<Item = [f64; 2]>| {
            let mut hull: Vec<[f64; 2]> = Vec::new();
            for point in points {
                while let [.., a, b] = hull[..] {
                    if cross(minus(b, a), minus(point, a)) > 0.0 {
                        break;
                    }
                    hull.pop();
                }
                hull.push(point);
            }
            hull.pop();
            hull
        };
        let mut hull = chain(&mut sorted.iter().copied());
        hull.extend(chain(&mut sorted.iter().rev().copied()));
        Self::new(hull).unwrap_or_else(|| self.clone())
    }

    /// The part on the left of the line through two points, for a convex
    /// outline; `None` where nothing is left.
    #[must_use]
    pub fn left_of(&self, from: [f64; 2], to: [f64; 2]) -> Option<Self> {
        let side = |p: [f64; 2]| cross(minus(to, from), minus(p, from));
        let mut kept = Vec::new();
        for (p, q) in self.sides() {
            let (at_p, at_q) = (side(p), side(q));
            if at_p >= 0.0 {
                kept.push(p);
            }
            if (at_p > 0.0 && at_q < 0.0) || (at_p < 0.0 && at_q > 0.0) {
                let t = at_p / (at_p - at_q);
                kept.push(std::array::from_fn(|d| p[d] + t * (q[d] - p[d])));
            }
        }
        Self::new(kept)
    }
}

/// Calliper sizes of an outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CalliperSizes {
    /// The shorter, mm.
    pub width: f64,
    /// The longer, mm.
    pub length: f64,
    /// The angle of the longer, radians from x.
    pub long_axis: f64,
}

fn signed_area(points: &[[f64; 2]]) -> f64 {
    let origin = points[0];
    let next = points.iter().cycle().skip(1);
    points
        .iter()
        .zip(next)
        .map(|(&p, &q)| cross(minus(p, origin), minus(q, origin)))
        .sum::<f64>()
        / 2.0
}

pub(crate) fn minus(p: [f64; 2], q: [f64; 2]) -> [f64; 2] {
    [p[0] - q[0], p[1] - q[1]]
}

pub(crate) fn cross(p: [f64; 2], q: [f64; 2]) -> f64 {
    p[0] * q[1] - p[1] * q[0]
}

fn distance(p: [f64; 2], q: [f64; 2]) -> f64 {
    (p[0] - q[0]).hypot(p[1] - q[1])
}

fn distance_to_segment(at: [f64; 2], p: [f64; 2], q: [f64; 2]) -> f64 {
    let edge = minus(q, p);
    let length2 = edge[0] * edge[0] + edge[1] * edge[1];
    let from_p = minus(at, p);
    let t = if length2 > 0.0 {
        ((from_p[0] * edge[0] + from_p[1] * edge[1]) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    distance(at, [p[0] + t * edge[0], p[1] + t * edge[1]])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::families::ellipse;

    /// Ellipse of semi-axes 4 and 3: perimeter by the complete elliptic integral,
    /// parallel curves by Steiner's A + Pk + πk².
    #[test]
    fn an_ellipse_and_its_parallels() {
        let fine = ellipse(8.0, 6.0, 4000);
        assert!((fine.area() - 37.699_112).abs() < 1e-4);
        assert!((fine.perimeter() - 22.103_492_2).abs() < 1e-5);
        assert!((fine.least_convex_radius() - 2.25).abs() < 1e-3);
        for (k, area) in [(0.5, 49.536_256), (-0.5, 27.432_764)] {
            let parts = fine.offset(k);
            assert_eq!(parts.len(), 1);
            assert!((parts[0].area() - area).abs() < 2e-3, "{}", parts[0].area());
        }
        let sizes = fine.placed(0.4, [3.0, -7.0]).calliper_sizes();
        assert!((sizes.width - 6.0).abs() < 1e-3 && (sizes.length - 8.0).abs() < 1e-3);
        assert!((sizes.long_axis.tan() - 0.4_f64.tan()).abs() < 1e-2);
    }

    #[test]
    fn inside_and_rays() {
        let shape = ellipse(8.0, 6.0, 720).placed(0.0, [1.0, 2.0]);
        assert!(shape.contains([1.0, 2.0]) && !shape.contains([5.2, 2.0]));
        assert!((shape.clearance([1.0, 2.0]) - 3.0).abs() < 1e-3);
        assert!(shape.clearance([9.0, 2.0]) < -3.9);
        let rays = shape.ray_lengths([1.0, 2.0], 8);
        for (k, want) in [(0, 4.0), (2, 3.0), (4, 4.0), (6, 3.0)] {
            assert!((rays[k] - want).abs() < 1e-3, "{rays:?}");
        }
        assert!(rays.iter().all(|&r| r > 2.9));
        assert!(shape.is_star_shaped_about([2.0, 2.0]));
        let [x, y] = shape.centroid();
        assert!((x - 1.0).abs() < 1e-9 && (y - 2.0).abs() < 1e-9);
    }

    #[test]
    fn a_cut_halves_a_square() {
        let square =
            Outline::new(vec![[0.0, 0.0], [0.0, 2.0], [2.0, 2.0], [2.0, 0.0]]).expect("square");
        let left = square.left_of([1.0, 0.0], [1.0, 5.0]).expect("a half");
        assert!((left.area() - 2.0).abs() < 1e-12);
        assert!(left.contains([0.5, 1.0]) && !left.contains([1.5, 1.0]));
        assert!(square.left_of([-1.0, 0.0], [-1.0, 5.0]).is_none());
    }

    #[test]
    fn a_hull_fills_the_notch() {
        let notched = Outline::new(vec![
            [0.0, 0.0],
            [4.0, 0.0],
            [4.0, 4.0],
            [2.0, 1.0],
            [0.0, 4.0],
        ])
        .expect("outline");
        assert!((notched.convex_hull().area() - 16.0).abs() < 1e-12);
    }
}
