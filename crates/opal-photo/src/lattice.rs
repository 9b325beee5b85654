//! Corners of a chequer, put in their rows.

use crate::picture::Grey;
use crate::saddle::{Saddle, refined, saddles};
use std::collections::{BTreeMap, VecDeque};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// A corner of a chequer as it is drawn.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct ChequerCorner {
    /// Which line across, counted to the right.
    pub column: i32,
    /// Which line down, counted downward.
    pub row: i32,
    /// True when the square to its lower right is bright.
    pub bright: bool,
}

/// A corner of a drawn chequer, found in a picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LatticeCorner {
    /// Which corner it is.
    pub column: i32,
    /// Which corner it is.
    pub row: i32,
    /// Where it is seen, pixels.
    pub at: [f64; 2],
}

/// What was found of a chequer.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Seen {
    /// Corners that were put in their place.
    pub(crate) corners: Vec<LatticeCorner>,
    /// Corners in the largest set of rows, placed or not.
    pub(crate) in_rows: usize,
    /// Median side of a square, pixels.
    pub(crate) square_px: f64,
}

/// Longest side of the picture on which corners are first looked for, pixels.
const LOOKED_AT_PX: usize = 1800;
/// Shortest such side, pixels.
const LEAST_PX: usize = 240;
/// Share of the corners at which no coarser picture is tried.
const ENOUGH: f64 = 0.9;
/// How far a neighbour may be from where it is looked for, as a share of a square.
const ASTRAY: f64 = 0.35;
/// How far a neighbour's bright diagonal may be from square to this one's.
const TURNED: f64 = PI / 6.0;
/// How far from an edge's direction the first neighbours are looked for.
const CONE: f64 = PI / 8.0;
/// Fewest corners that make rows.
const FEWEST: usize = 8;
/// Seeds that are tried.
const SEEDS: usize = 80;
/// The window of the last fit, as a share of a square, and its limits in pixels.
const WINDOW_SHARE: f64 = 0.28;
const WINDOW_PX: (f64, f64) = (3.0, 14.0);

/// Finds a drawn chequer: each corner that is seen, to a part of a pixel. Empty
/// when there is none, or when the rows fit the drawing in more ways than one.
///
/// # Method
/// Corners by a ring test on a pyramid of the picture, rows grown from neighbour to
/// neighbour, the drawing laid over the rows by counting votes for each turn and
/// shift; places fitted at full size.
#[must_use]
pub fn find_chequer(grey: &Grey, drawn: &[ChequerCorner]) -> Vec<LatticeCorner> {
    look(grey, drawn).corners
}

pub(crate) fn look(grey: &Grey, drawn: &[ChequerCorner]) -> Seen {
    let mut level = grey.clone();
    let mut halvings = 0_u32;
    while level.width.max(level.height) > LOOKED_AT_PX {
        level = level.halved();
        halvings += 1;
    }
    let mut best = Seen::default();
    while level.width.max(level.height) >= LEAST_PX {
        let seen = look_at_level(&level, drawn);
        if (seen.corners.len(), seen.in_rows) > (best.corners.len(), best.in_rows) {
            best = at_full_size(seen, halvings);
        }
        if best.corners.len() as f64 >= ENOUGH * drawn.len() as f64 {
            break;
        }
        level = level.halved();
        halvings += 1;
    }
    let half = (WINDOW_SHARE * best.square_px).clamp(WINDOW_PX.0, WINDOW_PX.1) as i64;
    best.corners.retain_mut(|corner| {
        refined(grey, corner.at, half).is_some_and(|(at, _)| {
            corner.at = at;
            true
        })
    });
    best
}

fn at_full_size(mut seen: Seen, halvings: u32) -> Seen {
    let factor = f64::from(1_u32 << halvings);
    for corner in &mut seen.corners {
        corner.at = corner.at.map(|v| factor * v + 0.5 * (factor - 1.0));
    }
    seen.square_px *= factor;
    seen
}

fn look_at_level(level: &Grey, drawn: &[ChequerCorner]) -> Seen {
    let found = saddles(level);
    let mut used = vec![false; found.len()];
    let mut best = Seen::default();
    for seed in 0..found.len().min(SEEDS) {
        if used[seed] {
            continue;
        }
        let rows = Rows::grown(&found, seed);
        if rows.places.len() < FEWEST {
            continue;
        }
        for &k in rows.places.values() {
            used[k] = true;
        }
        let corners = rows.laid_over(&found, drawn);
        if (corners.len(), rows.places.len()) > (best.corners.len(), best.in_rows) {
            best = Seen {
                corners,
                in_rows: rows.places.len(),
                square_px: rows.square_px(&found),
            };
        }
    }
    best
}

/// Corners by column and row, counted from the seed, whose lower right square is bright.
struct Rows {
    places: BTreeMap<(i32, i32), usize>,
}

