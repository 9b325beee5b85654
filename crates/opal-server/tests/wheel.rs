//! The routes at the wheel, asked without a socket.
#![allow(clippy::unwrap_used)]

mod bench;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use bench::MadeUpBench;
use serde_json::{Value, json};
use std::sync::Arc;
use tower::ServiceExt;

async fn ask(app: &axum::Router, method: &str, path: &str, body: Value) -> (StatusCode, Value) {
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
    (status, serde_json::from_slice(&bytes.unwrap()).unwrap())
}

#[tokio::test]
async fn an_event_goes_in_once_and_comes_back_with_the_stone_as_it_is() {
    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    let sent = json!({"once": "k", "event": {"kind": "dropped"}});
    for _ in 0..2 {
        let (status, page) = ask(&app, "POST", "/api/stones/1/log", sent.clone()).await;
        assert_eq!(status, StatusCode::OK);
        assert_eq!(page["log"]["events"].as_array().unwrap().len(), 1);
        let outline = page["outlines_mm"][0].as_array().unwrap();
        assert!(outline.len() > 8 && page["area_mm2"].as_f64().unwrap() > 0.0);
        assert_eq!(page["wheels"], json!(["A wheel"]));
    }
    let (status, page) = ask(&app, "GET", "/api/stones/1/log", Value::Null).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(page["scene"]["sightings"][0]["seen"], "measured");
}

#[tokio::test]
async fn what_cannot_be_is_refused_in_words() {
    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    for (body, status) in [
        (
            json!({"once": "k", "event": {"kind": "melted"}}),
            StatusCode::UNPROCESSABLE_ENTITY,
        ),
        (
            json!({"event": {"kind": "dropped"}}),
            StatusCode::UNPROCESSABLE_ENTITY,
        ),
        (json!([]), StatusCode::UNPROCESSABLE_ENTITY),
    ] {
        let (got, answer) = ask(&app, "POST", "/api/stones/1/log", body.clone()).await;
        assert_eq!(got, status, "{body}");
        assert_eq!(answer["error"]["kind"], "faults");
        assert!(
            answer["error"]["faults"][0]["place"].is_string(),
            "{answer}"
        );
    }
    for path in ["readings", "cards", "photos"] {
        let path = format!("/api/counter/kept/many/{path}/a");
        let (status, answer) = ask(&app, "GET", &path, Value::Null).await;
        assert_eq!(
            (status, &answer["error"]["kind"]),
            (StatusCode::NOT_FOUND, &json!("not_found")),
            "{path}"
        );
    }
    let (status, _) = ask(&app, "GET", "/api/stones/9/now", Value::Null).await;
    assert_eq!(status, StatusCode::NOT_FOUND);
    let finish = "/api/stones/1/finish?face_mm2=120";
    let (status, turns) = ask(&app, "GET", finish, Value::Null).await;
    assert_eq!(
        (status, &turns["face_mm2"]),
        (StatusCode::OK, &json!(120.0))
    );
    let finish = "/api/stones/1/finish?face_mm2=wide";
    let (status, answer) = ask(&app, "GET", finish, Value::Null).await;
    assert_eq!(
        (status, &answer["error"]["kind"]),
        (StatusCode::UNPROCESSABLE_ENTITY, &json!("faults"))
    );
    let drying = "/api/stones/1/drying?weights=0:41.2,7:41.05,14:41";
    let (status, doc) = ask(&app, "GET", drying, Value::Null).await;
    assert_eq!((status, &doc["weighings"]), (StatusCode::OK, &json!(3)));
    // Nothing told is no weighing, not one that cannot be read.
    for drying in ["/api/stones/1/drying?weights=", "/api/stones/1/drying"] {
        let (status, doc) = ask(&app, "GET", drying, Value::Null).await;
        assert_eq!((status, &doc["weighings"]), (StatusCode::OK, &json!(0)));
    }
    for (query, wanted) in [
        ("thickness_mm=4&area_mm2=200", StatusCode::OK),
        ("thickness_mm=thick", StatusCode::UNPROCESSABLE_ENTITY),
    ] {
        let path = format!("/api/saw-or-grind?{query}");
        let (status, answer) = ask(&app, "GET", &path, Value::Null).await;
        assert_eq!(status, wanted, "{answer}");
    }
}

#[tokio::test]
async fn wheels_copies_and_stones_in_files_have_their_routes() {
    let app = opal_server::router(Arc::new(MadeUpBench::with_one()));
    let (status, page) = ask(&app, "GET", "/api/wheels", Value::Null).await;
    assert_eq!(
        (status, &page["set"]["own"]),
        (StatusCode::OK, &json!(false))
    );
    for (body, wanted) in [
        (json!({"title": "mine"}), StatusCode::OK),
        (json!({}), StatusCode::UNPROCESSABLE_ENTITY),
    ] {
        let (status, answer) = ask(&app, "PUT", "/api/wheels", body).await;
        assert_eq!(status, wanted, "{answer}");
    }
    // A stone's file comes as a part of a form, one at a time.
    let (status, answer) = ask(&app, "POST", "/api/import", json!({})).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer["error"]["faults"][0]["field"], "import");
    let form = "--edge\r\nContent-Disposition: form-data; name=\"import\"\r\n\r\n{}\r\n\
                --edge\r\nContent-Disposition: form-data; name=\"stone\"; \
                filename=\"stone.json\"\r\n\r\n{}\r\n--edge--\r\n";
    let request = Request::builder()
        .method("POST")
        .uri("/api/import")
        .header("host", "127.0.0.1:7117")
        .header("x-opalwright", "1")
        .header("content-type", "multipart/form-data; boundary=edge")
        .body(Body::from(form))
        .unwrap();
    let response = app.clone().oneshot(request).await.unwrap();
    assert_eq!(response.status(), StatusCode::OK);
    let request = Request::builder()
        .uri("/api/backup")
        .header("host", "127.0.0.1:7117")
        .body(Body::empty())
        .unwrap();
    let response = app.clone().oneshot(request).await.unwrap();
    assert_eq!(
        response.headers()["content-type"],
        "application/vnd.sqlite3"
    );
    let told = response.headers()["content-disposition"].to_str().unwrap();
    assert!(
        told.starts_with("attachment") && told.contains("copy.db"),
        "{told}"
    );
}
