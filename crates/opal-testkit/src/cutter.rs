//! The evidence that a cutter would have had of a stone.

use crate::TrueBar;
use opal_evidence::{BarEvidence, QuickBar, Reading, Seen, Sighting};
use opal_stone::Stone;
use opal_units::{Length, Seed};
use rand_distr::{Distribution as _, StandardNormal};

/// How closely the cutter looked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Looking {
    /// Places looked at along the edge.
    pub edge_places: usize,
    /// Windows ground into the skin: top read, and thickness where the bar is.
    pub windows: usize,
    /// One standard deviation of every reading, mm.
    pub sigma_mm: f64,
}

/// Places where a level plane at a height leaves the stone, evenly over directions.
#[must_use]
pub fn edge_places(stone: &Stone, bar: &TrueBar, places: usize) -> Vec<[f64; 2]> {
    let grid = &stone.grid;
    // Along rays from the middle, the last node at which the bar's top lies inside.
    let inside: Vec<[f64; 2]> = (0..grid.len())
        .filter(|&k| stone.inside(k))
        .map(|k| grid.at_index(k))
        .collect();
    let mean = |a: usize| inside.iter().map(|p| p[a]).sum::<f64>() / inside.len().max(1) as f64;
    let centre = [mean(0), mean(1)];
    (0..places)
        .filter_map(|s| {
            let turn = std::f64::consts::TAU * (s as f64 + 0.3) / places as f64;
            let (sin, cos) = turn.sin_cos();
            let steps = grid.nx + grid.ny;
            (1..steps)
                .rev()
                .map(|r| {
                    let reach = grid.cell_mm * r as f64;
                    [centre[0] + reach * cos, centre[1] + reach * sin]
                })
                .find(|&p| {
                    stone.skin_at(p).is_some_and(|(top, bottom)| {
                        let z = bar.top_mm(p);
                        bottom < z && z < top
                    })
                })
        })
        .collect()
}

/// Sightings round the edge and in windows, with errors.
#[must_use]
pub fn look_over(stone: &Stone, bar: &TrueBar, looking: Looking, seed: Seed) -> BarEvidence {
    let mut rng = seed.stream("cutter", 0);
    let sigma = Length::from_mm(looking.sigma_mm);
    let mut read = |truth: f64| {
        let z: f64 = StandardNormal.sample(&mut rng);
        Reading {
            value: Length::from_mm(truth + looking.sigma_mm * z),
            sigma,
        }
    };
    let mut places = edge_places(stone, bar, looking.edge_places);
    places.extend(windows(stone, looking.windows, seed));
    let sightings = places
        .into_iter()
        .map(|p| {
            let (top, thickness) = (bar.top_mm(p), bar.thickness_mm(p));
            // Thinner than this nobody calls it a bar.
            let seen = if thickness < 0.05 {
                Seen::Absent
            } else {
                Seen::Measured {
                    top: Some(read(top)),
                    bottom: Some(read(top - thickness)),
                    thickness: None,
                }
            };
            Sighting { at_mm: p, seen }
        })
        .collect();
    BarEvidence {
        name: "A".to_owned(),
        sightings,
        quick: None,
    }
}

/// Places well inside the stone, at random.
#[must_use]
pub fn windows(stone: &Stone, count: usize, seed: Seed) -> Vec<[f64; 2]> {
    use rand::RngExt as _;
    let mut rng = seed.stream("windows", 0);
    let thick: Vec<usize> = (0..stone.grid.len())
        .filter(|&k| stone.thickness(k).is_some_and(|t| t > Length::from_mm(3.0)))
        .collect();
    if thick.is_empty() {
        return Vec::new();
    }
    (0..count)
        .map(|_| stone.grid.at_index(thick[rng.random_range(0..thick.len())]))
        .collect()
}

/// What a 30-second look at the same bar says: share of the edge, mean thickness
/// where it shows, height; each about. `None` where the bar shows nowhere.
#[must_use]
pub fn quick_look(stone: &Stone, bar: &TrueBar, seed: Seed) -> Option<BarEvidence> {
    let mut rng = seed.stream("quick", 0);
    let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
    let places = edge_places(stone, bar, 24);
    let shows: Vec<[f64; 2]> = places
        .iter()
        .copied()
        .filter(|&p| bar.thickness_mm(p) >= 0.05)
        .collect();
    if shows.is_empty() {
        return None;
    }
    let count = shows.len() as f64;
    let thickness = shows.iter().map(|&p| bar.thickness_mm(p)).sum::<f64>() / count;
    let top = shows.iter().map(|&p| bar.top_mm(p)).sum::<f64>() / count;
    let sigma = 0.25 * thickness;
    let base = stone.height_range_mm().0;
    // Judged to the nearest tenth of the way round.
    let share = (count / places.len() as f64 + 0.05 * normal()).clamp(0.02, 1.0);
    Some(BarEvidence {
        name: "A".to_owned(),
        sightings: Vec::new(),
        quick: Some(QuickBar {
            thickness: Reading {
                value: Length::from_mm((thickness + sigma * normal()).max(0.1)),
                sigma: Length::from_mm(sigma),
            },
            edge_share: (share * 10.0).round().max(1.0) / 10.0,
            top: Some(Reading {
                value: Length::from_mm(top - base + 0.7 * normal()),
                sigma: Length::from_mm(0.7),
            }),
        }),
    })
}
