//! A parcel, as a person runs the command.

use assert_cmd::Command;
use serde_json::Value;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn at(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../..")
        .join(path)
}

fn run(args: &[&str]) -> (i32, String, String) {
    let folder: TempDir = tempfile::tempdir().expect("a folder");
    let output = Command::cargo_bin("opalwright")
        .expect("the binary")
        .env("OPALWRIGHT_STORE", folder.path().join("stones.db"))
        .args(args)
        .output()
        .expect("runs");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
    (
        output.status.code().expect("a code"),
        text(output.stdout),
        text(output.stderr),
    )
}

fn example() -> String {
    at("examples/parcel.toml").display().to_string()
}

#[test]
fn tells_the_worth_the_bid_and_how_many_to_look_into() {
    let (code, out, err) = run(&["parcel", &example(), "--json"]);
    assert_eq!(code, 0, "{err}");
    let doc: Value = serde_json::from_str(&out).expect("JSON");
    let schema = std::fs::read_to_string(at("docs/schema/parcel-forecast-1.schema.json"))
        .expect("checked in");
    let schema: Value = serde_json::from_str(&schema).expect("JSON");
    assert!(jsonschema::is_valid(&schema, &doc), "{doc}");
    assert_eq!(doc["unseen_paying"]["of"], 34);
    // Mean of the Beta-binomial law by hand: Beta(1 + 2, 3 + 4), 34 pieces.
    assert_eq!(doc["unseen_paying"]["mean"], 10.2);
    let number = |path: &[&str]| {
        path.iter()
            .fold(&doc, |at, key| &at[*key])
            .as_f64()
            .expect("a number")
    };
    assert!(number(&["looking", "best", "gain"]) <= number(&["looking", "knowing"]));
    let bid: f64 = doc["bid"]["amount"]
        .as_str()
        .expect("text")
        .parse()
        .expect("a number");
    assert!(bid >= 0.0 && bid < number(&["worth", "mean"]));
    // Same seed, same bytes.
    assert_eq!(run(&["parcel", &example(), "--json"]).1, out);
}

#[test]
fn says_it_in_plain_words() {
    let (code, out, err) = run(&["parcel", &example()]);
    assert_eq!(code, 0, "{err}");
    for words in [
        "Lantern bag",
        "look into",
        "not looked into",
        "It rests on",
        "invented",
    ] {
        assert!(out.contains(words), "{words}:\n{out}");
    }
    let (_, figures, _) = run(&["parcel", &example(), "--figures"]);
    assert!(figures.contains("knowing every piece") && figures.len() > out.len());
}

#[test]
fn faults_come_all_at_once_and_leave_with_3() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = std::fs::read_to_string(at("examples/parcel.toml"))
        .expect("reads")
        .replacen("pieces = 40", "pieces = 0", 1)
        .replacen("pays = 0.25", "pays = 2", 1);
    let path = folder.path().join("bag.toml");
    std::fs::write(&path, text).expect("writes");
    let (code, _, err) = run(&["parcel", &path.display().to_string()]);
    assert_eq!(code, 3, "{err}");
    assert!(
        err.contains("parcel.pieces") && err.contains("usual.pays"),
        "{err}"
    );
    let (code, _, err) = run(&["parcel", &example(), "--draws", "3"]);
    assert_eq!((code, err.contains("--draws")), (2, true), "{err}");
}
