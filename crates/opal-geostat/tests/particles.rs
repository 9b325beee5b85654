//! Sections of a measured packing: N. Finney's ball bearings (Finney 1970, Proc.
//! R. Soc. A 319), cut by nine planes. Every true radius is 1.

use opal_geostat::stereology::{CountedSurface, GammaRate, ParticlePosterior, SizePrior};
use std::path::Path;

fn rows(name: &str) -> Option<Vec<Vec<f64>>> {
    let path = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared/data"))
        .join("G_particles")
        .join(name);
    let Ok(text) = std::fs::read_to_string(path) else {
        println!("skipped: no shared data");
        return None;
    };
    Some(
        text.lines()
            .skip(1)
            .map(|l| l.split(',').map(|v| v.parse().expect("a number")).collect())
            .collect(),
    )
}

/// N_A = N_V·D̄ and a mean section of π/4 diameters on a real packing, away from
/// its rim; and the likelihood finds one size, where the sections spread by 28 %.
#[test]
fn a_real_packing_unfolds_to_one_size() {
    let (Some(centres), Some(sections)) = (
        rows("finney_ball_bearing_packing_centres.csv"),
        rows("finney_plane_sections.csv"),
    ) else {
        return;
    };
    // The core: planes |z| ≤ 10 and points within 11 of the axis lie well
    // inside the packing's radius of 18.5.
    let within = |x: f64, y: f64| x.hypot(y) < 11.0;
    let balls = centres
        .iter()
        .filter(|c| within(c[1], c[2]) && c[3].abs() < 10.0)
        .count() as f64;
    let disc = std::f64::consts::PI * 121.0;
    let per_volume = balls / (disc * 20.0);
    let seen: Vec<f64> = sections
        .iter()
        .filter(|s| within(s[1], s[2]))
        .map(|s| 2.0 * s[3])
        .collect();
    let mut planes: Vec<i64> = sections.iter().map(|s| (s[0] * 1000.0) as i64).collect();
    planes.sort_unstable();
    planes.dedup();
    let area = disc * planes.len() as f64;
    let per_area = seen.len() as f64 / area;
    // Diameter 2. A dense packing is more even than Poisson: 5 % is wide.
    assert!(
        (per_area / (2.0 * per_volume) - 1.0).abs() < 0.05,
        "{per_area} {per_volume}"
    );
    let mean = seen.iter().sum::<f64>() / seen.len() as f64;
    assert!(
        (mean / 2.0 - std::f64::consts::FRAC_PI_4).abs() < 0.02,
        "{mean}"
    );

    let after = ParticlePosterior::learn(
        GammaRate::new(0.5, 5.0).expect("valid"),
        SizePrior {
            median_mm: 2.5,
            log_spread: 0.5,
            log_sd: 0.15,
            log_sd_spread: 0.6,
        },
        &[CountedSurface {
            area_mm2: area,
            ground_mm: 0.0,
            smallest_mm: 0.2,
            sections_mm: seen.into_iter().filter(|&d| d >= 0.2).collect(),
        }],
        1.0,
    )
    .expect("valid");
    assert!(
        (after.median_mm() / 2.0 - 1.0).abs() < 0.06,
        "{}",
        after.median_mm()
    );
    assert!((after.mean_per_mm3() / per_volume - 1.0).abs() < 0.08);
}
