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

/// Another stone of the same field speaks for this one's inside, at the bench as in a
/// bid; a stone from elsewhere does not.
#[test]
fn what_now_goes_by_what_the_field_taught() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("stones.db");
    let example = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
    let text = std::fs::read_to_string(example).expect("the example");
    let take_in = |name: &str, origin: &str| {
        let path = folder.path().join(format!("{name}.toml"));
        let other = text
            .replace("Lantern 6 (invented)", name)
            .replace("Lantern Hill (invented)", origin);
        std::fs::write(&path, other).expect("writes");
        answer(&store, &["take-in", path.to_str().expect("a path")]);
    };
    let notes = || {
        let ask = ["now", "Worked", "--interiors", "40", "--cell", "0.6"];
        answer(&store, &ask)["notes"].to_string()
    };
    take_in("Worked", "Field A");
    take_in("Elsewhere", "Field B");
    assert!(!notes().contains("taught"), "{}", notes());
    take_in("Neighbour", "Field A");
    assert!(
        notes().contains("1 of your own stones from Field A"),
        "{}",
        notes()
    );
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
    assert!(said.contains("the depth of the entry at "), "{said}");
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
    let again = |height: &str| {
        let cut = ["log", "1", "sawn", "--point", height, "--normal", "0,0,-1"];
        refused_as(&store, &[&cut[..], &["--offcut", "bottom slice"]].concat())
    };
    let said = again("0,0,3.6");
    assert!(said.contains("bottom slice"), "{said}");
    let said = again("0,0,2.6");
    assert!(said.contains("nothing comes off"), "{said}");
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

/// What a stone is held at, in cents.
fn held_at(store: &Path, name: &str) -> Option<i64> {
    let books = answer(store, &["ledger"]);
    let items = books["items"].as_array().expect("a list");
    let item = items.iter().find(|item| item["name"] == name)?;
    let all = item["cost"]["total"].as_str().expect("an amount");
    Some(all.replace('.', "").parse().expect("cents"))
}

/// Balinski & Young 2001: largest remainders give each part its quota rounded up or
/// down, and parts that sum to the whole.
#[test]
fn a_cut_takes_its_share_of_the_cost_along_in_the_books_and_an_undo_brings_it_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("stones.db");
    let piece = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
    answer(&store, &["take-in", piece]);
    let whole = "Lantern 6 (invented)";
    answer(&store, &["ledger", "buy", "1", "100.01"]);
    answer(&store, &["ledger", "fee", "3.33", "buying", "--for", "1"]);
    let cut = |x: &str, name: &str| {
        let at = ["log", "1", "sawn", "--point", x, "--normal", "-1,0,0"];
        answer(&store, &[&at[..], &["--offcut", name]].concat())
    };
    let log = cut("6,0,0", "left end");
    let share = log["offcuts"][0]["share_of_cost"].as_f64().expect("told");
    assert!(share > 0.0, "{share}");
    let (stayed, went) = (held_at(&store, whole), held_at(&store, "left end"));
    let (stayed, went) = (stayed.expect("held"), went.expect("held"));
    assert_eq!(stayed + went, 10_001 + 333);
    // To the cent in each of the two costs; the share is told to a thousandth.
    let quota = share * 10_334.0;
    assert!((went as f64 - quota).abs() <= 2.0 + 0.0005 * 10_334.0);

    cut("12,0,0", "middle");
    let held = [whole, "left end", "middle"].map(|name| held_at(&store, name).expect("held"));
    assert_eq!(held.iter().sum::<i64>(), 10_334);
    let said = refused(&store, &["log", "1", "undo", "1"]);
    assert!(said.contains("entry 4 rests on it"), "{said}");
    answer(&store, &["log", "1", "undo", "2"]);
    assert_eq!(held_at(&store, whole), Some(stayed));
    answer(&store, &["log", "1", "undo", "1"]);
    assert_eq!(held_at(&store, whole), Some(10_334));
    // The undo undone: the very shares again.
    answer(&store, &["log", "1", "undo", "4"]);
    assert_eq!(held_at(&store, "left end"), Some(went));

    answer(&store, &["ledger", "sell", "left end", "20.00"]);
    let said = refused(&store, &["log", "1", "undo", "5"]);
    assert!(said.contains("rests on it"), "{said}");
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

const WHEELS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/wheels.toml");

