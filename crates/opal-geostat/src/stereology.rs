//! From particles cut by a surface to particles in the volume.
//!
//! N_A = N_V · D̄: the number a unit area of section is the number a unit volume
//! times the mean caliper diameter, for any convex shape at random orientation
//! (Underwood 1970, *Quantitative Stereology*; DeHoff & Rhines 1968,
//! *Quantitative Microscopy*). Particles are taken as balls here.

mod clean;
mod posterior;
mod rate;
mod size_law;
mod unfolding;

pub use clean::{ConvexBody, clean_chance};
pub use posterior::{CountedSurface, ParticlePosterior, SizePrior};
pub use rate::GammaRate;
pub use size_law::SizeLaw;
pub use unfolding::{saltykov_log_coefficients, schwartz_saltykov, section_classes};

use thiserror::Error;

/// Why a stereological question could not be answered.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum StereologyError {
    /// A number was out of its range.
    #[error("{name} is {value}; {limit}")]
    Range {
        /// Which number.
        name: &'static str,
        /// What it was.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
}

pub(crate) fn check(
    name: &'static str,
    value: f64,
    allowed: bool,
    limit: &'static str,
) -> Result<f64, StereologyError> {
    if allowed && value.is_finite() {
        Ok(value)
    } else {
        Err(StereologyError::Range { name, value, limit })
    }
}
