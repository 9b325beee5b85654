//! The routes at the counter: a finished stone, its readings, its papers.

use crate::error::ApiError;
use crate::routes::{Served, ask, download, json_bytes, not_json};
use axum::extract::{Query, Request, State};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use serde::Deserialize;
use serde_json::{Value, json};

/// The routes.
pub(crate) fn routes() -> Router<Served> {
    Router::new()
        .route("/api/counter/looks", get(looks))
        .route("/api/counter/identify", post(identify))
        .route("/api/counter/papers", post(papers))
        .route("/api/counter/card.pdf", post(card))
        .route("/api/counter/words", post(words))
}

#[derive(Deserialize)]
struct WhichMarket {
    market: String,
}

/// A text with the readings of the stone that it is about.
#[derive(Deserialize)]
struct TextAndReadings {
    readings: Value,
    text: String,
}

async fn looks(State(served): State<Served>) -> Result<Response, ApiError> {
    let looks = ask(&served, |bench| Ok(bench.looks())).await?;
    Ok(Json(json!({ "looks": looks })).into_response())
}

async fn readings(request: Request) -> Result<Value, ApiError> {
    let body = json_bytes(request).await?;
    serde_json::from_slice(&body).map_err(|error| not_json(&error))
}

async fn identify(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let readings = readings(request).await?;
    let answer = ask(&served, move |bench| bench.identify(&readings)).await?;
    Ok(Json(answer).into_response())
}

async fn papers(
    State(served): State<Served>,
    Query(which): Query<WhichMarket>,
    request: Request,
) -> Result<Response, ApiError> {
    let readings = readings(request).await?;
    let papers = ask(&served, move |bench| bench.papers(&readings, &which.market)).await?;
    Ok(Json(papers).into_response())
}

async fn card(
    State(served): State<Served>,
    Query(which): Query<WhichMarket>,
    request: Request,
) -> Result<Response, ApiError> {
    let readings = readings(request).await?;
    let file = ask(&served, move |bench| bench.card(&readings, &which.market)).await?;
    Ok(download(file, "attachment"))
}

async fn words(
    State(served): State<Served>,
    Query(which): Query<WhichMarket>,
    request: Request,
) -> Result<Response, ApiError> {
    let body = json_bytes(request).await?;
    let TextAndReadings { readings, text } =
        serde_json::from_slice(&body).map_err(|error| not_json(&error))?;
    let found = ask(&served, move |bench| {
        bench.look_over_words(&readings, &which.market, &text)
    })
    .await?;
    Ok(Json(found).into_response())
}
