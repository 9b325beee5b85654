//! Domes: their volumes, and how one lies inside a layer.

use crate::lp::{LpError, maximise};
use std::f64::consts::PI;

/// Volume of a paraboloid on an ellipse of semi-axes `a`, `b`, mm³.
#[must_use]
pub fn paraboloid_volume(a: f64, b: f64, height: f64) -> f64 {
    PI * a * b * height / 2.0
}

/// Volume of the cap of an ellipsoid of vertical semi-axis `c ≥ height`, whose
/// base is an ellipse of semi-axes `a`, `b`: π·a·b·h·(3c − h) / (3(2c − h)),
/// the spherical cap's formula stretched along two axes.
#[must_use]
pub fn ellipsoidal_cap_volume(a: f64, b: f64, height: f64, c: f64) -> f64 {
    PI * a * b * height * (3.0 * c - height) / (3.0 * (2.0 * c - height))
}

/// Volume of a spherical cap of base radius `a`: πh(3a² + h²)/6.
#[must_use]
pub fn spherical_cap_volume(a: f64, height: f64) -> f64 {
    PI * height * (3.0 * a * a + height * height) / 6.0
}

/// Share of the box (area × height) under a dome that rises as 1 − ρ^exponent
/// along every ray: exponent / (exponent + 2), whatever the outline.
#[must_use]
pub fn power_dome_fill(exponent: f64) -> f64 {
    exponent / (exponent + 2.0)
}

/// One place that a dome must pass: inside a layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DomeSite {
    /// From the crown along x, mm.
    pub dx: f64,
    /// From the crown along y, mm.
    pub dy: f64,
    /// How much of the dome's height stands here, 0 at the edge and 1 at the crown.
    pub rise: f64,
    /// The surface must stay above this, mm.
    pub floor: f64,
    /// The surface must stay below this, mm.
    pub ceiling: f64,
}

/// A dome inside a layer: z = `edge[0] + edge[1]·dx + edge[2]·dy + height·rise`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FittedDome {
    /// The edge plane about the crown.
    pub edge: [f64; 3],
    /// Rise from the edge to the crown, mm.
    pub height: f64,
    /// Least distance from floor and ceiling, mm; negative where it must leave
    /// the layer.
    pub margin: f64,
}

/// The dome that keeps farthest from floor and ceiling of a layer.
///
/// # Method
/// Linear in plane, height and margin, hence one small programme
/// ([`maximise`]); tilt is taken as shear, exact to 1 − cos of the tilt.
///
/// # Errors
/// Bounds that exclude each other.
pub fn fit_dome(
    sites: &[DomeSite],
    most_slope: f64,
    heights: (f64, f64),
) -> Result<FittedDome, LpError> {
    const REACH: f64 = 1e4;
    // A trace of reward for height makes the answer one where several fit; it
    // costs at most a millionth of the margin.
    const TASTE: f64 = 1e-6;
    let [c, a, b, height, margin] = maximise(
        [0.0, 0.0, 0.0, TASTE, 1.0],
        [
            (-REACH, REACH),
            (-most_slope, most_slope),
            (-most_slope, most_slope),
            heights,
            (-REACH, REACH),
        ],
        2 * sites.len(),
        |k| {
            let site = &sites[k / 2];
            if k % 2 == 0 {
                ([1.0, site.dx, site.dy, site.rise, 1.0], site.ceiling)
            } else {
                ([-1.0, -site.dx, -site.dy, -site.rise, 1.0], -site.floor)
            }
        },
    )?;
    Ok(FittedDome {
        edge: [c, a, b],
        height,
        margin,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Base 4 × 3, height 2.5 (closed forms; the last is the limit c → ∞).
    #[test]
    fn caps_by_closed_form() {
        for (c, volume) in [
            (2.5, 62.831_853),
            (3.0, 58.343_864),
            (5.0, 52.359_878),
            (10.0, 49.367_885),
        ] {
            assert!((ellipsoidal_cap_volume(4.0, 3.0, 2.5, c) - volume).abs() < 1e-5);
        }
        assert!((paraboloid_volume(4.0, 3.0, 2.5) - 47.123_890).abs() < 1e-6);
        assert!((spherical_cap_volume(5.0, 3.0) - 131.946_891).abs() < 1e-6);
        let filled = power_dome_fill(2.0) * PI * 12.0 * 2.5;
        assert!((filled - 47.123_890).abs() < 1e-6);
    }

    fn curved_layer(tilt: f64) -> Vec<DomeSite> {
        let mut sites = Vec::new();
        for i in -80..=80_i32 {
            for j in -60..=60_i32 {
                let (dx, dy) = (f64::from(i) / 20.0, f64::from(j) / 20.0);
                let q = (dx / 4.0).powi(2) + (dy / 3.0).powi(2);
                if q <= 1.0 {
                    let ceiling = 3.0 - 0.05 * (dx * dx + dy * dy) + tilt * dx;
                    sites.push(DomeSite {
                        dx,
                        dy,
                        rise: 1.0 - q,
                        floor: ceiling - 2.0,
                        ceiling,
                    });
                }
            }
        }
        sites
    }

    /// Layer 2 thick under 3 − 0.05(x² + y²) + 0.3x, ellipse 4 × 3: margin is
    /// 1 − ½·range{(h − 0.8)u, (h − 0.45)u : 0 ≤ u ≤ 1} (closed form).
    #[test]
    fn dome_in_a_curved_layer() {
        for tilt in [0.0, 0.3] {
            let sites = curved_layer(tilt);
            for (height, margin) in [(2.5, -0.025), (1.5, 0.475), (0.6, 0.825), (0.3, 0.75)] {
                let dome = fit_dome(&sites, 1.0, (height, height)).expect("fits");
                assert!((dome.margin - margin).abs() < 1e-5, "{height}: {dome:?}");
                assert!((dome.edge[1] - tilt).abs() < 0.06, "{dome:?}");
            }
            let free = fit_dome(&sites, 1.0, (0.0, 3.0)).expect("fits");
            assert!((free.margin - 0.825).abs() < 1e-5);
            assert!((0.45..=0.8 + 1e-6).contains(&free.height));
        }
    }
}
