//! The outlines that settings are made for, from two sizes.

use crate::outline::Outline;
use std::f64::consts::{PI, TAU};

/// An ellipse of full sizes `length` (along x) and `width`, by `n` points.
#[must_use]
pub fn ellipse(length: f64, width: f64, n: usize) -> Outline {
    superellipse(length, width, 2.0, n)
}

/// |x/a|ᵉ + |y/b|ᵉ = 1 of full sizes `length` and `width`, by `n` points.
#[must_use]
pub fn superellipse(length: f64, width: f64, exponent: f64, n: usize) -> Outline {
    let power = |v: f64| v.signum() * v.abs().powf(2.0 / exponent);
    around(n, |t| {
        [length / 2.0 * power(t.cos()), width / 2.0 * power(t.sin())]
    })
}

/// The outline of a family by its key, length along x, centred on the middle of
/// its box, by about `n` points; `None` for a key that is not known.
///
/// # Method
/// `oval`, `round`: ellipse. `cushion`: superellipse of exponent 3 (chosen: half
/// way between the ellipse and the square-ish 4). `pear`: half an ellipse on a
/// point of two arcs. `marquise`: two equal arcs (vesica). `square`,
/// `rectangle`: corners rounded by a tenth of the width. `octagon`: corners cut
/// by a fifth of the width. `heart`: two half-rounds over a point. `triangle`:
/// three equal arcs bulging by an eighth of a side, corners rounded.
#[must_use]
pub fn family(key: &str, length: f64, width: f64, n: usize) -> Option<Outline> {
    let outline = match key {
        "oval" | "round" => ellipse(length, width, n),
        "cushion" => superellipse(length, width, 3.0, n),
        "pear" => pear(length, width, n),
        "marquise" => marquise(length, width, n),
        "square" | "rectangle" => rounded_rectangle(length, width, width / 10.0, n),
        "octagon" => octagon(length, width),
        "heart" => heart(length, width, n),
        "triangle" => triangle(length, width, n),
        _ => return None,
    };
    Some(outline)
}

fn around(n: usize, at: impl Fn(f64) -> [f64; 2]) -> Outline {
    let points = (0..n.max(8))
        .map(|k| at(TAU * k as f64 / n.max(8) as f64))
        .collect();
    Outline::new(points).expect("eight points or more around a centre span an area")
}

fn from_points(points: Vec<[f64; 2]>) -> Outline {
    Outline::new(points).expect("the points go once around")
}

/// Round end at +x of radius width/2, then two arcs that leave it smoothly and
/// meet in the point at −x.
fn pear(length: f64, width: f64, n: usize) -> Outline {
    let (b, tail) = (width / 2.0, length - width / 2.0);
    // The arc from (0, b), level there, to (−tail, 0): centre (0, b − r).
    let r = (tail * tail + b * b) / (2.0 * b);
    let sweep = (tail / r).min(1.0).asin();
    let shift = length / 2.0 - b;
    let half = n.max(16) / 2;
    let mut points: Vec<[f64; 2]> = (0..half)
        .map(|k| {
            let t = -PI / 2.0 + PI * k as f64 / half as f64;
            [b * t.cos() + shift, b * t.sin()]
        })
        .collect();
    let quarter = half / 2;
    let arc = |t: f64| [-r * t.sin(), b - r + r * t.cos()];
    points.extend((0..=quarter).map(|k| {
        let [x, y] = arc(sweep * k as f64 / quarter as f64);
        [x + shift, y]
    }));
    points.extend((1..quarter).map(|k| {
        let [x, y] = arc(sweep * (1.0 - k as f64 / quarter as f64));
        [x + shift, -y]
    }));
    from_points(points)
}

fn marquise(length: f64, width: f64, n: usize) -> Outline {
    let (a, b) = (length / 2.0, width / 2.0);
    let r = (a * a + b * b) / (2.0 * b);
    let sweep = (a / r).min(1.0).asin();
    let half = n.max(16) / 2;
    let arc = |k: usize| {
        let t = sweep * (1.0 - 2.0 * k as f64 / half as f64);
        [r * t.sin(), b - r + r * t.cos()]
    };
    let mut points: Vec<[f64; 2]> = (0..half).map(arc).collect();
    points.extend((0..half).map(arc).map(|[x, y]| [-x, -y]));
    from_points(points)
}

