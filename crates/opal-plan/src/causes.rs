//! What may differ from one interior to the next, measured in each.

use crate::plan::Plan;
use crate::region::{REGIONS, Region, Regions};
use opal_geom::Outline;
use opal_interior::Interiors;
use opal_stone::Stone;

/// Nodes looked at in all. Chosen: a mean over a region hardly moves with more.
const NODES: usize = 1500;
/// Nodes that a region must hold to be spoken of.
const LEAST_NODES: usize = 12;

/// Something that may differ from one interior to the next.
#[derive(Clone, Debug, PartialEq)]
pub enum Cause {
    /// How high the middle of a bar lies, mm.
    Height {
        /// The bar.
        bar: String,
        /// Where.
        region: Region,
    },
    /// How thick a bar is, absence counted as 0, mm.
    Thickness {
        /// The bar.
        bar: String,
        /// Where.
        region: Region,
    },
    /// Area of the specks under the planned outlines, as a share of theirs.
    Specks,
}

impl Cause {
    /// In plain words: `how high bar A lies at the far side`.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Height { bar, region } => format!("how high bar {bar} lies {}", region.words()),
            Self::Thickness { bar, region } => {
                format!("how thick bar {bar} is {}", region.words())
            }
            Self::Specks => "how many specks there are".to_owned(),
        }
    }

    /// In plain words, where it lies below or above a value.
    #[must_use]
    pub fn turned_words(&self, below: bool, at: f64) -> String {
        match self {
            Self::Height { bar, region } => format!(
                "bar {bar} lies {} {at:.1} mm {}",
                if below { "lower than" } else { "higher than" },
                region.words()
            ),
            Self::Thickness { bar, region } => format!(
                "bar {bar} is {} {at:.1} mm {}",
                if below {
                    "thinner than"
                } else {
                    "thicker than"
                },
                region.words()
            ),
            Self::Specks => format!(
                "specks take {} {:.1} % of the ground under the outlines",
                if below { "less than" } else { "more than" },
                100.0 * at
            ),
        }
    }
}

/// Each cause with its value in every interior; causes that hardly differ are
/// left out.
pub(crate) fn causes(stone: &Stone, interiors: &Interiors, plan: &Plan) -> Vec<(Cause, Vec<f64>)> {
    let regions = Regions::of(stone);
    let cells = interiors.cells();
    let inside: Vec<usize> = (0..cells).filter(|&k| stone.inside(k)).collect();
    let every = (inside.len() / NODES).max(1);
    let mut nodes: Vec<Vec<usize>> = vec![Vec::new(); REGIONS];
    for &k in inside.iter().step_by(every) {
        nodes[regions.at(stone.grid.at_index(k)).index()].push(k);
    }
    let mut found = Vec::new();
    for draws in &interiors.bars {
        for (r, nodes) in nodes.iter().enumerate() {
            if nodes.len() < LEAST_NODES {
                continue;
            }
            let count = nodes.len() as f64;
            let (heights, thicknesses): (Vec<f64>, Vec<f64>) = (0..interiors.n)
                .map(|i| {
                    let (top, thick) = (draws.top(i, cells), draws.thickness(i, cells));
                    let (mut height, mut thickness) = (0.0, 0.0);
                    for &k in nodes {
                        height += f64::from(top[k] - thick[k] / 2.0);
                        thickness += f64::from(thick[k]);
                    }
                    (height / count, thickness / count)
                })
                .unzip();
            let (bar, region) = (draws.name.clone(), Region::number(r));
            found.push((
                Cause::Height {
                    bar: bar.clone(),
                    region,
                },
                heights,
            ));
            found.push((Cause::Thickness { bar, region }, thicknesses));
        }
    }
    found.push((Cause::Specks, speck_shares(interiors, plan)));
    found.retain(|(_, values)| spread(values) > 1e-6);
    found
}

fn speck_shares(interiors: &Interiors, plan: &Plan) -> Vec<f64> {
    let outlines: Vec<Outline> = plan
        .stones
        .iter()
        .filter_map(|s| Outline::new(s.outline_mm.clone()))
        .collect();
    let area: f64 = outlines.iter().map(Outline::area).sum();
    (0..interiors.n)
        .map(|i| {
            let taken: f64 = interiors
                .specks
                .of(i)
                .iter()
                .filter(|s| {
                    let at = [f64::from(s.at_mm[0]), f64::from(s.at_mm[1])];
                    outlines.iter().any(|o| o.contains(at))
                })
                .map(|s| std::f64::consts::PI * f64::from(s.radius_mm).powi(2))
                .sum();
            if area > 0.0 { taken / area } else { 0.0 }
        })
        .collect()
}

fn spread(values: &[f64]) -> f64 {
    let finite = values.iter().all(|v| v.is_finite());
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if finite { high - low } else { 0.0 }
}
