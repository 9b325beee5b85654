//! What the interiors say at given places.

use crate::Interiors;
use opal_units::Draws;

/// Thinner than this is not a bar that a cutter could see, mm.
/// chosen: a twentieth of a millimetre, half of what a loupe and a scale resolve.
pub const LEAST_VISIBLE_MM: f64 = 0.05;

/// The forecast of one bar at one place.
#[derive(Clone, Debug, PartialEq)]
pub struct BarAtPoint {
    /// The bar's name.
    pub name: String,
    /// Chance that the bar is there, thick enough to be seen.
    pub present: f64,
    /// Height of its top where it is present, mm, at the levels asked for;
    /// `None` where it is present in no interior.
    pub top_mm: Option<Vec<f64>>,
    /// Thickness, absence counted as 0, mm, at the levels asked for.
    pub thickness_mm: Vec<f64>,
}

/// The forecast at one place.
#[derive(Clone, Debug, PartialEq)]
pub struct PointForecast {
    /// The place, stone frame, mm.
    pub at_mm: [f64; 2],
    /// Every bar, main bar first; empty when the place lies outside the stone.
    pub bars: Vec<BarAtPoint>,
}

/// Top height and thickness of bar `bar` at a place in interior `i`, mm;
/// `None` outside the stone.
#[must_use]
pub fn bar_at(interiors: &Interiors, bar: usize, i: usize, at_mm: [f64; 2]) -> Option<(f64, f64)> {
    let cells = interiors.cells();
    let draws = interiors.bars.get(bar)?;
    let (top, thickness) = (draws.top(i, cells), draws.thickness(i, cells));
    let nodes: Vec<(usize, f64)> = match interiors.grid.bilinear(at_mm) {
        Some(nodes) => nodes.to_vec(),
        None => vec![(interiors.grid.nearest(at_mm)?, 1.0)],
    };
    // Near the edge only the nodes inside the stone speak.
    let inside: Vec<(usize, f64)> = nodes
        .into_iter()
        .filter(|&(k, w)| w > 0.0 && top[k].is_finite())
        .collect();
    let weight: f64 = inside.iter().map(|&(_, w)| w).sum();
    if weight <= 0.0 {
        return None;
    }
    let mean = |values: &[f32]| {
        inside
            .iter()
            .map(|&(k, w)| w * f64::from(values[k]))
            .sum::<f64>()
            / weight
    };
    Some((mean(top), mean(thickness)))
}

/// The forecast at given places, with quantiles at `levels` (each in 0..=1).
#[must_use]
pub fn at_points(
    interiors: &Interiors,
    points_mm: &[[f64; 2]],
    levels: &[f64],
) -> Vec<PointForecast> {
    points_mm
        .iter()
        .map(|&at_mm| PointForecast {
            at_mm,
            bars: (0..interiors.bars.len())
                .filter_map(|bar| at_point(interiors, bar, at_mm, levels))
                .collect(),
        })
        .collect()
}

fn at_point(
    interiors: &Interiors,
    bar: usize,
    at_mm: [f64; 2],
    levels: &[f64],
) -> Option<BarAtPoint> {
    let mut tops = Vec::new();
    let mut thicknesses = Vec::with_capacity(interiors.n);
    for i in 0..interiors.n {
        let (top, thickness) = bar_at(interiors, bar, i, at_mm)?;
        if thickness >= LEAST_VISIBLE_MM {
            tops.push(top);
        }
        thicknesses.push(thickness);
    }
    let quantiles = |draws: Draws| levels.iter().map(|&p| draws.quantile(p)).collect();
    Some(BarAtPoint {
        name: interiors.bars[bar].name.clone(),
        present: tops.len() as f64 / interiors.n as f64,
        top_mm: Draws::new(tops).ok().map(quantiles),
        thickness_mm: quantiles(Draws::new(thicknesses).ok()?),
    })
}
