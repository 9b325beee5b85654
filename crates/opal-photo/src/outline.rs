//! The outline of a thing on a plain ground.

use crate::background::{Colours, away_from_ground};
use crate::picture::{Grey, Picture};
use crate::threshold::otsu;
use opal_geom::{Grid, Outline, contour};
use thiserror::Error;

/// Share of the looked-at sides that counts as the ground's rim.
const RIM_SHARE: f64 = 0.04;
/// Nearest to the ground's colour that a thing may be, in units of L*. Chosen: three
/// times what the eye tells apart side by side.
const LEAST_CONTRAST: f64 = 7.0;
/// Smallest thing, as a share of the ground that is looked at.
const LEAST_AREA_SHARE: f64 = 0.002;
/// Smoothing before the edge is placed, places.
const SMOOTHING: f64 = 1.0;
/// How far corners may be left out from the outline, places.
const SIMPLIFIED: f64 = 0.35;

/// An outline in a photo.
#[derive(Clone, Debug, PartialEq)]
pub struct TracedOutline {
    /// Round the thing, pixels.
    pub points_px: Vec<[f64; 2]>,
    /// How far the edge may be off, pixels, one standard deviation.
    pub sigma_px: f64,
    /// How far the thing is from the ground's colour, in units of L*.
    pub contrast: f64,
}

/// Why no outline is given.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum OutlineRefusal {
    /// The ground that is looked at has no size.
    #[error("the part of the photo to look at is too small")]
    NoGround,
    /// Nothing differs from the ground.
    #[error(
        "nothing stands out from the ground: the strongest difference is {contrast:.0} and must \
         be {LEAST_CONTRAST:.0}; lay the stone on a plain ground of another colour"
    )]
    NothingThere {
        /// Distance of the colours, in units of L*.
        contrast: f64,
    },
    /// The thing meets the rim.
    #[error(
        "the stone runs over the rim of the plain ground; lay it in the middle, nothing else on it"
    )]
    OverTheRim,
}

/// Traces the largest thing on a plain ground. `ground` is the part of the photo to
/// look at, round, pixels; all of it when left out.
///
/// # Method
/// Distance of each place from the colour of the ground's rim; Otsu's threshold
/// (Otsu 1979); the largest connected piece, its holes filled; then the edge where the
/// distance is half of what it is just inside, by marching squares.
///
/// # Errors
/// Nothing stands out, or it does not lie free.
pub fn trace_outline(
    picture: &Picture,
    ground: Option<&[[f64; 2]]>,
) -> Result<TracedOutline, OutlineRefusal> {
    let looked = Looked::at(picture, ground).ok_or(OutlineRefusal::NoGround)?;
    let away = away_from_ground(&looked.colours, &looked.rim).ok_or(OutlineRefusal::NoGround)?;
    let away = Grey {
        width: looked.colours.width,
        height: looked.colours.height,
        values: away,
    }
    .blurred(SMOOTHING);
    let there = away.values.iter().zip(&looked.inside).filter(|(_, i)| **i);
    let threshold = otsu(&there.map(|(v, _)| *v).collect::<Vec<_>>());
    let piece = largest_piece(&away, &looked.inside, threshold);
    let contrast = median(piece.iter().map(|&k| away.values[k]).collect());
    let n_inside = looked.inside.iter().filter(|v| **v).count();
    if contrast < LEAST_CONTRAST || (piece.len() as f64) < LEAST_AREA_SHARE * n_inside as f64 {
        return Err(OutlineRefusal::NothingThere { contrast });
    }
    let mut in_piece = vec![false; away.values.len()];
    for &k in &piece {
        in_piece[k] = true;
    }
    // The ground's own rim is its colour: a piece that takes much of it is no thing on it.
    let on_rim = looked.rim.iter().filter(|k| in_piece[**k]).count();
    if on_rim as f64 > 0.03 * looked.rim.len() as f64 {
        return Err(OutlineRefusal::OverTheRim);
    }
    let outline = edge(&away, &in_piece, f64::from(threshold))
        .ok_or(OutlineRefusal::NothingThere { contrast })?;
    let outline = outline.simplified(SIMPLIFIED);
    Ok(TracedOutline {
        points_px: outline
            .points()
            .iter()
            .map(|p| looked.colours.to_px(*p))
            .collect(),
        sigma_px: looked.colours.cell as f64,
        contrast,
    })
}

/// The part of a photo that is looked at.
struct Looked {
    colours: Colours,
    inside: Vec<bool>,
    /// Places near its rim.
    rim: Vec<usize>,
}

