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

fn refused(store: &Path, args: &[&str]) -> String {
    let output = opalwright(store).args(args).output().expect("runs");
    assert_eq!(output.status.code(), Some(3), "{args:?}");
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn what_was_sawn_off_is_a_stone_of_its_own_until_the_cut_is_undone() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("stones.db");
    let piece = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
    answer(&store, &["take-in", piece]);
    let cut = ["sawn", "--point", "0,0,2.6", "--normal", "0,0,-1"];
    let sawn = [
        &["log", "1"],
        &cut[..],
        &["--kerf", "0.5", "--offcut", "bottom slice"],
    ]
    .concat();
    let log = answer(&store, &sawn);
    let offcut = &log["offcuts"][0];
    let (weight, share) = (&offcut["weight_ct"], &offcut["share_of_cost"]);
    let share = share.as_f64().expect("a share");
    // All of the colour stayed, so less than its part of the weight went with it.
    let by_weight = weight.as_f64().expect("a weight") / 14.5;
    assert!((0.0..by_weight).contains(&share), "{share} {by_weight}");

    let shown = answer(&store, &["show", "bottom slice"]);
    assert_eq!(shown["piece"], "bottom slice");
    let stones = || answer(&store, &["show"])["stones"].as_array().map(Vec::len);
    assert_eq!(stones(), Some(2));
    // Its name is taken, and it is worked like any stone.
    let again = [&["log", "1"], &cut[..], &["--offcut", "bottom slice"]].concat();
    assert!(
        !opalwright(&store)
            .args(&again)
            .output()
            .expect("runs")
            .status
            .success()
    );
    answer(&store, &["log", "bottom slice", "weighed", "3.1"]);
    let said = refused(&store, &["log", "1", "undo", "1"]);
    assert!(said.contains("worked since"), "{said}");
    answer(&store, &["log", "bottom slice", "undo", "1"]);

    let undone = answer(&store, &["log", "1", "undo", "1"]);
    assert_eq!(undone["offcuts"].as_array().map(Vec::len), Some(0));
    assert_eq!(stones(), Some(1));
    let said = refused(&store, &["log", "bottom slice", "weighed", "3.1"]);
    assert!(said.contains("was undone"), "{said}");
    // Undoing that puts the piece back, with the share that it had.
    let back = answer(&store, &["log", "1", "undo", "2"]);
    assert_eq!(back["offcuts"][0]["share_of_cost"].as_f64(), Some(share));
    assert_eq!(stones(), Some(2));
}

#[test]
fn a_break_and_a_photo_are_kept_with_their_particulars() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("stones.db");
    let piece = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
    let before = answer(&store, &["take-in", piece]);
    assert_eq!(before["piece"], "Lantern 6 (invented)");
    let photo = folder.path().join("face.jpg");
    std::fs::write(&photo, b"abc").expect("written");
    let log = answer(
        &store,
        &["log", "1", "photo", photo.to_str().expect("text")],
    );
    // FIPS 180-4, the example of one block.
    assert_eq!(
        log["events"][0]["event"]["sha256"],
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
    let missing = folder.path().join("none.jpg");
    let output = opalwright(&store)
        .args(["log", "1", "photo", missing.to_str().expect("text")])
        .output()
        .expect("runs");
    assert_eq!(output.status.code(), Some(2));
    let broken = [
        "log", "1", "broken", "--point", "12,0,0", "--normal", "1,0,0",
    ];
    let log = answer(&store, &[&broken[..], &["--other", "corner"]].concat());
    let (left, corner) = (&log["weight_ct"], &log["offcuts"][0]["weight_ct"]);
    let sum = left.as_f64().expect("ct") + corner.as_f64().expect("ct");
    // A break takes nothing: by hand, the parts weigh what the whole did, to the
    // column of nodes on the plane.
    assert!((sum - 14.5).abs() < 0.03 * 14.5, "{sum}");
    assert_eq!(answer(&store, &["show", "corner"])["piece"], "corner");
}
