//! Outlines of drawings whose area is known, and of photos whose outlines people drew.

mod drawn;

use drawn::{card_shade, coloured, draw, view};
use opal_geom::Outline;
use opal_photo::{
    OutlineRefusal, Picture, find_card, live_wire, nearest_edge, retraced, trace_outline,
};
use opal_units::Seed;
use rand_distr::{Distribution as _, Normal};
use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::TAU;
use std::path::Path;

const SIZE: [usize; 2] = [1600, 1200];

/// A wavy blob about a place, mm; the area of r = a (1 + b cos nφ) is
/// πa² (1 + b²/2) (closed form).
const A_MM: f64 = 22.0;
const WAVE: f64 = 0.15;

fn in_blob([x, y]: [f64; 2], about: [f64; 2]) -> bool {
    let (u, v) = (x - about[0], y - about[1]);
    u.hypot(v) < A_MM * (1.0 + WAVE * (5.0 * v.atan2(u)).cos())
}

const BLOB_MM2: f64 = TAU / 2.0 * A_MM * A_MM * (1.0 + WAVE * WAVE / 2.0);

#[test]
fn a_drawing_on_the_card_has_its_area() {
    let card = card_shade();
    for (px_per_mm, turn, lean, blur, noise, stone) in [
        (6.5, 0.0, 0.0, 0.8, 0.0, 0.2),
        (6.0, 30.0, 15.0, 1.0, 3.0, 0.5),
        (5.0, 200.0, 25.0, 1.4, 4.0, 0.7),
    ] {
        let map = view(SIZE, px_per_mm, turn, lean, 400.0);
        let shade = |at| {
            if in_blob(at, [84.0, 64.0]) {
                stone
            } else {
                card(at)
            }
        };
        let grey = draw(SIZE, &map, shade, blur, noise);
        let found = find_card(&grey, None).expect("a card");
        let traced = trace_outline(&coloured(&grey), Some(&found.window_px)).expect("an outline");
        let mm: Vec<_> = traced
            .points_px
            .iter()
            .map(|p| found.scale.to_mm(*p))
            .collect();
        let area = Outline::new(mm).expect("an outline").area();
        let off = area / BLOB_MM2 - 1.0;
        println!(
            "{px_per_mm} px/mm, leaning {lean}: area off by {:.2} %, {} points",
            100.0 * off,
            traced.points_px.len()
        );
        assert!(off.abs() < 0.01, "{area} against {BLOB_MM2}");
    }
}

#[test]
fn uneven_light_shade_and_holes_do_not_move_the_edge() {
    let map = view(SIZE, 6.0, 0.0, 0.0, 400.0);
    let shade = |at: [f64; 2]| {
        let light = 0.75 + 0.25 * (at[0] / 168.0);
        let hole = (at[0] - 84.0).hypot(at[1] - 64.0) < 6.0;
        let cast = in_blob(at, [90.0, 58.0]);
        light
            * if in_blob(at, [84.0, 64.0]) && !hole {
                0.15
            } else if cast {
                0.82
            } else {
                1.0
            }
    };
    let grey = draw(SIZE, &map, shade, 1.0, 2.0);
    let ground =
        [[24.0, 24.0], [144.0, 24.0], [144.0, 104.0], [24.0, 104.0]].map(|mm| map.apply(mm));
    let traced = trace_outline(&coloured(&grey), Some(&ground)).expect("an outline");
    let area = Outline::new(traced.points_px).expect("an outline").area() / 36.0;
    assert!(
        (area / BLOB_MM2 - 1.0).abs() < 0.02,
        "{area} against {BLOB_MM2}"
    );
}

