//! Why fields could not be conditioned, and the check of what they are to honour.

use crate::fields::{Bound, Datum};
use crate::lattice::Lattice;
use crate::model::ModelError;
use crate::system::SystemError;
use thiserror::Error;

/// Why fields could not be conditioned.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ConditionError {
    /// The lattice has no node, or its cell is not above 0.
    #[error("lattice of {nx} by {ny} nodes, cell {cell}: it needs nodes and a cell above 0")]
    Lattice {
        /// Nodes along x.
        nx: usize,
        /// Nodes along y.
        ny: usize,
        /// Cell.
        cell: f64,
    },
    /// No model with a weight above 0.
    #[error("no model was given a weight above 0")]
    NoModel,
    /// The models differ in their number of fields.
    #[error("model {index} has {fields} fields, the first has {expected}")]
    Fields {
        /// Which model.
        index: usize,
        /// Its fields.
        fields: usize,
        /// Those of the first.
        expected: usize,
    },
    /// A model's parameter is outside its domain.
    #[error(transparent)]
    Model(#[from] ModelError),
    /// A reading lies outside the lattice.
    #[error("reading {index} at ({}, {}) lies outside the lattice", at[0], at[1])]
    Outside {
        /// Which: data first, then bounds.
        index: usize,
        /// Where.
        at: [f64; 2],
    },
    /// A value, error or limit that cannot be.
    #[error("reading {index}: {what} is {value}, it must be {limit}")]
    Value {
        /// Which: data first, then bounds.
        index: usize,
        /// What of it.
        what: &'static str,
        /// What stood there.
        value: f64,
        /// What is allowed.
        limit: &'static str,
    },
    /// The readings cannot be solved.
    #[error(transparent)]
    System(#[from] SystemError),
}

/// Refuses readings that lie off the lattice or are not numbers.
pub(crate) fn check_readings(
    lattice: &Lattice,
    data: &[Datum],
    bounds: &[Bound],
) -> Result<(), ConditionError> {
    let fault = |index, what, value, limit| ConditionError::Value {
        index,
        what,
        value,
        limit,
    };
    for (index, datum) in data.iter().enumerate() {
        if lattice.bilinear(datum.reading.at).is_none() {
            let at = datum.reading.at;
            return Err(ConditionError::Outside { index, at });
        }
        if !datum.value.is_finite() {
            return Err(fault(index, "the value", datum.value, "a finite number"));
        }
        if !(datum.sd >= 0.0 && datum.sd.is_finite()) {
            return Err(fault(index, "the error", datum.sd, "0 or more"));
        }
    }
    for (k, bound) in bounds.iter().enumerate() {
        let index = data.len() + k;
        if lattice.bilinear(bound.reading.at).is_none() {
            let at = bound.reading.at;
            return Err(ConditionError::Outside { index, at });
        }
        if bound.lower.is_nan() || bound.lower == f64::INFINITY {
            return Err(fault(
                index,
                "the lower limit",
                bound.lower,
                "a number or -inf",
            ));
        }
        if bound.upper.is_nan() || bound.upper <= bound.lower {
            let limit = "above the lower limit";
            return Err(fault(index, "the upper limit", bound.upper, limit));
        }
        if !(bound.sd >= 0.0 && bound.sd.is_finite()) {
            return Err(fault(index, "the error", bound.sd, "0 or more"));
        }
    }
    Ok(())
}
