//! Pictures drawn by us, with everything in them known.

#![allow(dead_code)]

use opal_photo::{Grey, Homography, Picture, card};
use opal_units::Seed;
use rand_distr::{Distribution, Normal};

/// Draws what `shade` gives at each place of the plane (mm, y up; 0 dark to 1
/// bright) with 3 × 3 samples in a pixel, blurs it by a Gaussian and adds noise.
pub(crate) fn draw(
    [width, height]: [usize; 2],
    px_from_mm: &Homography,
    shade: impl Fn([f64; 2]) -> f64,
    blur_px: f64,
    noise: f64,
) -> Grey {
    let back = px_from_mm.inverse().expect("a view that can be undone");
    let mut values = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let mut sum = 0.0;
            for k in 0..9 {
                let (i, j) = (f64::from(k % 3), f64::from(k / 3));
                let at = [x as f64 + (i - 1.0) / 3.0, y as f64 + (j - 1.0) / 3.0];
                sum += shade(back.apply(at));
            }
            values.push((30.0 + 200.0 * sum / 9.0) as f32);
        }
    }
    let drawn = Grey {
        width,
        height,
        values,
    };
    let mut grey = if blur_px > 0.0 {
        drawn.blurred(blur_px)
    } else {
        drawn
    };
    if noise > 0.0 {
        let mut rng = Seed(1).stream("noise", 0);
        let normal = Normal::new(0.0, noise).expect("a spread");
        for v in &mut grey.values {
            *v += normal.sample(&mut rng) as f32;
        }
    }
    // As a camera would write it.
    for v in &mut grey.values {
        *v = v.round().clamp(0.0, 255.0);
    }
    grey
}

/// How bright the printed card and the paper around it are.
pub(crate) fn card_shade() -> impl Fn([f64; 2]) -> f64 {
    let side = card::SQUARE_MM;
    let [columns, rows] = card::SQUARES.map(i64::from);
    let mut dark = vec![false; (columns * rows) as usize];
    for [x, y] in card::dark_squares_mm() {
        dark[((y / side).round() as i64 * columns + (x / side).round() as i64) as usize] = true;
    }
    move |[x, y]| {
        let (i, j) = ((x / side).floor() as i64, (y / side).floor() as i64);
        let on_card = (0..columns).contains(&i) && (0..rows).contains(&j);
        f64::from(u8::from(!(on_card && dark[(j * columns + i) as usize])))
    }
}

/// A camera over the card: pixels for a millimetre, turned in the picture, leaning,
/// from `distance_mm` over the card's middle, which it looks at.
pub(crate) fn view(
    [width, height]: [usize; 2],
    px_per_mm: f64,
    turn_deg: f64,
    lean_deg: f64,
    distance_mm: f64,
) -> Homography {
    let [cw, ch] = card::size_mm();
    let (st, ct) = turn_deg.to_radians().sin_cos();
    let (sl, cl) = lean_deg.to_radians().sin_cos();
    let f = px_per_mm * distance_mm;
    // x and y of the card about its middle, turned; then leaned about the camera's x.
    let column = |x: f64, y: f64| {
        let (u, v) = (ct * x - st * y, st * x + ct * y);
        [f * u, -f * cl * v, sl * v]
    };
    let (a, b) = (column(1.0, 0.0), column(0.0, 1.0));
    let middle = [0.5 * (width as f64 - 1.0), 0.5 * (height as f64 - 1.0)];
    let row = |k: usize| {
        let with = |c: [f64; 3]| c[k] + middle[k] * c[2];
        let (p, q) = (with(a), with(b));
        let last = middle[k] * distance_mm;
        [p, q, last - p * cw / 2.0 - q * ch / 2.0]
    };
    let (top, mid) = (row(0), row(1));
    let low = [a[2], b[2], distance_mm - a[2] * cw / 2.0 - b[2] * ch / 2.0];
    let m = [
        top[0], top[1], top[2], mid[0], mid[1], mid[2], low[0], low[1], low[2],
    ];
    Homography(m.map(|v| v / low[2]))
}

/// A grey picture as a colour one.
pub(crate) fn coloured(grey: &Grey) -> Picture {
    let rgb = grey.values.iter().flat_map(|v| [*v as u8; 3]).collect();
    Picture::new(grey.width, grey.height, rgb).expect("a whole picture")
}
