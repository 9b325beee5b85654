//! What the page draws: the skin, the bars with their spread, the sightings.

use opal_evidence::{Evidence, Seen};
use opal_geom::Grid;
use opal_interior::{BarDraws, Interiors};
use opal_stone::{ShapeSource, Stone};
use schemars::JsonSchema;
use serde::Serialize;

/// Most nodes along the longer side of what is drawn. Chosen: because a tablet
/// shows no more, and it keeps the answer below half a megabyte.
const N_DRAWN_MAX: usize = 88;

/// Share of interiors in which a bar must be present at a node for its height
/// there to be drawn. Chosen: because quantiles of fewer than one in fifty of
/// the draws say little.
const PRESENT_MIN: f64 = 0.02;

/// Heights on a thinned grid; `null` where there is nothing.
pub type Heights = Vec<f32>;

/// Everything to draw, in the stone frame, mm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Scene {
    /// Nodes along x.
    pub nx: usize,
    /// Nodes along y.
    pub ny: usize,
    /// Distance between nodes, mm.
    pub cell_mm: f64,
    /// Where node (0, 0) stands, mm.
    pub origin_mm: [f64; 2],
    /// Skin from above, x running fastest.
    pub skin_top_mm: Heights,
    /// Skin from below.
    pub skin_bottom_mm: Heights,
    /// What the shape rests on: `scan`, `outline` or `callipers`.
    pub shape_from: &'static str,
    /// True when the scan itself can be fetched.
    pub has_scan: bool,
    /// The bars; empty until interiors were drawn.
    pub bars: Vec<BarView>,
    /// Where bars were looked at.
    pub sightings: Vec<SightingView>,
    /// Cracks that were seen, as lines from above.
    pub cracks: Vec<Vec<[f64; 2]>>,
}

/// A bar over all interiors.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct BarView {
    /// Its name.
    pub name: String,
    /// Chance that it is there at all, 0..=1.
    pub chance: Heights,
    /// Height of its top where it is present: 5 %, half, 95 %.
    pub top_mm: [Heights; 3],
    /// Height of its bottom where it is present: 5 %, half, 95 %.
    pub bottom_mm: [Heights; 3],
    /// Thickness, absence counted as 0: 5 %, half, 95 %.
    pub thickness_mm: [Heights; 3],
}

/// One look at a bar.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SightingView {
    /// Which bar.
    pub bar: usize,
    /// Where.
    pub at_mm: [f64; 2],
    /// `measured`, `at_least` or `absent`.
    pub seen: &'static str,
    /// Height of the top, where it was read.
    pub top_mm: Option<f64>,
    /// Thickness, read or worked out from top and bottom.
    pub thickness_mm: Option<f64>,
}

impl Scene {
    /// The scene of a stone; with its insides, once they were drawn.
    #[must_use]
    pub fn new(stone: &Stone, interiors: Option<&Interiors>, evidence: &Evidence) -> Self {
        let thin = Thinned::of(&stone.grid);
        let grid = thin.grid(&stone.grid);
        Self {
            nx: grid.nx,
            ny: grid.ny,
            cell_mm: grid.cell_mm,
            origin_mm: grid.origin_mm,
            skin_top_mm: thin.pick(&stone.top_mm),
            skin_bottom_mm: thin.pick(&stone.bottom_mm),
            shape_from: match stone.source {
                ShapeSource::Scan => "scan",
                ShapeSource::Outline => "outline",
                ShapeSource::Callipers => "callipers",
            },
            has_scan: stone.mesh.is_some(),
            bars: interiors.map_or_else(Vec::new, |known| {
                known
                    .bars
                    .iter()
                    .map(|bar| BarView::new(bar, known.n, known.cells(), &thin, stone))
                    .collect()
            }),
            sightings: sightings(evidence),
            cracks: evidence.cracks.iter().map(|c| c.trace_mm.clone()).collect(),
        }
    }
}

/// Every `step`-th node of a grid, along both axes.
pub(crate) struct Thinned {
    step: usize,
    columns: Vec<usize>,
    rows: Vec<usize>,
    nx: usize,
}

impl Thinned {
    pub(crate) fn of(grid: &Grid) -> Self {
        let step = grid.nx.max(grid.ny).div_ceil(N_DRAWN_MAX).max(1);
        Self {
            step,
            columns: (0..grid.nx).step_by(step).collect(),
            rows: (0..grid.ny).step_by(step).collect(),
            nx: grid.nx,
        }
    }

    /// The grid of the nodes that are left.
    pub(crate) fn grid(&self, whole: &Grid) -> Grid {
        Grid {
            nx: self.columns.len(),
            ny: self.rows.len(),
            cell_mm: whole.cell_mm * self.step as f64,
            origin_mm: whole.origin_mm,
        }
    }

