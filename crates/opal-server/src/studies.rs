//! The routes of the studies: how well the program does on stones whose inside is known.

use crate::error::ApiError;
use crate::openapi::{Routes, told};
use crate::routes::{Served, WorkStarted, ask, json_bytes, not_json};
use crate::workbench::{Watch, WorkbenchError};
use crate::works::{Subject, WorkNumber};
use axum::Json;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::sync::Arc;

/// What the page needs to run studies. Calls may block.
pub trait Studies {
    /// What each study found when it was last run from the page, in the order of
    /// [`StudyName::ALL`].
    ///
    /// # Errors
    /// The store cannot be read.
    fn studies(&self) -> Result<Vec<StudyFound>, WorkbenchError>;

    /// Whether a study can be run as it is asked for.
    ///
    /// # Errors
    /// All faults at once, each with its field.
    fn look_over_study(&self, asked: &StudyForm) -> Result<(), WorkbenchError>;

    /// Runs a study and keeps what it found.
    ///
    /// # Errors
    /// As [`Studies::look_over_study`]; stopped; the store cannot be written.
    fn run_study(&self, asked: &StudyForm, watch: &dyn Watch) -> Result<(), WorkbenchError>;
}

/// A study by its name.
#[derive(Clone, Copy, Debug, Eq, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StudyName {
    /// Do the intervals hold what they say?
    Calibration,
    /// What is the advice to go on or to stop worth?
    Facing,
    /// What do the plans lose against the best plan knowing the inside?
    Plans,
    /// Does learning from each stone better the forecasts, and does it pay?
    Learning,
}

impl StudyName {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Calibration, Self::Facing, Self::Plans, Self::Learning];

    /// Its name in addresses and documents.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Calibration => "calibration",
            Self::Facing => "facing",
            Self::Plans => "plans",
            Self::Learning => "learning",
        }
    }
}

/// A study and how large it is to be; what is left out is as on the command line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StudyForm {
    /// Which.
    pub study: StudyName,
    /// Stones; in `learning` those of one career.
    #[serde(default)]
    pub stones: Option<usize>,
    /// Possible insides drawn for each stone; `learning` draws none.
    #[serde(default)]
    pub interiors: Option<usize>,
    /// Careers, in `learning` alone.
    #[serde(default)]
    pub careers: Option<usize>,
    /// Laws of the truth: several in `calibration`, one in `facing` and `plans`.
    #[serde(default)]
    pub laws: Vec<String>,
    /// Kinds of look, in `calibration` alone.
    #[serde(default)]
    pub looks: Vec<String>,
    /// What the stones are drawn from: the same seed gives the same answer.
    #[serde(default)]
    pub seed: Option<u64>,
}

/// What a study found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StudyFound {
    /// What was asked.
    pub asked: StudyForm,
    /// When it ended, RFC 3339.
    pub at: String,
    /// The version of the program that it speaks of.
    pub version: String,
    /// The answer in plain text, as the command line gives it.
    pub table: String,
    /// The same as a drawing (SVG 1.1).
    pub drawing: String,
    /// The same for programs, in the study's own format.
    pub document: Value,
}

#[derive(Serialize, JsonSchema)]
struct StudiesPage {
    found: Vec<StudyFound>,
    /// The study that is going on, to follow or stop it.
    running: Option<WorkNumber>,
}

/// The routes.
pub(crate) fn routes() -> Routes {
    Routes::new()
        .get(
            "/api/studies",
            told("What each study last found").gives::<StudiesPage>(),
            studies,
        )
        .post(
            "/api/studies/run",
            told("Run a study; gives the work to follow")
                .body::<StudyForm>()
                .gives::<WorkStarted>()
                .status(202),
            run,
        )
}

async fn studies(State(served): State<Served>) -> Result<Response, ApiError> {
    let found = ask(&served, |bench| bench.studies()).await?;
    let running = served.works.running(Subject::Study);
    Ok(Json(StudiesPage { found, running }).into_response())
}

async fn run(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let body = json_bytes(request).await?;
    let asked: StudyForm = serde_json::from_slice(&body).map_err(|error| not_json(&error))?;
    let asked = Arc::new(asked);
    let looked_over = Arc::clone(&asked);
    ask(&served, move |bench| bench.look_over_study(&looked_over)).await?;
    let study =
        move |bench: &dyn crate::Workbench, watch: &dyn Watch| bench.run_study(&asked, watch);
    let Some(work) = served
        .works
        .start_alone(&served.bench, Subject::Study, study)
    else {
        let said = "a study is going on; wait for it, or stop it first".to_owned();
        return Err(WorkbenchError::NotNow(said).into());
    };
    Ok((StatusCode::ACCEPTED, Json(WorkStarted { work })).into_response())
}
