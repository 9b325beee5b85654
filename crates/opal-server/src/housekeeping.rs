//! The routes that keep the shop in order: the cutter's own wheels, a copy of everything,
//! and stones that come in a file.

use crate::error::ApiError;
use crate::openapi::{Routes, told};
use crate::routes::{Served, ask, document_and_files, download, json_bytes, not_json};
use crate::workbench::{Download, NamedFile, StoneNumber, Workbench, WorkbenchError};
use axum::Json;
use axum::extract::{Request, State};
use axum::response::{IntoResponse, Response};
use opal_evidence::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// What the page needs to keep the shop in order. Calls may block.
pub trait Housekeeping {
    /// The wheels in force.
    ///
    /// # Errors
    /// The store cannot be read.
    fn wheels(&self) -> Result<WheelsPage, WorkbenchError>;

    /// Puts the cutter's own wheels in force: the fields of an `opalwright-wheels/1` file.
    /// Nothing changes when there is a fault.
    ///
    /// # Errors
    /// All faults at once, each with its field; or the store cannot be written.
    fn set_wheels(&self, fields: &Value) -> Result<(), WorkbenchError>;

    /// A copy of the whole store while it is in use.
    ///
    /// # Errors
    /// It cannot be read, or is too large to be sent.
    fn copy_of_everything(&self) -> Result<Download, WorkbenchError>;

    /// Takes a whole stone out of a file that was written elsewhere, under another name
    /// where one is given. Never overwrites.
    ///
    /// # Errors
    /// All that is wrong with the file; a taken name; the store cannot be written.
    fn import(&self, file: &NamedFile, under: Option<&str>) -> Result<Imported, WorkbenchError>;
}

/// The wheels as a form shows them.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WheelsPage {
    /// The wheels in force (`opalwright-wheel-set/1`).
    pub set: Value,
    /// The fields of the file in force (`opalwright-wheels/1`), or of an invented example
    /// where there is none.
    pub file: Value,
    /// The price book's currency, ISO 4217 code.
    pub currency: String,
}

/// A stone that came in a file.
#[derive(Clone, Copy, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct Imported {
    /// Its number.
    pub number: StoneNumber,
    /// False where it stood there already, the same in everything.
    pub added: bool,
}

/// What goes with a stone's file.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ImportForm {
    /// Another name for it.
    #[serde(default)]
    under: Option<String>,
}

/// The routes.
pub(crate) fn routes() -> Routes {
    Routes::new()
        .get(
            "/api/wheels",
            told("The wheels in force").gives::<WheelsPage>(),
            wheels,
        )
        .put(
            "/api/wheels",
            told("Put your own wheels in force (opalwright-wheels/1)")
                .body::<Value>()
                .gives::<WheelsPage>(),
            set_wheels,
        )
        .get(
            "/api/backup",
            told("A copy of everything, as the restore command takes it")
                .file("application/vnd.sqlite3"),
            backup,
        )
        .post(
            "/api/import",
            told("Take a stone in from a file that was exported")
                .body::<ImportForm>()
                .or_form("import")
                .gives::<Imported>(),
            import,
        )
}

async fn wheels(State(served): State<Served>) -> Result<Response, ApiError> {
    let page = ask(&served, |bench| bench.wheels()).await?;
    Ok(Json(page).into_response())
}

async fn set_wheels(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let body = json_bytes(request).await?;
    let fields: Value = serde_json::from_slice(&body).map_err(|error| not_json(&error))?;
    let put = move |bench: &dyn Workbench| {
        bench.set_wheels(&fields)?;
        bench.wheels()
    };
    Ok(Json(ask(&served, put).await?).into_response())
}

async fn backup(State(served): State<Served>) -> Result<Response, ApiError> {
    let file = ask(&served, |bench| bench.copy_of_everything()).await?;
    Ok(download(file, "attachment"))
}

async fn import(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let (document, files) = document_and_files(&served, request, "import").await?;
    let fault = |value: String, limit: &str| ApiError::fault(Fault::new("import", value, limit));
    let form: ImportForm = serde_json::from_value(document)
        .map_err(|why| fault("not what is asked for".to_owned(), &why.to_string()))?;
    let Ok([file]) = <[NamedFile; 1]>::try_from(files) else {
        return Err(fault(
            "no file, or several".to_owned(),
            "send one stone's file",
        ));
    };
    let taken = ask(&served, move |bench| {
        bench.import(&file, form.under.as_deref())
    })
    .await?;
    Ok(Json(taken).into_response())
}
