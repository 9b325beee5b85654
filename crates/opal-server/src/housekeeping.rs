//! The routes that keep the shop in order: the cutter's own wheels, a copy of everything,
//! and stones that come in a file.

use crate::error::ApiError;
use crate::extract::Asked;
use crate::openapi::{Routes, told};
use crate::routes::{Served, ask, document_and_files, download, json_bytes, not_json, too_large};
use crate::workbench::{Download, NamedFile, StoneNumber, Workbench, WorkbenchError};
use axum::Json;
use axum::extract::{Request, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use futures_util::StreamExt as _;
use opal_evidence::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::path::Path;
use tokio::io::AsyncWriteExt as _;

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

    /// What a copy of a store holds, beside what stands here. Changes nothing.
    ///
    /// # Errors
    /// It is no copy of a store, is damaged, or newer.
    fn look_into_copy(&self, copy: &Path) -> Result<CopyView, WorkbenchError>;

    /// Puts a copy in place of everything, after keeping what stood here.
    ///
    /// # Errors
    /// As [`Housekeeping::look_into_copy`]; the store cannot be written. Nothing is
    /// changed then.
    fn put_back(&self, copy: &Path) -> Result<PutBack, WorkbenchError>;
}

/// Largest store that goes over the page whole, bytes. Chosen: a thousand stones with
/// their scans and photos, and no more than a small disk has to spare.
pub const COPY_BYTES_MAX: u64 = 512 * 1024 * 1024;

/// What a store holds, in a few figures that tell one copy from another.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct HoldingsView {
    /// Stones.
    pub stones: usize,
    /// Entries of the books.
    pub entries: usize,
    /// When anything was last written, RFC 3339.
    pub last: Option<String>,
}

/// A copy beside what it would take the place of.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct CopyView {
    /// What the copy holds.
    pub copy: HoldingsView,
    /// What stands here.
    pub here: HoldingsView,
}

/// A copy that was put back.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct PutBack {
    /// Stones that stand here now.
    pub stones: usize,
    /// The file on the bench computer that holds what stood here before.
    pub kept: String,
}

#[derive(Deserialize, JsonSchema)]
struct HowToPutBack {
    /// True to be told what the copy holds and change nothing.
    #[serde(default)]
    only_look: bool,
}

/// Either answer of a copy that was sent.
#[derive(Serialize, JsonSchema)]
#[serde(untagged)]
enum Restored {
    /// It was looked into.
    Seen(CopyView),
    /// It was put back.
    Put(PutBack),
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

/// The media type of a store (IANA).
const DATABASE: &str = "application/vnd.sqlite3";

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
            told("A copy of everything, as the restore command takes it").file(DATABASE),
            backup,
        )
        .post(
            "/api/restore",
            told("Put a copy of everything back, or only look into it")
                .query::<HowToPutBack>()
                .takes_file("application/octet-stream")
                .gives::<Restored>(),
            restore,
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

/// The copy goes to a file as it comes in, so that a large one does not fill the memory.
async fn restore(
    State(served): State<Served>,
    Asked(how): Asked<HowToPutBack>,
    request: Request,
) -> Result<Response, ApiError> {
    let told = request.headers().get(header::CONTENT_LENGTH);
    let told = told.and_then(|length| length.to_str().ok()?.parse::<u64>().ok());
    if told.is_some_and(|length| length > COPY_BYTES_MAX) {
        return Err(too_large(COPY_BYTES_MAX as usize));
    }
    let closed = |_| ApiError::from(WorkbenchError::Cancelled);
    let _turn = served.uploads.acquire().await.map_err(closed)?;
    let failed = |why: std::io::Error| {
        WorkbenchError::Store(format!("the copy could not be kept here to be read: {why}"))
    };
    let folder = tempfile::tempdir().map_err(failed)?;
    let place = folder.path().join("sent.db");
    let mut file = tokio::fs::File::create(&place).await.map_err(failed)?;
    let mut parts = request.into_body().into_data_stream();
    let mut length = 0;
    while let Some(part) = parts.next().await {
        let part = part.map_err(|_| ApiError::refused("the copy broke off on its way here"))?;
        length += part.len() as u64;
        if length > COPY_BYTES_MAX {
            return Err(too_large(COPY_BYTES_MAX as usize));
        }
        file.write_all(&part).await.map_err(failed)?;
    }
    file.flush().await.map_err(failed)?;
    drop(file);
    if !how.only_look && served.works.any_running() {
        let said = "something is being worked out; wait for it, or stop it, and put the copy \
                    back then";
        return Err(WorkbenchError::NotNow(said.to_owned()).into());
    }
    let done = ask(&served, move |bench| {
        // The folder stays until the copy has been read.
        let copy = folder.path().join("sent.db");
        Ok(if how.only_look {
            Restored::Seen(bench.look_into_copy(&copy)?)
        } else {
            Restored::Put(bench.put_back(&copy)?)
        })
    });
    Ok(Json(done.await?).into_response())
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
