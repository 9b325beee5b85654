//! The routes of the books: what happened, what stands there, what it came to.

use crate::error::ApiError;
use crate::extract::Asked;
use crate::openapi::{Routes, told};
use crate::routes::{Served, ask, download, json_bytes, not_json};
use axum::Json;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::Deserialize;
use serde_json::Value;

/// The routes.
pub(crate) fn routes() -> Routes {
    Routes::new()
        .get(
            "/api/ledger",
            told("What the books came to, and what is held (opalwright-ledger/1)")
                .query::<Days>()
                .gives_document(),
            ledger,
        )
        .get(
            "/api/ledger/entries",
            told("What was booked (opalwright-entries/1)")
                .query::<Days>()
                .gives_document(),
            entries,
        )
        .post(
            "/api/ledger/entries",
            told("Book slips, all of them or none (opalwright-entries/1)")
                .query::<After>()
                .document()
                .gives_document()
                .status(201),
            book,
        )
        .get(
            "/api/ledger/report.pdf",
            told("What those days came to, to print")
                .query::<Days>()
                .file("application/pdf"),
            report,
        )
        .get(
            "/api/ledger/held.pdf",
            told("What is held at the end of those days, to print")
                .query::<Days>()
                .file("application/pdf"),
            held,
        )
        .get(
            "/api/ledger/entries.csv",
            told("The entries as a table")
                .query::<Days>()
                .file("text/csv"),
            table,
        )
}

/// The days that count: a year such as 2026 or a month such as 2026-03; all of them
/// where it is left out.
#[derive(Deserialize, JsonSchema)]
struct Days {
    period: Option<String>,
}

/// How many entries the books held when the slips were written: where they have grown
/// since, nothing is booked, so that slips sent again are not booked twice.
#[derive(Deserialize, JsonSchema)]
struct After {
    after: Option<u64>,
}

/// An `opalwright-ledger/1` document.
async fn ledger(
    State(served): State<Served>,
    Asked(days): Asked<Days>,
) -> Result<Response, ApiError> {
    let doc = ask(&served, move |bench| bench.ledger(days.period.as_deref())).await?;
    Ok(Json(doc).into_response())
}

/// An `opalwright-entries/1` document.
async fn entries(
    State(served): State<Served>,
    Asked(days): Asked<Days>,
) -> Result<Response, ApiError> {
    let doc = ask(&served, move |bench| bench.entries(days.period.as_deref())).await?;
    Ok(Json(doc).into_response())
}

/// What those days came to, to print.
async fn report(
    State(served): State<Served>,
    Asked(days): Asked<Days>,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| {
        bench.ledger_pdf(days.period.as_deref(), false)
    });
    Ok(download(file.await?, "inline"))
}

/// What is held at the end of those days, to print.
async fn held(
    State(served): State<Served>,
    Asked(days): Asked<Days>,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| {
        bench.ledger_pdf(days.period.as_deref(), true)
    });
    Ok(download(file.await?, "inline"))
}

/// The entries as a table.
async fn table(
    State(served): State<Served>,
    Asked(days): Asked<Days>,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| {
        bench.entries_csv(days.period.as_deref())
    });
    Ok(download(file.await?, "attachment"))
}

/// Takes a list of slips (see `opalwright-entries/1`), books all of them or none, and
/// gives the entries back.
async fn book(
    State(served): State<Served>,
    Asked(After { after }): Asked<After>,
    request: Request,
) -> Result<Response, ApiError> {
    let body = json_bytes(request).await?;
    let slips: Value = serde_json::from_slice(&body).map_err(|error| not_json(&error))?;
    let doc = ask(&served, move |bench| bench.book(&slips, after)).await?;
    Ok((StatusCode::CREATED, Json(doc)).into_response())
}
