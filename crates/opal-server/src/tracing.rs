//! Tracing a stone from photos: the page sends them with their scale, and gets the
//! outline back; nothing is stored.

use crate::error::ApiError;
use crate::extract::Asked;
use crate::openapi::{Routes, told};
use crate::routes::{Served, ask, document_and_files, download};
use crate::workbench::{Download, NamedFile, WorkbenchError};
use axum::Json;
use axum::extract::{Request, State};
use axum::response::{IntoResponse, Response};
use opal_evidence::Fault;
use schemars::JsonSchema;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// What the page needs to trace photos. Calls may block.
pub trait Tracing {
    /// The outline of a stone (`opalwright-trace/1`) from the photo named `top`, and its
    /// height from the one named `side`.
    ///
    /// # Errors
    /// Everything that is wrong with the photos and the form, in plain words.
    fn trace(&self, form: &TraceForm, photos: &[NamedFile]) -> Result<Value, WorkbenchError>;

    /// A bar on the photo named `side` (`opalwright-bar-trace/1`).
    ///
    /// # Errors
    /// Everything that is wrong with the photo and the form, in plain words.
    fn trace_bar(&self, form: &BarForm, photos: &[NamedFile]) -> Result<Value, WorkbenchError>;

    /// The scale card to print; `letter` for the paper of that size, else A4.
    ///
    /// # Errors
    /// A fault of the program.
    fn scale_card(&self, letter: bool) -> Result<Download, WorkbenchError>;
}

/// What goes with the photos. Pixels count from the middle of the first one, y down.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TraceForm {
    /// The scale of the photo from above.
    #[serde(default)]
    pub top: TraceScale,
    /// The scale of the photo from the side.
    #[serde(default)]
    pub side: TraceScale,
    /// How high the stone stands, mm, where it was measured.
    #[serde(default)]
    pub height_mm: Option<f64>,
    /// How far the camera was over the card, mm.
    #[serde(default)]
    pub camera_mm: Option<f64>,
    /// The outline as a person has corrected it, pixels.
    #[serde(default)]
    #[schemars(length(min = 3, max = 5000))]
    pub corrected_px: Option<Vec<[f64; 2]>>,
    /// Places in it of the point that was moved last, and of those before and after
    /// between which the outline is to follow the seen edge: before, moved, after.
    #[serde(default)]
    pub follow: Option<[usize; 3]>,
}

/// By two points where they are given, else by the card.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TraceScale {
    /// What the card's 50 mm rule measures on the print, mm.
    #[serde(default)]
    pub rule_mm: Option<f64>,
    /// Two points, pixels.
    #[serde(default)]
    pub points_px: Option<[[f64; 2]; 2]>,
    /// How far they are apart, mm.
    #[serde(default)]
    pub apart_mm: Option<f64>,
}

/// What goes with a photo of the stone's side. Pixels count from the middle of the first
/// one, y down.
#[derive(Clone, Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BarForm {
    /// From where it was taken.
    pub from: BarSeenFrom,
    /// The stone from above, mm.
    #[schemars(length(min = 3, max = 5000))]
    pub outline_mm: Vec<[f64; 2]>,
    /// How high it stands, mm.
    pub height_mm: f64,
    /// Two opposite corners of the stone's box, pixels; found on a plain ground where they
    /// are not told.
    #[serde(default)]
    pub stone_px: Option<[[f64; 2]; 2]>,
    /// Points on the bar's upper edge, pixels.
    #[serde(default)]
    #[schemars(length(max = 64))]
    pub upper_px: Vec<[f64; 2]>,
    /// Points on its lower edge, pixels.
    #[serde(default)]
    #[schemars(length(max = 64))]
    pub lower_px: Vec<[f64; 2]>,
    /// Take the points as they were put, and straight lines between them.
    #[serde(default)]
    pub as_put: bool,
    /// Most places to make of it; 6 where it is not told.
    #[serde(default)]
    #[schemars(range(min = 1, max = 24))]
    pub places: Option<usize>,
    /// Beyond both ends of the upper edge there is no bar.
    #[serde(default)]
    pub none_beyond: bool,
}

/// A side of the stone as its outline is drawn from above, x to the right and y up.
#[derive(Clone, Copy, Debug, Eq, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BarSeenFrom {
    /// From below the drawing.
    Front,
    /// From above the drawing.
    Back,
    /// From the left of the drawing.
    Left,
    /// From the right of the drawing.
    Right,
}

#[derive(Deserialize, JsonSchema)]
struct WhichPaper {
    /// `a4` or `letter`.
    #[serde(default)]
    paper: Option<String>,
}

/// The routes.
pub(crate) fn routes() -> Routes {
    Routes::new()
        .post(
            "/api/trace",
            told("Trace a stone from photos named top and side (opalwright-trace/1)")
                .body::<TraceForm>()
                .or_form("trace")
                .gives_document(),
            trace,
        )
        .post(
            "/api/trace-bar",
            told("Trace a bar on a photo named side (opalwright-bar-trace/1)")
                .body::<BarForm>()
                .or_form("bar")
                .gives_document(),
            trace_bar,
        )
        .get(
            "/api/scale-card.pdf",
            told("The scale card to print")
                .query::<WhichPaper>()
                .file("application/pdf"),
            scale_card,
        )
}

async fn trace(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let (form, photos) = form_and_photos::<TraceForm>(&served, request, "trace").await?;
    let answer = ask(&served, move |bench| bench.trace(&form, &photos)).await?;
    Ok(Json(answer).into_response())
}

async fn trace_bar(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let (form, photos) = form_and_photos::<BarForm>(&served, request, "bar").await?;
    let answer = ask(&served, move |bench| bench.trace_bar(&form, &photos)).await?;
    Ok(Json(answer).into_response())
}

async fn form_and_photos<T: DeserializeOwned>(
    served: &Served,
    request: Request,
    name: &str,
) -> Result<(T, Vec<NamedFile>), ApiError> {
    let (document, photos) = document_and_files(served, request, name).await?;
    let form = serde_json::from_value(document).map_err(|why| {
        let fault = Fault::new(name, "not what is asked for", why.to_string());
        ApiError::fault(fault)
    })?;
    Ok((form, photos))
}

async fn scale_card(
    State(served): State<Served>,
    Asked(which): Asked<WhichPaper>,
) -> Result<Response, ApiError> {
    let letter = match which.paper.as_deref() {
        None | Some("a4") => false,
        Some("letter") => true,
        Some(other) => {
            let fault = Fault::new("paper", other, "it must be a4 or letter");
            return Err(ApiError::fault(fault));
        }
    };
    let file = ask(&served, move |bench| bench.scale_card(letter)).await?;
    Ok(download(file, "inline"))
}
