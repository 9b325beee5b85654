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

#[tokio::test]
async fn what_is_kept_comes_back_or_is_refused() {
    let readings = json!({ "format": "opalwright-readings/1" });
    let keep = |with: Value| json!({ "readings": readings, "with": with });
    let path = "/api/counter/kept";
    let customer = keep(json!({ "customer": "the customer in blue" }));
    let (status, _, bytes) = ask("POST", path, Some(customer)).await;
    let answer: Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!((status, &answer["stone"]), (StatusCode::OK, &json!(100)));
    let (status, _, _) = ask("POST", path, Some(keep(json!({ "stone": 9 })))).await;
    assert_eq!(status, StatusCode::NOT_FOUND);
    let (status, _, _) = ask("POST", path, Some(keep(json!({})))).await;
    assert_ne!(status, StatusCode::OK);
    let (status, _, bytes) = ask("GET", "/api/counter/kept?words=blue", None).await;
    let answer: Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!((status, &answer["asked"]), (StatusCode::OK, &json!("blue")));
    for (what, kind) in [
        ("readings/ab12", "application/json"),
        ("cards/ab12", "application/pdf"),
        ("photos/ab12", "image/png"),
    ] {
        let (status, found, _) = ask("GET", &format!("{path}/1/{what}"), None).await;
        assert_eq!((status, found.as_str()), (StatusCode::OK, kind), "{what}");
        let (status, _, _) = ask("GET", &format!("{path}/9/{what}"), None).await;
        assert_eq!(status, StatusCode::NOT_FOUND, "{what}");
    }
}
