//! The routes, and what each gives back.

use crate::assets;
use crate::error::ApiError;
use crate::extract::Asked;
use crate::guard::{self, Door, Lan};
use crate::openapi::{Routes, told};
use crate::shapes::{Forecast, PriceLook, StoneCard, StonePage};
use crate::workbench::{
    Download, NamedFile, PriceBookText, StoneNumber, Workbench, WorkbenchError,
};
use crate::works::{Subject, WorkNumber, Works};
use axum::body::Bytes;
use axum::extract::multipart::{Field, MultipartError};
use axum::extract::{DefaultBodyLimit, FromRequest, Multipart, Path, Request, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::{Json, Router, middleware};
use futures_util::stream::{self, Stream};
use opal_evidence::Fault;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::convert::Infallible;
use std::net::SocketAddr;
use std::sync::Arc;
use tokio::sync::Semaphore;
use tower_http::set_header::SetResponseHeaderLayer;

/// Largest JSON body. Chosen: because an evidence document with a thousand
/// sightings is below 200 kB.
const JSON_BYTES_MAX: usize = 2 * 1024 * 1024;
/// Largest upload with a scan. Chosen: because a binary PLY of two million
/// triangles is about 65 MB.
const UPLOAD_BYTES_MAX: usize = 160 * 1024 * 1024;

/// Chosen: so that uploads hold a few hundred MB at most, whoever sends how many.
const UPLOADS_AT_ONCE: usize = 2;
/// Most files in one form: a scan, or the photos of a stone.
const FILES_MAX: usize = 24;

/// Nothing from elsewhere, nothing inline, no frames.
const CONTENT_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
     img-src 'self' blob: data:; connect-src 'self'; manifest-src 'self'; \
     base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

#[derive(Clone)]
pub(crate) struct Served {
    pub(crate) bench: Arc<dyn Workbench>,
    pub(crate) works: Works,
    pub(crate) door: Door,
    /// Forms with files that are read at one time.
    pub(crate) uploads: Arc<Semaphore>,
}

impl Served {
    pub(crate) fn new(bench: Arc<dyn Workbench>, door: Door) -> Self {
        Self {
            bench,
            works: Works::default(),
            door,
            uploads: Arc::new(Semaphore::new(UPLOADS_AT_ONCE)),
        }
    }
}

/// Everything that the server answers to this computer, ready for a socket or
/// for a test.
pub fn router(bench: Arc<dyn Workbench>) -> Router {
    router_with(Served::new(bench, None))
}

/// The same with the door open to paired devices on the network in which this
/// computer has that address. Needs the peers' addresses
/// (`into_make_service_with_connect_info`).
///
/// # Errors
/// The list of paired devices cannot be read.
pub fn lan_router(bench: Arc<dyn Workbench>, lan: SocketAddr) -> Result<Router, WorkbenchError> {
    let door = Lan::open(bench.as_ref(), lan)?;
    Ok(router_with(Served::new(bench, Some(door))))
}

pub(crate) fn router_with(served: Served) -> Router {
    let page = Router::new()
        .route("/", get(|| async { assets::index() }))
        .route("/assets/{version}/{*name}", get(asset))
        .layer(fixed(header::CONTENT_SECURITY_POLICY, CONTENT_POLICY));
    let (api, document) = stone_routes()
        .merge(crate::counter::routes())
        .merge(crate::ledger::routes())
        .merge(crate::dealing::routes())
        .merge(crate::tracing::routes())
        .merge(crate::wheel::routes())
        .merge(crate::housekeeping::routes())
        .merge(crate::studies::routes())
        .merge(crate::devices::routes())
        .finish();
    let document = Arc::new(document);
    let api = api
        .route(
            "/api/openapi.json",
            get(move || async move { Json(document.as_ref().clone()) }),
        )
        .fallback(no_such_route)
        .method_not_allowed_fallback(wrong_method)
        .layer(fixed(header::CACHE_CONTROL, "no-store"))
        .layer(DefaultBodyLimit::max(UPLOAD_BYTES_MAX));
    page.merge(api)
        .layer(middleware::from_fn_with_state(
            served.door.clone(),
            guard::only_our_own_page,
        ))
        .layer(fixed(header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .layer(fixed(header::REFERRER_POLICY, "no-referrer"))
        .layer(fixed(
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ))
        .layer(fixed(
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ))
        .with_state(served)
}

fn stone_routes() -> Routes {
    Routes::new()
        .get(
            "/api/about",
            told("The program and its version").gives_document(),
            about,
        )
        .get(
            "/api/stones",
            told("All stones, the one touched last first").gives::<StoneList>(),
            stones,
        )
        .post(
            "/api/stones",
            told("Take in a stone (opalwright-evidence/1)")
                .document()
                .or_form("evidence")
                .gives::<Number>()
                .status(201),
            take_in,
        )
        .get(
            "/api/stones/{stone}",
            told("A stone as it was taken in").gives::<StoneAndWork>(),
            stone,
        )
        .put(
            "/api/stones/{stone}",
            told("Put newer evidence in place (opalwright-evidence/1)")
                .document()
                .or_form("evidence")
                .gives::<Number>(),
            take_in_again,
        )
        .post(
            "/api/stones/{stone}/run",
            told("Work the stone out; gives the work to follow")
                .gives::<WorkStarted>()
                .status(202),
            run,
        )
        .get(
            "/api/stones/{stone}/forecast",
            told("What working it out found").gives::<Forecast>(),
            forecast,
        )
        .put(
            "/api/stones/{stone}/wishes",
            told("What you have decided of a stone; run it again afterwards").document(),
            set_wishes,
        )
        .get(
            "/api/stones/{stone}/at-price",
            told("What would happen at a price of your own")
                .query::<AtPrice>()
                .gives::<PriceLook>(),
            at_price,
        )
        .get(
            "/api/stones/{stone}/sheet.pdf",
            told("The bench sheet of a plan")
                .query::<WhichPlan>()
                .file("application/pdf"),
            sheet,
        )
        .get(
            "/api/stones/{stone}/export",
            told("The whole stone as one file").file("application/json"),
            export,
        )
        .get(
            "/api/stones/{stone}/scan",
            told("The scan: counts, corners and faces, little-endian")
                .file("application/octet-stream"),
            scan,
        )
        .get(
            "/api/works/{work}",
            told("How far a work is, as server-sent events").file("text/event-stream"),
            work_events,
        )
        .delete("/api/works/{work}", told("Stop a work"), cancel)
        .get(
            "/api/prices",
            told("The price book").gives::<PriceBookText>(),
            price_book,
        )
        .put(
            "/api/prices",
            told("Put a price book in place").body::<NewPriceBook>(),
            set_price_book,
        )
        .patch(
            "/api/prices",
            told("Change fields of the price book, the rest of its text kept")
                .body::<Vec<PriceChange>>(),
            change_price_book,
        )
}

fn fixed(name: HeaderName, value: &'static str) -> SetResponseHeaderLayer<HeaderValue> {
    SetResponseHeaderLayer::if_not_present(name, HeaderValue::from_static(value))
}

/// Runs a call that may block on a thread of its own.
pub(crate) async fn ask<T: Send + 'static>(
    served: &Served,
    call: impl FnOnce(&dyn Workbench) -> Result<T, WorkbenchError> + Send + 'static,
) -> Result<T, ApiError> {
    let bench = Arc::clone(&served.bench);
    match tokio::task::spawn_blocking(move || call(bench.as_ref())).await {
        Ok(result) => result.map_err(ApiError::from),
        Err(_) => Err(WorkbenchError::Internal(
            "the program stumbled over this; nothing was changed".to_owned(),
        )
        .into()),
    }
}

async fn asset(Path((version, name)): Path<(String, String)>) -> Response {
    assets::asset(&version, &name)
}

async fn no_such_route() -> ApiError {
    ApiError::not_found("there is nothing at this address")
}

async fn wrong_method() -> ApiError {
    ApiError::new(
        StatusCode::METHOD_NOT_ALLOWED,
        "refused",
        "this address does not take that kind of request",
    )
}

async fn about() -> Json<Value> {
    Json(json!({
        "name": "Opalwright",
        "version": env!("CARGO_PKG_VERSION"),
        "page": assets::page_version(),
        "format": crate::shapes::FORMAT,
    }))
}

#[derive(Serialize, JsonSchema)]
struct StoneList {
    stones: Vec<StoneCard>,
}

#[derive(Serialize, JsonSchema)]
struct Number {
    /// The stone's number.
    number: StoneNumber,
}

#[derive(Serialize, JsonSchema)]
pub(crate) struct WorkStarted {
    /// The work's number, to follow or stop it.
    pub(crate) work: WorkNumber,
}

async fn stones(State(served): State<Served>) -> Result<Response, ApiError> {
    let stones = ask(&served, |bench| bench.stones()).await?;
    Ok(Json(StoneList { stones }).into_response())
}

async fn take_in(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let (evidence, files) = document_and_files(&served, request, "evidence").await?;
    let number = ask(&served, move |bench| bench.take_in(&evidence, &files)).await?;
    Ok((StatusCode::CREATED, Json(Number { number })).into_response())
}

async fn take_in_again(
    State(served): State<Served>,
    Numbered(stone): Numbered,
    request: Request,
) -> Result<Response, ApiError> {
    let (evidence, files) = document_and_files(&served, request, "evidence").await?;
    ask(&served, move |bench| {
        bench.take_in_again(stone, &evidence, &files)
    })
    .await?;
    Ok(Json(Number { number: stone }).into_response())
}

/// A stone with the run that is going on for it, so that a page that comes back
/// can follow it again.
#[derive(Serialize, JsonSchema)]
struct StoneAndWork {
    #[serde(flatten)]
    page: StonePage,
    running: Option<WorkNumber>,
}

async fn stone(
    State(served): State<Served>,
    Numbered(stone): Numbered,
) -> Result<Response, ApiError> {
    let page = ask(&served, move |bench| bench.stone(stone)).await?;
    Ok(Json(StoneAndWork {
        page,
        running: served.works.running(Subject::Stone(stone)),
    })
    .into_response())
}

async fn run(
    State(served): State<Served>,
    Numbered(stone): Numbered,
) -> Result<Response, ApiError> {
    // A stone that does not exist is refused here, not in the background.
    ask(&served, move |bench| bench.stone(stone)).await?;
    let subject = Subject::Stone(stone);
    let work = served
        .works
        .start(&served.bench, subject, move |bench, watch| {
            bench.run(stone, watch)
        });
    Ok((StatusCode::ACCEPTED, Json(WorkStarted { work })).into_response())
}

async fn forecast(
    State(served): State<Served>,
    Numbered(stone): Numbered,
) -> Result<Response, ApiError> {
    match ask(&served, move |bench| bench.forecast(stone)).await? {
        Some(forecast) => Ok(Json(forecast).into_response()),
        None => {
            Err(WorkbenchError::NotNow("this stone has not been worked out yet".to_owned()).into())
        }
    }
}

#[derive(Deserialize, JsonSchema)]
struct AtPrice {
    amount: String,
}

async fn at_price(
    State(served): State<Served>,
    Numbered(stone): Numbered,
    Asked(price): Asked<AtPrice>,
) -> Result<Response, ApiError> {
    let look = ask(&served, move |bench| bench.at_price(stone, &price.amount)).await?;
    Ok(Json(look).into_response())
}

#[derive(Deserialize, JsonSchema)]
struct WhichPlan {
    #[serde(default)]
    plan: usize,
}

async fn sheet(
    State(served): State<Served>,
    Numbered(stone): Numbered,
    Asked(which): Asked<WhichPlan>,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| bench.sheet(stone, which.plan)).await?;
    Ok(download(file, "inline"))
}

async fn export(
    State(served): State<Served>,
    Numbered(stone): Numbered,
) -> Result<Response, ApiError> {
    let file = ask(&served, move |bench| bench.export(stone)).await?;
    Ok(download(file, "attachment"))
}

/// The scan for drawing, little-endian: count of corners and of faces (u32
/// each), then the corners (three f32 each, mm), then the faces (three u32).
async fn scan(
    State(served): State<Served>,
    Numbered(stone): Numbered,
) -> Result<Response, ApiError> {
    let mesh = ask(&served, move |bench| bench.scan(stone))
        .await?
        .ok_or_else(|| ApiError::not_found("this stone was not scanned"))?;
    let mut bytes = Vec::with_capacity(8 + 12 * (mesh.vertices.len() + mesh.faces.len()));
    for count in [mesh.vertices.len(), mesh.faces.len()] {
        let count = u32::try_from(count)
            .map_err(|_| ApiError::from(WorkbenchError::Internal("scan too large".to_owned())))?;
        bytes.extend_from_slice(&count.to_le_bytes());
    }
    for v in mesh.vertices.iter().flatten() {
        bytes.extend_from_slice(&(*v as f32).to_le_bytes());
    }
    for k in mesh.faces.iter().flatten() {
        bytes.extend_from_slice(&k.to_le_bytes());
    }
    Ok(([(header::CONTENT_TYPE, "application/octet-stream")], bytes).into_response())
}

/// Server-sent events of a work: `running` with step and share, then one of
/// `done`, `cancelled`, `failed`, after which the stream ends.
async fn work_events(
    State(served): State<Served>,
    Numbered(work): Numbered,
) -> Result<Sse<impl Stream<Item = Result<Event, Infallible>>>, ApiError> {
    let follower = served
        .works
        .follow(work.unsigned_abs())
        .ok_or_else(|| ApiError::not_found("there is no such work"))?;
    let events = stream::unfold(Some((follower, true)), |state| async move {
        let (mut follower, first) = state?;
        if !first && follower.changed().await.is_err() {
            return None;
        }
        let now = follower.borrow_and_update().clone();
        let event = Event::default()
            .event(now.name())
            .json_data(&now)
            .unwrap_or_else(|_| Event::default().event(now.name()));
        let next = (!now.is_over()).then_some((follower, false));
        Some((Ok(event), next))
    });
    Ok(Sse::new(events).keep_alive(KeepAlive::default()))
}

async fn cancel(
    State(served): State<Served>,
    Numbered(work): Numbered,
) -> Result<StatusCode, ApiError> {
    if served.works.cancel(work.unsigned_abs()) {
        Ok(StatusCode::NO_CONTENT)
    } else {
        Err(ApiError::not_found("there is no such work"))
    }
}

async fn price_book(State(served): State<Served>) -> Result<Response, ApiError> {
    let book = ask(&served, |bench| bench.price_book()).await?;
    Ok(Json(book).into_response())
}

#[derive(Deserialize, JsonSchema)]
struct NewPriceBook {
    text: String,
}

async fn set_price_book(
    State(served): State<Served>,
    request: Request,
) -> Result<StatusCode, ApiError> {
    let body = json_bytes(request).await?;
    let new: NewPriceBook = serde_json::from_slice(&body).map_err(|e| not_json(&e))?;
    ask(&served, move |bench| bench.set_price_book(&new.text)).await?;
    Ok(StatusCode::NO_CONTENT)
}

async fn set_wishes(
    State(served): State<Served>,
    Numbered(stone): Numbered,
    request: Request,
) -> Result<StatusCode, ApiError> {
    let body = json_bytes(request).await?;
    let wishes: Value = serde_json::from_slice(&body).map_err(|e| not_json(&e))?;
    ask(&served, move |bench| bench.set_wishes(stone, &wishes)).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// A field of the price book and what it is to be.
#[derive(Deserialize, JsonSchema)]
struct PriceChange {
    /// Its path, such as `row[3].per_carat.low`; rows are counted as they stand, and one
    /// past the last adds a row.
    field: String,
    /// The value; left out or `null`, the field or the row is taken out.
    value: Option<Value>,
}

async fn change_price_book(
    State(served): State<Served>,
    request: Request,
) -> Result<StatusCode, ApiError> {
    let body = json_bytes(request).await?;
    let changes: Vec<PriceChange> = serde_json::from_slice(&body).map_err(|e| not_json(&e))?;
    let changes: Vec<(String, Option<Value>)> =
        changes.into_iter().map(|c| (c.field, c.value)).collect();
    ask(&served, move |bench| bench.change_price_book(&changes)).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// The number in a path: a stone's, a work's, a device's.
pub(crate) struct Numbered(pub(crate) i64);

impl<S: Send + Sync> axum::extract::FromRequestParts<S> for Numbered {
    type Rejection = ApiError;

    async fn from_request_parts(
        parts: &mut axum::http::request::Parts,
        state: &S,
    ) -> Result<Self, ApiError> {
        let text = Path::<String>::from_request_parts(parts, state)
            .await
            .map_err(|_| ApiError::not_found("there is nothing of that number"))?
            .0;
        // Numbers start at 1, whatever is counted.
        text.parse()
            .ok()
            .filter(|number| *number > 0)
            .map(Self)
            .ok_or_else(|| ApiError::not_found(format!("there is no number '{text}'")))
    }
}

pub(crate) async fn json_bytes(request: Request) -> Result<Bytes, ApiError> {
    let body = request.into_body();
    axum::body::to_bytes(body, JSON_BYTES_MAX)
        .await
        .map_err(|_| too_large(JSON_BYTES_MAX))
}

pub(crate) fn too_large(limit: usize) -> ApiError {
    ApiError::new(
        StatusCode::PAYLOAD_TOO_LARGE,
        "refused",
        format!("what was sent is larger than {} MB", limit / (1024 * 1024)),
    )
}

pub(crate) fn not_json(error: &serde_json::Error) -> ApiError {
    ApiError::fault(Fault {
        file: None,
        line: u32::try_from(error.line()).ok().filter(|&l| l > 0),
        field: "document".to_owned(),
        value: "not readable as JSON".to_owned(),
        limit: error.to_string(),
        place: None,
    })
}

/// A document, alone as JSON or as the named part of a form with files beside it.
pub(crate) async fn document_and_files(
    served: &Served,
    request: Request,
    part_name: &str,
) -> Result<(Value, Vec<NamedFile>), ApiError> {
    let is_form = request
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|v| v.to_str().ok())
        .is_some_and(|kind| kind.starts_with("multipart/form-data"));
    if !is_form {
        let body = json_bytes(request).await?;
        let document = serde_json::from_slice(&body).map_err(|e| not_json(&e))?;
        return Ok((document, Vec::new()));
    }
    let bad_form = |error: MultipartError| {
        if error.status() == StatusCode::PAYLOAD_TOO_LARGE {
            return too_large(UPLOAD_BYTES_MAX);
        }
        ApiError::new(
            StatusCode::BAD_REQUEST,
            "refused",
            "the form that was sent cannot be read",
        )
    };
    let closed = |_| ApiError::from(WorkbenchError::Cancelled);
    let _turn = served.uploads.acquire().await.map_err(closed)?;
    let mut form = Multipart::from_request(request, &())
        .await
        .map_err(|_| ApiError::new(StatusCode::BAD_REQUEST, "refused", "not a readable form"))?;
    let (mut document, mut files) = (None, Vec::new());
    while let Some(part) = form.next_field().await.map_err(bad_form)? {
        if part.name() == Some(part_name) {
            let bytes = at_most(part, JSON_BYTES_MAX, bad_form).await?;
            document = Some(serde_json::from_slice(&bytes).map_err(|e| not_json(&e))?);
        } else if let Some(name) = part.file_name().map(last_name) {
            if files.len() == FILES_MAX {
                let limit = format!("at most {FILES_MAX} files in one form");
                return Err(ApiError::fault(Fault::new("the form", "more files", limit)));
            }
            let bytes = at_most(part, UPLOAD_BYTES_MAX, bad_form).await?;
            files.push(NamedFile { name, bytes });
        }
    }
    let document = document.ok_or_else(|| {
        ApiError::fault(Fault::new(
            part_name,
            "missing",
            format!("the form must carry its document as the part '{part_name}'"),
        ))
    })?;
    Ok((document, files))
}

/// A part's bytes, as they come in, up to a limit.
async fn at_most(
    mut part: Field<'_>,
    limit: usize,
    bad_form: impl Fn(MultipartError) -> ApiError,
) -> Result<Vec<u8>, ApiError> {
    let mut bytes = Vec::new();
    while let Some(chunk) = part.chunk().await.map_err(&bad_form)? {
        if bytes.len() + chunk.len() > limit {
            return Err(too_large(limit));
        }
        bytes.extend_from_slice(&chunk);
    }
    Ok(bytes)
}

/// A file's own name, whatever folders stand before it.
fn last_name(name: &str) -> String {
    name.rsplit(['/', '\\']).next().unwrap_or(name).to_owned()
}

pub(crate) fn download(file: Download, how: &str) -> Response {
    // Only plain letters go into the header; the browser shows the rest anyway.
    let plain: String = file
        .name
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_' | ' ') {
                c
            } else {
                '_'
            }
        })
        .collect();
    let disposition = HeaderValue::try_from(format!("{how}; filename=\"{plain}\""))
        .unwrap_or_else(|_| HeaderValue::from_static("attachment"));
    (
        [
            (
                header::CONTENT_TYPE,
                HeaderValue::from_static(file.media_type),
            ),
            (header::CONTENT_DISPOSITION, disposition),
        ],
        file.bytes,
    )
        .into_response()
}
