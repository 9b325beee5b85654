//! A copy that is put back, and studies that run in the background.
#![allow(clippy::unwrap_used)]

mod bench;

use axum::body::Body;
use axum::http::{Request, Response, StatusCode};
use bench::MadeUpBench;
use serde_json::{Value, json};
use std::sync::Arc;
use std::time::Duration;
use tower::ServiceExt;

async fn send(app: &axum::Router, path: &str, body: Body) -> Response<Body> {
    let request = Request::post(path)
        .header("host", "127.0.0.1:7117")
        .header("x-opalwright", "1")
        .body(body)
        .unwrap();
    app.clone().oneshot(request).await.unwrap()
}

async fn get(app: &axum::Router, path: &str) -> Value {
    let request = Request::get(path).header("host", "127.0.0.1:7117");
    let request = request.body(Body::empty()).unwrap();
    value(app.clone().oneshot(request).await.unwrap()).await
}

async fn value(response: Response<Body>) -> Value {
    let bytes = axum::body::to_bytes(response.into_body(), usize::MAX).await;
    serde_json::from_slice(&bytes.unwrap()).unwrap()
}

/// Three megabytes, in one piece.
fn copy() -> Vec<u8> {
    let mut bytes = b"SQLite format 3\0".to_vec();
    bytes.resize(3 << 20, 7);
    bytes
}

#[tokio::test]
async fn a_copy_arrives_whole_and_is_only_put_back_when_asked() {
    let bench = Arc::new(MadeUpBench::with_one());
    let app = opal_server::router(bench);
    let seen = send(&app, "/api/restore?only_look=true", copy().into()).await;
    assert_eq!(seen.status(), StatusCode::OK);
    let seen = value(seen).await;
    assert_eq!(seen["copy"]["stones"], 3 << 20, "all bytes came");
    assert_eq!(seen["here"]["stones"], 1);
    let stones = get(&app, "/api/stones").await;
    assert_eq!(stones["stones"].as_array().unwrap().len(), 1);

    let wrong = send(&app, "/api/restore", "no copy".into()).await;
    assert_eq!(wrong.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let stones = get(&app, "/api/stones").await;
    assert_eq!(stones["stones"].as_array().unwrap().len(), 1);

    let back = send(&app, "/api/restore", copy().into()).await;
    assert_eq!(value(back).await["kept"], "elsewhere");
    let stones = get(&app, "/api/stones").await;
    assert!(stones["stones"].as_array().unwrap().is_empty());
}

#[tokio::test]
async fn a_copy_past_the_limit_is_refused_before_it_is_read() {
    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    let request = Request::post("/api/restore")
        .header("host", "127.0.0.1:7117")
        .header("x-opalwright", "1")
        .header("content-length", opal_server::COPY_BYTES_MAX + 1);
    let answer = app.oneshot(request.body(Body::empty()).unwrap()).await;
    assert_eq!(answer.unwrap().status(), StatusCode::PAYLOAD_TOO_LARGE);
}

#[tokio::test]
async fn a_copy_is_not_put_back_under_a_run() {
    let mut bench = MadeUpBench::with_one();
    bench.dawdle = Duration::from_secs(20);
    let app = opal_server::router(Arc::new(bench));
    let work = value(send(&app, "/api/stones/1/run", Body::empty()).await).await;
    let answer = send(&app, "/api/restore", copy().into()).await;
    assert_eq!(answer.status(), StatusCode::CONFLICT);
    // A look is free.
    let answer = send(&app, "/api/restore?only_look=true", copy().into()).await;
    assert_eq!(answer.status(), StatusCode::OK);
    stop(&app, &work).await;
}

async fn stop(app: &axum::Router, work: &Value) {
    let stop = Request::delete(format!("/api/works/{}", work["work"]))
        .header("host", "127.0.0.1:7117")
        .header("x-opalwright", "1");
    let stop = stop.body(Body::empty()).unwrap();
    app.clone().oneshot(stop).await.unwrap();
}

/// Waits until the stream of a work ends.
async fn ended(app: &axum::Router, work: &Value) -> String {
    let events = Request::get(format!("/api/works/{}", work["work"]));
    let events = events.header("host", "127.0.0.1:7117");
    let events = events.body(Body::empty()).unwrap();
    let stream = app.clone().oneshot(events).await.unwrap();
    let bytes = axum::body::to_bytes(stream.into_body(), usize::MAX).await;
    String::from_utf8(bytes.unwrap().to_vec()).unwrap()
}

#[tokio::test]
async fn a_study_runs_alone_can_be_stopped_and_its_answer_stays() {
    let mut bench = MadeUpBench::with_one();
    bench.dawdle = Duration::from_secs(20);
    let app = opal_server::router(Arc::new(bench));
    let asked =
        |stones: usize| Body::from(json!({ "study": "facing", "stones": stones }).to_string());
    let wrong = send(&app, "/api/studies/run", asked(0)).await;
    assert_eq!(wrong.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let work = value(send(&app, "/api/studies/run", asked(3)).await).await;
    let second = send(&app, "/api/studies/run", asked(4)).await;
    assert_eq!(second.status(), StatusCode::CONFLICT);
    let page = get(&app, "/api/studies").await;
    assert_eq!(page["running"], work["work"]);
    stop(&app, &work).await;
    assert!(ended(&app, &work).await.contains("cancelled"));
    let page = get(&app, "/api/studies").await;
    assert_eq!(page, json!({ "found": [], "running": null }));

    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    let work = value(send(&app, "/api/studies/run", asked(5)).await).await;
    assert!(ended(&app, &work).await.contains("done"));
    let page = get(&app, "/api/studies").await;
    assert_eq!(page["found"][0]["asked"]["stones"], 5);
    assert_eq!(page["found"][0]["table"], "made up\n");
}
