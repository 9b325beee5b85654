//! A stone with what its books say is handed over in one file: from store to store, from the
//! command line.

use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;

const PIECE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");

fn run(store: &Path, args: &[&str]) -> (bool, String, String) {
    let output = Command::cargo_bin("opalwright")
        .expect("the binary")
        .arg("--store")
        .arg(store)
        .args(args)
        .output()
        .expect("runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (
        output.status.success(),
        text(&output.stdout),
        text(&output.stderr),
    )
}

fn done(store: &Path, args: &[&str]) -> String {
    let (done, said, wrong) = run(store, args);
    assert!(done, "{args:?}: {wrong}");
    said
}

fn json(store: &Path, args: &[&str]) -> Value {
    let said = done(store, &[args, &["--json"]].concat());
    serde_json::from_str(&said).expect("JSON")
}

#[test]
fn a_stone_is_handed_over_with_its_log_its_answers_and_what_its_books_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let (first, second) = (folder.path().join("a.db"), folder.path().join("b.db"));
    let file = folder.path().join("stone.json");
    let file = file.to_str().expect("a path");
    done(&first, &["take-in", PIECE]);
    done(&first, &["log", "1", "ground", "flat", "--depth", "1.0"]);
    let few = ["--interiors", "40", "--cell", "0.6"];
    let bid = json(&first, &[&["bid", "1"], &few[..]].concat());
    let now = json(&first, &[&["now", "1"], &few[..]].concat());
    done(
        &first,
        &["ledger", "buy", "1", "240", "--date", "2026-01-05"],
    );
    done(
        &first,
        &["ledger", "work", "45", "--for", "1", "--date", "2026-01-08"],
    );
    done(
        &first,
        &[
            "ledger",
            "fee",
            "12.50",
            "selling",
            "--for",
            "1",
            "--date",
            "2026-01-09",
        ],
    );
    done(
        &first,
        &["ledger", "sell", "1", "900", "--date", "2026-02-01"],
    );
    done(&first, &["export", "1", "--out", file]);

    done(&second, &["import", file]);
    let log = ["log", "1", "list"];
    assert_eq!(json(&second, &log), json(&first, &log));
    assert_eq!(json(&second, &[&["bid", "1"], &few[..]].concat()), bid);
    assert_eq!(json(&second, &[&["now", "1"], &few[..]].concat()), now);

    // What other books say is kept as it came, and booked in none of ours.
    assert_eq!(json(&second, &["ledger"])["entries"], 0);
    let again = folder.path().join("again.json");
    let again = again.to_str().expect("a path");
    done(&second, &["export", "1", "--out", again]);
    let kept = std::fs::read_to_string(again).expect("reads");
    let came: Value =
        serde_json::from_str(&std::fs::read_to_string(file).expect("reads")).expect("JSON");
    let entries = came["books"]["entries"].as_array().expect("entries");
    assert_eq!(entries.len(), 4);
    let kept: Value = serde_json::from_str(&kept).expect("JSON");
    let body = kept["events"]
        .as_array()
        .expect("events")
        .iter()
        .find(|event| event["kind"] == "books-elsewhere")
        .expect("kept")["body"]
        .to_string();
    for entry in entries {
        let amount = entry["amount"].as_str().unwrap_or("900.00");
        assert!(body.contains(amount), "{amount}: {body}");
    }
    // The same file once more adds nothing.
    run(&second, &["import", file]);
    assert_eq!(json(&second, &log), json(&first, &log));
    assert_eq!(json(&second, &["ledger"])["entries"], 0);
}
