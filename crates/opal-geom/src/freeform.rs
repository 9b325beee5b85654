//! The smooth outline that gathers the most of a map.

use crate::grid::Grid;
use crate::inscribed::Circle;
use crate::outline::Outline;
use std::f64::consts::TAU;

/// A map of worth per area on a grid, ready to be summed over outlines.
#[derive(Clone, Debug)]
pub struct WorthMap {
    grid: Grid,
    /// Running sums along each row, `nx + 1` a row.
    sums: Vec<f64>,
    /// Worth per area beyond the grid.
    beyond: f64,
}

impl WorthMap {
    /// From worth per area at each node and beyond the grid.
    #[must_use]
    pub fn new(grid: Grid, worth: &[f64], beyond: f64) -> Self {
        let mut sums = Vec::with_capacity((grid.nx + 1) * grid.ny);
        for row in worth.chunks(grid.nx) {
            let mut sum = 0.0;
            sums.push(0.0);
            for value in row {
                sum += value;
                sums.push(sum);
            }
        }
        Self { grid, sums, beyond }
    }

    /// Sum over an outline that each row of nodes meets in one stretch (every
    /// convex one), worth × mm².
    #[must_use]
    pub fn over(&self, outline: &Outline) -> f64 {
        let cell = self.grid.cell_mm;
        let [low, high] = outline.bounds();
        let row_of = |y: f64| (y - self.grid.origin_mm[1]) / cell;
        let (first, last) = (row_of(low[1]).ceil() as i64, row_of(high[1]).floor() as i64);
        if last < first {
            return 0.0;
        }
        let rows = (last - first + 1) as usize;
        let mut spans = vec![(f64::INFINITY, f64::NEG_INFINITY); rows];
        for (p, q) in outline.sides() {
            let (v, w) = (row_of(p[1]), row_of(q[1]));
            let from = (v.min(w).ceil() as i64).max(first);
            let to = (v.max(w).floor() as i64).min(last);
            for row in from..=to {
                let t = if w == v {
                    0.0
                } else {
                    (row as f64 - v) / (w - v)
                };
                let x = p[0] + t * (q[0] - p[0]);
                let span = &mut spans[(row - first) as usize];
                span.0 = span.0.min(x);
                span.1 = span.1.max(x);
            }
        }
        let mut total = 0.0;
        for (k, &(left, right)) in spans.iter().enumerate() {
            if left <= right {
                total += self.stretch(first + k as i64, left, right);
            }
        }
        total * cell * cell
    }

    /// Sum over one row from x to x, in node widths.
    fn stretch(&self, row: i64, left: f64, right: f64) -> f64 {
        let column = |x: f64| (x - self.grid.origin_mm[0]) / self.grid.cell_mm + 0.5;
        let (left, right) = (column(left), column(right));
        if row < 0 || row >= self.grid.ny as i64 {
            return self.beyond * (right - left);
        }
        let nx = self.grid.nx;
        let sums = &self.sums[row as usize * (nx + 1)..(row as usize + 1) * (nx + 1)];
        let upto = |u: f64| -> f64 {
            let inside = u.clamp(0.0, nx as f64);
            let k = (inside as usize).min(nx - 1);
            sums[k] + (inside - k as f64) * (sums[k + 1] - sums[k]) + self.beyond * (u - inside)
        };
        upto(right) - upto(left)
    }
}

/// What a free outline must keep to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FreeformLimits {
    /// Least radius of curvature, mm.
    pub least_radius: f64,
    /// Nowhere narrower, mm.
    pub least_width: f64,
    /// Longest over its width.
    pub most_aspect: f64,
}

/// Overtones of the outline: 2 to 9. Chosen: more only makes wrinkles that a
/// setting cannot follow.
const OVERTONES: usize = 8;
/// Points of an outline.
const POINTS: usize = 96;
/// Angles at which it is pushed: as many as the waves can tell apart.
const PUSHES: usize = 2 * OVERTONES + 4;

/// A convex curve by its support function
/// h(θ) = mean + Σ cₖ cos kθ + sₖ sin kθ about a centre.
#[derive(Clone, Copy, Debug)]
struct Support {
    centre: [f64; 2],
    mean: f64,
    waves: [[f64; 2]; OVERTONES],
}

/// Order of the overtone at a place in the list.
fn order(k: usize) -> f64 {
    (k + 2) as f64
}

/// Sines and cosines of every order at every point, looked up rather than
/// computed: an outline is drawn thousands of times.
struct Table {
    /// `[cos, sin]` of the angle.
    turn: [[f64; 2]; POINTS],
    /// `[cos, sin]` of each order times the angle.
    waves: [[[f64; 2]; OVERTONES]; POINTS],
}

