//! An edge followed from point to point.

use crate::picture::Grey;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// How far beyond the two points the edge may bulge, as a share of their distance,
/// and at least, pixels.
const BULGE: (f64, f64) = (0.35, 24.0);
/// Most pixels that are searched; points farther apart are refused.
const MOST_PIXELS: usize = 4_000_000;
/// What a step costs on the strongest edge, against 1 where there is none.
const ON_EDGE: f64 = 0.03;
/// Smoothing before the edge is looked for, pixels.
const SMOOTHING: f64 = 1.2;
/// Steps are counted in whole parts, so that the same picture gives the same path.
const PARTS: f64 = 1024.0;

/// The path from one point to another that keeps to edges best, pixels, both ends
/// on it. `None` when a point lies outside the picture or they are too far apart.
///
/// # Method
/// Shortest path (Dijkstra 1959) over pixels whose cost falls with the gradient, as
/// in Mortensen & Barrett 1995; each point is then moved across the edge to the top
/// of the gradient, by a parabola.
#[must_use]
pub fn live_wire(grey: &Grey, from: [f64; 2], to: [f64; 2]) -> Option<Vec<[f64; 2]>> {
    followed(grey, &SearchBox::around(grey, from, to)?, from, to)
}

/// As [`live_wire`], straying no farther than `bulge` pixels beyond the two points: beside
/// a thin bar the other edge is as strong.
#[must_use]
pub fn live_wire_within(
    grey: &Grey,
    from: [f64; 2],
    to: [f64; 2],
    bulge: f64,
) -> Option<Vec<[f64; 2]>> {
    followed(grey, &SearchBox::within(grey, from, to, bulge)?, from, to)
}

fn followed(grey: &Grey, box_: &SearchBox, from: [f64; 2], to: [f64; 2]) -> Option<Vec<[f64; 2]>> {
    let part = box_.cut(grey).blurred(SMOOTHING);
    let slopes: Vec<[f32; 2]> = (0..part.values.len())
        .map(|k| part.slope((k % part.width) as i64, (k / part.width) as i64))
        .collect();
    let strength: Vec<f64> = slopes
        .iter()
        .map(|g| f64::from(g[0]).hypot(f64::from(g[1])))
        .collect();
    let strongest = strength.iter().copied().fold(0.0, f64::max);
    let cost: Vec<f64> = strength
        .iter()
        .map(|g| {
            let flat = if strongest > 0.0 {
                1.0 - g / strongest
            } else {
                1.0
            };
            ON_EDGE + (1.0 - ON_EDGE) * flat * flat
        })
        .collect();
    let start = box_.index(from);
    let end = box_.index(to);
    let path = shortest(&cost, part.width, start, end);
    let last = path.len() - 1;
    Some(
        path.iter()
            .enumerate()
            .map(|(k, &place)| {
                let at = [(place % part.width) as f64, (place / part.width) as f64];
                let moved = if k == 0 || k == last {
                    at
                } else {
                    onto_edge(&part, at, slopes[place])
                };
                [moved[0] + box_.left as f64, moved[1] + box_.top as f64]
            })
            .collect(),
    )
}

/// An edge must be so many times as strong as what is usual around it. Chosen: the
/// grain of a photo and a stone's own pattern stay below it.
const STANDS_OUT: f64 = 3.0;
/// What the farthest edge within reach counts for, against one under the finger.
const FARTHEST_COUNTS: f64 = 0.5;

/// The place on the strongest edge within `reach` pixels of a point, nearer ones before
/// farther ones. `None` when the point lies outside the picture or no edge stands out.
#[must_use]
pub fn nearest_edge(grey: &Grey, at: [f64; 2], reach: f64) -> Option<[f64; 2]> {
    let box_ = SearchBox::within(grey, at, at, reach.max(1.0) + 3.0 * SMOOTHING)?;
    let part = box_.cut(grey).blurred(SMOOTHING);
    let looked_at: Vec<(usize, f64, f64)> = (0..part.values.len())
        .filter_map(|k| {
            let (x, y) = (k % part.width, k / part.width);
            let away =
                (x as f64 + box_.left as f64 - at[0]).hypot(y as f64 + box_.top as f64 - at[1]);
            let slope = part.slope(x as i64, y as i64);
            let strength = f64::from(slope[0]).hypot(f64::from(slope[1]));
            (away <= reach).then_some((k, away, strength))
        })
        .collect();
    let mut strengths: Vec<f64> = looked_at.iter().map(|p| p.2).collect();
    strengths.sort_by(f64::total_cmp);
    let usual = *strengths.get(strengths.len() / 2)?;
    let counts = |&(_, away, strength): &(usize, f64, f64)| {
        strength * (1.0 - (1.0 - FARTHEST_COUNTS) * away / reach)
    };
    let best = looked_at
        .iter()
        .max_by(|p, q| counts(p).total_cmp(&counts(q)))
        .filter(|p| p.2 > STANDS_OUT * usual && p.2 > 0.0)?;
    let place = [best.0 % part.width, best.0 / part.width];
    let slope = part.slope(place[0] as i64, place[1] as i64);
    let moved = onto_edge(&part, place.map(|v| v as f64), slope);
    Some([moved[0] + box_.left as f64, moved[1] + box_.top as f64])
}

