//! The scale card: what is printed, and how it is found in a photo.
//!
//! A band of squares around a plain window. The stone lies in the window, so that
//! corners stand on all sides of it; the white of the window is the plain ground on
//! which its outline is seen. The numbers of squares across and down are odd and
//! even: half a turn swaps dark and bright, which tells the card's upper side.

use crate::lattice::{ChequerCorner, Seen, look};
use crate::picture::Grey;
use crate::scale::PhotoScale;
use thiserror::Error;

/// Squares across and down.
pub const SQUARES: [i32; 2] = [21, 16];
/// Squares from the rim to the window.
pub const BAND: i32 = 3;
/// Side of a square, mm. Chosen: the card fits both papers and its window takes
/// the stones of the trade.
pub const SQUARE_MM: f64 = 8.0;
/// Length of the rule that is printed beside it, mm.
pub const RULE_MM: f64 = 50.0;

/// Share of the corners that must be seen.
const LEAST_SHARE: f64 = 0.5;
/// Smallest side of a square, pixels. Chosen: below it the corner test meets its
/// neighbours.
const LEAST_SQUARE_PX: f64 = 12.0;
/// Widest blur of an edge, mm, one standard deviation. Chosen: half of the thinnest
/// bar that is worth cutting.
const MOST_BLUR_MM: f64 = 0.5;
/// Most that the camera may lean, degrees. Chosen: lengths across are shortened by a
/// fifth there, and the far side of a stone hides.
const MOST_TILT_DEG: f64 = 35.0;
/// How far a corner may be from where the others put it, in their usual distance.
const STRAY: f64 = 4.0;
/// How far a print may be off where nobody measured its rule, as a share, one
/// standard deviation. Chosen: 0.25 mm on the rule.
const PRINT_SIGMA: f64 = 0.005;
/// How surely a rule of 50 mm is measured with callipers, mm. Chosen.
const RULE_SIGMA_MM: f64 = 0.1;

/// Width and height of the card, mm.
#[must_use]
pub fn size_mm() -> [f64; 2] {
    SQUARES.map(|n| SQUARE_MM * f64::from(n))
}

/// Lower left and upper right corner of the window, mm from the card's lower left.
#[must_use]
pub fn window_mm() -> [[f64; 2]; 2] {
    let inset = SQUARE_MM * f64::from(BAND);
    let [w, h] = size_mm();
    [[inset; 2], [w - inset, h - inset]]
}

/// True for a dark square, counted from the upper left.
fn is_dark(column: i32, row: i32) -> bool {
    let on_card = (0..SQUARES[0]).contains(&column) && (0..SQUARES[1]).contains(&row);
    let in_window =
        (BAND..SQUARES[0] - BAND).contains(&column) && (BAND..SQUARES[1] - BAND).contains(&row);
    on_card && !in_window && (column + row) % 2 == 0
}

/// Lower left corners of the dark squares, mm, y up.
#[must_use]
pub fn dark_squares_mm() -> Vec<[f64; 2]> {
    let [_, height] = size_mm();
    (0..SQUARES[1])
        .flat_map(|row| (0..SQUARES[0]).map(move |column| (column, row)))
        .filter(|&(column, row)| is_dark(column, row))
        .map(|(column, row)| {
            [
                SQUARE_MM * f64::from(column),
                height - SQUARE_MM * f64::from(row + 1),
            ]
        })
        .collect()
}

/// The corners at which four squares meet.
#[must_use]
pub fn corners() -> Vec<ChequerCorner> {
    let meets = |column: i32, row: i32| {
        let four = [(-1, -1), (0, -1), (-1, 0), (0, 0)];
        let dark = four.map(|(i, j)| is_dark(column + i, row + j));
        dark[0] == dark[3] && dark[1] == dark[2] && dark[0] != dark[1]
    };
    (1..SQUARES[1])
        .flat_map(|row| (1..SQUARES[0]).map(move |column| (column, row)))
        .filter(|&(column, row)| meets(column, row))
        .map(|(column, row)| ChequerCorner {
            column,
            row,
            bright: !is_dark(column, row),
        })
        .collect()
}

