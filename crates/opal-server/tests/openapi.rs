//! The description of the routes: every one is in it, it resolves, and the page
//! asks nothing else.
#![allow(clippy::unwrap_used)]

mod bench;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use bench::MadeUpBench;
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;
use tower::ServiceExt;

fn app() -> axum::Router {
    opal_server::router(Arc::new(MadeUpBench::with_one()))
}

async fn ask(app: &axum::Router, method: &str, path: &str) -> (StatusCode, Value) {
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", "127.0.0.1:7117")
        .header("content-type", "application/json")
        .body(Body::from("{}"))
        .unwrap();
    let answer = app.clone().oneshot(request).await.unwrap();
    let status = answer.status();
    let kind = answer.headers().get("content-type").cloned();
    // A stream of events has no end to wait for.
    if kind.is_some_and(|kind| kind == "text/event-stream") {
        return (status, Value::Null);
    }
    let bytes = axum::body::to_bytes(answer.into_body(), usize::MAX).await;
    (
        status,
        serde_json::from_slice(&bytes.unwrap()).unwrap_or(Value::Null),
    )
}

async fn document() -> Value {
    let (status, document) = ask(&app(), "GET", "/api/openapi.json").await;
    assert_eq!(status, StatusCode::OK);
    document
}

#[tokio::test]
async fn every_described_route_is_served_and_no_answer_is_a_stumble() {
    let (app, document) = (app(), document().await);
    let paths = document["paths"].as_object().unwrap();
    assert!(paths.len() >= 20, "{}", paths.len());
    for (path, operations) in paths {
        let place = path
            .replace("{stone}", "1")
            .replace("{work}", "1")
            .replace("{device}", "1")
            .replace("{mark}", "ab")
            .replace("{sha256}", "ab");
        for method in operations.as_object().unwrap().keys() {
            let (status, answer) = ask(&app, &method.to_uppercase(), &place).await;
            assert_ne!(status, StatusCode::METHOD_NOT_ALLOWED, "{method} {path}");
            assert!(
                !status.is_server_error(),
                "{method} {path}: {status} {answer}"
            );
            let nothing = "there is nothing at this address";
            assert_ne!(answer["error"]["message"], nothing, "{method} {path}");
        }
    }
}

#[tokio::test]
async fn every_reference_leads_somewhere_and_no_name_is_used_twice() {
    let document = document().await;
    assert_eq!(document["openapi"], "3.1.0");
    let text = document.to_string();
    let references: BTreeSet<&str> = text
        .split("\"$ref\":\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    assert!(references.len() > 10);
    for reference in references {
        let place = reference.strip_prefix('#').unwrap();
        assert!(document.pointer(place).is_some(), "{reference}");
    }
    let names: Vec<&str> = text
        .split("\"operationId\":\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    let apart: BTreeSet<&&str> = names.iter().collect();
    assert_eq!(apart.len(), names.len());
}

/// `/api/stones/${n}/log` and `/api/stones/{stone}/log` are the same place.
fn bare(path: &str) -> String {
    let path = path.split('?').next().unwrap_or_default();
    path.split('/')
        .map(|part| match part.find(['$', '{']) {
            Some(0) => "{}",
            // What is put behind a whole part stands after the question mark.
            Some(end) => &part[..end],
            None => part,
        })
        .collect::<Vec<_>>()
        .join("/")
}

#[tokio::test]
async fn the_page_asks_what_is_described_and_nothing_else() {
    let document = document().await;
    let described: BTreeSet<String> = document["paths"]
        .as_object()
        .unwrap()
        .keys()
        .map(|path| bare(path))
        .collect();
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("page");
    let mut asked = BTreeSet::new();
    let folders = [page.clone(), page.join("parts"), page.join("screens")];
    for folder in folders {
        for file in std::fs::read_dir(folder).unwrap() {
            let file = file.unwrap().path();
            if file.extension().is_none_or(|ending| ending != "js") {
                continue;
            }
            let text = std::fs::read_to_string(&file).unwrap();
            let quoted = text
                .split(['"', '`', '\''])
                .filter(|part| part.starts_with("/api/"));
            asked.extend(quoted.map(bare));
        }
    }
    assert!(asked.len() > 15, "{asked:?}");
    let unknown: Vec<&String> = asked.difference(&described).collect();
    assert!(unknown.is_empty(), "{unknown:?}");
}
