//! Corners and maps against OpenCV's: on pictures given by a formula
//! (`tests/reference/photos.py`), and on the photos of `D_camera` in the shared data,
//! whose corners OpenCV refined.

use opal_photo::colour::{lab_of, linear};
use opal_photo::{ChequerCorner, Grey, Homography, PhotoScale, Picture, find_chequer, otsu};
use serde_json::Value;
use std::collections::BTreeMap;
use std::f64::consts::PI;

fn board() -> Vec<ChequerCorner> {
    (1..7)
        .flat_map(|row| (1..10).map(move |column| (column, row)))
        .map(|(column, row)| ChequerCorner {
            column,
            row,
            bright: (column + row) % 2 != 0,
        })
        .collect()
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|v| v.as_f64().expect("a number")).collect()
}

fn told() -> Value {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/reference/photos.json"
    );
    let text = std::fs::read_to_string(path).expect("the reference values");
    serde_json::from_str(&text).expect("JSON")
}

/// The threshold of Otsu on values by a formula, in whole grey levels.
#[test]
fn two_tones() {
    let values: Vec<f32> = (0..4096_u32)
        .map(|k| match k % 16 {
            0..=8 => (20 + k % 7 * 3) as f32,
            9..=14 => (180 + k % 5 * 15) as f32,
            _ => (k / 16) as f32,
        })
        .collect();
    let theirs = told()["otsu_of_two_tones"].as_f64().expect("a number");
    // Theirs names the class below, ours the level above it.
    assert!((f64::from(otsu(&values)) - theirs - 1.0).abs() < 0.01);
}

/// L*a*b* of the sRGB primaries and of grey 128, as scikit-image gives them (D65).
#[test]
fn primaries_have_their_published_coordinates() {
    for (rgb, lab) in [
        ([1.0, 0.0, 0.0], [53.2406, 80.0923, 67.2028]),
        ([0.0, 1.0, 0.0], [87.7351, -86.1830, 83.1797]),
        ([0.0, 0.0, 1.0], [32.2957, 79.1856, -107.8573]),
        ([linear(128.0 / 255.0); 3], [53.585, 0.0, 0.0]),
    ] {
        for (ours, theirs) in lab_of(rgb).iter().zip(lab) {
            assert!((ours - theirs).abs() < 0.02, "{rgb:?}: {ours} {theirs}");
        }
    }
}

fn picture(map: &Homography) -> Grey {
    let back = map.inverse().expect("a view");
    let (width, height) = (640, 480);
    let mut values = Vec::new();
    for y in 0..height {
        for x in 0..width {
            let [u, v] = back.apply([x as f64, y as f64]).map(|t| t / 10.0);
            let wave = |t: f64| (9.0 * (PI * t).sin()).tanh();
            let on_board = (0.0..=10.0).contains(&u) && (0.0..=7.0).contains(&v);
            let value = if on_board {
                (128.0 - 90.0 * wave(u) * wave(v) + 0.5).floor()
            } else {
                218.0
            };
            values.push(value as f32);
        }
    }
    Grey {
        width,
        height,
        values,
    }
}

#[test]
fn drawn_boards() {
    for view in told()["views"].as_array().expect("views") {
        let map = Homography(numbers(&view["view"]).try_into().expect("nine numbers"));
        let found = find_chequer(&picture(&map), &board());
        assert_eq!(found.len(), 54);
        let theirs: Vec<Vec<f64>> = view["corners"]
            .as_array()
            .expect("corners")
            .iter()
            .map(numbers)
            .collect();
        let mut pairs = Vec::new();
        for corner in &found {
            let true_px = map.apply([corner.column, corner.row].map(|v| 10.0 * f64::from(v)));
            let k = (corner.row - 1) * 9 + corner.column - 1;
            let their = &theirs[k as usize];
            let to_theirs = (corner.at[0] - their[0]).hypot(corner.at[1] - their[1]);
            let to_true = (corner.at[0] - true_px[0]).hypot(corner.at[1] - true_px[1]);
            assert!(to_theirs < 0.1, "{corner:?} against OpenCV's {their:?}");
            assert!(to_true < 0.05, "{corner:?} against {true_px:?}");
            pairs.push((
                [corner.column, corner.row].map(|v| 10.0 * f64::from(v)),
                [their[0], their[1]],
            ));
        }
        // The same corners give the same map as OpenCV's findHomography.
        let ours = Homography::through(&pairs).expect("a map");
        let probes = [[5.0, 5.0], [50.0, 35.0], [98.0, 66.0]];
        for (probe, their) in probes.iter().zip(view["probe"].as_array().expect("probes")) {
            let (at, their) = (ours.apply(*probe), numbers(their));
            assert!(
                (at[0] - their[0]).hypot(at[1] - their[1]) < 0.01,
                "{at:?} {their:?}"
            );
        }
    }
}