/// A round stone in one light: its far side is hardly darker than the paper, and in
/// between nothing changes sharply. Otsu's threshold (1979) parts it down the middle;
/// the area is the blob's, in closed form.
#[test]
fn a_stone_with_a_pale_side_is_traced_whole() {
    let map = view(SIZE, 6.0, 0.0, 0.0, 400.0);
    let ground =
        [[24.0, 24.0], [144.0, 24.0], [144.0, 104.0], [24.0, 104.0]].map(|mm| map.apply(mm));
    for (pale, dark, noise) in [(0.62, 0.15, 1.0), (0.66, 0.2, 2.0), (0.7, 0.3, 2.0)] {
        let shade = |at: [f64; 2]| {
            if in_blob(at, [84.0, 64.0]) {
                // From the pale side to the dark one, as a rounded skin turns from the light.
                let turn = ((at[0] - 84.0) / A_MM).clamp(-1.0, 1.0);
                pale + (dark - pale) * (0.5 + 0.5 * turn).powi(2)
            } else {
                0.8
            }
        };
        let grey = draw(SIZE, &map, shade, 1.0, noise);
        let traced = trace_outline(&coloured(&grey), Some(&ground)).expect("an outline");
        let area = Outline::new(traced.points_px).expect("an outline").area() / 36.0;
        println!(
            "from {pale} to {dark}, noise {noise}: {:.2} % off",
            100.0 * (area / BLOB_MM2 - 1.0)
        );
        assert!(
            (area / BLOB_MM2 - 1.0).abs() < 0.02,
            "{area} against {BLOB_MM2}"
        );
    }
}

/// A reddish stone on a yellowish floor whose light falls off from one corner, in deep soft
/// shade of its own: the shade is darker than the stone, and its edge nowhere sharp. The
/// area is the blob's, in closed form.
#[test]
fn deep_soft_shade_on_a_coloured_floor_stays_out() {
    let map = view(SIZE, 6.0, 0.0, 0.0, 400.0);
    let back = map.inverse().expect("a view");
    let share = |about: [f64; 2], blur: f64| {
        let inside = move |at: [f64; 2]| f64::from(u8::from(in_blob(at, about)));
        let drawn = draw(SIZE, &map, inside, blur, 0.0);
        drawn
            .values
            .into_iter()
            .map(|v| f64::from(v - 30.0) / 200.0)
    };
    let (stone, cast) = (share([84.0, 64.0], 1.0), share([95.0, 56.0], 30.0));
    let mut rng = Seed(5).stream("grain", 0);
    let grain = Normal::new(0.0, 1.5).expect("a spread");
    let mut rgb = Vec::new();
    for (k, (stone, cast)) in stone.zip(cast).enumerate() {
        let at = back.apply([(k % SIZE[0]) as f64, (k / SIZE[0]) as f64]);
        let far = (at[0] - 20.0).hypot(at[1] - 100.0) / 160.0;
        let light = 1.0 - 0.45 * far * far;
        let floor = [0.62, 0.52, 0.36].map(|v| v * light * (1.0 - 0.7 * cast));
        let skin = [0.30, 0.13, 0.10].map(|v| v * light);
        for c in 0..3 {
            // sRGB (IEC 61966-2-1), above its linear toe.
            let linear: f64 = stone * skin[c] + (1.0 - stone) * floor[c];
            let written = 255.0 * (1.055 * linear.powf(1.0 / 2.4) - 0.055);
            rgb.push((written + grain.sample(&mut rng)).round().clamp(0.0, 255.0) as u8);
        }
    }
    let picture = Picture::new(SIZE[0], SIZE[1], rgb).expect("whole");
    let traced = trace_outline(&picture, None).expect("an outline");
    let area = Outline::new(traced.points_px).expect("an outline").area() / 36.0;
    println!(
        "in deep shade: {:.2} % off",
        100.0 * (area / BLOB_MM2 - 1.0)
    );
    assert!(
        (area / BLOB_MM2 - 1.0).abs() < 0.02,
        "{area} against {BLOB_MM2}"
    );
}

