//! Evidence files that read, and the published schema.

#![allow(clippy::panic)] // a test says what it met

use opal_evidence::{Brightness, Evidence, Form, Seen, Shape, TorchLook, Variety};
use opal_files::{
    Folder, NoAttachments, evidence_schema, evidence_to_json, evidence_to_toml, read_evidence,
    read_evidence_file,
};
use std::path::{Path, PathBuf};

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples")
}

fn example(name: &str) -> Evidence {
    read_evidence_file(&examples().join(name)).unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn the_quick_look_reads() {
    let evidence = example("quick-look.toml");
    assert_eq!(evidence.piece.form, Form::Seam);
    assert!((evidence.piece.weight.expect("weighed").carats() - 139.5).abs() < 1e-9);
    assert!(!evidence.piece.gravity.measured);
    assert_eq!(
        evidence.piece.asking.expect("asked").to_string(),
        "650.00 AUD"
    );
    let quick = evidence.bars[0].quick.as_ref().expect("a quick look");
    assert_eq!(quick.edge_share, 0.5);
    assert_eq!(quick.top.expect("judged").sigma.mm(), 1.0);
    assert_eq!(evidence.torch, Some(TorchLook::Specks));
    assert_eq!(evidence.look.variety, Some(Variety::Dark));
    assert_eq!(
        evidence.look.brightness,
        [Brightness::Bright, Brightness::VeryBright]
    );
}

#[test]
fn the_outline_reads() {
    let evidence = example("outline.toml");
    let Shape::Outline(outline) = &evidence.shape else {
        panic!("an outline");
    };
    assert_eq!(outline.base_mm.len(), 1);
    assert!((evidence.piece.weight.expect("weighed").grams() - 13.6).abs() < 1e-12);
    assert_eq!(evidence.bars.len(), 2);
    assert!(matches!(evidence.bars[0].sightings[3].seen, Seen::Absent));
    assert_eq!(evidence.exposures[0].specks.len(), 2);
    assert!((evidence.cracks[0].dip.degrees() - 80.0).abs() < 1e-9);
}

#[test]
fn a_step_reads_comes_back_and_needs_two_points() {
    let text = std::fs::read_to_string(examples().join("outline.toml")).expect("reads");
    let with = |trace: &str| {
        let text = format!("{text}\n[step]\ntrace_mm = {trace}\nrise_mm = -1.5\n");
        read_evidence("step.toml", text.as_bytes(), &NoAttachments)
    };
    let evidence = with("[[6.0, 10.0], [30.0, 11.0]]").expect("reads");
    let step = evidence.step.expect("a step");
    assert_eq!((step.from_mm, step.to_mm), ([6.0, 10.0], [30.0, 11.0]));
    let rise = step.rise.expect("judged");
    assert_eq!((rise.value.mm(), rise.sigma.mm()), (-1.5, 0.3));
    let again = evidence_to_toml(&evidence);
    let again = read_evidence("again.toml", again.as_bytes(), &NoAttachments).expect("reads");
    assert_eq!(again.step, evidence.step);
    let fault = with("[[6.0, 10.0], [6.0, 10.0]]").expect_err("one point");
    assert!(
        fault.to_string().contains("give two points that differ"),
        "{fault}"
    );
    assert!(with("[[6.0, 10.0]]").is_err());
}

#[test]
fn the_scan_reads() {
    let evidence = example("scan.toml");
    let Shape::Scan(scan) = &evidence.shape else {
        panic!("a scan");
    };
    assert_eq!(scan.mesh.faces.len(), 5120);
    assert!(scan.repairs.is_empty(), "{:?}", scan.repairs);
    assert_eq!(evidence.bars[0].sightings.len(), 9);
    assert_eq!(evidence.look.brightness, [Brightness::Bright]);
}

#[test]
fn a_stone_in_inches_comes_out_in_millimetres() {
    let text = std::fs::read_to_string(examples().join("scan.toml")).expect("reads");
    let text = text.replace("unit = \"mm\"", "unit = \"inch\"");
    let folder = Folder::new(examples());
    // 38 inches of opal: the sightings then lie in one corner of it, which is allowed.
    let faults = read_evidence("inch.toml", text.as_bytes(), &folder);
    match faults {
        Ok(evidence) => {
            let Shape::Scan(scan) = &evidence.shape else {
                panic!("a scan");
            };
            let bounds = scan.mesh.bounds().expect("a box");
            assert!(bounds.longest_mm() > 900.0);
            assert!(!scan.repairs.is_empty(), "the unit is asked about");
        }
        Err(faults) => assert!(faults.to_string().contains("mm"), "{faults}"),
    }
}

#[test]
fn evidence_comes_back_from_toml_and_json() {
    for name in ["quick-look.toml", "outline.toml", "scan.toml"] {
        let evidence = example(name);
        let folder = Folder::new(examples());
        let toml = evidence_to_toml(&evidence);
        let again = read_evidence("again.toml", toml.as_bytes(), &folder)
            .unwrap_or_else(|faults| panic!("{faults}\n{toml}"));
        assert_close(&again, &evidence);
        let json = evidence_to_json(&evidence).to_string();
        let again = read_evidence("again.json", json.as_bytes(), &folder)
            .unwrap_or_else(|faults| panic!("{faults}"));
        assert_close(&again, &evidence);
        assert_eq!(evidence_to_toml(&again), toml);
    }
}

/// The same evidence, but for the last digit of weights and angles, which are
/// held in other units than they are written in.
fn assert_close(a: &Evidence, b: &Evidence) {
    let (mut a, b) = (a.clone(), b.clone());
    for (x, y) in a.cracks.iter_mut().zip(&b.cracks) {
        assert!((x.dip.degrees() - y.dip.degrees()).abs() < 1e-9);
        x.dip = y.dip;
    }
    if let (Some(x), Some(y)) = (a.piece.weight, b.piece.weight) {
        assert!((x.carats() / y.carats() - 1.0).abs() < 1e-12);
        a.piece.weight = b.piece.weight;
    }
    assert_eq!(a, b);
}

#[test]
fn level_by_bar_turns_scan_and_sightings_together() {
    let text = std::fs::read_to_string(examples().join("scan.toml")).expect("reads");
    let start = text.find("stone_from_mesh").expect("there");
    let end = start + text[start..].find('\n').expect("a line");
    let text = format!("{}level_by_bar = true{}", &text[..start], &text[end..]);
    let evidence = read_evidence("level.toml", text.as_bytes(), &Folder::new(examples()))
        .unwrap_or_else(|faults| panic!("{faults}"));
    let Shape::Scan(scan) = &evidence.shape else {
        panic!("a scan");
    };
    assert!(scan.stone_from_mesh.is_some());
}

#[test]
fn a_wrong_word_offers_the_right_one() {
    let text = "format = \"opalwright-evidence/1\"\n[piece]\nnaem = \"x\"\nform = \"boulde\"\n";
    let faults = read_evidence("x.toml", text.as_bytes(), &NoAttachments).expect_err("faults");
    let text = faults.to_string();
    assert!(
        text.contains("x.toml:3: piece.naem is not a known field; did you mean name?"),
        "{text}"
    );
    assert!(text.contains("did you mean \"boulder\"?"), "{text}");
    assert!(text.contains("shape is missing"), "{text}");
}

fn schema_path() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema/evidence-1.schema.json")
}