fn rounded_rectangle(length: f64, width: f64, radius: f64, n: usize) -> Outline {
    let quarter = (n / 8).max(2);
    let (a, b) = (length / 2.0 - radius, width / 2.0 - radius);
    let corners = [[a, b], [-a, b], [-a, -b], [a, -b]];
    let side = (n / 8).max(2);
    let mut points = Vec::new();
    for (corner, [x, y]) in corners.into_iter().enumerate() {
        for k in 0..=quarter {
            let t = PI / 2.0 * (corner as f64 + k as f64 / quarter as f64);
            points.push([x + radius * t.cos(), y + radius * t.sin()]);
        }
        // Points along the straight sides keep rays and samples even.
        let [nx, ny] = corners[(corner + 1) % 4];
        let t = PI / 2.0 * (corner as f64 + 1.0);
        let (ox, oy) = (radius * t.cos(), radius * t.sin());
        for k in 1..side {
            let f = k as f64 / side as f64;
            points.push([x + ox + f * (nx - x), y + oy + f * (ny - y)]);
        }
    }
    from_points(points)
}

fn octagon(length: f64, width: f64) -> Outline {
    let (a, b, cut) = (length / 2.0, width / 2.0, width / 5.0);
    from_points(vec![
        [a, b - cut],
        [a - cut, b],
        [cut - a, b],
        [-a, b - cut],
        [-a, cut - b],
        [cut - a, -b],
        [a - cut, -b],
        [a, cut - b],
    ])
}

/// Point at −x, two half-rounds side by side at +x.
fn heart(length: f64, width: f64, n: usize) -> Outline {
    let lobe = width / 4.0;
    let cleft = length / 2.0 - lobe;
    let quarter = (n / 4).max(8);
    let mut upper = Vec::new();
    // The lobe's half-round from the cleft (towards −y side is mirrored below).
    for k in 0..=quarter {
        let t = -PI / 2.0 + PI * k as f64 / quarter as f64;
        upper.push([cleft + lobe * t.cos(), lobe + lobe * t.sin()]);
    }
    // From the outer end of the lobe an elliptic quarter to the point, full
    // enough that the sides bulge.
    let tail = length - lobe;
    for k in 1..quarter {
        let t = k as f64 / quarter as f64;
        upper.push([cleft - tail * t, 2.0 * lobe * (1.0 - t.powf(1.6))]);
    }
    let point = [-length / 2.0, 0.0];
    let mut points = upper.clone();
    points.push(point);
    points.extend(upper.iter().skip(1).rev().map(|&[x, y]| [x, -y]));
    from_points(points)
}

fn triangle(length: f64, width: f64, n: usize) -> Outline {
    // r(θ) of a rounded triangle with bulging sides; then fitted to the sizes.
    let shape = around(n.max(48), |t| {
        let r = 1.0 + 0.13 * (3.0 * t).cos() - 0.02 * (6.0 * t).cos();
        [r * t.cos(), r * t.sin()]
    });
    let [low, high] = shape.bounds();
    let (sx, sy) = (length / (high[0] - low[0]), width / (high[1] - low[1]));
    let middle = [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0];
    from_points(
        shape
            .points()
            .iter()
            .map(|p| [sx * (p[0] - middle[0]), sy * (p[1] - middle[1])])
            .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const KEYS: [&str; 10] = [
        "oval",
        "round",
        "cushion",
        "pear",
        "marquise",
        "square",
        "rectangle",
        "octagon",
        "heart",
        "triangle",
    ];

    #[test]
    fn every_family_has_its_sizes_and_a_crown() {
        for key in KEYS {
            let width = if ["round", "square"].contains(&key) {
                10.0
            } else {
                8.0
            };
            let outline = family(key, 10.0, width, 180).expect("known");
            let [low, high] = outline.bounds();
            for (size, want) in [(high[0] - low[0], 10.0), (high[1] - low[1], width)] {
                assert!((size - want).abs() < 0.02, "{key}: {size} for {want}");
            }
            assert!(outline.is_star_shaped_about(outline.centroid()), "{key}");
            assert!(outline.area() > 0.45 * 10.0 * width, "{key}");
        }
        assert!(family("kite", 10.0, 8.0, 64).is_none());
    }

    /// Area over a·b is 4·Γ(1 + 1/n)²/Γ(1 + 2/n): 3.380935 for 2.5, 3.708149 for 4
    /// (closed form).
    #[test]
    fn superellipse_areas() {
        for (exponent, coefficient) in [(2.0, PI), (2.5, 3.380_935), (4.0, 3.708_149)] {
            let area = superellipse(2.0, 2.0, exponent, 40_000).area();
            assert!((area - coefficient).abs() < 1e-4, "{exponent}: {area}");
        }
    }
}