/// A grey stone with a vivid red patch on white paper: the patch has the sharper edge, the
/// stone is what lies there. Its area is the blob's, in closed form.
#[test]
fn a_vivid_patch_is_not_taken_for_the_stone() {
    let map = view(SIZE, 6.0, 0.0, 0.0, 400.0);
    let back = map.inverse().expect("a view");
    let inside = |at: [f64; 2]| f64::from(u8::from(in_blob(at, [84.0, 64.0])));
    let stone = draw(SIZE, &map, inside, 1.0, 0.0);
    let mut rgb = Vec::new();
    for (k, v) in stone.values.iter().enumerate() {
        let at = back.apply([(k % SIZE[0]) as f64, (k / SIZE[0]) as f64]);
        let share = f64::from(v - 30.0) / 200.0;
        let skin = if (at[0] - 86.0).hypot(at[1] - 62.0) < 8.0 {
            [220.0, 20.0, 30.0]
        } else {
            [120.0, 122.0, 124.0]
        };
        rgb.extend(skin.map(|s| (share * s + (1.0 - share) * 235.0).round() as u8));
    }
    let picture = Picture::new(SIZE[0], SIZE[1], rgb).expect("whole");
    let traced = trace_outline(&picture, None).expect("an outline");
    let area = Outline::new(traced.points_px).expect("an outline").area() / 36.0;
    assert!(
        (area / BLOB_MM2 - 1.0).abs() < 0.02,
        "{area} against {BLOB_MM2}"
    );
}

#[test]
fn nothing_and_a_stone_that_does_not_lie_free_are_refused() {
    let map = view(SIZE, 6.0, 0.0, 0.0, 400.0);
    let empty = coloured(&draw(SIZE, &map, |_| 0.8, 0.8, 3.0));
    assert!(matches!(
        trace_outline(&empty, None),
        Err(OutlineRefusal::NothingThere { .. })
    ));
    let ground =
        [[24.0, 24.0], [144.0, 24.0], [144.0, 104.0], [24.0, 104.0]].map(|mm| map.apply(mm));
    let over = coloured(&draw(
        SIZE,
        &map,
        |at| if in_blob(at, [144.0, 64.0]) { 0.2 } else { 1.0 },
        0.8,
        1.0,
    ));
    assert_eq!(
        trace_outline(&over, Some(&ground)),
        Err(OutlineRefusal::OverTheRim)
    );
    let point = [[5.0, 5.0], [6.0, 5.0], [6.0, 6.0]];
    assert_eq!(
        trace_outline(&over, Some(&point)),
        Err(OutlineRefusal::NoGround)
    );
}

/// The wire keeps to a circle's edge (closed form), where the straight way would cut
/// across, and to an edge through noise.
#[test]
fn the_wire_follows_a_seen_edge() {
    let map = view(SIZE, 6.0, 0.0, 0.0, 400.0);
    let radius = 20.0;
    let away = |at: [f64; 2]| (at[0] - 84.0).hypot(at[1] - 64.0);
    let grey = draw(
        SIZE,
        &map,
        |at| if away(at) < radius { 0.25 } else { 0.8 },
        1.0,
        6.0,
    );
    let back = map.inverse().expect("a view");
    // Pointed to within half a millimetre, as a finger does.
    let [from, to] = [[84.0 - 20.4, 64.0], [84.0, 64.0 + 19.7]].map(|mm| map.apply(mm));
    let path = live_wire(&grey, from, to).expect("a path");
    let misses: Vec<f64> = path[6..path.len() - 6]
        .iter()
        .map(|p| (away(back.apply(*p)) - radius).abs() * 6.0)
        .collect();
    let mean = misses.iter().sum::<f64>() / misses.len() as f64;
    let worst = misses.iter().copied().fold(0.0, f64::max);
    println!(
        "{} points, {mean:.2} px off, at worst {worst:.2}",
        path.len()
    );
    assert!(mean < 0.5 && worst < 2.0, "{mean} {worst}");
    assert!(live_wire(&grey, [-5.0, 0.0], to).is_none());
}

