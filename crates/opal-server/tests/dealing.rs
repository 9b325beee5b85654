//! The routes of buying and selling, asked without a socket.
#![allow(clippy::unwrap_used, clippy::panic, dead_code)]

mod bench;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use bench::MadeUpBench;
use serde_json::{Value, json};
use std::sync::Arc;
use tower::ServiceExt;

async fn ask(app: &axum::Router, method: &str, path: &str, body: &Value) -> (StatusCode, Value) {
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", "127.0.0.1:7117")
        .header("content-type", "application/json")
        .body(Body::from(body.to_string()))
        .unwrap();
    let response = app.clone().oneshot(request).await.unwrap();
    let status = response.status();
    let bytes = axum::body::to_bytes(response.into_body(), usize::MAX).await;
    (
        status,
        serde_json::from_slice(&bytes.unwrap()).unwrap_or(Value::Null),
    )
}

#[tokio::test]
async fn lots_are_there_once_they_were_bid_on() {
    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    let (status, page) = ask(&app, "GET", "/api/lots", &Value::Null).await;
    assert_eq!((status, &page["bids"]), (StatusCode::OK, &Value::Null));
    let (status, started) = ask(&app, "POST", "/api/lots/run", &Value::Null).await;
    assert_eq!(status, StatusCode::ACCEPTED);
    // The stream of events ends with the work.
    let events = format!("/api/works/{}", started["work"]);
    assert_eq!(
        ask(&app, "GET", &events, &Value::Null).await.0,
        StatusCode::OK
    );
    let (_, page) = ask(&app, "GET", "/api/lots", &Value::Null).await;
    assert_eq!(page["bids"]["format"], "opalwright-bids/1");
    assert!(page["running"].is_null());
}

#[tokio::test]
async fn a_finished_stone_is_priced_or_its_faults_are_told() {
    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    let mut form = json!({
        "stone": "One", "weight_ct": 5.4, "sizes_mm": [18, 13, 3.4],
        "grade": { "brightness": "bright, very bright" },
    });
    let (status, doc) = ask(&app, "POST", "/api/price", &form).await;
    assert_eq!((status, &doc["piece"]), (StatusCode::OK, &json!("One")));
    form["weight_ct"] = json!(0);
    let (status, doc) = ask(&app, "POST", "/api/price", &form).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(doc["error"]["faults"].as_array().unwrap().len(), 1);
    form["wieght"] = json!(1);
    let (status, _) = ask(&app, "POST", "/api/price", &form).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn words_and_what_was_learned_are_told() {
    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    let (_, doc) = ask(&app, "GET", "/api/scales", &Value::Null).await;
    assert_eq!(doc["scales"][0]["words"][0]["word"], "bright");
    let (_, doc) = ask(&app, "GET", "/api/learned", &Value::Null).await;
    assert_eq!(doc["format"], "opalwright-learned/1");
}
