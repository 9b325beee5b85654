//! The routes at the counter, asked without a socket.
#![allow(clippy::unwrap_used, clippy::panic, dead_code)]

mod bench;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use bench::MadeUpBench;
use serde_json::{Value, json};
use std::sync::Arc;
use tower::ServiceExt;

async fn ask(method: &str, path: &str, body: Option<Value>) -> (StatusCode, String, Vec<u8>) {
    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", "127.0.0.1:7117")
        .header("content-type", "application/json")
        .body(body.map_or_else(Body::empty, |b| Body::from(b.to_string())))
        .unwrap();
    let response = app.oneshot(request).await.unwrap();
    let kind = response.headers()["content-type"]
        .to_str()
        .unwrap()
        .to_owned();
    let status = response.status();
    let bytes = axum::body::to_bytes(response.into_body(), usize::MAX).await;
    (status, kind, bytes.unwrap().to_vec())
}

#[tokio::test]
async fn readings_are_answered_or_their_faults_listed() {
    let good = json!({ "format": "opalwright-readings/1" });
    let (status, _, _) = ask("GET", "/api/counter/looks", None).await;
    assert_eq!(status, StatusCode::OK);
    for path in [
        "identify",
        "papers?market=australia",
        "card.pdf?market=australia",
    ] {
        let path = format!("/api/counter/{path}");
        let (status, kind, bytes) = ask("POST", &path, Some(good.clone())).await;
        assert_eq!(status, StatusCode::OK, "{path}");
        if path.contains("card") {
            assert!(kind == "application/pdf" && bytes.starts_with(b"%PDF-"));
        }
        let (status, _, bytes) = ask("POST", &path, Some(json!({}))).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{path}");
        let error: Value = serde_json::from_slice(&bytes).unwrap();
        assert_eq!(error["error"]["faults"][0]["field"], "format");
    }
}

#[tokio::test]
async fn a_text_comes_with_the_readings_of_its_stone() {
    let body = json!({ "readings": { "format": "opalwright-readings/1" }, "text": "opal" });
    let path = "/api/counter/words?market=australia";
    let (status, _, bytes) = ask("POST", path, Some(body)).await;
    assert_eq!(status, StatusCode::OK);
    let found: Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!(found["text"], "opal");
    let (status, _, _) = ask("POST", path, Some(json!({ "text": "opal" }))).await;
    assert_ne!(status, StatusCode::OK);
}
