//! What stands in an address, or what is wrong with it in words.

use crate::error::ApiError;
use axum::extract::{FromRequestParts, Path, Query};
use axum::http::request::Parts;
use opal_evidence::Fault;
use serde::de::DeserializeOwned;

/// What stands at several places of a path.
pub(crate) struct Placed<T>(pub(crate) T);

impl<T: DeserializeOwned + Send, S: Send + Sync> FromRequestParts<S> for Placed<T> {
    type Rejection = ApiError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, ApiError> {
        match Path::from_request_parts(parts, state).await {
            Ok(Path(placed)) => Ok(Self(placed)),
            Err(_) => Err(ApiError::not_found(format!(
                "there is nothing at '{}'",
                parts.uri.path()
            ))),
        }
    }
}

/// What is asked after the question mark.
pub(crate) struct Asked<T>(pub(crate) T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequestParts<S> for Asked<T> {
    type Rejection = ApiError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, ApiError> {
        match Query::from_request_parts(parts, state).await {
            Ok(Query(asked)) => Ok(Self(asked)),
            Err(rejection) => Err(ApiError::fault(Fault::new(
                "the address",
                format!("'?{}'", parts.uri.query().unwrap_or_default()),
                rejection.body_text(),
            ))),
        }
    }
}
