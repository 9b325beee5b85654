//! The door to the shop's network: what each refusal refuses.
#![allow(clippy::unwrap_used)]

mod bench;

use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, Response, StatusCode};
use bench::MadeUpBench;
use serde_json::{Value, json};
use std::net::SocketAddr;
use std::sync::Arc;
use tower::ServiceExt;

const HERE: &str = "192.168.1.5:7117";
const TABLET: &str = "192.168.1.20:50000";
const THIS_COMPUTER: &str = "127.0.0.1:50000";

fn app() -> Router {
    let bench = Arc::new(MadeUpBench::with_one());
    opal_server::lan_router(bench, HERE.parse().unwrap()).unwrap()
}

struct Ask<'a> {
    from: &'a str,
    host: &'a str,
    cookie: &'a str,
}

const DEVICE: Ask<'_> = Ask {
    from: TABLET,
    host: HERE,
    cookie: "",
};
const OWN: Ask<'_> = Ask {
    from: THIS_COMPUTER,
    host: "127.0.0.1:7117",
    cookie: "",
};

impl Ask<'_> {
    async fn ask(&self, app: &Router, method: &str, path: &str, body: Value) -> Response<Body> {
        let from: SocketAddr = self.from.parse().unwrap();
        let request = Request::builder()
            .method(method)
            .uri(path)
            .header("host", self.host)
            .header("cookie", self.cookie)
            .header("content-type", "application/json")
            .extension(ConnectInfo(from))
            .body(Body::from(body.to_string()))
            .unwrap();
        app.clone().oneshot(request).await.unwrap()
    }

    async fn status(&self, app: &Router, method: &str, path: &str) -> StatusCode {
        self.ask(app, method, path, json!({})).await.status()
    }
}

async fn value(response: Response<Body>) -> Value {
    let bytes = axum::body::to_bytes(response.into_body(), usize::MAX);
    serde_json::from_slice(&bytes.await.unwrap()).unwrap()
}

/// Pairs a device; gives its cookie.
async fn paired(app: &Router) -> String {
    let code = OWN.ask(app, "POST", "/api/devices/code", json!({})).await;
    let code = value(code).await;
    let asking = json!({"code": code["code"], "name": "Tablet"});
    let answer = DEVICE.ask(app, "POST", "/api/pair", asking).await;
    assert_eq!(answer.status(), StatusCode::NO_CONTENT);
    let cookie = answer.headers()["set-cookie"].to_str().unwrap().to_owned();
    assert!(
        cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"),
        "{cookie}"
    );
    cookie.split(';').next().unwrap().to_owned()
}

#[tokio::test]
async fn a_stranger_sees_the_page_and_nothing_behind_it() {
    let app = app();
    assert_eq!(DEVICE.status(&app, "GET", "/").await, StatusCode::OK);
    let part = format!("/assets/{}/app.js", opal_server::page_version());
    assert_eq!(DEVICE.status(&app, "GET", &part).await, StatusCode::OK);
    for (method, path) in [
        ("GET", "/api/stones"),
        ("GET", "/api/stones/1"),
        ("POST", "/api/stones/1/log"),
        ("GET", "/api/prices"),
        ("PUT", "/api/prices"),
        ("GET", "/api/nothing"),
    ] {
        let answer = DEVICE.ask(&app, method, path, json!({})).await;
        assert_eq!(answer.status(), StatusCode::UNAUTHORIZED, "{method} {path}");
        assert_eq!(value(answer).await["error"]["kind"], "unpaired");
    }
}

#[tokio::test]
async fn a_paired_device_works_until_it_is_withdrawn() {
    let app = app();
    let cookie = paired(&app).await;
    let tablet = Ask {
        cookie: &cookie,
        ..DEVICE
    };
    assert_eq!(
        tablet.status(&app, "GET", "/api/stones").await,
        StatusCode::OK
    );
    let listed = value(OWN.ask(&app, "GET", "/api/devices", json!({})).await).await;
    assert_eq!(listed["devices"][0]["name"], "Tablet");
    assert!(
        !listed
            .to_string()
            .contains(cookie.split_once('=').unwrap().1)
    );
    let gone = OWN.status(&app, "DELETE", "/api/devices/1").await;
    assert_eq!(gone, StatusCode::NO_CONTENT);
    let gone = tablet.status(&app, "GET", "/api/stones").await;
    assert_eq!(gone, StatusCode::UNAUTHORIZED);
    for device in ["1", "7", "all"] {
        let path = format!("/api/devices/{device}");
        let none = OWN.status(&app, "DELETE", &path).await;
        assert_eq!(none, StatusCode::NOT_FOUND, "{device}");
    }
}

