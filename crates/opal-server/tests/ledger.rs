//! The routes of the books, asked without a socket.
#![allow(clippy::unwrap_used, clippy::panic, dead_code)]

mod bench;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use axum::response::Response;
use bench::MadeUpBench;
use serde_json::{Value, json};
use std::sync::Arc;
use tower::ServiceExt;

async fn answer(method: &str, path: &str, body: &str) -> Response {
    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", "127.0.0.1:7117")
        .header("content-type", "application/json")
        .body(Body::from(body.to_owned()))
        .unwrap();
    app.oneshot(request).await.unwrap()
}

async fn ask(method: &str, path: &str, body: &str) -> (StatusCode, Value) {
    let response = answer(method, path, body).await;
    let status = response.status();
    let bytes = axum::body::to_bytes(response.into_body(), usize::MAX).await;
    (status, serde_json::from_slice(&bytes.unwrap()).unwrap())
}

#[tokio::test]
async fn the_books_are_told_for_a_period_or_for_all_days() {
    for (path, format) in [
        ("/api/ledger", "opalwright-ledger/1"),
        ("/api/ledger/entries", "opalwright-entries/1"),
    ] {
        let (status, doc) = ask("GET", path, "").await;
        assert_eq!((status, &doc["format"]), (StatusCode::OK, &json!(format)));
        assert!(doc["period"].is_null());
        let (_, doc) = ask("GET", &format!("{path}?period=2026-03"), "").await;
        assert_eq!(doc["period"], "2026-03");
    }
}

#[tokio::test]
async fn papers_and_tables_are_files() {
    for (path, kind, name) in [
        ("report.pdf?period=2026", "application/pdf", "books.pdf"),
        ("held.pdf", "application/pdf", "held.pdf"),
        ("entries.csv", "text/csv; charset=utf-8", "entries.csv"),
    ] {
        let response = answer("GET", &format!("/api/ledger/{path}"), "").await;
        assert_eq!(response.status(), StatusCode::OK, "{path}");
        assert_eq!(response.headers()["content-type"], kind);
        let disposition = response.headers()["content-disposition"].to_str().unwrap();
        assert!(disposition.contains(name), "{disposition}");
    }
}

#[tokio::test]
async fn slips_are_booked_or_their_faults_listed() {
    let slips = json!([{ "what": "spent", "amount": "1.00" }]);
    let (status, doc) = ask("POST", "/api/ledger/entries", &slips.to_string()).await;
    assert_eq!((status, &doc["entries"]), (StatusCode::CREATED, &slips));
    let grown = "/api/ledger/entries?after=3";
    let (status, doc) = ask("POST", grown, &slips.to_string()).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(doc["error"]["faults"][0]["field"], "after");
    for faulty in ["{}", "not json"] {
        let (status, doc) = ask("POST", "/api/ledger/entries", faulty).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!(doc["error"]["faults"].as_array().unwrap().len(), 1);
    }
}
