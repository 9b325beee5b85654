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
    let box_ = SearchBox::around(grey, from, to)?;
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

struct SearchBox {
    left: usize,
    top: usize,
    width: usize,
    height: usize,
}

impl SearchBox {
    fn around(grey: &Grey, from: [f64; 2], to: [f64; 2]) -> Option<Self> {
        let size = [grey.width, grey.height];
        let within = |p: [f64; 2]| (0..2).all(|d| p[d] >= 0.0 && p[d] <= size[d] as f64 - 1.0);
        if !(within(from) && within(to)) {
            return None;
        }
        let bulge = (BULGE.0 * (to[0] - from[0]).hypot(to[1] - from[1])).max(BULGE.1);
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
