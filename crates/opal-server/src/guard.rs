//! Who may ask: only a page that this server itself gave out.
//!
//! A server on loopback is reachable from every page open in the same browser.
//! So the Host must be this machine's own name (against DNS rebinding), and
//! whatever changes something must come from our own page (against forged
//! requests): the checks of the OWASP cross-site request forgery prevention
//! sheet, "verifying origin" and "Fetch Metadata".

use crate::error::ApiError;
use axum::extract::Request;
use axum::http::{HeaderMap, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

/// The names that this machine answers to.
const OWN_NAMES: [&str; 3] = ["127.0.0.1", "localhost", "[::1]"];

pub(crate) async fn only_our_own_page(request: Request, next: Next) -> Response {
    if let Err(error) = check(request.method(), request.headers()) {
        return error.into_response();
    }
    next.run(request).await
}

fn check(method: &Method, headers: &HeaderMap) -> Result<(), ApiError> {
    let host = text(headers, header::HOST.as_str())
        .ok_or_else(|| ApiError::refused("the request names no host"))?;
    if !OWN_NAMES.contains(&name_of(host)) {
        return Err(ApiError::refused(format!(
            "'{host}' is not a name of this machine; use the address that the program printed"
        )));
    }
    if let Some(site) = text(headers, "sec-fetch-site")
        && !matches!(site, "same-origin" | "none")
    {
        // A link from elsewhere may open the page; it may not read or change.
        let opens_page = *method == Method::GET
            && text(headers, "sec-fetch-mode") == Some("navigate")
            && text(headers, "sec-fetch-dest") == Some("document");
        if !opens_page {
            return Err(ApiError::refused("another site's page may not ask this"));
        }
    }
    if *method != Method::GET && *method != Method::HEAD {
        if let Some(origin) = text(headers, header::ORIGIN.as_str())
            && origin.strip_prefix("http://") != Some(host)
        {
            return Err(ApiError::refused(format!(
                "'{origin}' may not change anything here"
            )));
        }
        // A plain HTML form cannot send either of these types across sites
        // without the browser asking first.
        let kind = text(headers, header::CONTENT_TYPE.as_str()).unwrap_or_default();
        let own_header = headers.contains_key("x-opalwright");
        if !own_header && !kind.starts_with("application/json") {
            return Err(ApiError::refused(
                "send JSON (content-type: application/json) or the header x-opalwright: 1",
            ));
        }
    }
    Ok(())
}

fn text<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}

/// The host without its port.
fn name_of(host: &str) -> &str {
    match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) => name,
        _ => host,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    fn ask(method: &Method, headers: &[(&'static str, &'static str)]) -> bool {
        let map = headers
            .iter()
            .map(|&(name, value)| {
                (
                    header::HeaderName::from_static(name),
                    HeaderValue::from_static(value),
                )
            })
            .collect();
        check(method, &map).is_ok()
    }

    #[test]
    fn only_this_machines_names_are_answered() {
        for host in ["127.0.0.1:8080", "localhost", "localhost:1", "[::1]:8080"] {
            assert!(ask(&Method::GET, &[("host", host)]), "{host}");
        }
        for host in [
            "opal.example",
            "127.0.0.1.example:80",
            "127.0.0.1:80@x.example",
            "",
        ] {
            assert!(!ask(&Method::GET, &[("host", host)]), "{host}");
        }
        assert!(!ask(&Method::GET, &[]));
    }

    #[test]
    fn other_sites_change_and_read_nothing() {
        let json = ("content-type", "application/json");
        let host = ("host", "127.0.0.1:8080");
        assert!(ask(&Method::POST, &[host, json]));
        assert!(ask(
            &Method::POST,
            &[host, json, ("origin", "http://127.0.0.1:8080")]
        ));
        assert!(!ask(
            &Method::POST,
            &[host, json, ("origin", "http://127.0.0.1:9999")]
        ));
        assert!(!ask(&Method::POST, &[host, json, ("origin", "null")]));
        assert!(!ask(&Method::POST, &[host, ("content-type", "text/plain")]));
        assert!(!ask(
            &Method::GET,
            &[host, ("sec-fetch-site", "cross-site")]
        ));
        assert!(ask(
            &Method::GET,
            &[
                host,
                ("sec-fetch-site", "cross-site"),
                ("sec-fetch-mode", "navigate"),
                ("sec-fetch-dest", "document")
            ]
        ));
    }
}