fn corner_mm(column: i32, row: i32) -> [f64; 2] {
    [
        SQUARE_MM * f64::from(column),
        SQUARE_MM * f64::from(SQUARES[1] - row),
    ]
}

/// A card that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct CardFound {
    /// Pixels to millimetres; the origin is the card's lower left corner.
    pub scale: PhotoScale,
    /// Where corners were found, pixels.
    pub corners_px: Vec<[f64; 2]>,
    /// How many corners the card has.
    pub corners_on_card: usize,
    /// The card's rim, pixels, round from its lower left.
    pub rim_px: [[f64; 2]; 4],
    /// The window, pixels, round from its lower left.
    pub window_px: [[f64; 2]; 4],
    /// Side of a pixel in the middle of the card, mm.
    pub mm_per_px: f64,
    /// How wide edges are blurred, mm, one standard deviation.
    pub blur_mm: f64,
    /// How far the camera leans from square, degrees.
    pub tilt_deg: f64,
}

/// Why no scale is given.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum CardRefusal {
    /// No rows of corners.
    #[error(
        "no scale card is found in the photo; lay the printed card flat, all of it in the picture, \
         in even light"
    )]
    NoneFound,
    /// Rows of corners, but too few of the card's.
    #[error(
        "only {seen} of the card's {of} corners are seen; bring all four sides of the card into \
         the picture, without glare or shade across it"
    )]
    CutOff {
        /// Corners that were found in rows.
        seen: usize,
        /// Corners of the card.
        of: usize,
    },
    /// The card takes too little of the picture.
    #[error(
        "the card is too small in the photo: its squares are {square_px:.0} pixels wide and need \
         {LEAST_SQUARE_PX:.0}; go nearer"
    )]
    TooSmall {
        /// Side of a square, pixels.
        square_px: f64,
    },
    /// Edges are not sharp.
    #[error(
        "the photo is blurred: edges are spread over {blur_mm:.2} mm and may be over \
         {MOST_BLUR_MM} mm; hold still, and let the camera focus on the card"
    )]
    Blurred {
        /// Blur of the edges, mm, one standard deviation.
        blur_mm: f64,
    },
    /// The camera leans too far.
    #[error(
        "the camera leans by {tilt_deg:.0} degrees and may lean by {MOST_TILT_DEG:.0}; hold it \
         square to the card"
    )]
    TooTilted {
        /// How far it leans, degrees.
        tilt_deg: f64,
    },
}

/// Finds the card in a photo. `rule_mm` is what the printed 50 mm rule measures on
/// this print, where somebody measured it.
///
/// # Errors
/// The first reason for which lengths in this photo cannot be trusted.
pub fn find_card(grey: &Grey, rule_mm: Option<f64>) -> Result<CardFound, CardRefusal> {
    let drawn = corners();
    let seen = look(grey, &drawn);
    let of = drawn.len();
    let refusal = || refusal(&seen, of);
    if (seen.corners.len() as f64) < LEAST_SHARE * of as f64 || !on_all_sides(&seen) {
        return Err(refusal());
    }
    if seen.square_px < LEAST_SQUARE_PX {
        return Err(CardRefusal::TooSmall {
            square_px: seen.square_px,
        });
    }
    let scale = scale_of([grey.width, grey.height], &seen).ok_or_else(refusal)?;
    let (print, print_sigma) = match rule_mm {
        Some(rule) => (rule / RULE_MM, RULE_SIGMA_MM / RULE_MM),
        None => (1.0, PRINT_SIGMA),
    };
    let blur_mm = print * blur_px(grey, &scale) * mid_mm_per_px(&scale);
    let tilt_deg = scale.tilt(middle_mm()).to_degrees();
    if tilt_deg > MOST_TILT_DEG {
        return Err(CardRefusal::TooTilted { tilt_deg });
    }
    if blur_mm > MOST_BLUR_MM {
        return Err(CardRefusal::Blurred { blur_mm });
    }
    let [[left, low], [right, high]] = window_mm();
    let [width, height] = size_mm();
    let round = |[left, low, right, high]: [f64; 4]| {
        [[left, low], [right, low], [right, high], [left, high]].map(|mm| scale.to_px(mm))
    };
    Ok(CardFound {
        corners_px: seen.corners.iter().map(|c| c.at).collect(),
        corners_on_card: of,
        rim_px: round([0.0, 0.0, width, height]),
        window_px: round([left, low, right, high]),
        mm_per_px: print * mid_mm_per_px(&scale),
        blur_mm,
        tilt_deg,
        scale: scale.stretched(print, print_sigma),
    })
}