impl Table {
    fn new() -> Self {
        let both = |angle: f64| [angle.cos(), angle.sin()];
        let angle = |k: usize| TAU * k as f64 / POINTS as f64;
        Self {
            turn: std::array::from_fn(|p| both(angle(p))),
            waves: std::array::from_fn(|p| std::array::from_fn(|k| both(order(k) * angle(p)))),
        }
    }
}

/// A curve at every point of the table: support, its slope, radius of curvature h + h″.
type Curve = [[f64; 3]; POINTS];

/// A change of a support function, with what it adds at every point.
struct Push {
    shape: Support,
    curve: Curve,
}

impl Push {
    fn new(shape: Support, table: &Table) -> Self {
        Self {
            curve: shape.at(table),
            shape,
        }
    }
}

/// A support function with what was drawn of it.
struct Drawn {
    shape: Support,
    curve: Curve,
    outline: Outline,
}

impl Drawn {
    /// Pushed so far; `None` where a limit does not hold. The curve is linear in the
    /// unknowns, so that a push only adds to it.
    fn pushed(&self, push: &Push, by: f64, limits: &FreeformLimits, table: &Table) -> Option<Self> {
        let curve: Curve = std::array::from_fn(|p| {
            std::array::from_fn(|a| self.curve[p][a] + by * push.curve[p][a])
        });
        let shape = self.shape.moved(&push.shape, by);
        shape.drawn(curve, limits, table)
    }
}

impl Support {
    fn at(&self, table: &Table) -> Curve {
        std::array::from_fn(|p| {
            let (mut h, mut slope, mut radius) = (self.mean, 0.0, self.mean);
            for (k, ([c, s], [cos, sin])) in self.waves.iter().zip(table.waves[p]).enumerate() {
                let wave = c * cos + s * sin;
                h += wave;
                slope += order(k) * (s * cos - c * sin);
                radius += (1.0 - order(k) * order(k)) * wave;
            }
            [h, slope, radius]
        })
    }

    /// Draws the outline of its curve; `None` where a limit does not hold.
    fn drawn(self, at: Curve, limits: &FreeformLimits, table: &Table) -> Option<Drawn> {
        if at.iter().any(|a| a[2] < limits.least_radius - 1e-9) {
            return None;
        }
        // Width across each direction; the length is across the narrowest.
        let width = |p: usize| at[p][0] + at[(p + POINTS / 2) % POINTS][0];
        let narrow = (0..POINTS / 2)
            .min_by(|&p, &q| width(p).total_cmp(&width(q)))
            .unwrap_or(0);
        let (least, length) = (width(narrow), width(narrow + POINTS / 4));
        if least < limits.least_width * (1.0 - 1e-9) || length > limits.most_aspect * least {
            return None;
        }
        let points = at
            .iter()
            .zip(&table.turn)
            .map(|([h, slope, _], [cos, sin])| {
                [
                    self.centre[0] + h * cos - slope * sin,
                    self.centre[1] + h * sin + slope * cos,
                ]
            })
            .collect();
        Outline::new(points).map(|outline| Drawn {
            shape: self,
            curve: at,
            outline,
        })
    }

    /// A push outward by 1 at one angle that dies away to both sides: Fejér's
    /// kernel in the waves there are.
    fn push_at(theta: f64) -> Self {
        let all = (OVERTONES + 2) as f64;
        let share = |order: f64| 2.0 * (1.0 - order / all) / all;
        let (sin, cos) = theta.sin_cos();
        Self {
            centre: [share(1.0) * cos, share(1.0) * sin],
            mean: 1.0 / all,
            waves: std::array::from_fn(|k| {
                let (sin, cos) = (order(k) * theta).sin_cos();
                [share(order(k)) * cos, share(order(k)) * sin]
            }),
        }
    }

    /// One overtone alone, which no push near the limits can change.
    fn wave(k: usize, part: usize) -> Self {
        let mut waves = [[0.0; 2]; OVERTONES];
        waves[k][part] = 1.0 / order(k);
        Self {
            centre: [0.0; 2],
            mean: 0.0,
            waves,
        }
    }

    fn moved(&self, by: &Self, factor: f64) -> Self {
        Self {
            centre: std::array::from_fn(|d| self.centre[d] + factor * by.centre[d]),
            mean: self.mean + factor * by.mean,
            waves: std::array::from_fn(|k| {
                std::array::from_fn(|d| self.waves[k][d] + factor * by.waves[k][d])
            }),
        }
    }
}

