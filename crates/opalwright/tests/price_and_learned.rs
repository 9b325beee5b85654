//! `price` and `learned`: a stone is planned, finished, priced, and learned from.

use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;

const PIECE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../../examples/quick-look.toml"
);

fn run(folder: &Path, args: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::cargo_bin("opalwright")
        .expect("the binary")
        .current_dir(folder)
        .env("OPALWRIGHT_STORE", folder.join("stones.db"))
        .args(args)
        .output()
        .expect("runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (
        output.status.code(),
        text(&output.stdout),
        text(&output.stderr),
    )
}

fn json(folder: &Path, args: &[&str], schema: &str) -> Value {
    let (code, said, wrong) = run(folder, args);
    assert_eq!(code, Some(0), "{args:?}: {wrong}");
    let doc: Value = serde_json::from_str(&said).expect("JSON");
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../docs/schema")
        .join(schema);
    let schema: Value =
        serde_json::from_str(&std::fs::read_to_string(path).expect("checked in")).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema");
    assert!(validator.is_valid(&doc), "{doc}");
    doc
}

const FINISHED: [&str; 8] = [
    "--carats",
    "5.4",
    "--sizes",
    "18,13,3.4",
    "--colour",
    "2.2",
    "--grade",
    "variety=light",
];

fn amount(doc: &Value, level: &str) -> f64 {
    doc["amount"][level].as_f64().expect("a number")
}

#[test]
fn what_nobody_judged_widens_the_price_and_thick_backs_go_by_the_piece() {
    let folder = tempfile::tempdir().expect("a folder");
    let here = folder.path();
    let ask = |more: &[&str]| {
        let args = [&["price", "One", "--json"], &FINISHED[..], more].concat();
        json(here, &args, "price-1.schema.json")
    };
    let bright = ask(&["--grade", "brightness=bright", "--cost", "100"]);
    let open = ask(&[]);
    let width = |doc: &Value| (amount(doc, "0.95") / amount(doc, "0.05")).ln();
    assert!(width(&open) > 1.2 * width(&bright));
    assert_eq!(bright["price_by"], "carat");
    let asking = &bright["asking"];
    assert!(asking["ask"].as_f64() >= asking["floor"].as_f64());
    assert!(open["asking"].get("floor").is_none());
    assert_eq!(bright["sales"], serde_json::json!([0, 0, 0]));
    assert_eq!(bright["prices_invented"], true);
    assert!(
        open["finished"]["not_judged"]
            .to_string()
            .contains("brightness")
    );

    let thick = [
        "price",
        "Two",
        "--json",
        "--carats",
        "9",
        "--sizes",
        "18,13,6",
        "--colour",
        "1.5",
        "--grade",
        "variety=light",
        "--grade",
        "brightness=bright",
    ];
    let thick = json(here, &thick, "price-1.schema.json");
    assert_eq!(thick["price_by"], "piece");
    assert!(thick["counted_ct"].as_f64() < Some(9.0));
    assert!(thick["why"].to_string().contains("backing"));

    let (code, _, wrong) = run(
        here,
        &[&["price", "One", "--grade", "brightness=5"], &FINISHED[..]].concat(),
    );
    assert_eq!(code, Some(2));
    assert!(
        wrong.contains("very bright") && wrong.contains("--scales"),
        "{wrong}"
    );
    // All that is wrong is told at once, whatever part of the description it is in.
    let wrong_all_over = [
        "price",
        "One",
        "--carats",
        "-3",
        "--sizes",
        "18,13,3.4",
        "--outline",
        "blob",
        "--grade",
        "brightness=5",
    ];
    let (code, _, wrong) = run(here, &wrong_all_over);
    assert_eq!(code, Some(2));
    for told in ["3 things", "the weight in ct", "-3", "'blob'", "'5'"] {
        assert!(wrong.contains(told), "{told}: {wrong}");
    }
    // A wrong size limits no other size: what follows from it is not told as well.
    let thin = ["price", "One", "--carats", "3", "--sizes=-10,8,-2"];
    let (code, _, wrong) = run(here, &thin);
    assert_eq!(code, Some(2));
    for told in ["2 things", "the length in mm", "the thickness in mm"] {
        assert!(wrong.contains(told), "{told}: {wrong}");
    }
    let (code, scales, _) = run(here, &["price", "--scales"]);
    assert_eq!(code, Some(0));
    assert!(scales.contains("brilliant") && scales.contains("N1 black to N9 white"));
}

