//! `opalwright-interior/1`: what may lie inside, at given places.

use super::figure::{Digits, Quantiles, level_key};
use opal_interior::{Interiors, PointForecast};
use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const INTERIOR_FORMAT: &str = "opalwright-interior/1";

/// The forecast at given places.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-interior/1")]
pub struct InteriorDoc {
    /// `opalwright-interior/1`.
    pub format: String,
    /// What the cutter calls the piece.
    pub piece: String,
    /// The seed of the draws: the same seed gives the same bytes.
    pub seed: u64,
    /// How many possible insides.
    pub n_interiors: usize,
    /// The places, in the order in which they were asked for.
    pub points: Vec<PointDoc>,
    /// What the forecast rests on, strongest first.
    pub rests_on: Vec<String>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

/// The forecast at one place.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PointDoc {
    /// The place in the stone frame, mm.
    pub at_mm: [f64; 2],
    /// The bars, main bar first; empty when the place lies outside the stone.
    pub bars: Vec<BarDoc>,
}

/// The forecast of one bar at one place.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct BarDoc {
    /// Its name.
    pub name: String,
    /// The chance that it is there, 0 to 1.
    pub present: f64,
    /// Quantiles of its top's height where it is present, mm; left out where it
    /// is present in no interior.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub top_mm: Option<Quantiles>,
    /// Quantiles of its thickness, absence counted as 0, mm.
    pub thickness_mm: Quantiles,
}

impl InteriorDoc {
    /// From the forecast at the places, made at the same `levels`.
    #[must_use]
    pub fn new(
        piece: &str,
        interiors: &Interiors,
        points: &[PointForecast],
        levels: &[f64],
    ) -> Self {
        let quantiles = |values: &[f64]| -> Quantiles {
            levels
                .iter()
                .zip(values)
                .map(|(&level, &value)| (level_key(level), Digits::Length.round(value)))
                .collect()
        };
        Self {
            format: INTERIOR_FORMAT.to_owned(),
            piece: piece.to_owned(),
            seed: interiors.seed.0,
            n_interiors: interiors.n,
            points: points
                .iter()
                .map(|point| PointDoc {
                    at_mm: point.at_mm,
                    bars: point
                        .bars
                        .iter()
                        .map(|bar| BarDoc {
                            name: bar.name.clone(),
                            present: Digits::Share.round(bar.present),
                            top_mm: bar.top_mm.as_deref().map(quantiles),
                            thickness_mm: quantiles(&bar.thickness_mm),
                        })
                        .collect(),
                })
                .collect(),
            rests_on: interiors.rests_on.clone(),
            warnings: interiors.warnings.clone(),
        }
    }
}
