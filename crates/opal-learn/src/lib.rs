//! What a few outcomes teach, and how far to believe them.
//!
//! Layer 2, without a word of what the numbers stand for: partial pooling of
//! groups, a robust regression that leans on what was believed before, waiting
//! times with some still running, and a record of forecasts against outcomes.

mod pooling;
mod pooling_grid;
mod record;
mod regression;
mod spec;
mod triangle;
mod waiting;

pub use pooling::{GroupSpread, Groups, Moments, NormalGroups, PoolingError, normal_groups};
pub use pooling_grid::{Betas, Gammas, beta_binomial, gamma_poisson};
pub use record::{Record, Scored, WideningRule};
pub use regression::{Coefficients, Fit, Line, fit};
pub use spec::{Belief, FitError, Grouping, Noise, Row, Spec, Tails, cautious};
pub use waiting::{Waiting, WaitingError};
