//! Who may ask: a page that this server itself gave out, on this computer or on
//! a device that was paired.
//!
//! A server on loopback is reachable from every page open in the same browser.
//! So the Host must be a name of this computer (against DNS rebinding), and
//! whatever changes something must come from our own page (against forged
//! requests): the checks of the OWASP cross-site request forgery prevention
//! sheet, "verifying origin" and "Fetch Metadata".

use crate::error::ApiError;
use crate::pairing::Pairing;
use crate::rate::Rate;
use crate::workbench::{Workbench, WorkbenchError};
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

/// The names that this computer answers to.
const OWN_NAMES: [&str; 3] = ["127.0.0.1", "localhost", "[::1]"];
/// The cookie that holds a paired device's token.
pub(crate) const COOKIE: &str = "opalwright-device";

/// The door to the shop's network.
#[derive(Clone)]
pub(crate) struct Lan {
    /// This computer's address there.
    pub(crate) ip: IpAddr,
    pub(crate) port: u16,
    pub(crate) pairing: Arc<Pairing>,
    pub(crate) rate: Arc<Rate>,
}

impl Lan {
    /// Opens the door for the devices that were paired before.
    ///
    /// # Errors
    /// The list of paired devices cannot be read.
    pub(crate) fn open(bench: &dyn Workbench, at: SocketAddr) -> Result<Self, WorkbenchError> {
        Ok(Self {
            ip: at.ip(),
            port: at.port(),
            pairing: Arc::new(Pairing::open(bench)?),
            rate: Arc::default(),
        })
    }

    /// What devices call this computer.
    pub(crate) fn url(&self) -> String {
        format!("http://{}/", SocketAddr::new(self.ip, self.port))
    }
}

/// Open to this computer alone, or to paired devices too.
pub(crate) type Door = Option<Lan>;

pub(crate) async fn only_our_own_page(
    State(door): State<Door>,
    request: Request,
    next: Next,
) -> Response {
    let peer = request
        .extensions()
        .get::<ConnectInfo<SocketAddr>>()
        .map(|info| info.0.ip());
    match check(&door, peer, &request) {
        Ok(()) => next.run(request).await,
        Err(error) => error.into_response(),
    }
}

fn check(door: &Door, peer: Option<IpAddr>, request: &Request) -> Result<(), ApiError> {
    let headers = request.headers();
    let Some(lan) = door else {
        own_host(headers)?;
        return same_site(request.method(), headers);
    };
    // With the door open, whoever is not surely this computer is a stranger.
    if peer.is_some_and(|ip| ip.to_canonical().is_loopback()) {
        own_host(headers)?;
        return same_site(request.method(), headers);
    }
    if !peer.is_some_and(|ip| lan.rate.allows(ip)) {
        return Err(ApiError::new(
            StatusCode::TOO_MANY_REQUESTS,
            "too_many",
            "too much at once from this device; wait ten seconds",
        ));
    }
    let host = text(headers, header::HOST.as_str()).unwrap_or_default();
    let bare = host.parse::<SocketAddr>().map_or_else(
        |_| host.parse::<IpAddr>().ok(),
        |address| Some(address.ip()),
    );
    if bare != Some(lan.ip) {
        return Err(not_our_name(host));
    }
    same_site(request.method(), headers)?;
    let path = request.uri().path();
    if path.starts_with("/api/devices") {
        return Err(ApiError::refused(
            "devices are let in and shut out on the bench computer itself",
        ));
    }
    if path.starts_with("/api/restore") {
        return Err(ApiError::refused(
            "a copy is put back on the bench computer itself",
        ));
    }
    if open_to_strangers(request.method(), path)
        || token(headers).is_some_and(|t| lan.pairing.knows(t))
    {
        return Ok(());
    }
    Err(ApiError::new(
        StatusCode::UNAUTHORIZED,
        "unpaired",
        "this device is not paired with the bench computer",
    ))
}

/// What a device needs before it is paired: the page itself, and the pairing.
fn open_to_strangers(method: &Method, path: &str) -> bool {
    match *method {
        Method::GET => path == "/" || path.starts_with("/assets/"),
        Method::POST => path == "/api/pair",
        _ => false,
    }
}

fn own_host(headers: &HeaderMap) -> Result<(), ApiError> {
    let host = text(headers, header::HOST.as_str())
        .ok_or_else(|| ApiError::refused("the request names no host"))?;
    if OWN_NAMES.contains(&name_of(host)) {
        Ok(())
    } else {
        Err(not_our_name(host))
    }
}

fn not_our_name(host: &str) -> ApiError {
    ApiError::refused(format!(
        "'{host}' is not a name of this computer; use the address that the program printed"
    ))
}

fn same_site(method: &Method, headers: &HeaderMap) -> Result<(), ApiError> {
    let host = text(headers, header::HOST.as_str()).unwrap_or_default();
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

/// The token that a device sent along (RFC 6265, 4.2.1: `name=value; name=value`).
fn token(headers: &HeaderMap) -> Option<&str> {
    text(headers, header::COOKIE.as_str())?
        .split(';')
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == COOKIE)
        .map(|(_, value)| value)
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
    use axum::body::Body;

    fn ask(method: &Method, headers: &[(&'static str, &'static str)]) -> bool {
        let mut request = Request::builder().method(method).uri("/api/stones");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let request = request.body(Body::empty()).expect("a request");
        check(&None, None, &request).is_ok()
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

    #[test]
    fn a_token_is_found_among_cookies() {
        let mut headers = HeaderMap::new();
        for (cookies, found) in [
            ("opalwright-device=abc", Some("abc")),
            ("a=b; opalwright-device=abc; c=d", Some("abc")),
            ("not-opalwright-device=abc", None),
            ("opalwright-device", None),
        ] {
            headers.insert(header::COOKIE, cookies.parse().expect("a value"));
            assert_eq!(token(&headers), found, "{cookies}");
        }
    }
}
