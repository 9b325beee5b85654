//! Outlines measured by shapely, planes and domes fitted by scipy's linear
//! programming (versions in the data file, made by
//! tests/reference/outlines.py), and by ours.

use opal_geom::Outline;
use opal_geom::dome::{DomeSite, fit_dome};
use opal_geom::inscribed::largest_circle;
use opal_geom::plane::minimax_plane;
use serde_json::Value;
use std::f64::consts::TAU;

fn data() -> Value {
    let text = include_str!("../../../tests/reference/outlines.json");
    serde_json::from_str(text).expect("the data file is JSON")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// The same outline as in the script.
fn wavy(k: f64) -> Outline {
    let points = (0..240)
        .map(|i| {
            let t = TAU * f64::from(i) / 240.0;
            let r = 8.0
                + (1.0 + 0.2 * k) * (2.0 * t + k).cos()
                + 0.8 * (3.0 * t - 0.5 * k).sin()
                + 0.4 * (5.0 * t).cos();
            [r * t.cos() + 0.3 * k, r * t.sin() - 0.7 * k]
        })
        .collect();
    Outline::new(points).expect("an outline")
}

#[test]
fn outlines_are_those_of_shapely() {
    for facts in data()["outlines"].as_array().expect("a list") {
        let outline = wavy(number(&facts["k"]));
        let near = |found: f64, key: &str, tolerance: f64| {
            let wanted = number(&facts[key]);
            assert!(
                (found - wanted).abs() <= tolerance,
                "{key}: {found} against {wanted}"
            );
        };
        near(outline.area(), "area", 1e-9);
        near(outline.perimeter(), "perimeter", 1e-9);
        near(outline.convex_hull().area(), "hull_area", 1e-9);
        near(
            largest_circle(&outline, 1e-6).radius,
            "largest_circle_radius",
            3e-6,
        );
        near(outline.clearance([1.0, 2.0]), "clearance_at_1_2", 1e-9);
        // Round joins are chords in both; hence the wider tolerance.
        for (by, key) in [(1.0, "grown_by_1"), (-1.0, "shrunk_by_1")] {
            near(
                outline.offset(by).iter().map(Outline::area).sum(),
                key,
                0.01,
            );
        }
        let centroid = outline.centroid();
        for d in 0..2 {
            assert!((centroid[d] - number(&facts["centroid"][d])).abs() < 1e-9);
        }
    }
}

#[test]
fn the_minimax_plane_is_that_of_scipy() {
    let points: Vec<[f64; 3]> = (0..400)
        .map(|i| {
            let i = f64::from(i);
            let x = 10.0 * (12.9898 * i).sin();
            let y = 7.0 * (78.233 * i + 1.0).sin();
            [
                x,
                y,
                0.3 * x - 0.1 * y + 0.02 * x * y + 0.5 * (37.719 * i).sin(),
            ]
        })
        .collect();
    let plane = minimax_plane(&points).expect("settles");
    let wanted = number(&data()["plane"]["largest_error"]);
    assert!((plane.largest_error - wanted).abs() < 1e-7);
}

#[test]
fn the_dome_in_a_wavy_layer_is_that_of_scipy() {
    let mut sites = Vec::new();
    for j in 0..=40 {
        for i in 0..=40 {
            let (dx, dy) = (-5.0 + f64::from(i) / 4.0, -5.0 + f64::from(j) / 4.0);
            let q = (dx / 5.0_f64).powi(2) + (dy / 3.5_f64).powi(2);
            if q > 1.0 {
                continue;
            }
            let ceiling = 3.0 - 0.04 * dx * dx - 0.03 * dy * dy
                + 0.15 * dx
                + 0.2 * (1.3 * dx + 0.4 * dy).sin();
            let floor = ceiling - 1.5 - 0.3 * (0.9 * dy).cos();
            sites.push(DomeSite {
                dx,
                dy,
                rise: 1.0 - q,
                floor,
                ceiling,
            });
        }
    }
    for facts in data()["domes"].as_array().expect("a list") {
        let most_slope = number(&facts["most_slope"]);
        let dome = fit_dome(&sites, most_slope, (0.0, 3.0)).expect("fits");
        let wanted = number(&facts["margin"]);
        assert!(
            (dome.margin - wanted).abs() < 5e-6,
            "{} against {wanted}",
            dome.margin
        );
    }
}
