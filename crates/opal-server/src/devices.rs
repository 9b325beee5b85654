//! The routes by which devices are let in and shut out.

use crate::error::ApiError;
use crate::guard::{COOKIE, Lan};
use crate::openapi::{Routes, told};
use crate::pairing::{CODE_LASTS, NotPaired};
use crate::routes::{Numbered, Served, json_bytes, not_json};
use crate::workbench::WorkbenchError;
use axum::Json;
use axum::extract::{Request, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use qrcode::QrCode;
use qrcode::types::Color;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::time::Instant;

/// How long a device stays paired unless it is withdrawn, seconds: a year.
const COOKIE_SECONDS: u32 = 365 * 24 * 3600;

/// The routes.
pub(crate) fn routes() -> Routes {
    Routes::new()
        .get(
            "/api/devices",
            told("The devices that may come in").gives::<DeviceList>(),
            devices,
        )
        .post(
            "/api/devices/code",
            told("A code that lets one device in").gives::<CodeView>(),
            code,
        )
        .delete("/api/devices/{device}", told("Shut a device out"), withdraw)
        .post(
            "/api/pair",
            told("Pair this device; sets its cookie").body::<Asking>(),
            pair,
        )
}

/// A device, as the page lists it.
#[derive(Serialize, JsonSchema)]
struct DeviceView {
    number: u32,
    name: String,
    paired_at: String,
}

#[derive(Serialize, JsonSchema)]
struct DeviceList {
    /// The page on the shop's network; nothing while it is open here alone.
    address: Option<String>,
    devices: Vec<DeviceView>,
}

/// A code for one device, with a picture that holds it.
#[derive(Serialize, JsonSchema)]
struct CodeView {
    code: String,
    /// Where the device finds the page, the code behind it.
    address: String,
    /// How long it is good.
    seconds: u64,
    /// The address as a QR code: rows of dark (1) and light (0) squares.
    squares: Vec<Vec<u8>>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Asking {
    code: String,
    #[serde(default)]
    name: String,
}

fn lan(served: &Served) -> Result<&Lan, ApiError> {
    served.door.as_ref().ok_or_else(|| {
        ApiError::new(
            StatusCode::CONFLICT,
            "not_now",
            "the workbench is open to this computer alone; start it with `opalwright serve --lan`",
        )
    })
}

async fn devices(State(served): State<Served>) -> Response {
    let open = served.door.as_ref();
    let list: Vec<DeviceView> = open.map_or_else(Vec::new, |lan| {
        let devices = lan.pairing.devices().into_iter();
        devices
            .map(|device| DeviceView {
                number: device.number,
                name: device.name,
                paired_at: device.paired_at,
            })
            .collect()
    });
    Json(DeviceList {
        address: open.map(Lan::url),
        devices: list,
    })
    .into_response()
}

/// Where a device opens the page with its code. The code stands behind the `#`,
/// which browsers keep to themselves.
pub(crate) fn pairing_url(lan: &Lan, code: &str) -> String {
    format!("{}#/pair/{code}", lan.url())
}

/// A text as a QR code (ISO/IEC 18004).
pub(crate) fn qr(text: &str) -> Result<QrCode, WorkbenchError> {
    QrCode::new(text)
        .map_err(|error| WorkbenchError::Internal(format!("no QR code can be made: {error}")))
}

async fn code(State(served): State<Served>) -> Result<Response, ApiError> {
    let lan = lan(&served)?;
    let code = lan.pairing.new_code()?;
    let address = pairing_url(lan, &code);
    let picture = qr(&address)?;
    let squares = picture
        .to_colors()
        .chunks(picture.width())
        .map(|row| row.iter().map(|c| u8::from(*c == Color::Dark)).collect())
        .collect();
    Ok(Json(CodeView {
        code,
        address,
        seconds: CODE_LASTS.as_secs(),
        squares,
    })
    .into_response())
}

async fn pair(State(served): State<Served>, request: Request) -> Result<Response, ApiError> {
    let body = json_bytes(request).await?;
    let asking: Asking = serde_json::from_slice(&body).map_err(|error| not_json(&error))?;
    let lan = lan(&served)?.clone();
    let bench = served.bench.clone();
    let paired = tokio::task::spawn_blocking(move || {
        lan.pairing
            .pair(bench.as_ref(), &asking.code, &asking.name, Instant::now())
    });
    let refused = |message: &str| Err(ApiError::refused(message));
    match paired.await {
        Ok(Ok(token)) => {
            let cookie = format!(
                "{COOKIE}={token}; Path=/; Max-Age={COOKIE_SECONDS}; HttpOnly; SameSite=Strict"
            );
            Ok(([(header::SET_COOKIE, cookie)], StatusCode::NO_CONTENT).into_response())
        }
        Ok(Err(NotPaired::Wrong)) => refused("that is not the code on the bench computer"),
        Ok(Err(NotPaired::NoCode)) => refused(
            "no code is good now; ask the bench computer for a new one, under Help, Devices",
        ),
        Ok(Err(NotPaired::TooMany)) => {
            refused("so many devices are paired already; withdraw one on the bench computer")
        }
        Ok(Err(NotPaired::Book(error))) => Err(error.into()),
        Err(_) => Err(ApiError::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "internal",
            "the program stumbled over this; nothing was changed",
        )),
    }
}

async fn withdraw(
    State(served): State<Served>,
    Numbered(device): Numbered,
) -> Result<StatusCode, ApiError> {
    let lan = lan(&served)?.clone();
    let unknown = || ApiError::not_found(format!("there is no device '{device}'"));
    let number = u32::try_from(device).map_err(|_| unknown())?;
    let bench = served.bench.clone();
    let done = tokio::task::spawn_blocking(move || lan.pairing.withdraw(bench.as_ref(), number));
    match done.await {
        Ok(Ok(true)) => Ok(StatusCode::NO_CONTENT),
        Ok(Ok(false)) | Err(_) => Err(unknown()),
        Ok(Err(error)) => Err(error.into()),
    }
}
