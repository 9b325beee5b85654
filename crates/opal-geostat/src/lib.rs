//! Gaussian fields in the plane: covariance models, kriging, likelihood,
//! conditional simulation; stereology; scores of forecasts.
//!
//! Layer 1, without a word of what the fields stand for. Lengths are in any one
//! unit, the same for places and ranges.

mod between;
mod condition_error;
mod conditional;
mod conditioner;
mod draft;
mod ensemble;
mod factor;
mod fields;
mod fit;
mod grain;
mod kernel;
mod kriging;
mod lattice;
mod likelihood;
mod mode;
mod model;
mod packed;
mod particles;
mod prior;
pub mod scoring;
mod slots;
pub mod stereology;
mod system;
mod torus;
mod trend;
mod truncated;
mod variogram;

pub use condition_error::ConditionError;
pub use conditional::ConditionalFields;
pub use draft::{Draft, Refusal};
pub use ensemble::Ensemble;
pub use factor::NotPositiveDefinite;
pub use fields::{Bound, Datum, FieldModel, FieldSet, Reading, WeightedModel};
pub use fit::{CorrelationPrior, FieldPriors, Fit, FitError, FitSpec, fit};
pub use kernel::Kernel;
pub use kriging::{Estimate, Kriging, KrigingError, LeftOut};
pub use lattice::Lattice;
pub use likelihood::{Likelihood, MaximumLikelihood, maximum_likelihood};
pub use model::{BreakLine, CovarianceModel, ModelError};
pub use packed::Packed;
pub use prior::ParameterPrior;
pub use system::SystemError;
pub use trend::{CoefficientPrior, Drift, Trend};
pub use truncated::{
    TruncatedNormal, normal_between, normal_upper_tail, truncated_standard_normal,
};
pub use variogram::{VariogramBin, experimental_variogram, fit_variogram};