fn refusal(seen: &Seen, of: usize) -> CardRefusal {
    // A few corners in rows may be anything; a third of the card's are the card.
    if 3 * seen.in_rows >= of {
        CardRefusal::CutOff {
            seen: seen.corners.len().min(seen.in_rows),
            of,
        }
    } else {
        CardRefusal::NoneFound
    }
}

/// Corners on either side of the window, both ways: the stone lies between them.
fn on_all_sides(seen: &Seen) -> bool {
    let [columns, rows] = SQUARES;
    let any = |test: &dyn Fn(i32, i32) -> bool| {
        seen.corners
            .iter()
            .filter(|c| test(c.column, c.row))
            .count()
            >= 3
    };
    any(&|c, _| c < BAND)
        && any(&|c, _| c > columns - BAND)
        && any(&|_, r| r < BAND)
        && any(&|_, r| r > rows - BAND)
}

/// The scale through all corners but strays.
fn scale_of(size: [usize; 2], seen: &Seen) -> Option<PhotoScale> {
    let mut pairs: Vec<_> = seen
        .corners
        .iter()
        .map(|c| (c.at, corner_mm(c.column, c.row)))
        .collect();
    let first = PhotoScale::through(size, &pairs)?;
    let miss = |(px, mm): &([f64; 2], [f64; 2])| {
        let at = first.to_px(*mm);
        (at[0] - px[0]).hypot(at[1] - px[1])
    };
    let mut misses: Vec<f64> = pairs.iter().map(miss).collect();
    misses.sort_by(f64::total_cmp);
    // Strays must not hide behind the spread that they make: the median bears them.
    let most = STRAY * misses[misses.len() / 2].max(0.05);
    if misses.last().is_some_and(|worst| *worst <= most) {
        return Some(first);
    }
    pairs.retain(|pair| miss(pair) <= most);
    PhotoScale::through(size, &pairs)
}

fn middle_mm() -> [f64; 2] {
    size_mm().map(|v| 0.5 * v)
}

fn mid_mm_per_px(scale: &PhotoScale) -> f64 {
    scale.mm_per_px(scale.to_px(middle_mm()))
}

/// How wide the edges between squares are spread, pixels, one standard deviation.
///
/// Between two corners an edge runs straight. Across it, a Gaussian blur takes the
/// values from a quarter to three quarters over 1.349 standard deviations.
fn blur_px(grey: &Grey, scale: &PhotoScale) -> f64 {
    const STEPS: i32 = 200;
    let mut widths: Vec<f64> = corners()
        .iter()
        .filter_map(|corner| {
            let middle = corner_mm(corner.column, corner.row);
            // Along the column's line, half a square up from the corner, both squares
            // beside it being there only within the band.
            let across = |t: f64| [middle[0] + t * SQUARE_MM, middle[1] + 0.5 * SQUARE_MM];
            let values: Vec<f64> = (-STEPS..=STEPS)
                .map(|k| 0.45 * f64::from(k) / f64::from(STEPS))
                .map(|t| grey.between(scale.to_px(across(t))))
                .collect();
            let (first, last) = (values[0], values[values.len() - 1]);
            if (last - first).abs() < 20.0 {
                return None;
            }
            let share = |v: &f64| (v - first) / (last - first);
            let quarter = values.iter().position(|v| share(v) >= 0.25)?;
            let three = values.iter().position(|v| share(v) >= 0.75)?;
            let length = |k: usize| 0.45 * SQUARE_MM * (k as f64 / f64::from(STEPS) - 1.0);
            Some((length(three) - length(quarter)) / 1.349)
        })
        .collect();
    widths.sort_by(f64::total_cmp);
    let mm = widths.get(widths.len() / 2).copied().unwrap_or(0.0);
    mm / mid_mm_per_px(scale)
}
