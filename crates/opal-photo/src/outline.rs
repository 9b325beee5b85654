//! The outline of a thing on a plain ground.

use crate::background::{Colours, DARKER_COUNTS, from_ground};
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
/// Levels at which the outline is tried.
const LEVELS: usize = 10;
/// How much stronger the edge of another parting must be than of the one before.
const STRONGER: f64 = 1.05;
/// Share of the piece found with the usual share of shade that another must keep: less is a
/// mark on the stone, or its colours, and not the stone without its shade.
const KEPT: f64 = 0.25;
/// Smoothing before the edge is placed, places.
const SMOOTHING: f64 = 1.0;
/// How far along the rim what is just inside counts, places.
const JUST_INSIDE: f64 = 4.0;
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
/// Distance of each place from the colour of the ground's rim; a threshold; the largest
/// connected piece, its holes filled; then the edge where the distance is half of what it
/// is just inside, by marching squares. The threshold is Otsu's (1979), or the one below
/// it, above the ground's own unevenness, round whose piece the colour changes most
/// sharply; so is the share of a darkening that counts. A stone with a pale or shining part
/// falls apart at Otsu's threshold, along a line where nothing changes, and round shade
/// that is cast the change is weak.
///
/// # Errors
/// Nothing stands out, or it does not lie free.
pub fn trace_outline(
    picture: &Picture,
    ground: Option<&[[f64; 2]]>,
) -> Result<TracedOutline, OutlineRefusal> {
    let looked = Looked::at(picture, ground).ok_or(OutlineRefusal::NoGround)?;
    let (away, threshold) = looked.parted().ok_or(OutlineRefusal::NoGround)?;
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
    if looked.over_the_rim(&in_piece) {
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

    /// Distance of each place from the ground's colour, and the level above which it is the
    /// stone's: of the shares of a darkening that may count, and the levels from Otsu's down
    /// to the ground's own unevenness, those round whose largest piece the colour changes
    /// most sharply. The first is kept unless another is clearly better.
    fn parted(&self) -> Option<(Grey, f32)> {
        let from_ground = from_ground(&self.colours, &self.rim)?;
        let sharpness = sharpness(&self.colours);
        let mut best: Option<(Grey, f32, Option<f64>)> = None;
        let mut usual_area = 0;
        for darker_counts in DARKER_COUNTS {
            let away = Grey {
                width: self.colours.width,
                height: self.colours.height,
                values: from_ground.iter().map(|d| d.when(darker_counts)).collect(),
            }
            .blurred(SMOOTHING);
            let there = away.values.iter().zip(&self.inside).filter(|(_, i)| **i);
            let otsu = otsu(&there.map(|(v, _)| *v).collect::<Vec<_>>());
            let usual = best.is_none();
            if usual {
                best = Some((away.clone(), otsu, None));
            }
            for level in self.levels(&away, otsu) {
                let mut in_piece = vec![false; away.values.len()];
                let piece = largest_piece(&away, &self.inside, level);
                let contrast = median(piece.iter().map(|&k| away.values[k]).collect());
                let area = piece.len();
                for place in piece {
                    in_piece[place] = true;
                }
                if self.over_the_rim(&in_piece) {
                    break;
                }
                let a_mark = (area as f64) < KEPT * usual_area as f64;
                if !usual && (a_mark || contrast < LEAST_CONTRAST) {
                    continue;
                }
                let round = rim_of(&in_piece, away.width);
                let total: f64 = round.iter().map(|&k| f64::from(sharpness[k])).sum();
                let here = total / round.len().max(1) as f64;
                let there = best.as_ref().and_then(|(_, _, there)| *there);
                if there.is_none_or(|there| here > STRONGER * there) {
                    best = Some((away.clone(), level, Some(here)));
                    if usual {
                        usual_area = area;
                    }
                }
            }
        }
        best.map(|(away, level, _)| (away, level))
    }

    /// Otsu's level and those below it that are tried, the highest first.
    fn levels(&self, away: &Grey, otsu: f32) -> Vec<f32> {
        let mut ground: Vec<f32> = self.rim.iter().map(|&k| away.values[k]).collect();
        ground.sort_by(f32::total_cmp);
        let uneven = ground.get(ground.len() * 49 / 50).copied().unwrap_or(0.0);
        let lowest = (1.5 * uneven).max(0.35 * LEAST_CONTRAST as f32);
        if lowest >= otsu {
            return vec![otsu];
        }
        let step = |k: usize| otsu * (lowest / otsu).powf(k as f32 / (LEVELS - 1) as f32);
        (0..LEVELS).map(step).collect()
    }

    /// The ground's own rim is its colour: a piece that takes much of it is no thing on it.
    fn over_the_rim(&self, in_piece: &[bool]) -> bool {
        let on_rim = self.rim.iter().filter(|k| in_piece[**k]).count();
        on_rim as f64 > 0.03 * self.rim.len() as f64
    }
}

/// How sharply the colour changes at a place, in units of L* over two places: the steepest
/// within two places, so that it does not hang on where across a soft edge the place lies.
fn sharpness(colours: &Colours) -> Vec<f32> {
    let (w, n) = (colours.width, colours.lab.len());
    let channels: [Grey; 3] = std::array::from_fn(|c| {
        Grey {
            width: w,
            height: colours.height,
            values: colours.lab.iter().map(|lab| lab[c]).collect(),
        }
        .blurred(SMOOTHING)
    });
    let steep: Vec<f32> = (0..n)
        .map(|k| {
            let (x, y) = ((k % w) as i64, (k / w) as i64);
            let slope = |g: &Grey| {
                let across = g.at(x + 1, y) - g.at(x - 1, y);
                let down = g.at(x, y + 1) - g.at(x, y - 1);
                across * across + down * down
            };
            channels.iter().map(slope).sum::<f32>().sqrt()
        })
        .collect();
    let most = |values: &[f32], dx: i64, dy: i64| -> Vec<f32> {
        (0..n)
            .map(|k| {
                let (x, y) = ((k % w) as i64, (k / w) as i64);
                (-2..=2)
                    .map(|far| (x + far * dx, y + far * dy))
                    .filter(|(x, y)| {
                        (0..w as i64).contains(x) && (0..colours.height as i64).contains(y)
                    })
                    .map(|(x, y)| values[y as usize * w + x as usize])
                    .fold(0.0, f32::max)
            })
            .collect()
    };
    most(&most(&steep, 1, 0), 0, 1)
}

/// The places that share a side with one, of `n` in rows of `width`.
fn beside(k: usize, width: usize, n: usize) -> impl Iterator<Item = usize> {
    let x = k % width;
    [
        (x > 0).then(|| k - 1),
        (x + 1 < width).then(|| k + 1),
        k.checked_sub(width),
        (k + width < n).then(|| k + width),
    ]
    .into_iter()
    .flatten()
}

/// The places of a piece that lie beside what is outside of it; its holes do not count.
fn rim_of(in_piece: &[bool], width: usize) -> Vec<usize> {
    let n = in_piece.len();
    let beside = move |k: usize| beside(k, width, n);
    let mut outside = vec![false; n];
    let mut next: Vec<usize> = (0..n)
        .filter(|&k| beside(k).count() < 4 && !in_piece[k])
        .collect();
    for &k in &next {
        outside[k] = true;
    }
    while let Some(k) = next.pop() {
        for side in beside(k) {
            if !in_piece[side] && !std::mem::replace(&mut outside[side], true) {
                next.push(side);
            }
        }
    }
    (0..n)
        .filter(|&k| in_piece[k] && beside(k).any(|side| outside[side]))
        .collect()
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
            for side in beside(k, w, n) {
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

/// The piece's edge in places: where the distance is half of that just inside, there.
fn edge(away: &Grey, in_piece: &[bool], threshold: f64) -> Option<Outline> {
    let grid = Grid {
        nx: away.width,
        ny: away.height,
        cell_mm: 1.0,
        origin_mm: [0.0; 2],
    };
    // What else stands out must not join, and what pales within must not part it: beyond
    // three places from the piece's rim all is ground, or all is stone.
    let near = grown(in_piece, away.width, 3);
    let deep = shrunk(in_piece, away.width, 3);
    let core = shrunk(&deep, away.width, 5);
    let (mut within, mut counted) = (away.clone(), away.clone());
    for k in 0..grid.len() {
        let shell = deep[k] && !core[k];
        within.values[k] = if shell { away.values[k] } else { 0.0 };
        counted.values[k] = f32::from(u8::from(shell));
    }
    let (within, counted) = (within.blurred(JUST_INSIDE), counted.blurred(JUST_INSIDE));
    let field: Vec<f64> = (0..grid.len())
        .map(|k| {
            if deep[k] {
                return 1.0;
            }
            if !near[k] {
                return 0.0;
            }
            let counted = counted.values[k];
            let just_inside = if counted > 0.01 {
                f64::from(within.values[k] / counted).max(threshold)
            } else {
                2.0 * threshold
            };
            f64::from(away.values[k]) / just_inside
        })
        .collect();
    contour::contours(&grid, &field, 0.5).into_iter().next()
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