#[tokio::test]
async fn a_code_is_good_once_and_a_wrong_one_never() {
    let app = app();
    let answer = OWN.ask(&app, "POST", "/api/devices/code", json!({})).await;
    let code = value(answer).await;
    let squares = code["squares"].as_array().unwrap();
    assert!(squares.len() >= 21 && squares.len() == squares[0].as_array().unwrap().len());
    let address = code["address"].as_str().unwrap();
    assert!(
        address.starts_with("http://192.168.1.5:7117/#/pair/"),
        "{address}"
    );
    let pair = |code: Value| {
        let app = app.clone();
        async move {
            let asking = json!({"code": code, "name": "x"});
            DEVICE.ask(&app, "POST", "/api/pair", asking).await.status()
        }
    };
    assert_eq!(pair(json!("AAAA-AAAA")).await, StatusCode::FORBIDDEN);
    assert_eq!(pair(code["code"].clone()).await, StatusCode::NO_CONTENT);
    assert_eq!(pair(code["code"].clone()).await, StatusCode::FORBIDDEN);
    assert_eq!(pair(json!(7)).await, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn devices_are_let_in_and_shut_out_on_this_computer_alone() {
    let app = app();
    let cookie = paired(&app).await;
    let tablet = Ask {
        cookie: &cookie,
        ..DEVICE
    };
    for (method, path) in [
        ("GET", "/api/devices"),
        ("POST", "/api/devices/code"),
        ("DELETE", "/api/devices/1"),
        ("POST", "/api/restore"),
        ("POST", "/api/restore?only_look=true"),
    ] {
        let answer = tablet.status(&app, method, path).await;
        assert_eq!(answer, StatusCode::FORBIDDEN, "{method} {path}");
    }
}

#[tokio::test]
async fn other_hosts_origins_and_unknown_peers_are_refused() {
    let app = app();
    let cookie = paired(&app).await;
    for host in [
        "opal.example",
        "127.0.0.1:7117",
        "localhost",
        "192.168.1.6:7117",
        "",
    ] {
        let asked = Ask {
            host,
            cookie: &cookie,
            ..DEVICE
        };
        let answer = asked.status(&app, "GET", "/api/stones").await;
        assert_eq!(answer, StatusCode::FORBIDDEN, "{host}");
    }
    // This computer under the network's name would be a rebound name's way in.
    let asked = Ask { host: HERE, ..OWN };
    let answer = asked.status(&app, "GET", "/api/stones").await;
    assert_eq!(answer, StatusCode::FORBIDDEN);
    let from: SocketAddr = TABLET.parse().unwrap();
    let forged = Request::post("/api/stones/1/log")
        .header("host", HERE)
        .header("cookie", &cookie)
        .header("origin", "http://192.168.1.9")
        .header("content-type", "application/json")
        .extension(ConnectInfo(from))
        .body(Body::from("{}"))
        .unwrap();
    let answer = app.clone().oneshot(forged).await.unwrap();
    assert_eq!(answer.status(), StatusCode::FORBIDDEN);
    let nobody = Request::get("/api/stones").header("host", "127.0.0.1");
    let nobody = nobody.body(Body::empty()).unwrap();
    let answer = app.clone().oneshot(nobody).await.unwrap();
    assert_eq!(answer.status(), StatusCode::TOO_MANY_REQUESTS);
}

#[tokio::test]
async fn one_device_cannot_crowd_the_others_out() {
    let app = app();
    let mut answers = Vec::new();
    for _ in 0..420 {
        answers.push(DEVICE.status(&app, "GET", "/").await);
    }
    assert_eq!(answers[0], StatusCode::OK);
    assert_eq!(answers[419], StatusCode::TOO_MANY_REQUESTS);
    let other = Ask {
        from: "192.168.1.21:50000",
        ..DEVICE
    };
    assert_eq!(other.status(&app, "GET", "/").await, StatusCode::OK);
    assert_eq!(OWN.status(&app, "GET", "/").await, StatusCode::OK);
}

#[tokio::test]
async fn without_the_door_nobody_can_be_paired() {
    let bench = Arc::new(MadeUpBench::with_one());
    let app = opal_server::router(bench);
    for (method, path) in [("POST", "/api/devices/code"), ("DELETE", "/api/devices/1")] {
        let answer = OWN.status(&app, method, path).await;
        assert_eq!(answer, StatusCode::CONFLICT, "{path}");
    }
    let listed = value(OWN.ask(&app, "GET", "/api/devices", json!({})).await).await;
    assert_eq!(listed, json!({"address": null, "devices": []}));
    let asking = json!({"code": "AAAA-AAAA", "name": "x"});
    let answer = OWN.ask(&app, "POST", "/api/pair", asking).await;
    assert_eq!(answer.status(), StatusCode::CONFLICT);
}