#[test]
fn the_cutters_own_wheels_are_kept_and_taught_by_the_log_of_every_stone() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("stones.db");
    let piece = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/bench.toml");
    answer(&store, &["take-in", piece]);
    let rate = |set: &Value| set["wheels"][1]["removal_mm3_per_min"].clone();
    let usual = answer(&store, &["wheels"]);
    assert_eq!(usual["own"], false);
    let own = answer(&store, &["wheels", WHEELS]);
    assert_eq!(
        (&own["own"], &own["wheels"][1]["stints"]),
        (&Value::Bool(true), &Value::from(0))
    );

    // Half an hour for what a minute would have done: the wheel is slower than thought.
    answer(&store, &["log", "1", "wheel", "250 diamond"]);
    answer(&store, &["log", "1", "ground", "flat", "--depth", "1.0"]);
    answer(
        &store,
        &["log", "1", "wheel", "600 diamond, soft", "--minutes", "30"],
    );
    let taught = answer(&store, &["wheels"]);
    assert_eq!(taught["wheels"][1]["stints"], 1);
    assert!(rate(&taught)[1].as_f64() < rate(&own)[1].as_f64());

    // Another stone is finished with what this one taught.
    let second = folder.path().join("second.toml");
    let text = std::fs::read_to_string(piece)
        .expect("reads")
        .replace("Lantern 6", "Lantern 9");
    std::fs::write(&second, text).expect("written");
    answer(&store, &["take-in", second.to_str().expect("text")]);
    let ask = ["finish", "2", "--face", "120", "--stock", "0.4"];
    let finish = answer(&store, &ask);
    let turns = finish["turns"].as_array().expect("a list");
    assert_eq!(turns.last().expect("one")["grit"], "0.5 µm");
    assert!(finish["wear"].as_f64().is_some_and(|wear| wear > 0.0));
    assert_eq!(finish["currency"], "AUD");
    let said = finish["rests_on"].to_string();
    assert!(said.contains("one stint of your own log"), "{said}");
    let faces = finish["by_face"].as_array().expect("a list");
    assert!(
        faces
            .windows(2)
            .all(|p| p[0]["minutes"].as_f64() < p[1]["minutes"].as_f64())
    );
    assert!(
        finish["marks_if_rushed"]
            .as_f64()
            .is_some_and(|chance| chance > 0.1)
    );

    // Once, from a file; a number without its scale is refused.
    let bare = folder.path().join("bare.toml");
    let text = std::fs::read_to_string(WHEELS).expect("reads");
    let text = text.replace(
        "{ scale = \"lapidary-diamond\", number = \"600\" }",
        "{ number = \"600\" }",
    );
    std::fs::write(&bare, text).expect("written");
    let bare = bare.to_str().expect("text");
    let said = refused(&store, &[&ask[..], &["--wheels", bare]].concat());
    assert!(
        said.contains("wheel[2].grit.scale") && said.contains("9.3 µm on fepa-f"),
        "{said}"
    );
}

/// Big barren stock is sawn off, a thin skin is ground away, and pressing hard on
/// the blade makes the cut dearer (common practice, no source).
#[test]
fn saw_or_grind_and_wait_or_cut() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("stones.db");
    let ask = |rest: &[&str]| {
        answer(
            &store,
            &[&["saw-or-grind", "--wheels", WHEELS][..], rest].concat(),
        )
    };
    let thick = ask(&["--thickness", "12", "--area", "2400"]);
    assert_eq!(thick["advice"], "saw");
    assert!(thick["chance_saw_cheaper"].as_f64() > Some(0.9));
    let thin = ask(&["--thickness", "0.3", "--area", "120"]);
    assert_eq!(thin["advice"], "grind");
    let pressed = ask(&["--thickness", "12", "--area", "2400", "--pressure", "3"]);
    assert!(pressed["saw_cost"].as_f64() > thick["saw_cost"].as_f64());
    let said = refused_as(&store, &["saw-or-grind", "--thickness", "0", "--area", "9"]);
    assert!(said.contains("above 0"), "{said}");
    // The cut is the area where it is not told: one fault, told once.
    let said = refused_as(&store, &["saw-or-grind", "--thickness", "1", "--area", "0"]);
    assert!(said.contains("one thing"), "{said}");

    let wait = answer(
        &store,
        &["drying", "--weights", "0:400,7:395.1,14:392.8,21:391.6"],
    );
    assert_eq!(wait["advice"], "wait");
    assert!(wait["wait_days"]["0.5"].as_f64() > Some(7.0));
    let dry = answer(
        &store,
        &[
            "drying",
            "--weights",
            "0:400,7:399.95,14:399.93,21:399.92,28:399.92",
        ],
    );
    assert_eq!(dry["advice"], "cut");
    let said = refused_as(&store, &["drying", "--weights", "0:400,7:395"]);
    assert!(said.contains("at least 3"), "{said}");
    // A number below 0 is told like any other that cannot be.
    for scale in ["0", "-1"] {
        let wrong = ["drying", "--weights", "0:400,x:3,14:-1", "--scale", scale];
        let said = refused_as(&store, &wrong);
        assert!(said.contains("3 things"), "{said}");
    }
}

fn refused_as(store: &Path, args: &[&str]) -> String {
    let output = opalwright(store).args(args).output().expect("runs");
    assert!(!output.status.success(), "{args:?}");
    String::from_utf8_lossy(&output.stderr).into_owned()
}
