//! Volumes and areas of cut stones measured by trimesh (version in the data file,
//! made by tests/reference/domes.py), and by ours.

use opal_plan::{Back, CutKind, CutStone, DomeProfile};
use opal_units::{Angle, Length};
use serde_json::Value;
use std::f64::consts::TAU;

fn number(facts: &Value, key: &str) -> f64 {
    facts[key].as_f64().expect("a number")
}

/// The same stone as in the script.
fn stone(facts: &Value) -> CutStone {
    let of = |key: &str| number(facts, key);
    let mm = |key: &str| Length::from_mm(of(key));
    let outline_mm = (0..360)
        .map(|k| {
            let t = TAU * f64::from(k) / 360.0;
            let (sin, cos) = t.sin_cos();
            let sum = (cos / of("half_length")).abs().powf(of("power"))
                + (sin / of("half_width")).abs().powf(of("power"));
            let r = sum.powf(-1.0 / of("power")) * (1.0 + of("bulge") * (3.0 * t + 0.4).cos());
            [r * cos, r * sin]
        })
        .collect();
    let slope = |d: usize| facts["slope"][d].as_f64().expect("a number");
    CutStone {
        kind: CutKind::Freeform,
        outline_mm,
        crown_mm: [0.0; 2],
        turn: Angle::from_radians(0.0),
        edge_mm: [0.0, slope(0), slope(1)],
        dome: DomeProfile {
            height: mm("height"),
            exponent: of("exponent"),
        },
        back: Back {
            wall: mm("wall"),
            bevel: mm("bevel"),
        },
        bar: 0,
        natural: None,
    }
}

/// Sixteen rings lack less than a third of a percent of the dome.
#[test]
fn cut_stones_have_the_volume_that_trimesh_measures() {
    let text = include_str!("../../../tests/reference/domes.json");
    let data: Value = serde_json::from_str(text).expect("JSON");
    for (name, facts) in data["stones"].as_object().expect("a map") {
        let found = stone(facts).surface().volume_mm3();
        let wanted = number(facts, "volume_mm3");
        let off = found / wanted - 1.0;
        println!("{name}: {found:.3} against {wanted:.3} mm³");
        assert!((-0.003..=1e-6).contains(&off), "{name}: {found} {wanted}");
    }
}