/// Pebbles that people outlined (`E_photos` in the shared data), cut out along those
/// outlines and laid on plain paper in uneven light: real skins, edges that are known.
#[test]
fn hand_outlined_pebbles_on_paper() {
    let Some(folder) = photos() else { return };
    let (mut scores, mut spoilt, mut mended) = (Vec::new(), Vec::new(), Vec::new());
    for name in [
        "1_P1060330_1",
        "2_P1060338_0",
        "6_P1060355_0",
        "7_P1060359_3",
    ] {
        let photo = image::open(folder.join(format!("pebbles_{name}.jpg"))).expect("a photo");
        let labels =
            image::open(folder.join(format!("pebbles_{name}_labels.png"))).expect("labels");
        let (photo, labels) = (photo.to_rgb8(), labels.to_luma16());
        let mut areas: BTreeMap<u16, usize> = BTreeMap::new();
        for label in labels.pixels().map(|p| p.0[0]).filter(|l| *l > 0) {
            *areas.entry(label).or_default() += 1;
        }
        let mut largest: Vec<_> = areas.into_iter().map(|(label, n)| (n, label)).collect();
        largest.sort_unstable();
        for &(_, label) in largest.iter().rev().take(6) {
            let is_it = |x: i64, y: i64| {
                let there = (0..512).contains(&x) && (0..512).contains(&y);
                there && labels.get_pixel(x as u32, y as u32).0[0] == label
            };
            let at: Vec<[i64; 2]> = (0..512 * 512)
                .map(|k| [k % 512, k / 512])
                .filter(|[x, y]| is_it(*x, *y))
                .collect();
            let side = |d: usize| {
                let of = || at.iter().map(|p| p[d]);
                (of().min().unwrap_or(0) - 12, of().max().unwrap_or(0) + 12)
            };
            let ((x0, x1), (y0, y1)) = (side(0), side(1));
            let (w, h) = ((3 * (x1 - x0)) as usize, (3 * (y1 - y0)) as usize);
            // Where another pebble lay on it, people drew a hole: an outline has none.
            let filled = without_holes(((x1 - x0) as usize, (y1 - y0) as usize), |x, y| {
                is_it(x0 + x as i64, y0 + y as i64)
            });
            let inside = |k: usize| filled[k / w / 3 * (w / 3) + k % w / 3];
            let mut rng = Seed(1).stream("paper", u64::from(label));
            let normal = Normal::new(0.0, 1.5).expect("a spread");
            let rgb = (0..w * h).flat_map(|k| {
                let (x, y) = (x0 + (k % w / 3) as i64, y0 + (k / w / 3) as i64);
                let paper = 215.0 + 30.0 * (k % w) as f64 / w as f64;
                // Noise as of a phone's camera indoors; the same in each channel.
                let grain = normal.sample(&mut rng);
                if is_it(x, y) {
                    photo.get_pixel(x as u32, y as u32).0
                } else {
                    [(paper + grain) as u8; 3]
                }
            });
            let picture = Picture::new(w, h, rgb.collect()).expect("whole");
            let traced = trace_outline(&picture, None).expect("an outline");
            let (bent, places) = pulled_out(&traced.points_px, 8.0);
            let again = retraced(&picture.grey(), &bent, places, 12.0).expect("an outline");
            for (points, scores) in [
                (traced.points_px, &mut scores),
                (bent, &mut spoilt),
                (again, &mut mended),
            ] {
                let outline = Outline::new(points).expect("an outline");
                scores.push(score(&outline, w, 0..w * h, &inside));
            }
        }
    }
    let before = medians(&scores).0;
    let (bent, again) = (medians(&spoilt).0, medians(&mended).0);
    println!("overlap {before:.4} as traced, {bent:.4} pulled out, {again:.4} snapped back");
    assert!(bent < before - 0.005 && again > before - 0.003);
    let (overlap, area) = medians(&scores);
    let worst = scores.iter().map(|s| s.0).fold(1.0, f64::min);
    println!(
        "{} pebbles on paper: median overlap {overlap:.3}, at worst {worst:.3}; median area error {:.1} %",
        scores.len(),
        100.0 * area
    );
    assert!(overlap > 0.99 && area < 0.01, "{overlap} {area}");
    assert!(worst > 0.97, "{worst}");
}

/// A mask with what it encloses, row by row.
fn without_holes((w, h): (usize, usize), is_it: impl Fn(usize, usize) -> bool) -> Vec<bool> {
    let mut filled = vec![true; w * h];
    let on_side = |k: &usize| k.is_multiple_of(w) || k % w == w - 1 || *k < w || *k >= w * (h - 1);
    let mut next: Vec<usize> = (0..w * h).filter(on_side).collect();
    while let Some(k) = next.pop() {
        if !filled[k] || is_it(k % w, k / w) {
            continue;
        }
        filled[k] = false;
        let (x, y) = (k % w, k / w);
        next.extend([
            if x > 0 { k - 1 } else { k },
            if x + 1 < w { k + 1 } else { k },
            if y > 0 { k - w } else { k },
            if y + 1 < h { k + w } else { k },
        ]);
    }
    filled
}

