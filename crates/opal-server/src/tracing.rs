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
use serde_json::Value;

/// What the page needs to trace photos. Calls may block.
pub trait Tracing {
    /// The outline of a stone (`opalwright-trace/1`) from the photo named `top`, and its
    /// height from the one named `side`.
    ///
    /// # Errors
    /// Everything that is wrong with the photos and the form, in plain words.
    fn trace(&self, form: &TraceForm, photos: &[NamedFile]) -> Result<Value, WorkbenchError>;

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
        .get(
            "/api/scale-card.pdf",
            told("The scale card to print")
                .query::<WhichPaper>()
                .file("application/pdf"),
            scale_card,
        )
}

async fn trace(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let (document, photos) = document_and_files(&served, request, "trace").await?;
    let form: TraceForm = serde_json::from_value(document).map_err(|why| {
        ApiError::fault(Fault::new(
            "trace",
            "not what is asked for",
            why.to_string(),
        ))
    })?;
    let answer = ask(&served, move |bench| bench.trace(&form, &photos)).await?;
    Ok(Json(answer).into_response())
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