#[test]
fn the_published_schema_is_fresh() {
    let fresh = serde_json::to_string_pretty(&evidence_schema()).expect("writes") + "\n";
    if std::env::var_os("OPAL_BLESS").is_some() {
        std::fs::write(schema_path(), &fresh).expect("written");
    }
    let kept = std::fs::read_to_string(schema_path()).unwrap_or_default();
    assert!(
        kept == fresh,
        "docs/schema/evidence-1.schema.json is stale: run this test with OPAL_BLESS=1"
    );
}

/// Checked with a general-purpose validator, the `jsonschema` crate.
#[test]
fn the_examples_are_valid_by_the_published_schema() {
    let validator = jsonschema::validator_for(&evidence_schema()).expect("a schema");
    for name in ["quick-look.toml", "outline.toml", "scan.toml"] {
        let text = std::fs::read_to_string(examples().join(name)).expect("reads");
        let tree: toml::Value = toml::from_str(&text).expect("TOML");
        let json = serde_json::to_value(tree).expect("JSON");
        let errors: Vec<String> = validator
            .iter_errors(&json)
            .map(|e| e.to_string())
            .collect();
        assert!(errors.is_empty(), "{name}: {errors:?}");
    }
    let written = evidence_to_json(&example("outline.toml"));
    assert!(validator.is_valid(&written));
    assert!(!validator.is_valid(&serde_json::json!({ "format": "opalwright-evidence/1" })));
}
