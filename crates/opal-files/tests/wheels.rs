//! Wheel files: the example reads, faults come at once, the schema is fresh.

use opal_files::{read_wheels, wheels_schema};
use std::path::Path;

const EXAMPLE: &str = include_str!("../../../examples/wheels.toml");

/// Sizes by the tables: 250 and 600 on diamond wheels, P1200 (ISO 6344).
#[test]
fn the_example_reads() {
    let set = read_wheels("wheels.toml", EXAMPLE.as_bytes()).expect("reads");
    assert_eq!(set.wheels.len(), 6);
    let paper = set.wheel("p1200 paper, wet").expect("there");
    assert_eq!(paper.grain.size.um(), 15.3);
    assert_eq!(paper.grain.words(), "1200 on the scale fepa-p, 15.3 µm");
    assert_eq!(set.roughing().expect("one").name, "250 diamond");
    assert!(set.wheels[5].damage_um.is_none() && set.wheels[5].wear.is_none());
    let (price, lasts) = set.saw.blade.expect("told");
    assert_eq!((price.minor(), lasts.mm2()), (6000, 30_000.0));
}

#[test]
fn a_grit_number_without_its_scale_is_refused_with_what_it_may_be() {
    let bare = EXAMPLE.replace(
        "{ scale = \"lapidary-diamond\", number = \"600\" }",
        "{ number = \"600\" }",
    );
    let said = read_wheels("w.toml", bare.as_bytes())
        .expect_err("refused")
        .to_string();
    for size in ["30 µm", "25.8 µm", "16 µm", "9.3 µm"] {
        assert!(said.contains(size), "{said}");
    }
}

#[test]
fn all_faults_come_at_once() {
    let bad = EXAMPLE
        .replace("number = \"3000\"", "number = \"3001\"")
        .replace("price = \"95.00\"", "price = \"95.001\"")
        .replace("lasts_mm3 = 20000.0\n", "")
        .replace("kind = \"polish\"", "kind = \"grind\"")
        .replace("blade_price = \"60.00\"\n", "");
    let faults = read_wheels("w.toml", bad.as_bytes())
        .expect_err("refused")
        .0;
    let fields: Vec<&str> = faults.iter().map(|f| f.field.as_str()).collect();
    for field in [
        "wheel[1].price",
        "wheel[2].lasts_mm3",
        "wheel[4].grit.number",
        "wheel[5].kind",
        "saw.blade_price",
    ] {
        assert!(fields.contains(&field), "{field}: {fields:?}");
    }
    assert!(faults.iter().all(|f| f.line.is_some()), "{faults:?}");
}

#[test]
fn wheels_that_do_not_get_finer_are_refused() {
    let swapped = EXAMPLE.replace("number = \"250\"", "number = \"60\"");
    let faults = read_wheels("w.toml", swapped.as_bytes())
        .expect_err("refused")
        .0;
    assert_eq!(faults[0].field, "wheel[1].grit");
}

/// Run with `OPAL_BLESS=1` to write it afresh.
#[test]
fn the_published_schema_is_fresh() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema/wheels-1.schema.json");
    let fresh = serde_json::to_string_pretty(&wheels_schema()).expect("writes") + "\n";
    if std::env::var_os("OPAL_BLESS").is_some() {
        std::fs::write(&path, &fresh).expect("written");
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == fresh,
        "wheels-1.schema.json is stale: run this test with OPAL_BLESS=1"
    );
}