/// Rocks on sand in the sun, as they lie: no plain ground, hard shade. This says how
/// the outline does where it should not be relied on.
#[test]
fn hand_masked_rocks_in_the_sun() {
    let Some(folder) = photos() else { return };
    let mut scores = Vec::new();
    let mut refused = 0;
    for name in ["rocks_on_sand_332", "rocks_on_sand_538"] {
        let photo = image::open(folder.join(format!("{name}.png")))
            .expect("a photo")
            .to_rgb8();
        let (w, h) = (photo.width() as usize, photo.height() as usize);
        let picture = Picture::new(w, h, photo.into_raw()).expect("whole");
        let mask = image::open(folder.join(format!("{name}_mask.png")))
            .expect("a mask")
            .to_luma8();
        let drawn: Vec<bool> = mask.pixels().map(|p| p.0[0] > 0).collect();
        for rock in pieces(&drawn, w)
            .into_iter()
            .filter(|rock| rock.len() >= 250)
        {
            let (xs, ys): (Vec<usize>, Vec<usize>) = rock.iter().map(|k| (k % w, k / w)).unzip();
            let side = |v: &[usize]| {
                (
                    v.iter().min().copied().unwrap_or(0),
                    v.iter().max().copied().unwrap_or(0),
                )
            };
            let ((x0, x1), (y0, y1)) = (side(&xs), side(&ys));
            let margin = 4 + (x1 - x0).max(y1 - y0) / 4;
            if x0 < margin || y0 < margin || x1 + margin >= w || y1 + margin >= h {
                continue;
            }
            let (x0, x1, y0, y1) = (x0 - margin, x1 + margin, y0 - margin, y1 + margin);
            let corner = |x: usize, y: usize| [x as f64, y as f64];
            let ground = [
                corner(x0, y0),
                corner(x1, y0),
                corner(x1, y1),
                corner(x0, y1),
            ];
            let Ok(traced) = trace_outline(&picture, Some(&ground)) else {
                refused += 1;
                continue;
            };
            let outline = Outline::new(traced.points_px).expect("an outline");
            let is_rock: BTreeSet<usize> = rock.into_iter().collect();
            let in_box = (y0..=y1).flat_map(|y| (x0..=x1).map(move |x| y * w + x));
            scores.push(score(&outline, w, in_box, &|k| is_rock.contains(&k)));
        }
    }
    let (overlap, area) = medians(&scores);
    println!(
        "{} rocks in the sun, {refused} more refused: median overlap {overlap:.3}, median area error {:.1} %",
        scores.len(),
        100.0 * area
    );
    // Not to be relied on, but not to get lost either.
    assert!(overlap > 0.3, "{overlap}");
}

/// A sixth of an outline pulled outward by so many pixels, most in its middle, with the
/// places of its ends and middle.
fn pulled_out(outline: &[[f64; 2]], by: f64) -> (Vec<[f64; 2]>, [usize; 3]) {
    let n = outline.len();
    let places = [0, n / 12, n / 6];
    let middle = Outline::new(outline.to_vec())
        .expect("an outline")
        .centroid();
    let bent = outline
        .iter()
        .enumerate()
        .map(|(k, p)| {
            let bump = if k < places[2] {
                (std::f64::consts::PI * k as f64 / places[2] as f64).sin()
            } else {
                0.0
            };
            let away = [p[0] - middle[0], p[1] - middle[1]];
            let length = away[0].hypot(away[1]);
            [0, 1].map(|d| p[d] + by * bump * away[d] / length)
        })
        .collect();
    (bent, places)
}