    fn nodes(&self) -> impl Iterator<Item = usize> + '_ {
        self.rows
            .iter()
            .flat_map(move |j| self.columns.iter().map(move |i| j * self.nx + i))
    }

    pub(crate) fn pick(&self, values: &[f32]) -> Heights {
        self.nodes().map(|k| hundredths(values[k])).collect()
    }
}

impl BarView {
    fn new(bar: &BarDraws, n: usize, cells: usize, thin: &Thinned, stone: &Stone) -> Self {
        let mut chance = Vec::new();
        let mut quantiles: [[Heights; 3]; 3] = Default::default();
        let (mut tops, mut bottoms, mut thicknesses) = (Vec::new(), Vec::new(), Vec::new());
        for node in thin.nodes() {
            tops.clear();
            bottoms.clear();
            thicknesses.clear();
            if stone.inside(node) {
                for i in 0..n {
                    let (top, thickness) = (
                        bar.top_mm[i * cells + node],
                        bar.thickness_mm[i * cells + node],
                    );
                    if !thickness.is_finite() {
                        continue;
                    }
                    thicknesses.push(thickness);
                    if thickness > 0.0 && top.is_finite() {
                        tops.push(top);
                        bottoms.push(top - thickness);
                    }
                }
            }
            let share = if thicknesses.is_empty() {
                f64::NAN
            } else {
                tops.len() as f64 / thicknesses.len() as f64
            };
            chance.push(hundredths(share as f32));
            if share < PRESENT_MIN {
                tops.clear();
                bottoms.clear();
            }
            for (column, values) in [&mut tops, &mut bottoms, &mut thicknesses]
                .into_iter()
                .enumerate()
            {
                for (place, p) in [0.05, 0.5, 0.95].into_iter().enumerate() {
                    quantiles[column][place].push(hundredths(quantile(values, p)));
                }
            }
        }
        let [top_mm, bottom_mm, thickness_mm] = quantiles;
        Self {
            name: bar.name.clone(),
            chance,
            top_mm,
            bottom_mm,
            thickness_mm,
        }
    }
}

/// Type 7 of Hyndman & Fan (1996), as everywhere; NaN where there is nothing.
/// Selects instead of sorting, and leaves the values in another order.
fn quantile(values: &mut [f32], p: f64) -> f32 {
    let Some(last) = values.len().checked_sub(1) else {
        return f32::NAN;
    };
    let at = p * last as f64;
    let (_, &mut low, above) = values.select_nth_unstable_by(at.floor() as usize, f32::total_cmp);
    let next = above.iter().copied().min_by(f32::total_cmp).unwrap_or(low);
    low + (next - low) * (at - at.floor()) as f32
}

/// Drawing needs no more than a hundredth, and shorter numbers travel faster.
fn hundredths(value: f32) -> f32 {
    (value * 100.0).round() / 100.0
}

fn sightings(evidence: &Evidence) -> Vec<SightingView> {
    let mut all = Vec::new();
    for (bar, known) in evidence.bars.iter().enumerate() {
        for sighting in &known.sightings {
            let (seen, top_mm, thickness_mm) = match sighting.seen {
                Seen::Measured {
                    top,
                    bottom,
                    thickness,
                } => {
                    let between = top.zip(bottom).map(|(t, b)| t.value - b.value);
                    let top_mm = top
                        .map(|r| r.value)
                        .or_else(|| bottom.zip(thickness).map(|(b, t)| b.value + t.value));
                    ("measured", top_mm, thickness.map(|r| r.value).or(between))
                }
                Seen::AtLeast { thickness, top } => {
                    ("at_least", top.map(|r| r.value), Some(thickness))
                }
                Seen::Absent => ("absent", None, None),
            };
            all.push(SightingView {
                bar,
                at_mm: sighting.at_mm,
                seen,
                top_mm: top_mm.map(opal_units::Length::mm),
                thickness_mm: thickness_mm.map(opal_units::Length::mm),
            });
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_the_draws() {
        // Hyndman & Fan (1996), type 7, by hand: 1..=5 at 0.05 is 1.2.
        let mut values = [4.0, 2.0, 5.0, 1.0, 3.0];
        assert!((quantile(&mut values, 0.95) - 4.8).abs() < 1e-6);
        assert!((quantile(&mut values, 0.05) - 1.2).abs() < 1e-6);
        assert!((quantile(&mut values, 0.5) - 3.0).abs() < 1e-6);
        assert_eq!(quantile(&mut [7.0], 0.5), 7.0);
        assert!(quantile(&mut [], 0.5).is_nan());
    }

    #[test]
    fn thinning_keeps_the_first_node_and_the_spacing() {
        let grid = Grid {
            nx: 200,
            ny: 50,
            cell_mm: 0.25,
            origin_mm: [1.0, 2.0],
        };
        let thin = Thinned::of(&grid);
        assert_eq!(thin.step, 3);
        assert!(thin.columns.len() <= N_DRAWN_MAX);
        let nodes: Vec<usize> = thin.nodes().take(2).collect();
        assert_eq!(nodes, [0, 3]);
    }
}