impl Looked {
    fn at(picture: &Picture, ground: Option<&[[f64; 2]]>) -> Option<Self> {
        let whole = [0.0, 0.0, picture.width() as f64, picture.height() as f64];
        let outline = match ground {
            Some(points) => Some(Outline::new(points.to_vec())?),
            None => None,
        };
        let bounds = match &outline {
            Some(outline) => {
                let [low, high] = outline.bounds();
                [low[0], low[1], high[0], high[1]]
            }
            None => whole,
        };
        let clamp = |v: f64, most: usize| v.round().clamp(0.0, most as f64) as usize;
        let sides = [
            clamp(bounds[0], picture.width()),
            clamp(bounds[1], picture.height()),
            clamp(bounds[2], picture.width()),
            clamp(bounds[3], picture.height()),
        ];
        if sides[2] < sides[0] + 16 || sides[3] < sides[1] + 16 {
            return None;
        }
        let colours = Colours::of(picture, sides);
        let (w, h) = (colours.width, colours.height);
        let depth = (RIM_SHARE * w.min(h) as f64).max(2.0);
        let mut inside = vec![false; w * h];
        let mut rim = Vec::new();
        for (k, within) in inside.iter_mut().enumerate() {
            let (i, j) = (k % w, k / w);
            let (there, clearance) = match &outline {
                None => {
                    let to_side = i.min(j).min(w - 1 - i).min(h - 1 - j);
                    (true, to_side as f64)
                }
                Some(outline) => {
                    let at = colours.to_px([i as f64, j as f64]);
                    let there = outline.contains(at);
                    let away = if there { outline.clearance(at) } else { 0.0 };
                    (there, away / colours.cell as f64)
                }
            };
            *within = there;
            if there && clearance < depth {
                rim.push(k);
            }
        }
        Some(Self {
            colours,
            inside,
            rim,
        })
    }
}

/// Places of the largest piece above a level, joined side by side.
fn largest_piece(away: &Grey, inside: &[bool], level: f32) -> Vec<usize> {
    let (w, n) = (away.width, away.values.len());
    let mut free: Vec<bool> = (0..n)
        .map(|k| inside[k] && away.values[k] > level)
        .collect();
    let mut largest = Vec::new();
    for start in 0..n {
        if !free[start] {
            continue;
        }
        free[start] = false;
        let mut piece = vec![start];
        let mut next = 0;
        while next < piece.len() {
            let k = piece[next];
            next += 1;
            let sides = [
                (k % w > 0).then(|| k - 1),
                (k % w + 1 < w).then(|| k + 1),
                k.checked_sub(w),
                (k + w < n).then(|| k + w),
            ];
            for side in sides.into_iter().flatten() {
                if std::mem::take(&mut free[side]) {
                    piece.push(side);
                }
            }
        }
        if piece.len() > largest.len() {
            largest = piece;
        }
    }
    largest
}

/// The piece's edge in places: where the distance is half of that just inside.
fn edge(away: &Grey, in_piece: &[bool], threshold: f64) -> Option<Outline> {
    let grid = Grid {
        nx: away.width,
        ny: away.height,
        cell_mm: 1.0,
        origin_mm: [0.0; 2],
    };
    // What else stands out must not join: beyond three places from the piece all is ground.
    let near = grown(in_piece, away.width, 3);
    let field: Vec<f64> = (0..grid.len())
        .map(|k| {
            if near[k] {
                f64::from(away.values[k])
            } else {
                0.0
            }
        })
        .collect();
    let shell = shrunk(in_piece, away.width, 3);
    let core = shrunk(in_piece, away.width, 8);
    let just_inside: Vec<f32> = (0..grid.len())
        .filter(|&k| shell[k] && !core[k])
        .map(|k| away.values[k])
        .collect();
    let level = if just_inside.len() < 20 {
        threshold
    } else {
        (0.5 * median(just_inside)).clamp(0.5 * threshold, 1.5 * threshold)
    };
    contour::contours(&grid, &field, level).into_iter().next()
}

fn grown(mask: &[bool], width: usize, times: usize) -> Vec<bool> {
    spread(mask, width, times, true)
}

fn shrunk(mask: &[bool], width: usize, times: usize) -> Vec<bool> {
    spread(mask, width, times, false)
}

/// Gives every place `value` that has a neighbour of it, so many times.
fn spread(mask: &[bool], width: usize, times: usize, value: bool) -> Vec<bool> {
    let mut now = mask.to_vec();
    for _ in 0..times {
        let before = now.clone();
        for (k, place) in now.iter_mut().enumerate() {
            let x = k % width;
            let beside = (x > 0 && before[k - 1] == value)
                || (x + 1 < width && before[k + 1] == value)
                || k.checked_sub(width).is_some_and(|k| before[k] == value)
                || before.get(k + width) == Some(&value);
            if beside {
                *place = value;
            }
        }
    }
    now
}

fn median(mut values: Vec<f32>) -> f64 {
    values.sort_by(f32::total_cmp);
    values.get(values.len() / 2).map_or(0.0, |v| f64::from(*v))
}