/// A disc of known radius: a point put beside its rim is drawn onto it, one in the
/// middle of nothing is not; and an outline pulled out of shape gets its area back.
#[test]
fn a_point_near_an_edge_is_drawn_onto_it() {
    let (middle, radius) = ([300.0, 280.0], 150.0);
    let shade = |k: usize| {
        let (x, y) = ((k % 600) as f64, (k / 600) as f64);
        let away = (x - middle[0]).hypot(y - middle[1]) - radius;
        // One pixel of blur, and grain that no sum of squares repeats.
        let grain = ((k * 7919 + k / 600 * 104_729) % 13) as f64 - 6.0;
        (60.0 + 150.0 / (1.0 + (-2.0 * away).exp()) + grain) as u8
    };
    let rgb = (0..600 * 560).flat_map(|k| [shade(k); 3]).collect();
    let grey = Picture::new(600, 560, rgb).expect("whole").grey();
    for k in 0..12 {
        let (sin, cos) = (TAU * f64::from(k) / 12.0).sin_cos();
        let off = if k % 2 == 0 { 9.0 } else { -9.0 };
        let beside = [
            middle[0] + (radius + off) * cos,
            middle[1] + (radius + off) * sin,
        ];
        let onto = nearest_edge(&grey, beside, 14.0).expect("an edge");
        let away = (onto[0] - middle[0]).hypot(onto[1] - middle[1]);
        assert!((away - radius).abs() < 1.0, "{away}");
    }
    assert_eq!(nearest_edge(&grey, middle, 14.0), None);
    assert_eq!(nearest_edge(&grey, [-3.0, 5.0], 14.0), None);
    let rim: Vec<[f64; 2]> = (0..240)
        .map(|k| {
            let (sin, cos) = (TAU * f64::from(k) / 240.0).sin_cos();
            [middle[0] + radius * cos, middle[1] + radius * sin]
        })
        .collect();
    let area = |points: Vec<[f64; 2]>| Outline::new(points).expect("an outline").area();
    let (bent, places) = pulled_out(&rim, 10.0);
    let true_area = TAU / 2.0 * radius * radius;
    assert!(area(bent.clone()) > 1.005 * true_area);
    let again = retraced(&grey, &bent, places, 14.0).expect("an outline");
    assert!((area(again) / true_area - 1.0).abs() < 2e-3);
    for places in [[0, 0, 5], [0, 3, 240], [4, 9, 4]] {
        assert_eq!(retraced(&grey, &bent, places, 14.0), None);
    }
}

fn photos() -> Option<&'static Path> {
    let folder = Path::new(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../../shared/data/E_photos"
    ));
    if !folder.is_dir() {
        println!("skipped: no shared data");
        return None;
    }
    Some(folder)
}

/// Intersection over union, and relative error of the area.
fn score(
    outline: &Outline,
    width: usize,
    places: impl Iterator<Item = usize>,
    inside: &dyn Fn(usize) -> bool,
) -> (f64, f64) {
    let (mut both, mut either, mut ours, mut theirs) = (0.0, 0.0, 0.0, 0.0);
    for k in places {
        let a = outline.contains([(k % width) as f64, (k / width) as f64]);
        let b = inside(k);
        both += f64::from(u8::from(a && b));
        either += f64::from(u8::from(a || b));
        ours += f64::from(u8::from(a));
        theirs += f64::from(u8::from(b));
    }
    (both / either, ours / theirs - 1.0)
}

fn medians(scores: &[(f64, f64)]) -> (f64, f64) {
    let median = |mut v: Vec<f64>| {
        v.sort_by(f64::total_cmp);
        v.get(v.len() / 2).copied().unwrap_or(f64::NAN)
    };
    (
        median(scores.iter().map(|s| s.0).collect()),
        median(scores.iter().map(|s| s.1.abs()).collect()),
    )
}

fn pieces(mask: &[bool], width: usize) -> Vec<Vec<usize>> {
    let mut free = mask.to_vec();
    let mut all = Vec::new();
    for start in 0..free.len() {
        if !std::mem::take(&mut free[start]) {
            continue;
        }
        let mut piece = vec![start];
        let mut next = 0;
        while next < piece.len() {
            let k = piece[next];
            next += 1;
            for side in [k.wrapping_sub(1), k + 1, k.wrapping_sub(width), k + width] {
                if free.get(side).copied() == Some(true) {
                    free[side] = false;
                    piece.push(side);
                }
            }
        }
        all.push(piece);
    }
    all
}
