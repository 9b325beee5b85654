//! The routes of the books: what happened, what stands there, what it came to.

use crate::error::ApiError;
use crate::routes::{Served, ask, download, json_bytes, not_json};
use axum::extract::{Query, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::{Json, Router};
use serde::Deserialize;
use serde_json::Value;

/// The routes.
pub(crate) fn routes() -> Router<Served> {
    Router::new()
        .route("/api/ledger", get(ledger))
        .route("/api/ledger/entries", get(entries).post(book))
        .route("/api/ledger/report.pdf", get(report))
        .route("/api/ledger/held.pdf", get(held))
        .route("/api/ledger/entries.csv", get(table))
}

/// The days that count: a year such as 2026 or a month such as 2026-03; all of them
/// where it is left out.
#[derive(Deserialize)]
struct Days {
    period: Option<String>,
}

/// An `opalwright-ledger/1` document.
async fn ledger(
    State(served): State<Served>,
    Query(days): Query<Days>,
) -> Result<Response, ApiError> {
    let doc = ask(&served, move |bench| bench.ledger(days.period.as_deref())).await?;
    Ok(Json(doc).into_response())
}

/// An `opalwright-entries/1` document.
async fn entries(
    State(served): State<Served>,
    Query(days): Query<Days>,
) -> Result<Response, ApiError> {
    let doc = ask(&served, move |bench| bench.entries(days.period.as_deref())).await?;
    Ok(Json(doc).into_response())
}

/// What those days came to, to print.
async fn report(
    State(served): State<Served>,
    Query(days): Query<Days>,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| {
        bench.ledger_pdf(days.period.as_deref(), false)
    });
    Ok(download(file.await?, "inline"))
}

/// What is held at the end of those days, to print.
async fn held(
    State(served): State<Served>,
    Query(days): Query<Days>,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| {
        bench.ledger_pdf(days.period.as_deref(), true)
    });
    Ok(download(file.await?, "inline"))
}

/// The entries as a table.
async fn table(
    State(served): State<Served>,
    Query(days): Query<Days>,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| {
        bench.entries_csv(days.period.as_deref())
    });
    Ok(download(file.await?, "attachment"))
}

/// Takes a list of slips (see `opalwright-entries/1`), books all of them or none, and
/// gives the entries back.
async fn book(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let body = json_bytes(request).await?;
    let slips: Value = serde_json::from_slice(&body).map_err(|error| not_json(&error))?;
    let doc = ask(&served, move |bench| bench.book(&slips)).await?;
    Ok((StatusCode::CREATED, Json(doc)).into_response())
}
