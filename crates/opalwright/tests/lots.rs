//! `bid --all`: many lots in one go, from the store and from a folder.

use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;

const FEW: [&str; 4] = ["--interiors", "40", "--cell", "0.8"];

fn answer(folder: &Path, args: &[&str]) -> (bool, String, String) {
    let output = Command::cargo_bin("opalwright")
        .expect("the binary")
        .current_dir(folder)
        .env("OPALWRIGHT_STORE", folder.join("stones.db"))
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

/// An invented lot: only the sizes differ.
fn lot(name: &str, size: f64) -> String {
    format!(
        "format = \"opalwright-evidence/1\"\n\n[piece]\nname = \"{name}\"\nform = \"seam\"\n\
         origin = \"Field A\"\nweight_ct = {:.1}\n\n[shape]\ncallipers = {{ length_mm = {:.1}, \
         width_mm = {:.1}, height_mm = {:.1}, solidity = 0.6 }}\n\n[[bar]]\nname = \"A\"\n\
         [[bar.sighting]]\nat_mm = [{:.1}, {:.1}]\nthickness_mm = 2.0\nsigma_mm = 0.3\n\n\
         [look]\nvariety = \"light\"\nbrightness = [\"bright\"]\n",
        0.6 * 2.1 * 5.0 * 0.001 * 20.0 * 14.0 * 10.0 * size * size * size,
        20.0 * size,
        14.0 * size,
        10.0 * size,
        3.0 * size,
        7.0 * size,
    )
}

#[test]
fn many_lots_make_one_table_and_a_bad_one_stops_none() {
    let folder = tempfile::tempdir().expect("a folder");
    let here = folder.path();
    let lots = here.join("lots");
    std::fs::create_dir(&lots).expect("a folder");
    for (name, size) in [("Small one", 0.8), ("Big one", 1.3)] {
        std::fs::write(lots.join(format!("{name}.toml")), lot(name, size)).expect("writes");
    }
    std::fs::write(
        lots.join("broken.toml"),
        "format = \"opalwright-evidence/1\"\n",
    )
    .expect("writes");
    let asked = [&["bid", "--all", "lots", "--json"], &FEW[..]].concat();
    let (done, said, wrong) = answer(here, &asked);
    assert!(done, "{wrong}");
    let doc: Value = serde_json::from_str(&said).expect("JSON");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema/bids-1.schema.json");
    let schema: Value =
        serde_json::from_str(&std::fs::read_to_string(path).expect("checked in")).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    assert!(validator.is_valid(&doc), "{doc}");
    let bids: Vec<f64> = doc["lots"]
        .as_array()
        .expect("lots")
        .iter()
        .map(|lot| {
            lot["bid"]
                .as_str()
                .expect("text")
                .parse()
                .expect("a number")
        })
        .collect();
    assert_eq!(bids.len(), 2, "{doc}");
    assert!(bids[0] >= bids[1]);
    let in_all: f64 = doc["in_all"]
        .as_str()
        .expect("text")
        .parse()
        .expect("a number");
    assert!((in_all - bids[0] - bids[1]).abs() < 1e-9);
    assert_eq!(doc["not_worked_out"][0]["piece"], "broken.toml");
    // The same again, byte for byte.
    assert_eq!(answer(here, &asked).1, said);
    // What a lot fetches in the table is what it fetches alone.
    let alone = [
        &["bid", "lots/Big one.toml", "--json", "--effort", "quick"],
        &FEW[..],
    ]
    .concat();
    let big: Value = serde_json::from_str(&answer(here, &alone).1).expect("JSON");
    let place = doc["lots"]
        .as_array()
        .expect("lots")
        .iter()
        .position(|lot| lot["piece"] == "Big one")
        .expect("is there");
    assert_eq!(big["bid"]["amount"], doc["lots"][place]["bid"]);

    let (done, table, _) = answer(here, &[&["bid", "--all", "lots"], &FEW[..]].concat());
    assert!(done && table.contains("Big one") && table.contains("broken.toml"));
    let rows = table.lines().skip(2).take_while(|line| !line.is_empty());
    assert!(rows.clone().count() >= 3);
    for row in rows {
        assert!(row.chars().count() <= 46, "too wide for a telephone: {row}");
    }
    // Nothing taken in: said, with what to do.
    let (done, _, wrong) = answer(here, &["bid", "--all"]);
    assert!(!done && wrong.contains("no lot"), "{wrong}");
}

#[test]
fn past_tenders_say_how_far_to_stay_below() {
    let folder = tempfile::tempdir().expect("a folder");
    let here = folder.path();
    std::fs::write(here.join("one.toml"), lot("One", 1.3)).expect("writes");
    std::fs::write(
        here.join("tenders.csv"),
        "most,bid,ended,price\n100,70,won,\n200,120,lost,150\n80,60,lost,\n",
    )
    .expect("writes");
    let asked = [
        &["bid", "one.toml", "--tenders", "tenders.csv", "--json"],
        &FEW[..],
    ]
    .concat();
    let (done, said, wrong) = answer(here, &asked);
    assert!(done, "{wrong}");
    let doc: Value = serde_json::from_str(&said).expect("JSON");
    let most: f64 = doc["bid"]["amount"]
        .as_str()
        .expect("text")
        .parse()
        .expect("a number");
    assert!(most > 0.0, "{doc}");
    let tender = &doc["tender"];
    let bid: f64 = tender["bid"]
        .as_str()
        .expect("text")
        .parse()
        .expect("a number");
    assert!(bid > 0.0 && bid < most);
    let between: Vec<f64> = tender["chance_between"]
        .as_array()
        .expect("two")
        .iter()
        .map(|c| c.as_f64().expect("a number"))
        .collect();
    let chance = tender["chance"].as_f64().expect("a number");
    assert!(between[0] <= chance && chance <= between[1]);
    std::fs::write(
        here.join("tenders.csv"),
        "most,bid,ended,price\n1,2,sold,\n",
    )
    .expect("writes");
    let (done, _, wrong) = answer(here, &asked);
    assert!(!done && wrong.contains("won or lost"), "{wrong}");
}

/// A bid out of the table is kept with its stone: the books say what it should bring once
/// it is bought. With past tenders, which hang on a file, nothing is kept.
#[test]
fn a_bid_of_the_table_is_kept_with_its_stone() {
    let folder = tempfile::tempdir().expect("a folder");
    let here = folder.path();
    std::fs::write(here.join("one.toml"), lot("One", 1.3)).expect("writes");
    std::fs::write(
        here.join("tenders.csv"),
        "most,bid,ended,price\n100,70,won,\n200,120,lost,150\n80,60,lost,\n",
    )
    .expect("writes");
    let done = |args: &[&str]| {
        let (done, said, wrong) = answer(here, args);
        assert!(done, "{args:?}: {wrong}");
        said
    };
    let should_bring = || -> Value {
        let held = done(&["ledger", "--held", "--json"]);
        let held: Value = serde_json::from_str(&held).expect("JSON");
        held["items"][0]["expected"].clone()
    };
    done(&["take-in", "one.toml"]);
    let tenders = ["bid", "--all", "--tenders", "tenders.csv"];
    done(&[&tenders[..], &FEW[..]].concat());
    done(&["export", "One", "--out", "kept.json"]);
    let kept = std::fs::read_to_string(here.join("kept.json")).expect("reads");
    assert!(!kept.contains("opalwright-bid/1"), "{kept}");
    let table = done(&[&["bid", "--all", "--json"], &FEW[..]].concat());
    let table: Value = serde_json::from_str(&table).expect("JSON");
    let lot = &table["lots"][0];
    let number = |value: &Value| -> f64 {
        let text = value
            .as_str()
            .map_or_else(|| value.to_string(), str::to_owned);
        text.parse().expect("a number")
    };
    done(&["ledger", "buy", "One", "50", "--date", "2026-01-05"]);
    let expected = should_bring();
    let told = number(&expected["mean"]);
    let by_table = number(&lot["bid"]) + number(&lot["expected_gain"]);
    assert!((told - by_table).abs() < 0.02, "{expected} {lot}");
}
