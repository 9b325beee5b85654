//! `log`, `now` and `finish` from the command line: a stone is taken in, worked,
//! asked about, and a mistake undone.

use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;

fn opalwright(store: &Path) -> Command {
    let mut command = Command::cargo_bin("opalwright").expect("the binary");
    command.arg("--store").arg(store);
    command
}

fn answer(store: &Path, args: &[&str]) -> Value {
    let output = opalwright(store)
        .args(args)
        .arg("--json")
        .output()
        .expect("runs");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{args:?}: {said}");
    serde_json::from_slice(&output.stdout).expect("JSON")
}

#[test]
fn a_stone_is_worked_asked_about_and_finished() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("stones.db");
    let piece = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
    answer(&store, &["take-in", piece]);
    let before = answer(&store, &["log", "1", "list"]);
    answer(&store, &["log", "1", "wheel", "250 diamond"]);
    let ground = answer(&store, &["log", "1", "ground", "flat", "--depth", "2.0"]);
    assert_eq!(ground["stage"], "face-open");
    assert!(ground["weight_ct"].as_f64() < before["weight_ct"].as_f64());

    let ask = ["now", "1", "--interiors", "40", "--cell", "0.5"];
    let now = answer(&store, &ask);
    assert_eq!(now["format"], "opalwright-now/1");
    let gains: Vec<f64> = now["advice"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|one| one["gain"].as_f64().expect("a number"))
        .collect();
    assert!(gains.len() >= 4 && gains.windows(2).all(|pair| pair[0] >= pair[1]));
    assert!(
        now["facing"]["curve"]
            .as_array()
            .is_some_and(|curve| curve.len() > 3)
    );
    // The same question on the same log has the same answer.
    assert_eq!(answer(&store, &ask), now);

    let undone = answer(&store, &["log", "1", "undo", "2"]);
    assert_eq!(undone["events"][1]["stands"], false);
    assert_eq!(undone["weight_ct"], before["weight_ct"]);

    let finish = answer(&store, &["finish", "1", "--face", "120", "--stock", "0.4"]);
    let turns = finish["turns"].as_array().expect("a list");
    assert!(turns.len() >= 2);
    assert_eq!(turns.last().expect("one")["to_mm"], 0.0);
}

#[test]
fn what_cannot_have_happened_is_refused_and_not_stored() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("stones.db");
    let piece = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
    answer(&store, &["take-in", piece]);
    let refused = opalwright(&store)
        .args(["log", "1", "ground", "face", "--depth", "40"])
        .output()
        .expect("runs");
    assert_eq!(refused.status.code(), Some(3));
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(said.contains("event[1].depth_mm"), "{said}");
    let log = answer(&store, &["log", "1", "list"]);
    assert_eq!(log["events"].as_array().map(Vec::len), Some(0));
}
