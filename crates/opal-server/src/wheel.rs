//! The routes at the wheel: what happened, what now, how to finish.

use crate::error::ApiError;
use crate::extract::Asked;
use crate::openapi::{Routes, told};
use crate::routes::{Numbered, Served, ask, json_bytes, not_json};
use crate::scene::Scene;
use crate::workbench::{StoneNumber, WorkbenchError};
use axum::Json;
use axum::extract::{Request, State};
use axum::response::{IntoResponse, Response};
use opal_evidence::Evidence;
use opal_geom::contour::contours;
use opal_stone::Stone;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// What the page needs at the wheel. Calls may block.
pub trait AtTheWheel {
    /// The stone as it is now, and what was logged of it.
    ///
    /// # Errors
    /// No such stone; the store cannot be read.
    fn wheel(&self, stone: StoneNumber) -> Result<WheelPage, WorkbenchError>;

    /// Logs an event exactly once, however often it is sent.
    ///
    /// # Errors
    /// All that is wrong with the event; no such stone; the store cannot be written.
    fn log(&self, stone: StoneNumber, sent: &SentEvent) -> Result<WheelPage, WorkbenchError>;

    /// What to do next (`opalwright-now/1`).
    ///
    /// # Errors
    /// No such stone; or a step that could not be done, in plain words.
    fn now(&self, stone: StoneNumber) -> Result<Value, WorkbenchError>;

    /// Which wheel when (`opalwright-finish/1`).
    ///
    /// # Errors
    /// A number out of its range; no such stone.
    fn finish(&self, stone: StoneNumber, what: &FinishQuestion) -> Result<Value, WorkbenchError>;

    /// Is it still losing water (`opalwright-drying/1`).
    ///
    /// # Errors
    /// Fewer than three weighings, or out of order; a number out of its range; no such
    /// stone.
    fn drying(&self, stone: StoneNumber, what: &DryingQuestion) -> Result<Value, WorkbenchError>;

    /// Which is the cheaper for barren stock, saw or wheel (`opalwright-saw-or-grind/1`).
    ///
    /// # Errors
    /// A number out of its range.
    fn saw_or_grind(&self, what: &SawOrGrindQuestion) -> Result<Value, WorkbenchError>;
}

/// The stone as it is at the wheel.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WheelPage {
    /// What happened (`opalwright-log/1`).
    pub log: Value,
    /// Outlines from above as the stone is now, mm, the largest first.
    pub outlines_mm: Vec<Vec<[f64; 2]>>,
    /// Area from above, mm².
    pub area_mm2: f64,
    /// What there is to draw: the skin as it is now, and where bars were looked at.
    pub scene: Scene,
    /// The wheels that are known by name, coarse to fine.
    pub wheels: Vec<String>,
}

impl WheelPage {
    /// Of a stone as it is now.
    #[must_use]
    pub fn new(log: Value, stone: &Stone, evidence: &Evidence, wheels: Vec<String>) -> Self {
        let inside: Vec<f64> = stone
            .top_mm
            .iter()
            .map(|top| if top.is_nan() { 0.0 } else { 1.0 })
            .collect();
        Self {
            log,
            outlines_mm: contours(&stone.grid, &inside, 0.5)
                .into_iter()
                .map(opal_geom::Outline::into_points)
                .collect(),
            area_mm2: stone.outline_area().mm2(),
            scene: Scene::new(stone, None, evidence),
            wheels,
        }
    }
}

/// An event as a device sends it, perhaps late, perhaps more than once.
#[derive(Clone, Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SentEvent {
    /// The mark that the device gave it.
    pub once: String,
    /// When it happened by the device's clock, RFC 3339.
    #[serde(default)]
    pub at: Option<String>,
    /// The event, its `kind` among its fields.
    pub event: Value,
}

/// What to finish.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize, JsonSchema)]
pub struct FinishQuestion {
    /// Area of the face, mm²; the stone's outline where it is not told.
    pub face_mm2: Option<f64>,
    /// Stock above the wanted face when the first wheel starts, mm.
    pub stock_mm: Option<f64>,
}

