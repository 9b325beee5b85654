//! The commands as a person runs them.

use assert_cmd::Command;
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn examples(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../examples")
        .join(name)
}

/// A bench of its own: a folder with a store in it.
struct Bench(TempDir);

impl Bench {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn run(&self, args: &[&str]) -> (i32, String, String) {
        let output = Command::cargo_bin("opalwright")
            .expect("the binary")
            .current_dir(self.0.path())
            .env("OPALWRIGHT_STORE", self.0.path().join("stones.db"))
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

    fn done(&self, args: &[&str]) -> String {
        let (code, out, err) = self.run(args);
        assert_eq!(code, 0, "{args:?}\n{err}");
        out
    }

    fn json(&self, args: &[&str]) -> Value {
        serde_json::from_str(&self.done(args)).expect("one JSON document")
    }

    fn write(&self, name: &str, text: &str) -> String {
        let path = self.0.path().join(name);
        std::fs::write(&path, text).expect("writes");
        path.display().to_string()
    }
}

fn valid(document: &Value, schema: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../docs/schema")
        .join(schema);
    let schema: Value =
        serde_json::from_str(&std::fs::read_to_string(path).expect("checked in")).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    let faults: Vec<String> = validator
        .iter_errors(document)
        .map(|fault| format!("{} at {}", fault, fault.instance_path()))
        .collect();
    assert!(faults.is_empty(), "{faults:?}");
}

/// The fields of a document with the kind of what stands in each, in rising
/// order; those of a list are the fields of all its entries together.
fn fields(value: &Value, path: &str, out: &mut BTreeSet<String>) {
    let kind = match value {
        Value::Object(map) => {
            for (key, value) in map {
                fields(value, &format!("{path}.{key}"), out);
            }
            return;
        }
        Value::Array(list) => {
            for entry in list {
                fields(entry, &format!("{path}[]"), out);
            }
            "list"
        }
        Value::Number(_) => "number",
        Value::String(_) => "text",
        Value::Bool(_) => "yes or no",
        Value::Null => "nothing",
    };
    out.insert(format!("{path} {kind}"));
}

#[test]
fn help_says_what_there_is() {
    let bench = Bench::new();
    insta::assert_snapshot!("help", bench.done(&["--help"]));
    insta::assert_snapshot!("help_bid", bench.done(&["bid", "--help"]));
    insta::assert_snapshot!("help_interior", bench.done(&["interior", "--help"]));
}

#[test]
fn errors_say_what_is_wrong_and_what_to_try() {
    let bench = Bench::new();
    let broken = bench.write(
        "broken.toml",
        "format = \"opalwright-evidence/1\"\n\n[piece]\nname = \"B\"\nform = \"sem\"\nweight_ct = -4\n\n\
         [shape]\ncallipers = { length_mm = 0, width_mm = 3, height_mm = 2 }\n",
    );
    let points = bench.write("points.csv", "x_mm,y_mm\n1\nnan,2\n");
    let quick = examples("quick-look.toml").display().to_string();
    let mut told = String::new();
    for (args, code) in [
        (vec!["bid", "nobody"], 2),
        (vec!["bid", "nothing.toml"], 2),
        (vec!["show", broken.as_str()], 3),
        (vec!["take-in", broken.as_str()], 3),
        (vec!["interior", quick.as_str(), "--at", points.as_str()], 3),
        (vec!["bid", quick.as_str(), "--interiors", "1"], 2),
        (vec!["bid", quick.as_str(), "--quantiles", "0.5,0.1,2"], 2),
        (vec!["restore", "nothing.db"], 2),
        (vec!["import", broken.as_str()], 3),
        (vec!["price-book", broken.as_str()], 3),
    ] {
        let (found, out, err) = bench.run(&args);
        assert_eq!(found, code, "{args:?}\n{err}");
        assert_eq!(out, "", "{args:?}");
        told.push_str(&format!("$ opalwright {}\n{err}\n", args.join(" ")));
    }
    let told = told
        .replace(&bench.0.path().display().to_string(), "HERE")
        .replace(&examples("").display().to_string(), "EXAMPLES/");
    insta::assert_snapshot!("errors", told);
    // Nothing that was wrong was stored.
    assert_eq!(
        bench.json(&["show", "--json"])["stones"],
        Value::Array(vec![])
    );
}

#[test]
fn a_stone_goes_in_is_bid_for_and_moves_to_another_store() {
    let bench = Bench::new();
    let quick = examples("quick-look.toml").display().to_string();
    let shown = bench.json(&["take-in", &quick, "--json"]);
    valid(&shown, "show-1.schema.json");
    assert_eq!(shown["record"]["number"], 1);
    assert_eq!(bench.run(&["take-in", &quick]).0, 2, "the name is taken");
    bench.done(&["take-in", &quick, "--again", "1"]);
    let listed = bench.json(&["show", "--json"]);
    valid(&listed, "list-1.schema.json");
    assert_eq!(listed["stones"][0]["revisions"], 1, "the same file again");

    let few = ["--interiors", "24", "--effort", "quick", "--json"];
    let bid = bench.json(&[&["bid", "Lantern 3"], &few[..]].concat());
    valid(&bid, "bid-1.schema.json");
    assert_eq!(bid["n_interiors"], 24);
    assert_eq!(bid["prices_invented"], true);
    assert_eq!(
        bench.json(&[&["bid", "1"], &few[..]].concat()),
        bid,
        "the same seed, the same answer"
    );

    bench.done(&["export", "1", "--out", "whole.json"]);
    let whole = std::fs::read_to_string(bench.0.path().join("whole.json")).expect("written");
    let other = Bench::new();
    let path = other.write("whole.json", &whole);
    assert_eq!(other.json(&["import", &path, "--json"])["added"], true);
    assert_eq!(other.json(&["import", &path, "--json"])["added"], false);
    assert_eq!(
        other.json(&[&["bid", "lantern 3"], &few[..]].concat()),
        bid,
        "the stone is the same in another store"
    );

    bench.done(&["backup", "copy.db"]);
    assert_eq!(bench.run(&["backup", "copy.db"]).0, 2, "never overwrites");
    bench.done(&["restore", "copy.db"]);
    assert_eq!(bench.json(&["show", "--json"]), listed);
}

#[test]
fn the_inside_is_told_at_each_place() {
    let bench = Bench::new();
    let points = bench.write("points.csv", "x_mm,y_mm\n20,14\n500,500\n");
    let scan = examples("scan.toml").display().to_string();
    let doc = bench.json(&[
        "interior",
        &scan,
        "--at",
        &points,
        "--quantiles",
        "0.05,0.5,0.95",
        "--interiors",
        "100",
        "--json",
    ]);
    valid(&doc, "interior-1.schema.json");
    let bar = &doc["points"][0]["bars"][0];
    let top = |level: &str| bar["top_mm"][level].as_f64().expect("a number");
    assert!(top("0.05") < top("0.5") && top("0.5") < top("0.95"));
    assert_eq!(bar["thickness_mm"].as_object().expect("levels").len(), 3);
    assert_eq!(doc["points"][1]["bars"], Value::Array(vec![]), "outside");
    assert!(
        !bench.0.path().join("stones.db").exists(),
        "looking at a file makes no store"
    );
}

#[test]
fn what_the_cutter_decided_is_planned() {
    let bench = Bench::new();
    let quick_look = examples("quick-look.toml").display().to_string();
    let plan = |more: &[&str]| -> (i32, String, String) {
        let few = ["--interiors", "24", "--effort", "quick", "--json"];
        bench.run(&[&["plan", &quick_look], &few[..], more].concat())
    };
    let planned = |more: &[&str]| -> Value {
        let (code, out, err) = plan(more);
        assert_eq!(code, 0, "{more:?}\n{err}");
        serde_json::from_str(&out).expect("one JSON document")
    };
    let doc = planned(&[
        "--order",
        "a pair of 6 × 4",
        "--most-stones",
        "1",
        "--kerf",
        "0.8",
        "--saw-reach",
        "40",
    ]);
    valid(&doc, "plan-1.schema.json");
    assert_eq!(doc["asked"]["orders"][0], "a matched pair of oval 6 × 4 mm");
    assert_eq!(doc["asked"]["kerf_mm"], 0.8);
    assert_eq!(doc["asked"]["saw_reach_mm"], 40.0);
    let plans = doc["plans"].as_array().expect("plans");
    let ordered = plans
        .iter()
        .find(|p| p["origin"] == "ordered")
        .expect("filled");
    assert_eq!(ordered["stones"].as_array().expect("stones").len(), 2);
    let cuts = ordered["cuts"].as_array().expect("cuts");
    assert!(!cuts.is_empty() && cuts.iter().all(|cut| cut["kerf_mm"] == 0.8));
    // Its own freeform, pinned.
    let freeform = plans
        .iter()
        .find(|p| p["kind"] == "freeform")
        .expect("a freeform");
    let outline = freeform["stones"][0]["outline_mm"]
        .as_array()
        .expect("points");
    let xy = |p: &Value| (p[0].as_f64().expect("x"), p[1].as_f64().expect("y"));
    let rows = outline.iter().map(|p| format!("{},{}\n", xy(p).0, xy(p).1));
    let pin = bench.write("pin.csv", &rows.collect::<String>());
    let doc = planned(&["--most-stones", "1", "--pin", &pin]);
    let plans = doc["plans"].as_array().expect("plans");
    assert!(plans.iter().any(|p| p["origin"] == "pinned"));
    // Everything left of its middle forbidden: no stone reaches there.
    let (low, high) = outline
        .iter()
        .map(|p| xy(p).0)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
            (low.min(x), high.max(x))
        });
    let middle = 0.5 * (low + high);
    let left = format!("-99,-99\n{middle},-99\n{middle},99\n-99,99\n");
    let forbid = bench.write("forbid.csv", &left);
    let doc = planned(&["--most-stones", "1", "--forbid", &forbid]);
    valid(&doc, "plan-1.schema.json");
    let plans = doc["plans"].as_array().expect("plans");
    let points: Vec<f64> = plans
        .iter()
        .flat_map(|p| p["stones"].as_array().expect("stones"))
        .flat_map(|s| s["outline_mm"].as_array().expect("points"))
        .map(|p| xy(p).0)
        .collect();
    assert!(!points.is_empty() && points.iter().all(|x| *x >= middle));
    let (code, _, err) = plan(&["--forbid", &bench.write("line.csv", "0,0\n9,9\n")]);
    assert!(code == 2 && err.contains("forbid"), "{err}");
    // Too much for the piece, and words that are no order: refused, and why.
    let (code, _, err) = plan(&["--order", "two 40 x 30"]);
    assert!(code == 2 && err.contains("does not fit the piece"), "{err}");
    let (code, _, err) = plan(&["--order", "a blob", "--order", "8 x"]);
    assert!(
        code == 2 && err.contains("a blob") && err.contains("8 x"),
        "{err}"
    );
    let (code, _, err) = plan(&["--kerf=-1"]);
    assert!(code == 2 && err.contains("kerf"), "{err}");
}

