//! The page, carried inside the binary.

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;
use std::fmt::Write as _;
use std::sync::OnceLock;

#[derive(RustEmbed)]
#[folder = "page/"]
#[exclude = "*.md"]
struct Page;

/// Stands in `index.html` where the version goes.
const VERSION_MARK: &str = "{{version}}";

/// Program version and a short hash over every file of the page: a browser
/// that has an older page never mixes its parts with newer ones.
pub fn page_version() -> &'static str {
    static VERSION: OnceLock<String> = OnceLock::new();
    VERSION.get_or_init(|| {
        let mut mixed = [0_u8; 6];
        let mut names: Vec<_> = Page::iter().collect();
        names.sort_unstable();
        for file in names.iter().filter_map(|name| Page::get(name)) {
            let hash = file.metadata.sha256_hash();
            for (k, byte) in hash.iter().enumerate() {
                let place = k % mixed.len();
                mixed[place] = mixed[place].rotate_left(3) ^ byte;
            }
        }
        let mut version = format!("{}-", env!("CARGO_PKG_VERSION"));
        for byte in mixed {
            let _ = write!(version, "{byte:02x}");
        }
        version
    })
}

/// The page itself.
pub(crate) fn index() -> Response {
    let Some(file) = Page::get("index.html") else {
        return StatusCode::NOT_FOUND.into_response();
    };
    let text = String::from_utf8_lossy(&file.data).replace(VERSION_MARK, page_version());
    (
        [
            (header::CONTENT_TYPE, "text/html; charset=utf-8"),
            (header::CACHE_CONTROL, "no-cache"),
        ],
        text,
    )
        .into_response()
}

/// A part of the page. Only names that were embedded exist: there is no
/// directory behind this, so no path leads out of it.
pub(crate) fn asset(version: &str, name: &str) -> Response {
    if version != page_version() || name == "index.html" {
        return StatusCode::NOT_FOUND.into_response();
    }
    let Some(file) = Page::get(name) else {
        return StatusCode::NOT_FOUND.into_response();
    };
    // While the page is being written its files are read afresh each time.
    let caching = if cfg!(debug_assertions) {
        "no-cache"
    } else {
        "public, max-age=31536000, immutable"
    };
    (
        [
            (
                header::CONTENT_TYPE,
                HeaderValue::from_static(media_type(name)),
            ),
            (header::CACHE_CONTROL, HeaderValue::from_static(caching)),
        ],
        file.data.into_owned(),
    )
        .into_response()
}

fn media_type(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("webmanifest") => "application/manifest+json",
        Some("txt") => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}
