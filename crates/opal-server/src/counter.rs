//! The counter: a finished stone, its readings, its papers, and what is kept of them.

use crate::error::ApiError;
use crate::extract::{Asked, Placed};
use crate::openapi::{Routes, told};
use crate::routes::{Served, ask, document_and_files, download, json_bytes, not_json};
use crate::workbench::{Download, NamedFile, StoneNumber, WorkbenchError};
use axum::Json;
use axum::extract::{Request, State};
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::Deserialize;
use serde_json::{Value, json};

/// Whose stone something is kept with.
#[derive(Clone, Debug, Deserialize, Eq, JsonSchema, PartialEq)]
#[serde(untagged)]
pub enum KeepWith {
    /// A stone of the store.
    Stone {
        /// Its number.
        stone: StoneNumber,
    },
    /// A stone that a customer brought; it is called as in the readings.
    Customer {
        /// Who brought it.
        customer: String,
    },
}

/// What the counter's page needs of the program behind it. Readings are an
/// `opalwright-readings/1` document as JSON.
pub trait Counter {
    /// What can be looked at on a finished stone, with the answers to choose from.
    fn looks(&self) -> Value;

    /// What a finished stone most likely is; nothing is stored.
    ///
    /// # Errors
    /// All faults of the readings at once.
    fn identify(&self, readings: &Value) -> Result<Value, WorkbenchError>;

    /// The specific gravity of a finished stone by its weighings in water
    /// (`opalwright-weighing/1`); nothing is stored.
    ///
    /// # Errors
    /// All faults of the readings at once; it must not go into water, with the reasons.
    fn weigh(&self, readings: &Value) -> Result<Value, WorkbenchError>;

    /// The words for a finished stone in the market of this key.
    ///
    /// # Errors
    /// All faults of the readings at once; nothing was looked at; no such market.
    fn papers(&self, readings: &Value, market: &str) -> Result<Value, WorkbenchError>;

    /// A text about a finished stone, looked over.
    ///
    /// # Errors
    /// All faults of the readings at once; no such market.
    fn look_over_words(
        &self,
        readings: &Value,
        market: &str,
        text: &str,
    ) -> Result<Value, WorkbenchError>;

    /// The card of a finished stone; kept with a stone where one is named, so that it
    /// can be given out again as it was printed.
    ///
    /// # Errors
    /// As [`Counter::papers`]; no such stone; the store cannot be written.
    fn card(
        &self,
        readings: &Value,
        market: &str,
        kept_with: Option<StoneNumber>,
    ) -> Result<Download, WorkbenchError>;

    /// Keeps readings and the photos that they name; gives the stone's number.
    ///
    /// # Errors
    /// All faults of readings and photos at once; no such stone; the store cannot be
    /// written.
    fn keep_readings(
        &self,
        readings: &Value,
        whose: &KeepWith,
        photos: &[NamedFile],
    ) -> Result<StoneNumber, WorkbenchError>;

    /// What was kept (`opalwright-kept/1`): of every stone, or of those whose name,
    /// number or customer has these words in it.
    ///
    /// # Errors
    /// The store cannot be read.
    fn kept(&self, words: Option<&str>) -> Result<Value, WorkbenchError>;

    /// Readings that were kept, by their fingerprint.
    ///
    /// # Errors
    /// No such readings; the store cannot be read.
    fn kept_readings(&self, stone: StoneNumber, mark: &str) -> Result<Value, WorkbenchError>;

    /// A card as it was printed, by its fingerprint.
    ///
    /// # Errors
    /// No such card; it was changed since; the store cannot be read.
    fn kept_card(&self, stone: StoneNumber, mark: &str) -> Result<Download, WorkbenchError>;

    /// A photo that was kept, by its SHA-256.
    ///
    /// # Errors
    /// No such photo of this stone; the store cannot be read.
    fn kept_photo(&self, stone: StoneNumber, sha256: &str) -> Result<Download, WorkbenchError>;
}