#[test]
fn a_finished_stone_is_held_against_its_forecast() {
    let folder = tempfile::tempdir().expect("a folder");
    let here = folder.path();
    let none = json(here, &["learned", "--json"], "learned-1.schema.json");
    assert_eq!(none["stones"], 0);
    assert_eq!(run(here, &["take-in", PIECE]).0, Some(0));
    let few = ["--interiors", "40", "--cell", "0.8", "--effort", "quick"];
    let plan = [&["plan", "1", "--json"], &few[..]].concat();
    assert_eq!(run(here, &plan).0, Some(0));
    let priced = [&["price", "1", "--json"], &FINISHED[..]].concat();
    json(here, &priced, "price-1.schema.json");
    let doc = json(here, &["learned", "--json"], "learned-1.schema.json");
    assert_eq!((&doc["stones"], &doc["finished"]), (&1.into(), &1.into()));
    let (code, text, _) = run(here, &["learned"]);
    assert_eq!(code, Some(0));
    assert!(text.contains("1 stone on record, 1 finished"), "{text}");

    // Bought, and sold at twice the middle: the next price knows of it, and says that one
    // sale teaches next to nothing.
    let before = json(here, &priced, "price-1.schema.json");
    let twice = format!("{:.2}", 2.0 * amount(&before, "0.5"));
    let bought = ["ledger", "buy", "1", "50", "--date", "2026-01-05"];
    let (code, _, wrong) = run(here, &bought);
    assert_eq!(code, Some(0), "{wrong}");
    let sold = [
        "ledger",
        "sell",
        "1",
        twice.as_str(),
        "--date",
        "2026-03-05",
    ];
    let (code, _, wrong) = run(here, &sold);
    assert_eq!(code, Some(0), "{wrong}");
    let after = json(here, &priced, "price-1.schema.json");
    assert_eq!(after["sales"][0], 1);
    let moved = amount(&after, "0.5") / amount(&before, "0.5");
    assert!(moved > 0.95 && moved < 1.2, "{moved}");
    let learned = after["learned"].as_f64().expect("a number");
    assert!(learned < 0.25, "{learned}");
    assert!(after["why"].to_string().contains("know too little"));
    let doc = json(here, &["learned", "--json"], "learned-1.schema.json");
    assert!(doc["forecasts"].to_string().contains("price"), "{doc}");
}

/// An invented piece of seam rough from Field A, with a bar of that thickness or, at 0,
/// with no bar in sight.
fn from_field_a(name: &str, thickness_mm: f64) -> String {
    let bar = if thickness_mm > 0.0 {
        format!(
            "[[bar]]\nname = \"A\"\n[[bar.sighting]]\nat_mm = [3.0, 7.0]\n\
             thickness_mm = {thickness_mm:.1}\nsigma_mm = 0.3\n\n"
        )
    } else {
        String::new()
    };
    format!(
        "format = \"opalwright-evidence/1\"\n\n[piece]\nname = \"{name}\"\nform = \"seam\"\n\
         origin = \"Field A\"\nweight_ct = 17.6\n\n[shape]\ncallipers = {{ length_mm = 20.0, \
         width_mm = 14.0, height_mm = 10.0, solidity = 0.6 }}\n\n{bar}[look]\n\
         variety = \"light\"\nbrightness = [\"bright\"]\n"
    )
}