/// Grows a smooth convex outline from a circle until it gathers no more of the
/// map, within the limits; with the sum it gathers. `None` where the limits
/// leave no outline.
///
/// # Method
/// Support-function Fourier series (so that the radius of curvature is linear in
/// the unknowns); pushes at equal angles, and each overtone alone, are tried
/// outward and inward, with a step that halves when none helps (pattern search,
/// Hooke & Jeeves 1961), which minds neither jumps in the map nor the limits. A
/// local best: start it from several circles.
#[must_use]
pub fn grow_freeform(
    map: &WorthMap,
    start: Circle,
    limits: &FreeformLimits,
) -> Option<(Outline, f64)> {
    let table = Table::new();
    let circle = Support {
        centre: start.centre,
        mean: start
            .radius
            .max(limits.least_width / 2.0)
            .max(limits.least_radius),
        waves: [[0.0; 2]; OVERTONES],
    };
    let mut drawn = circle.drawn(circle.at(&table), limits, &table)?;
    let mut best = map.over(&drawn.outline);
    let pushes: Vec<Push> = (0..PUSHES)
        .map(|k| Support::push_at(TAU * k as f64 / PUSHES as f64))
        .chain((0..2 * OVERTONES).map(|k| Support::wave(k / 2, k % 2)))
        .map(|shape| Push::new(shape, &table))
        .collect();
    let mut step = (start.radius / 4.0).max(map.grid.cell_mm);
    // Chosen: a sixth of a cell, because tight corners grow by small pushes.
    while step > map.grid.cell_mm / 6.0 {
        let mut helped = false;
        for push in &pushes {
            for way in [step, -step] {
                let Some(next) = drawn.pushed(push, way, limits, &table) else {
                    continue;
                };
                let sum = map.over(&next.outline);
                if sum > best + 1e-4 * best.abs() {
                    drawn = next;
                    best = sum;
                    helped = true;
                    break;
                }
            }
        }
        if !helped {
            step /= 2.0;
        }
    }
    Some((drawn.outline, best))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn map(inside: impl Fn(f64, f64) -> bool) -> WorthMap {
        let grid = Grid {
            nx: 241,
            ny: 161,
            cell_mm: 0.125,
            origin_mm: [-15.0, -10.0],
        };
        let worth: Vec<f64> = (0..grid.len())
            .map(|k| {
                let [x, y] = grid.at_index(k);
                if inside(x, y) { 1.0 } else { -3.0 }
            })
            .collect();
        WorthMap::new(grid, &worth, -3.0)
    }

    const LIMITS: FreeformLimits = FreeformLimits {
        least_radius: 2.0,
        least_width: 4.0,
        most_aspect: 2.5,
    };

    fn grown(map: &WorthMap) -> Outline {
        let start = Circle {
            centre: [0.5, 0.3],
            radius: 3.0,
        };
        grow_freeform(map, start, &LIMITS).expect("fits").0
    }

    #[test]
    fn sums_are_those_of_the_closed_form() {
        let whole = map(|_, _| true);
        let outline = crate::families::ellipse(12.0, 8.0, 400);
        assert!((whole.over(&outline) / (PI * 24.0) - 1.0).abs() < 3e-3);
    }

    /// An ellipse is found again (closed form: its own area).
    #[test]
    fn finds_an_ellipse() {
        let wanted = 7.0 * 4.5 * PI;
        let got = grown(&map(|x, y| (x / 7.0).powi(2) + (y / 4.5).powi(2) <= 1.0));
        assert!(
            (got.area() / wanted - 1.0).abs() < 0.03,
            "{} for {wanted}",
            got.area()
        );
        assert!(got.least_convex_radius() > 1.98);
    }

    /// In a 16 × 8 rectangle no outline of radius 2 or more can beat the opened
    /// rectangle, 128 − (4 − π)·4 = 124.57 (closed form).
    #[test]
    fn fills_a_rectangle_up_to_its_corners() {
        let got = grown(&map(|x, y| x.abs() <= 8.0 && y.abs() <= 4.0));
        assert!(
            got.area() < 124.57 * 1.02 && got.area() > 124.57 * 0.85,
            "{}",
            got.area()
        );
    }

    #[test]
    fn keeps_to_the_aspect() {
        let got = grown(&map(|x, y| x.abs() <= 14.0 && y.abs() <= 2.6));
        let sizes = got.calliper_sizes();
        assert!(sizes.length <= 2.5 * sizes.width * 1.001, "{sizes:?}");
    }
}
