//! Why interiors could not be drawn.

use opal_geostat::stereology::StereologyError;
use opal_geostat::{ConditionError, FitError};
use thiserror::Error;

/// Why interiors could not be drawn.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum InteriorError {
    /// None were asked for.
    #[error("{n} interiors were asked for; it must be at least 2")]
    Number {
        /// How many.
        n: usize,
    },
    /// The stone has no inside.
    #[error("the stone has no node inside its skin; its shape must enclose some rough")]
    EmptyStone,
    /// A sighting lies off the stone's grid.
    #[error(
        "sighting {sighting} of bar {bar} at ({:.2}, {:.2}) mm lies outside the stone, which spans {} to {} mm along x and {} to {} mm along y",
        at_mm[0], at_mm[1], low_mm[0], high_mm[0], low_mm[1], high_mm[1]
    )]
    Outside {
        /// Name of the bar.
        bar: String,
        /// Which sighting, counted from 1.
        sighting: usize,
        /// Where it is.
        at_mm: [f64; 2],
        /// Lower corner of the grid, mm.
        low_mm: [f64; 2],
        /// Upper corner of the grid, mm.
        high_mm: [f64; 2],
    },
    /// The sightings of a bar could not be honoured.
    #[error("bar {bar}: {why}")]
    Bar {
        /// Name of the bar.
        bar: String,
        /// What stands against it.
        why: ConditionError,
    },
    /// The sightings of a bar do not tell how it bends.
    #[error("bar {bar}: {why}")]
    Parameters {
        /// Name of the bar.
        bar: String,
        /// What stands against it.
        why: FitError,
    },
    /// What was learnt from an origin cannot be a prior.
    #[error("the prior learnt from {origin}: {field} is {value}, it must be {limit}")]
    Prior {
        /// Name of the origin.
        origin: String,
        /// Which part of it.
        field: &'static str,
        /// What stood there.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
    /// The counts of specks could not be used.
    #[error("counted specks: {0}")]
    Specks(#[from] StereologyError),
}
