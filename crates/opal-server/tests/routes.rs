//! Every route, asked without a socket.
#![allow(clippy::unwrap_used, clippy::panic)]

mod bench;

use axum::body::Body;
use axum::http::{Request, Response, StatusCode};
use bench::MadeUpBench;
use opal_server::router;
use serde_json::{Value, json};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;
use tower::ServiceExt;

async fn ask(app: &axum::Router, method: &str, path: &str, body: Option<Value>) -> Response<Body> {
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", "127.0.0.1:7117")
        .header("content-type", "application/json");
    let body = body.map_or_else(Body::empty, |b| Body::from(b.to_string()));
    app.clone()
        .oneshot(request.body(body).unwrap())
        .await
        .unwrap()
}

async fn bytes(response: Response<Body>) -> Vec<u8> {
    axum::body::to_bytes(response.into_body(), usize::MAX)
        .await
        .unwrap()
        .to_vec()
}

async fn value(response: Response<Body>) -> Value {
    serde_json::from_slice(&bytes(response).await).unwrap()
}

fn app() -> axum::Router {
    router(Arc::new(MadeUpBench::with_one()))
}

fn header<'a>(response: &'a Response<Body>, name: &str) -> &'a str {
    response
        .headers()
        .get(name)
        .map_or("", |v| v.to_str().unwrap())
}

#[tokio::test]
async fn the_page_comes_with_a_strict_policy_and_versioned_parts() {
    let app = app();
    let response = ask(&app, "GET", "/", None).await;
    assert_eq!(response.status(), StatusCode::OK);
    let policy = header(&response, "content-security-policy").to_owned();
    assert!(policy.contains("default-src 'none'"), "{policy}");
    assert!(!policy.contains("unsafe"), "{policy}");
    assert_eq!(header(&response, "x-content-type-options"), "nosniff");
    let html = String::from_utf8(bytes(response).await).unwrap();
    assert!(!html.contains("{{version}}"));
    // Nothing inline, nothing from elsewhere.
    assert!(!html.contains("<style") && !html.contains("style="));
    assert!(!html.contains("http://") && !html.contains("https://"));
    let links: Vec<&str> = html
        .split('"')
        .filter(|part| part.starts_with("/assets/"))
        .collect();
    assert!(links.len() >= 2, "{links:?}");
    for link in links {
        let part = ask(&app, "GET", link, None).await;
        assert_eq!(part.status(), StatusCode::OK, "{link}");
    }
}

#[tokio::test]
async fn no_folder_is_listed_and_no_path_leads_out() {
    let app = app();
    let version = opal_server::page_version();
    for path in [
        format!("/assets/{version}"),
        format!("/assets/{version}/"),
        format!("/assets/{version}/vendor"),
        format!("/assets/{version}/../Cargo.toml"),
        format!("/assets/{version}/%2e%2e/Cargo.toml"),
        format!("/assets/{version}/..%2fCargo.toml"),
        format!("/assets/{version}//etc/passwd"),
        format!("/assets/{version}/index.html"),
        "/assets/0/app.js".to_owned(),
        "/api".to_owned(),
        "/etc/passwd".to_owned(),
    ] {
        let response = ask(&app, "GET", &path, None).await;
        assert_eq!(response.status(), StatusCode::NOT_FOUND, "{path}");
    }
}

#[tokio::test]
async fn strangers_are_refused() {
    let app = app();
    for (name, with) in [
        ("host", "opal.example"),
        ("origin", "http://opal.example"),
        ("sec-fetch-site", "cross-site"),
    ] {
        let mut request = Request::post("/api/stones").header("content-type", "application/json");
        if name != "host" {
            request = request.header("host", "127.0.0.1:7117");
        }
        let request = request.header(name, with).body(Body::from("{}")).unwrap();
        let response = app.clone().oneshot(request).await.unwrap();
        assert_eq!(response.status(), StatusCode::FORBIDDEN, "{name}: {with}");
    }
}