/// The routes.
pub(crate) fn routes() -> Routes {
    Routes::new()
        .get(
            "/api/counter/looks",
            told("What can be looked at").gives_document(),
            looks,
        )
        .post(
            "/api/counter/identify",
            told("What a stone most likely is (opalwright-readings/1)")
                .document()
                .gives_document(),
            identify,
        )
        .post(
            "/api/counter/weigh",
            told("Specific gravity by weighing in water (opalwright-readings/1)")
                .document()
                .gives_document(),
            weigh,
        )
        .post(
            "/api/counter/papers",
            told("The words for a stone (opalwright-readings/1)")
                .query::<WhichMarket>()
                .document()
                .gives_document(),
            papers,
        )
        .post(
            "/api/counter/card.pdf",
            told("The card of a stone (opalwright-readings/1)")
                .query::<WhichCard>()
                .document()
                .file("application/pdf"),
            card,
        )
        .post(
            "/api/counter/words",
            told("A text about a stone, looked over")
                .query::<WhichMarket>()
                .body::<TextAndReadings>()
                .gives_document(),
            words,
        )
        .get(
            "/api/counter/kept",
            told("What was kept at the counter (opalwright-kept/1)")
                .query::<WhichKept>()
                .gives_document(),
            kept,
        )
        .post(
            "/api/counter/kept",
            told("Keep readings, with the photos that they name")
                .body::<ToKeep>()
                .or_form("keep")
                .gives_document(),
            keep,
        )
        .get(
            "/api/counter/kept/{stone}/readings/{mark}",
            told("Readings that were kept (opalwright-readings/1)").gives_document(),
            kept_readings,
        )
        .get(
            "/api/counter/kept/{stone}/cards/{mark}",
            told("A card as it was printed").file("application/pdf"),
            kept_card,
        )
        .get(
            "/api/counter/kept/{stone}/photos/{sha256}",
            told("A photo that was kept").file("image/*"),
            kept_photo,
        )
}

#[derive(Deserialize, JsonSchema)]
struct WhichMarket {
    market: String,
}

#[derive(Deserialize, JsonSchema)]
struct WhichCard {
    market: String,
    stone: Option<StoneNumber>,
}

#[derive(Deserialize, JsonSchema)]
struct WhichKept {
    words: Option<String>,
}

/// A text with the readings of the stone that it is about.
#[derive(Deserialize, JsonSchema)]
struct TextAndReadings {
    readings: Value,
    text: String,
}

/// Readings with whose stone they are kept with.
#[derive(Deserialize, JsonSchema)]
struct ToKeep {
    readings: Value,
    with: KeepWith,
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

async fn weigh(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let readings = readings(request).await?;
    let weighed = ask(&served, move |bench| bench.weigh(&readings)).await?;
    Ok(Json(weighed).into_response())
}

async fn papers(
    State(served): State<Served>,
    Asked(which): Asked<WhichMarket>,
    request: Request,
) -> Result<Response, ApiError> {
    let readings = readings(request).await?;
    let papers = ask(&served, move |bench| bench.papers(&readings, &which.market)).await?;
    Ok(Json(papers).into_response())
}

async fn card(
    State(served): State<Served>,
    Asked(which): Asked<WhichCard>,
    request: Request,
) -> Result<Response, ApiError> {
    let readings = readings(request).await?;
    let file = ask(&served, move |bench| {
        bench.card(&readings, &which.market, which.stone)
    })
    .await?;
    Ok(download(file, "attachment"))
}

async fn words(
    State(served): State<Served>,
    Asked(which): Asked<WhichMarket>,
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

async fn keep(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let (document, photos) = document_and_files(&served, request, "keep").await?;
    let ToKeep { readings, with } =
        serde_json::from_value(document).map_err(|error| not_json(&error))?;
    let stone = ask(&served, move |bench| {
        bench.keep_readings(&readings, &with, &photos)
    })
    .await?;
    Ok(Json(json!({ "stone": stone })).into_response())
}

async fn kept(
    State(served): State<Served>,
    Asked(which): Asked<WhichKept>,
) -> Result<Response, ApiError> {
    let kept = ask(&served, move |bench| bench.kept(which.words.as_deref())).await?;
    Ok(Json(kept).into_response())
}

async fn kept_readings(
    State(served): State<Served>,
    Placed((stone, mark)): Placed<(StoneNumber, String)>,
) -> Result<Response, ApiError> {
    let readings = ask(&served, move |bench| bench.kept_readings(stone, &mark)).await?;
    Ok(Json(readings).into_response())
}

async fn kept_card(
    State(served): State<Served>,
    Placed((stone, mark)): Placed<(StoneNumber, String)>,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| bench.kept_card(stone, &mark)).await?;
    Ok(download(file, "attachment"))
}

async fn kept_photo(
    State(served): State<Served>,
    Placed((stone, sha256)): Placed<(StoneNumber, String)>,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| bench.kept_photo(stone, &sha256)).await?;
    Ok(download(file, "inline"))
}
