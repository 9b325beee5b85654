//! Errors as the page gets them: plain words, and every fault.

use crate::workbench::WorkbenchError;
use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use opal_evidence::{Fault, Faults};
use schemars::JsonSchema;
use serde::Serialize;

/// The body of an error answer.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub(crate) struct ErrorBody {
    /// `not_found`, `faults`, `not_now`, `cancelled`, `store`, `refused` or `internal`.
    pub(crate) kind: &'static str,
    /// What happened, in plain words.
    pub(crate) message: String,
    /// All that is wrong with what was sent; none where it was something else.
    pub(crate) faults: Vec<FaultBody>,
}

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub(crate) struct FaultBody {
    /// The file, when there is one.
    pub(crate) file: Option<String>,
    /// The line, counted from 1.
    pub(crate) line: Option<u32>,
    /// The field by its path.
    pub(crate) field: String,
    /// Where, as a person names it.
    pub(crate) place: String,
    /// What stood there.
    pub(crate) value: String,
    /// What is allowed there.
    pub(crate) limit: String,
}

impl From<Fault> for FaultBody {
    fn from(fault: Fault) -> Self {
        Self {
            place: fault.place_words(),
            file: fault.file,
            line: fault.line,
            field: fault.field,
            value: fault.value,
            limit: fault.limit,
        }
    }
}

/// An error answer with its status.
#[derive(Clone, Debug)]
pub(crate) struct ApiError {
    pub(crate) status: StatusCode,
    pub(crate) body: ErrorBody,
}

impl ApiError {
    pub(crate) fn new(status: StatusCode, kind: &'static str, message: impl Into<String>) -> Self {
        Self {
            status,
            body: ErrorBody {
                kind,
                message: message.into(),
                faults: Vec::new(),
            },
        }
    }

    pub(crate) fn refused(message: impl Into<String>) -> Self {
        Self::new(StatusCode::FORBIDDEN, "refused", message)
    }

    pub(crate) fn not_found(message: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, "not_found", message)
    }

    pub(crate) fn fault(fault: Fault) -> Self {
        WorkbenchError::Faults(Faults::from(fault)).into()
    }
}

impl From<WorkbenchError> for ApiError {
    fn from(error: WorkbenchError) -> Self {
        let message = error.to_string();
        match error {
            WorkbenchError::NotFound(_) => Self::not_found(message),
            WorkbenchError::Faults(faults) => {
                let n = faults.0.len();
                let message = if n == 1 {
                    "One thing needs putting right.".to_owned()
                } else {
                    format!("{n} things need putting right.")
                };
                Self {
                    status: StatusCode::UNPROCESSABLE_ENTITY,
                    body: ErrorBody {
                        kind: "faults",
                        message,
                        faults: faults.0.into_iter().map(FaultBody::from).collect(),
                    },
                }
            }
            WorkbenchError::NotNow(_) => Self::new(StatusCode::CONFLICT, "not_now", message),
            WorkbenchError::Cancelled => Self::new(StatusCode::CONFLICT, "cancelled", message),
            WorkbenchError::Store(_) => {
                Self::new(StatusCode::SERVICE_UNAVAILABLE, "store", message)
            }
            WorkbenchError::Internal(_) => {
                Self::new(StatusCode::INTERNAL_SERVER_ERROR, "internal", message)
            }
        }
    }
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        (self.status, Json(serde_json::json!({ "error": self.body }))).into_response()
    }
}