#[tokio::test]
async fn a_stone_is_taken_in_or_every_fault_is_listed() {
    let app = app();
    let bad = ask(
        &app,
        "POST",
        "/api/stones",
        Some(json!({"format": "x", "piece": {}})),
    )
    .await;
    assert_eq!(bad.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let error = value(bad).await["error"].clone();
    assert_eq!(error["kind"], "faults");
    assert_eq!(error["faults"].as_array().unwrap().len(), 2);
    for part in ["field", "value", "limit"] {
        assert!(error["faults"][1][part].is_string(), "{error}");
    }
    let unreadable = app
        .clone()
        .oneshot(
            Request::post("/api/stones")
                .header("host", "localhost")
                .header("content-type", "application/json")
                .body(Body::from("{\n\"a\": }"))
                .unwrap(),
        )
        .await
        .unwrap();
    assert_eq!(value(unreadable).await["error"]["faults"][0]["line"], 2);

    let good = json!({"format": "opalwright-evidence/1", "piece": {"name": "Two"}});
    let taken = ask(&app, "POST", "/api/stones", Some(good)).await;
    assert_eq!(taken.status(), StatusCode::CREATED);
    assert_eq!(value(taken).await["number"], 2);
    let list = value(ask(&app, "GET", "/api/stones", None).await).await;
    assert_eq!(list["stones"][0]["name"], "Two");
    for path in ["/api/stones/99", "/api/stones/x", "/api/stones/-1"] {
        let none = ask(&app, "GET", path, None).await;
        assert_eq!(none.status(), StatusCode::NOT_FOUND, "{path}");
    }
}

#[tokio::test]
async fn a_scan_comes_along_as_a_file() {
    let app = app();
    let body = "--b\r\ncontent-disposition: form-data; name=\"evidence\"\r\n\r\n\
        {\"format\":\"opalwright-evidence/1\",\"piece\":{\"name\":\"S\"}}\r\n\
        --b\r\ncontent-disposition: form-data; name=\"scan\"; filename=\"../s.ply\"\r\n\r\n\
        ply\r\n--b--\r\n";
    let ask = |own: bool| {
        let mut request = Request::post("/api/stones")
            .header("host", "localhost")
            .header("content-type", "multipart/form-data; boundary=b");
        if own {
            request = request.header("x-opalwright", "1");
        }
        app.clone().oneshot(request.body(Body::from(body)).unwrap())
    };
    // A plain form of another site cannot set the header.
    assert_eq!(ask(false).await.unwrap().status(), StatusCode::FORBIDDEN);
    assert_eq!(ask(true).await.unwrap().status(), StatusCode::CREATED);
}

#[tokio::test]
async fn too_much_is_refused() {
    let app = app();
    let request = Request::post("/api/stones")
        .header("host", "localhost")
        .header("content-type", "application/json")
        .body(Body::from(vec![b' '; 3 * 1024 * 1024]))
        .unwrap();
    let response = app.oneshot(request).await.unwrap();
    assert_eq!(response.status(), StatusCode::PAYLOAD_TOO_LARGE);
}

/// A form that goes on and on is not read to its end: no more is taken in than the limit
/// and what was on its way.
#[tokio::test]
async fn an_upload_without_end_is_cut_off() {
    const CHUNK: usize = 1024 * 1024;
    let head = "--b\r\ncontent-disposition: form-data; name=\"scan\"; filename=\"s.ply\"\r\n\r\n";
    let sent = Arc::new(AtomicUsize::new(0));
    let counted = Arc::clone(&sent);
    let chunks =
        std::iter::once(head.as_bytes().to_vec()).chain(std::iter::repeat_with(move || {
            counted.fetch_add(1, Ordering::Relaxed);
            vec![b'.'; CHUNK]
        }));
    let body = Body::from_stream(futures_util::stream::iter(
        chunks.take(1000).map(Ok::<_, std::io::Error>),
    ));
    let request = Request::post("/api/stones")
        .header("host", "localhost")
        .header("x-opalwright", "1")
        .header("content-type", "multipart/form-data; boundary=b")
        .body(body)
        .unwrap();
    let response = app().oneshot(request).await.unwrap();
    assert_eq!(response.status(), StatusCode::PAYLOAD_TOO_LARGE);
    let said = value(response).await;
    assert!(
        said["error"]["message"]
            .as_str()
            .unwrap()
            .contains("160 MB"),
        "{said}"
    );
    let megabytes = sent.load(Ordering::Relaxed);
    assert!((150..200).contains(&megabytes), "{megabytes} MB were read");
}

/// Forms that are broken off or of no form are refused in words.
#[tokio::test]
async fn a_form_that_breaks_off_is_refused_in_words() {
    for (kind, body) in [
        (
            "multipart/form-data; boundary=b",
            "--b\r\ncontent-disposition: form-data; name=\"evidence\"\r\n\r\n{\"form",
        ),
        ("multipart/form-data; boundary=b", ""),
        ("multipart/form-data", "--b\r\n"),
        (
            "multipart/form-data; boundary=b",
            "--b\r\ncontent-disposition: form-data; name=\"scan\"; filename=\"s.ply\"\r\n\r\nply\r\n--b--\r\n",
        ),
    ] {
        let request = Request::post("/api/stones")
            .header("host", "localhost")
            .header("x-opalwright", "1")
            .header("content-type", kind)
            .body(Body::from(body))
            .unwrap();
        let response = app().oneshot(request).await.unwrap();
        let status = response.status();
        let said = value(response).await;
        assert!(
            status.is_client_error(),
            "{kind}, {body:?}: {status} {said}"
        );
        assert!(!said["error"]["message"].as_str().unwrap().is_empty());
    }
}

#[tokio::test]
async fn a_run_tells_how_far_it_is_and_then_the_forecast_is_there() {
    let app = app();
    let early = ask(&app, "GET", "/api/stones/1/forecast", None).await;
    assert_eq!(early.status(), StatusCode::CONFLICT);
    let started = ask(&app, "POST", "/api/stones/1/run", Some(json!({}))).await;
    assert_eq!(started.status(), StatusCode::ACCEPTED);
    let work = value(started).await["work"].as_u64().unwrap();
    let events = ask(&app, "GET", &format!("/api/works/{work}"), None).await;
    assert_eq!(header(&events, "content-type"), "text/event-stream");
    let text = String::from_utf8(bytes(events).await).unwrap();
    assert!(
        text.ends_with("event: done\ndata: {\"state\":\"done\"}\n\n"),
        "{text}"
    );

    let forecast = value(ask(&app, "GET", "/api/stones/1/forecast", None).await).await;
    assert_eq!(forecast["format"], "opalwright-workbench/1");
    let adapting = &forecast["plans"][0]["value"]["adapting"];
    assert_eq!(adapting["dots"].as_array().unwrap().len(), 20);
    assert!(adapting["quantiles"]["0.05"].is_number());
    let scene = &forecast["scene"];
    let nodes = scene["nx"].as_u64().unwrap() * scene["ny"].as_u64().unwrap();
    assert_eq!(
        scene["bars"][0]["top_mm"][1].as_array().unwrap().len() as u64,
        nodes
    );

    let look = value(ask(&app, "GET", "/api/stones/1/at-price?amount=700", None).await).await;
    assert_eq!(look["price"]["amount"], "700.00");
    assert!(
        look["chance_of_loss"].as_f64() > forecast["bid"]["at_price"]["chance_of_loss"].as_f64()
    );
    let wrong = ask(&app, "GET", "/api/stones/1/at-price?amount=x", None).await;
    assert_eq!(wrong.status(), StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_run_can_be_stopped() {
    let mut bench = MadeUpBench::with_one();
    bench.dawdle = Duration::from_secs(30);
    let app = router(Arc::new(bench));
    let start = || ask(&app, "POST", "/api/stones/1/run", Some(json!({})));
    let work = value(start().await).await["work"].clone();
    // Asking twice joins the run that is going on.
    assert_eq!(value(start().await).await["work"], work);
    let page = value(ask(&app, "GET", "/api/stones/1", None).await).await;
    assert_eq!(page["running"], work);
    let path = format!("/api/works/{work}");
    let stopped = ask(&app, "DELETE", &path, None).await;
    assert_eq!(stopped.status(), StatusCode::NO_CONTENT);
    let text = String::from_utf8(bytes(ask(&app, "GET", &path, None).await).await).unwrap();
    assert!(text.contains("event: cancelled"), "{text}");
    let none = ask(&app, "GET", "/api/works/999", None).await;
    assert_eq!(none.status(), StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn sheets_and_whole_stones_are_handed_out_as_files() {
    let app = app();
    let sheet = ask(&app, "GET", "/api/stones/1/sheet.pdf?plan=1", None).await;
    assert_eq!(header(&sheet, "content-type"), "application/pdf");
    assert_eq!(
        header(&sheet, "content-disposition"),
        "inline; filename=\"sheet _1___.pdf\""
    );
    let none = ask(&app, "GET", "/api/stones/1/sheet.pdf?plan=9", None).await;
    assert_eq!(none.status(), StatusCode::NOT_FOUND);
    let whole = ask(&app, "GET", "/api/stones/1/export", None).await;
    assert!(header(&whole, "content-disposition").starts_with("attachment"));
    let scan = ask(&app, "GET", "/api/stones/1/scan", None).await;
    assert_eq!(scan.status(), StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_price_book_is_kept_or_its_faults_are_listed() {
    let app = app();
    let book = value(ask(&app, "GET", "/api/prices", None).await).await;
    assert_eq!(book["example"], true);
    let bad = ask(&app, "PUT", "/api/prices", Some(json!({"text": ""}))).await;
    assert_eq!(value(bad).await["error"]["faults"][0]["line"], 1);
    let own = json!({"text": "currency = \"EUR\""});
    let kept = ask(&app, "PUT", "/api/prices", Some(own)).await;
    assert_eq!(kept.status(), StatusCode::NO_CONTENT);
    let book = value(ask(&app, "GET", "/api/prices", None).await).await;
    assert_eq!(book["example"], false);
}