/// Ten stones with bars three times the usual teach their field most of that, one of
/// them less than a fifth of what the ten do; the next piece from there starts from it.
#[test]
fn what_a_field_taught_flows_into_the_next_inside() {
    let folder = tempfile::tempdir().expect("a folder");
    let here = folder.path();
    let take_in = |name: &str, thickness_mm: f64| {
        let file = here.join(format!("{name}.toml"));
        std::fs::write(&file, from_field_a(name, thickness_mm)).expect("writes");
        let (code, _, wrong) = run(here, &["take-in", file.to_str().expect("a path")]);
        assert_eq!(code, Some(0), "{wrong}");
    };
    let thickness = || {
        let doc = json(here, &["learned", "--json"], "learned-1.schema.json");
        let taught = &doc["origins"][0]["taught"][0];
        assert_eq!(taught["what"], "bar-thickness");
        let level = |value: &Value| value.as_f64().expect("a number");
        (level(&taught["middle"]).ln(), level(&taught["between"][1]))
    };
    take_in("Stone 0", 5.4);
    let one = thickness();
    for k in 1..10 {
        take_in(&format!("Stone {k}"), 5.4);
    }
    let ten = thickness();
    assert!(one.0 > 0.0 && one.0 < 0.2 * ten.0, "{one:?} {ten:?}");
    assert!(ten.0.exp() > 2.0 && ten.1 < 4.0, "{ten:?}");
    take_in("Blank", 0.0);
    let plan = [
        "plan",
        "Blank",
        "--json",
        "--interiors",
        "40",
        "--cell",
        "0.8",
        "--effort",
        "quick",
    ];
    let doc = json(here, &plan, "plan-1.schema.json");
    let rests_on = doc["rests_on"].to_string();
    assert!(
        rests_on.contains("10 of your own stones from Field A taught"),
        "{rests_on}"
    );
    assert!(doc["plans"][0]["minutes"]["mean"].as_f64().is_some());
}

/// What came out far lighter than it was planned makes the money of the next plan more
/// careful, and says so; the planned weights stay those of the plan.
#[test]
fn the_next_plan_counts_on_what_finished_stones_weighed() {
    let folder = tempfile::tempdir().expect("a folder");
    let here = folder.path();
    let text = std::fs::read_to_string(PIECE).expect("the example");
    let name = text
        .lines()
        .find_map(|line| line.strip_prefix("name = "))
        .expect("named")
        .trim_matches('"')
        .to_owned();
    let few = ["--interiors", "40", "--cell", "0.8", "--effort", "quick"];
    let plan = |stone: &str| {
        let args = [&["plan", stone, "--json"], &few[..]].concat();
        json(here, &args, "plan-1.schema.json")
    };
    let counts = |doc: &Value| doc["rests_on"].to_string().contains("finished weights");
    for one in ["One", "Two", "Next"] {
        let file = here.join(format!("{one}.toml"));
        std::fs::write(&file, text.replace(&name, one)).expect("writes");
        let (code, _, wrong) = run(here, &["take-in", file.to_str().expect("a path")]);
        assert_eq!(code, Some(0), "{wrong}");
    }
    let before = plan("Next");
    assert!(!counts(&before), "{before}");
    let middle = "finished_weight_ct";
    let way = |doc: &Value, kind: &str| -> Value {
        let plans = doc["plans"].as_array().expect("a list");
        let way = plans.iter().find(|way| way["kind"] == kind);
        way.expect("planned").clone()
    };
    for one in ["One", "Two"] {
        let planned = way(&plan(one), "freeform")["stones"][0][middle]["0.5"].clone();
        let light = format!("{:.2}", 0.55 * planned.as_f64().expect("a number"));
        let sizes = ["--sizes", "30,20,4", "--outline", "freeform", "--json"];
        let priced = [&["price", one, "--carats", &light], &sizes[..]].concat();
        json(here, &priced, "price-1.schema.json");
    }
    let after = plan("Next");
    assert!(counts(&after), "{}", after["rests_on"]);
    let figures = |doc: &Value| {
        let way = way(doc, "freeform");
        let number = |value: &Value| value.as_f64().expect("a number");
        let worth = &way["value"]["adapting"]["mean"];
        (number(&way["stones"][0][middle]["0.5"]), number(worth))
    };
    let ((weight, worth), (weight_after, worth_after)) = (figures(&before), figures(&after));
    assert!(
        (weight_after / weight - 1.0).abs() < 0.1,
        "{weight} {weight_after}"
    );
    assert!(worth_after < worth, "{worth} {worth_after}");
}