/// 13 photos of a board with a strongly bent lens; corners refined by OpenCV.
#[test]
fn photographed_boards() {
    let folder = std::path::Path::new(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../../shared/data/D_camera/chessboard_9x6_25mm"
    ));
    if !folder.is_dir() {
        println!("skipped: no shared data");
        return;
    }
    let table = std::fs::read_to_string(folder.join("left_corners_subpixel.csv")).expect("table");
    let mut theirs: BTreeMap<&str, Vec<[f64; 2]>> = BTreeMap::new();
    for line in table.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let at = [4, 5].map(|k| cells[k].parse().expect("a number"));
        theirs.entry(cells[0]).or_default().push(at);
    }
    let mut misses = Vec::new();
    let (mut rms, mut their_rms) = (Vec::new(), Vec::new());
    for (name, corners) in &theirs {
        let photo = image::open(folder.join(name)).expect("a photo").to_rgb8();
        let (w, h) = (photo.width() as usize, photo.height() as usize);
        let picture = Picture::new(w, h, photo.into_raw()).expect("whole");
        let found = find_chequer(&picture.grey(), &board());
        assert!(found.len() >= 50, "{name}: {} of 54 corners", found.len());
        for corner in &found {
            let away = |p: &[f64; 2]| (corner.at[0] - p[0]).hypot(corner.at[1] - p[1]);
            misses.push(corners.iter().map(away).fold(f64::INFINITY, f64::min));
        }
        let pairs: Vec<_> = found
            .iter()
            .map(|c| (c.at, [c.column, c.row].map(|v| 25.0 * f64::from(v))))
            .collect();
        let scale = PhotoScale::through([w, h], &pairs).expect("a scale");
        // The same map through OpenCV's corners: which of the two lie better in rows?
        let nearest = |at: [f64; 2]| {
            let away = |p: &[f64; 2]| (at[0] - p[0]).hypot(at[1] - p[1]);
            let found = corners.iter().min_by(|p, q| away(p).total_cmp(&away(q)));
            found.copied().unwrap_or(at)
        };
        let their_pairs: Vec<_> = pairs.iter().map(|(px, mm)| (nearest(*px), *mm)).collect();
        let theirs = PhotoScale::through([w, h], &their_pairs).expect("a scale");
        rms.push(scale.rms_px);
        their_rms.push(theirs.rms_px);
    }
    misses.sort_by(f64::total_cmp);
    let at = |share: f64| misses[(share * (misses.len() - 1) as f64) as usize];
    let n = misses.len();
    println!(
        "{n} corners against OpenCV: median {:.3} px, 95 % {:.3} px, worst {:.3} px",
        at(0.5),
        at(0.95),
        at(1.0)
    );
    assert!(n >= 695, "{n} of 702 corners");
    assert!(at(0.5) < 0.2 && at(0.95) < 0.45, "{} {}", at(0.5), at(0.95));
    for list in [&mut rms, &mut their_rms] {
        list.sort_by(f64::total_cmp);
    }
    let (ours, theirs) = (rms[rms.len() / 2], their_rms[their_rms.len() / 2]);
    println!("out of rows, median photo: ours {ours:.3} px, OpenCV's {theirs:.3} px");
    assert!(ours < 1.25 * theirs, "{ours} against {theirs}");
}