impl Rows {
    fn grown(found: &[Saddle], seed: usize) -> Self {
        let mut places = BTreeMap::from([((0, 0), seed)]);
        let mut taken = vec![false; found.len()];
        taken[seed] = true;
        // Along the columns, then along the rows: bright lies between the two.
        let along = found[seed].bright - FRAC_PI_4;
        let mut steps = [[0.0; 2]; 2];
        for (d, angle) in [(0, along), (1, along + FRAC_PI_2)] {
            match first_neighbour(found, seed, angle) {
                Some(step) => steps[d] = step,
                None => return Self { places },
            }
        }
        let mut queue = VecDeque::from([((0, 0), steps)]);
        while let Some((place, steps)) = queue.pop_front() {
            let here = found[places[&place]];
            for (di, dj) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
                let next = (place.0 + di, place.1 + dj);
                if places.contains_key(&next) {
                    continue;
                }
                let d = usize::from(di == 0);
                let sign = f64::from(di + dj);
                let step = match places.get(&(place.0 - di, place.1 - dj)) {
                    Some(&back) => [
                        here.at[0] - found[back].at[0],
                        here.at[1] - found[back].at[1],
                    ],
                    None => steps[d].map(|v| sign * v),
                };
                let expected = [here.at[0] + step[0], here.at[1] + step[1]];
                let Some(k) = nearest(found, &taken, expected, step, here.bright) else {
                    continue;
                };
                taken[k] = true;
                places.insert(next, k);
                let mut onward = steps;
                onward[d] = [0, 1].map(|a| sign * (found[k].at[a] - here.at[a]));
                queue.push_back((next, onward));
            }
        }
        Self { places }
    }

    fn square_px(&self, found: &[Saddle]) -> f64 {
        let mut sides: Vec<f64> = self
            .places
            .iter()
            .flat_map(|(&(i, j), &k)| {
                [(i + 1, j), (i, j + 1)]
                    .into_iter()
                    .filter_map(move |next| Some((k, *self.places.get(&next)?)))
            })
            .map(|(k, next)| distance(found[k].at, found[next].at))
            .collect();
        sides.sort_by(f64::total_cmp);
        sides.get(sides.len() / 2).copied().unwrap_or(0.0)
    }

    /// The drawing over the rows: the turn and shift that most corners vote for.
    fn laid_over(&self, found: &[Saddle], drawn: &[ChequerCorner]) -> Vec<LatticeCorner> {
        let mut votes: BTreeMap<(i32, i32, i32), usize> = BTreeMap::new();
        for quarter in 0..4 {
            for &place in self.places.keys() {
                let (i, j) = turned(place, quarter);
                for corner in drawn {
                    if corner.bright == is_bright(place, quarter) {
                        *votes
                            .entry((quarter, corner.column - i, corner.row - j))
                            .or_default() += 1;
                    }
                }
            }
        }
        let Some((&(quarter, di, dj), &most)) = votes.iter().max_by_key(|(_, n)| **n) else {
            return Vec::new();
        };
        let rivals = votes.values().filter(|n| **n == most).count();
        if rivals > 1 {
            return Vec::new();
        }
        let there: BTreeMap<(i32, i32), bool> = drawn
            .iter()
            .map(|c| ((c.column, c.row), c.bright))
            .collect();
        self.places
            .iter()
            .filter_map(|(&place, &k)| {
                let (i, j) = turned(place, quarter);
                let (column, row) = (i + di, j + dj);
                (there.get(&(column, row)) == Some(&is_bright(place, quarter))).then_some(
                    LatticeCorner {
                        column,
                        row,
                        at: found[k].at,
                    },
                )
            })
            .collect()
    }
}

/// A place after so many quarter turns from right to down.
fn turned((i, j): (i32, i32), quarter: i32) -> (i32, i32) {
    (0..quarter).fold((i, j), |(i, j), _| (-j, i))
}

/// Whether the square to the lower right is bright, after the turn.
fn is_bright((i, j): (i32, i32), quarter: i32) -> bool {
    (i + j + quarter).rem_euclid(2) == 0
}

fn distance(p: [f64; 2], q: [f64; 2]) -> f64 {
    (p[0] - q[0]).hypot(p[1] - q[1])
}

/// How far a direction is from another when both count both ways, 0..=π/2.
fn between_lines(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(PI);
    d.min(PI - d)
}

fn square_to(bright: f64, other: f64) -> bool {
    between_lines(bright + FRAC_PI_2, other) <= TURNED
}

/// The step to the nearest corner along an edge, whichever way it is found.
fn first_neighbour(found: &[Saddle], from: usize, angle: f64) -> Option<[f64; 2]> {
    let here = found[from];
    let (_, step) = found
        .iter()
        .enumerate()
        .filter(|(k, other)| *k != from && square_to(here.bright, other.bright))
        .map(|(_, other)| {
            let step = [other.at[0] - here.at[0], other.at[1] - here.at[1]];
            (step[0].hypot(step[1]), step)
        })
        .filter(|(_, step)| between_lines(step[1].atan2(step[0]), angle) <= CONE)
        .min_by(|p, q| p.0.total_cmp(&q.0))?;
    let forward = step[0] * angle.cos() + step[1] * angle.sin() > 0.0;
    Some(if forward { step } else { step.map(|v| -v) })
}

fn nearest(
    found: &[Saddle],
    taken: &[bool],
    expected: [f64; 2],
    step: [f64; 2],
    bright: f64,
) -> Option<usize> {
    let reach = ASTRAY * step[0].hypot(step[1]);
    found
        .iter()
        .enumerate()
        .filter(|(k, other)| !taken[*k] && square_to(bright, other.bright))
        .map(|(k, other)| (k, distance(other.at, expected)))
        .filter(|(_, away)| *away <= reach)
        .min_by(|p, q| p.1.total_cmp(&q.1))
        .map(|(k, _)| k)
}