/// A closed outline after one of its points was moved: the point is drawn to the edge
/// within `reach` pixels of it, and what lies between it and two others follows the
/// seen edge. `[from, moved, to]` are places in the outline, met in this order.
///
/// `None` when they are not three different places of it, or lie outside the picture.
#[must_use]
pub fn retraced(
    grey: &Grey,
    outline: &[[f64; 2]],
    [from, moved, to]: [usize; 3],
    reach: f64,
) -> Option<Vec<[f64; 2]>> {
    let n = outline.len();
    if [from, moved, to].iter().any(|&k| k >= n) || from == moved || moved == to || from == to {
        return None;
    }
    let onto = nearest_edge(grey, outline[moved], reach).unwrap_or(outline[moved]);
    let before = live_wire(grey, outline[from], onto)?;
    let after = live_wire(grey, onto, outline[to])?;
    let stays = (0..(from + n - to) % n + 1).map(|k| outline[(to + k) % n]);
    let inner = |path: &[[f64; 2]]| -> Vec<[f64; 2]> {
        // Every second pixel of the path: the next one says the same.
        let last = path.len().saturating_sub(1);
        let inner = path.get(1..last).unwrap_or_default();
        inner.iter().copied().step_by(2).collect()
    };
    Some(
        stays
            .chain(inner(&before))
            .chain([onto])
            .chain(inner(&after))
            .collect(),
    )
}

struct SearchBox {
    left: usize,
    top: usize,
    width: usize,
    height: usize,
}

impl SearchBox {
    fn around(grey: &Grey, from: [f64; 2], to: [f64; 2]) -> Option<Self> {
        let apart = (to[0] - from[0]).hypot(to[1] - from[1]);
        Self::within(grey, from, to, (BULGE.0 * apart).max(BULGE.1))
    }

    /// The box of two points and so many pixels around them.
    fn within(grey: &Grey, from: [f64; 2], to: [f64; 2], bulge: f64) -> Option<Self> {
        let size = [grey.width, grey.height];
        let within = |p: [f64; 2]| (0..2).all(|d| p[d] >= 0.0 && p[d] <= size[d] as f64 - 1.0);
        if !(within(from) && within(to)) {
            return None;
        }
        let low = [0, 1].map(|d| (from[d].min(to[d]) - bulge).max(0.0) as usize);
        let high = [0, 1].map(|d| ((from[d].max(to[d]) + bulge) as usize).min(size[d] - 1));
        let found = Self {
            left: low[0],
            top: low[1],
            width: high[0] - low[0] + 1,
            height: high[1] - low[1] + 1,
        };
        (found.width * found.height <= MOST_PIXELS).then_some(found)
    }

    fn cut(&self, grey: &Grey) -> Grey {
        let rows = self.top..self.top + self.height;
        Grey {
            width: self.width,
            height: self.height,
            values: rows
                .flat_map(|y| {
                    let start = y * grey.width + self.left;
                    grey.values[start..start + self.width].iter().copied()
                })
                .collect(),
        }
    }

    fn index(&self, at: [f64; 2]) -> usize {
        let x = (at[0].round() as usize).clamp(self.left, self.left + self.width - 1) - self.left;
        let y = (at[1].round() as usize).clamp(self.top, self.top + self.height - 1) - self.top;
        y * self.width + x
    }
}

fn shortest(cost: &[f64], width: usize, start: usize, end: usize) -> Vec<usize> {
    let mut best = vec![u64::MAX; cost.len()];
    let mut from = vec![usize::MAX; cost.len()];
    let mut heap = BinaryHeap::from([Reverse((0_u64, start))]);
    best[start] = 0;
    while let Some(Reverse((so_far, place))) = heap.pop() {
        if place == end {
            break;
        }
        if so_far > best[place] {
            continue;
        }
        let (x, y) = ((place % width) as i64, (place / width) as i64);
        for (dx, dy) in [
            (1, 0),
            (-1, 0),
            (0, 1),
            (0, -1),
            (1, 1),
            (1, -1),
            (-1, 1),
            (-1, -1),
        ] {
            let (i, j) = (x + dx, y + dy);
            if !(0..width as i64).contains(&i) || !(0..(cost.len() / width) as i64).contains(&j) {
                continue;
            }
            let next = j as usize * width + i as usize;
            let length = ((dx * dx + dy * dy) as f64).sqrt();
            let step = (PARTS * length * 0.5 * (cost[place] + cost[next])).ceil() as u64;
            if so_far + step < best[next] {
                best[next] = so_far + step;
                from[next] = place;
                heap.push(Reverse((so_far + step, next)));
            }
        }
    }
    let mut path = vec![end];
    while let Some(&place) = path.last() {
        if place == start || from[place] == usize::MAX {
            break;
        }
        path.push(from[place]);
    }
    path.reverse();
    path
}

/// The top of the gradient along its own direction, by a parabola through three values.
fn onto_edge(part: &Grey, at: [f64; 2], slope: [f32; 2]) -> [f64; 2] {
    let slope = slope.map(f64::from);
    let length = slope[0].hypot(slope[1]);
    if length == 0.0 {
        return at;
    }
    let across = slope.map(|v| v / length);
    let value = |t: f64| part.between([at[0] + t * across[0], at[1] + t * across[1]]);
    let steep = |t: f64| value(t + 0.5) - value(t - 0.5);
    let (before, here, after) = (steep(-1.0), steep(0.0), steep(1.0));
    let bend = before - 2.0 * here + after;
    if bend >= 0.0 {
        return at;
    }
    let t = (0.5 * (before - after) / bend).clamp(-1.0, 1.0);
    [at[0] + t * across[0], at[1] + t * across[1]]
}