#[test]
fn the_price_book_is_shown_replaced_and_used() {
    let bench = Bench::new();
    let shown = bench.json(&["price-book", "--json"]);
    assert_eq!(shown["invented"], true);
    bench.done(&["price-book", "--out", "prices.toml"]);
    let text = std::fs::read_to_string(bench.0.path().join("prices.toml")).expect("written");
    let own = text.replace("invented = true", "invented = false");
    let path = bench.write("own.toml", &own);
    bench.done(&["price-book", &path]);
    assert_eq!(bench.json(&["price-book", "--json"])["invented"], false);
}

#[test]
fn the_demo_goes_through_the_whole_job() {
    let bench = Bench::new();
    let args = [
        "demo",
        "--no-serve",
        "--json",
        "--interiors",
        "60",
        "--out",
        "s.pdf",
    ];
    let text = bench.done(&args);
    let doc: Value = serde_json::from_str(&text).expect("JSON");
    valid(&doc, "demo-1.schema.json");
    assert_eq!(doc["invented"], true);
    let pdf = || std::fs::read(bench.0.path().join("s.pdf")).expect("the sheet");
    let first = pdf();
    assert!(first.starts_with(b"%PDF-"));
    assert_eq!(bench.done(&args), text, "same seed, same bytes");
    assert_eq!(pdf(), first, "and the same sheet");
    assert!(
        !bench.0.path().join("stones.db").exists(),
        "it keeps nothing"
    );
    let mut told = BTreeSet::new();
    fields(&doc, "", &mut told);
    let told: Vec<String> = told.into_iter().collect();
    insta::assert_snapshot!("demo_fields", told.join("\n"));
}
