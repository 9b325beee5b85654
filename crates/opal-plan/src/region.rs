//! Where on a piece, in words: the middle, and eight sides of it.

use opal_stone::Stone;

/// Where a direction points for somebody who looks down with x to the right.
pub(crate) fn side(angle: f64) -> &'static str {
    SIDES[eighth(angle)]
}

const SIDES: [&str; 8] = [
    "right",
    "far right",
    "far",
    "far left",
    "left",
    "near left",
    "near",
    "near right",
];

fn eighth(angle: f64) -> usize {
    (angle.to_degrees().rem_euclid(360.0) / 45.0).round() as usize % 8
}

/// A part of the piece from above.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub struct Region(u8);

/// All of them: the middle, then the sides.
pub(crate) const REGIONS: usize = 9;

impl Region {
    pub(crate) fn number(k: usize) -> Self {
        Self(k.min(REGIONS - 1) as u8)
    }

    pub(crate) fn index(self) -> usize {
        usize::from(self.0)
    }

    /// `in the middle`, `at the far left side`.
    #[must_use]
    pub fn words(self) -> String {
        match self.0 {
            0 => "in the middle".to_owned(),
            k => format!("at the {} side", SIDES[usize::from(k) - 1]),
        }
    }

    /// A key for files: `middle`, `far-left`.
    #[must_use]
    pub fn key(self) -> String {
        match self.0 {
            0 => "middle".to_owned(),
            k => SIDES[usize::from(k) - 1].replace(' ', "-"),
        }
    }
}

/// How the piece is divided.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Regions {
    middle: [f64; 2],
    half: [f64; 2],
}

impl Regions {
    pub(crate) fn of(stone: &Stone) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for k in (0..stone.grid.len()).filter(|&k| stone.inside(k)) {
            let at = stone.grid.at_index(k);
            for d in 0..2 {
                low[d] = low[d].min(at[d]);
                high[d] = high[d].max(at[d]);
            }
        }
        Self {
            middle: std::array::from_fn(|d| f64::midpoint(low[d], high[d])),
            half: std::array::from_fn(|d| ((high[d] - low[d]) / 2.0).max(1e-9)),
        }
    }

    /// The middle is what lies within half of the way to the side.
    pub(crate) fn at(&self, place: [f64; 2]) -> Region {
        let [x, y]: [f64; 2] = std::array::from_fn(|d| (place[d] - self.middle[d]) / self.half[d]);
        if x.hypot(y) < 0.5 {
            return Region(0);
        }
        let angle = (place[1] - self.middle[1]).atan2(place[0] - self.middle[0]);
        Region(1 + eighth(angle) as u8)
    }
}