/// What to weigh the drying by.
#[derive(Clone, Debug, PartialEq, Deserialize, JsonSchema)]
pub struct DryingQuestion {
    /// Days and carats in place of the log's weighings, such as `0:41.20,7:41.05,14:41.01`.
    pub weights: Option<String>,
    /// One standard deviation of the scale, ct.
    pub scale_ct: Option<f64>,
}

impl DryingQuestion {
    /// What was told of each weighing; nothing where the log's are to serve.
    pub fn parts(&self) -> impl Iterator<Item = &str> {
        let text = self.weights.as_deref().unwrap_or_default().trim();
        text.split(',').filter(move |_| !text.is_empty())
    }
}

/// Barren stock to take off.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize, JsonSchema)]
pub struct SawOrGrindQuestion {
    /// How thick it is, mm.
    pub thickness_mm: f64,
    /// Area over which it would be ground, mm².
    pub area_mm2: f64,
    /// Area that the blade would cut through, mm²; the area where it is not told.
    pub cut_mm2: Option<f64>,
    /// What the sawn-off piece is worth, in the price book's currency; nothing where it
    /// is not told.
    pub offcut_worth: Option<f64>,
}

/// The routes.
pub(crate) fn routes() -> Routes {
    Routes::new()
        .get(
            "/api/stones/{stone}/log",
            told("The stone as it is at the wheel").gives::<WheelPage>(),
            wheel,
        )
        .post(
            "/api/stones/{stone}/log",
            told("Log an event exactly once")
                .body::<SentEvent>()
                .gives::<WheelPage>(),
            log,
        )
        .get(
            "/api/stones/{stone}/now",
            told("What to do next (opalwright-now/1)").gives_document(),
            now,
        )
        .get(
            "/api/stones/{stone}/finish",
            told("Which wheel when (opalwright-finish/1)")
                .query::<FinishQuestion>()
                .gives_document(),
            finish,
        )
        .get(
            "/api/stones/{stone}/drying",
            told("Is it still losing water (opalwright-drying/1)")
                .query::<DryingQuestion>()
                .gives_document(),
            drying,
        )
        .get(
            "/api/saw-or-grind",
            told("Saw barren stock off or grind it away (opalwright-saw-or-grind/1)")
                .query::<SawOrGrindQuestion>()
                .gives_document(),
            saw_or_grind,
        )
}

async fn wheel(
    State(served): State<Served>,
    Numbered(stone): Numbered,
) -> Result<Response, ApiError> {
    let page = ask(&served, move |bench| bench.wheel(stone)).await?;
    Ok(Json(page).into_response())
}

async fn log(
    State(served): State<Served>,
    Numbered(stone): Numbered,
    request: Request,
) -> Result<Response, ApiError> {
    let body = json_bytes(request).await?;
    let sent: SentEvent = serde_json::from_slice(&body).map_err(|error| not_json(&error))?;
    let page = ask(&served, move |bench| bench.log(stone, &sent)).await?;
    Ok(Json(page).into_response())
}

async fn now(
    State(served): State<Served>,
    Numbered(stone): Numbered,
) -> Result<Response, ApiError> {
    let advice = ask(&served, move |bench| bench.now(stone)).await?;
    Ok(Json(advice).into_response())
}

async fn finish(
    State(served): State<Served>,
    Numbered(stone): Numbered,
    Asked(what): Asked<FinishQuestion>,
) -> Result<Response, ApiError> {
    let turns = ask(&served, move |bench| bench.finish(stone, &what)).await?;
    Ok(Json(turns).into_response())
}

async fn drying(
    State(served): State<Served>,
    Numbered(stone): Numbered,
    Asked(what): Asked<DryingQuestion>,
) -> Result<Response, ApiError> {
    let doc = ask(&served, move |bench| bench.drying(stone, &what)).await?;
    Ok(Json(doc).into_response())
}

async fn saw_or_grind(
    State(served): State<Served>,
    Asked(what): Asked<SawOrGrindQuestion>,
) -> Result<Response, ApiError> {
    let doc = ask(&served, move |bench| bench.saw_or_grind(&what)).await?;
    Ok(Json(doc).into_response())
}
