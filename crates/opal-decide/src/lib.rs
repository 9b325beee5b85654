//! When to stop, what a look is worth: decisions from draws, by regression on
//! what can be seen.
//!
//! Layer 1: no word of opal in here. The one rule that everything here keeps:
//! a decision in one draw may use only the features of that draw (what somebody
//! standing there could see), never its hidden value; and a rule is valued on
//! draws that it was not fitted on.

mod compare;
mod regression;
mod stopping;

pub use compare::{Choice, choose};
pub use regression::{Fit, FitError};
pub use stopping::{Stopped, StoppingPolicy, StoppingProblem};
