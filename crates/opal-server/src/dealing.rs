//! The routes of buying and selling: what to bid on many lots, what a finished stone
//! would fetch, what the cutter's own stones have taught.

use crate::error::ApiError;
use crate::openapi::{Routes, told};
use crate::routes::{Served, WorkStarted, ask, json_bytes, not_json};
use crate::workbench::{Watch, Workbench, WorkbenchError};
use crate::works::{Subject, WorkNumber};
use axum::Json;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeMap;

/// What the page needs to buy and sell. Calls may block.
pub trait Dealing {
    /// What [`Dealing::bid_on_lots`] found (`opalwright-bids/1`); `None` where it has not
    /// been run since a stone, the prices or the books last changed.
    ///
    /// # Errors
    /// The store cannot be read.
    fn lots(&self) -> Result<Option<Value>, WorkbenchError>;

    /// Works out the most to pay for every stone that was not bought yet.
    ///
    /// # Errors
    /// There is none; stopped; the store cannot be read.
    fn bid_on_lots(&self, watch: &dyn Watch) -> Result<(), WorkbenchError>;

    /// What a bag of pieces may bring, what to pay for it, and how many to look into first
    /// (`opalwright-parcel-forecast/1`), from the fields of an `opalwright-parcel/1` file.
    ///
    /// # Errors
    /// All faults at once, each with its field.
    fn parcel(&self, fields: &Value) -> Result<Value, WorkbenchError>;

    /// What a finished stone would fetch (`opalwright-price/1`); kept where the stone was
    /// taken in.
    ///
    /// # Errors
    /// All that is wrong with the description; a price book that does not cover it.
    fn price(&self, finished: &FinishedForm) -> Result<Value, WorkbenchError>;

    /// The scales of the trade, with what each word means.
    fn scales(&self) -> Vec<ScaleView>;

    /// What the cutter's own stones have taught (`opalwright-learned/1`).
    ///
    /// # Errors
    /// The store cannot be read.
    fn learned(&self) -> Result<Value, WorkbenchError>;
}

/// A finished stone as it was weighed, measured and graded.
#[derive(Clone, Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FinishedForm {
    /// A stone that was taken in, by name or number, or any other name.
    pub stone: String,
    /// Its weight, ct.
    pub weight_ct: f64,
    /// Length, width and thickness, mm.
    pub sizes_mm: [f64; 3],
    /// Mean thickness of its colour, mm; half of the whole where it is left out.
    #[serde(default)]
    pub colour_mm: Option<f64>,
    /// Clean share of its face, 0 to 1; 1 where it is left out.
    #[serde(default)]
    pub clean_share: Option<f64>,
    /// Its outline: a standard family, `freeform` or `specimen`; oval where left out.
    #[serde(default)]
    pub outline: Option<String>,
    /// For a scale's key its word, or the words that it may be, parted by commas;
    /// `body-tone` as `N4`, `N4-N6`, `N3 from the side`.
    #[serde(default)]
    pub grade: BTreeMap<String, String>,
    /// What was seen, in the cutter's own words.
    #[serde(default)]
    pub note: Option<String>,
    /// Where its rough came from; as taken in where it is left out.
    #[serde(default)]
    pub origin: Option<String>,
    /// What it cost so far, major units; what the books say where it is left out.
    #[serde(default)]
    pub cost: Option<f64>,
}

/// A scale of the trade.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ScaleView {
    /// Its key in [`FinishedForm::grade`].
    pub key: &'static str,
    /// What it says of a stone.
    pub says: &'static str,
    /// True when several of its words may hold at once.
    pub several: bool,
    /// Its words, in order where it has one.
    pub words: Vec<WordView>,
}

/// A word of a scale.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WordView {
    /// The word.
    pub word: &'static str,
    /// What it means, plainly.
    pub plain: &'static str,
}

/// What was bid, and the work that is going on.
#[derive(Serialize, JsonSchema)]
struct LotsPage {
    /// `opalwright-bids/1`, or nothing where it has to be worked out.
    bids: Option<Value>,
    /// The work that is going on, to follow or stop it.
    running: Option<WorkNumber>,
}

#[derive(Serialize, JsonSchema)]
struct Scales {
    scales: Vec<ScaleView>,
}

/// The routes.
pub(crate) fn routes() -> Routes {
    Routes::new()
        .get(
            "/api/lots",
            told("The most to pay for each stone that was not bought yet").gives::<LotsPage>(),
            lots,
        )
        .post(
            "/api/lots/run",
            told("Bid on all of them; gives the work to follow")
                .gives::<WorkStarted>()
                .status(202),
            run,
        )
        .post(
            "/api/parcel",
            told("What a bag of pieces may bring, from the fields of opalwright-parcel/1")
                .body::<Value>()
                .gives_document(),
            parcel,
        )
        .get(
            "/api/scales",
            told("The scales of the trade, with what each word means").gives::<Scales>(),
            scales,
        )
        .post(
            "/api/price",
            told("What a finished stone would fetch (opalwright-price/1)")
                .body::<FinishedForm>()
                .gives_document(),
            price,
        )
        .get(
            "/api/learned",
            told("What your own stones have taught (opalwright-learned/1)").gives_document(),
            learned,
        )
}

async fn parcel(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let body = json_bytes(request).await?;
    let fields: Value = serde_json::from_slice(&body).map_err(|error| not_json(&error))?;
    let doc = ask(&served, move |bench| bench.parcel(&fields)).await?;
    Ok(Json(doc).into_response())
}

async fn lots(State(served): State<Served>) -> Result<Response, ApiError> {
    let bids = ask(&served, |bench| bench.lots()).await?;
    let running = served.works.running(Subject::Lots);
    Ok(Json(LotsPage { bids, running }).into_response())
}

async fn run(State(served): State<Served>) -> Result<Response, ApiError> {
    let bid = |bench: &dyn Workbench, watch: &dyn Watch| bench.bid_on_lots(watch);
    let work = served.works.start(&served.bench, Subject::Lots, bid);
    Ok((StatusCode::ACCEPTED, Json(WorkStarted { work })).into_response())
}

async fn scales(State(served): State<Served>) -> Json<Scales> {
    Json(Scales {
        scales: served.bench.scales(),
    })
}

async fn price(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let body = json_bytes(request).await?;
    let finished: FinishedForm = serde_json::from_slice(&body).map_err(|error| not_json(&error))?;
    let doc = ask(&served, move |bench| bench.price(&finished)).await?;
    Ok(Json(doc).into_response())
}

async fn learned(State(served): State<Served>) -> Result<Response, ApiError> {
    let doc = ask(&served, |bench| bench.learned()).await?;
    Ok(Json(doc).into_response())
}
