//! Invented stones with bars of a simple law, and an invented price list.
//!
//! Nothing here is measured: these stones test that the planner reasons, not
//! that the world is like this.
#![allow(dead_code, missing_docs, unreachable_pub)]

use opal_evidence::GravityEstimate;
use opal_geom::Grid;
use opal_interior::{BarDraws, CrackDraws, Interiors, SpeckDraws};
use opal_plan::{Appraiser, CutKind, CutStone, Plan, StoneDraw};
use opal_stone::{ShapeSource, Stone};
use opal_units::{Length, Mass, Seed, SpecificGravity, Volume};
use rand::Rng as _;

/// A lens-shaped stone of full sizes `length` × `width` × `height` mm: an
/// ellipse from above, skin top and bottom level but rounded off at the side.
pub fn stone(length: f64, width: f64, height: f64, cell_mm: f64) -> Stone {
    let margin = 2.0 * cell_mm;
    let grid = Grid {
        nx: ((length + 2.0 * margin) / cell_mm).ceil() as usize + 1,
        ny: ((width + 2.0 * margin) / cell_mm).ceil() as usize + 1,
        cell_mm,
        origin_mm: [-length / 2.0 - margin, -width / 2.0 - margin],
    };
    let mut top_mm = vec![f32::NAN; grid.len()];
    let mut bottom_mm = vec![f32::NAN; grid.len()];
    let mut volume = 0.0;
    for k in 0..grid.len() {
        let [x, y] = grid.at_index(k);
        let q = (2.0 * x / length).powi(2) + (2.0 * y / width).powi(2);
        if q <= 1.0 {
            let half = height / 2.0 * (1.0 - q.powi(4)).sqrt();
            top_mm[k] = half as f32;
            bottom_mm[k] = -half as f32;
            volume += 2.0 * half * grid.cell_area_mm2();
        }
    }
    let gravity = SpecificGravity::new(2.1);
    Stone {
        grid,
        top_mm,
        bottom_mm,
        source: ShapeSource::Callipers,
        volume: (Volume::from_mm3(volume), Volume::from_mm3(0.05 * volume)),
        skin_sigma: Length::from_mm(0.3),
        weight: (Volume::from_mm3(volume) * gravity, Mass::from_carats(0.5)),
        gravity: GravityEstimate {
            value: gravity,
            sigma: SpecificGravity::new(0.02),
            measured: false,
        },
        check: None,
        mesh: None,
        stone_from_mesh: None,
        departure: None,
        notes: Vec::new(),
    }
}

/// How a bar is drawn.
#[derive(Clone, Copy)]
pub struct Law {
    /// Mean height of the middle of the bar, mm.
    pub height_mm: f64,
    /// One standard deviation of that height from interior to interior, mm.
    pub height_sd_mm: f64,
    /// One standard deviation of the tilt along x and y, as slopes.
    pub tilt_sd: f64,
    /// Middling thickness, mm.
    pub thickness_mm: f64,
    /// Standard deviation of the log of the thickness.
    pub thickness_log_sd: f64,
    /// Rise of the bar's middle over its edge (a domed bar), mm per mm².
    pub bow_per_mm: f64,
    /// Where the bar ends: present for x below this, ± the next, mm.
    pub ends_at_mm: f64,
    /// One standard deviation of that end, mm.
    pub ends_sd_mm: f64,
    /// Standard deviation of waves about 12 mm long, mm.
    pub wave_mm: f64,
    /// Standard deviation of the skin's place, mm.
    pub skin_mm: f64,
}

impl Law {
    /// A flat bar 2.5 mm thick at mid height, known to the hundredth.
    pub const FLAT: Self = Self {
        height_mm: 0.0,
        height_sd_mm: 0.01,
        tilt_sd: 0.0,
        thickness_mm: 2.5,
        thickness_log_sd: 0.0,
        bow_per_mm: 0.0,
        ends_at_mm: f64::INFINITY,
        ends_sd_mm: 0.0,
        wave_mm: 0.0,
        skin_mm: 0.0,
    };

    /// What a quick look leaves open.
    pub const DOUBTFUL: Self = Self {
        height_mm: 0.5,
        height_sd_mm: 0.6,
        tilt_sd: 0.02,
        thickness_mm: 2.0,
        thickness_log_sd: 0.4,
        bow_per_mm: 0.0,
        ends_at_mm: 8.0,
        ends_sd_mm: 3.0,
        wave_mm: 0.25,
        skin_mm: 0.2,
    };
}

/// Interiors of one bar by the law.
pub fn interiors(stone: &Stone, law: Law, n: usize, seed: u64) -> Interiors {
    let seed = Seed(seed);
    let cells = stone.grid.len();
    let mut top_mm = vec![f32::NAN; n * cells];
    let mut thickness_mm = vec![0.0; n * cells];
    let mut skin_inset_mm = Vec::with_capacity(n);
    for i in 0..n {
        let mut rng = seed.stream("invented-bar", i as u64);
        let mut normal = || {
            // The sum of twelve uniforms less six: mean 0, variance 1.
            (0..12)
                .map(|_| (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64)
                .sum::<f64>()
                - 6.0
        };
        let level = law.height_mm + law.height_sd_mm * normal();
        let (a, b) = (law.tilt_sd * normal(), law.tilt_sd * normal());
        let thick = law.thickness_mm * (law.thickness_log_sd * normal()).exp();
        let end = law.ends_at_mm + law.ends_sd_mm * normal();
        let waves: [f64; 4] = std::array::from_fn(|_| law.wave_mm * normal());
        skin_inset_mm.push((law.skin_mm * normal()) as f32);
        for k in 0..cells {
            if !stone.inside(k) {
                continue;
            }
            let [x, y] = stone.grid.at_index(k);
            let turn = std::f64::consts::TAU / 12.0;
            let wave = waves[0] * (turn * x).sin()
                + waves[1] * (turn * x).cos()
                + waves[2] * (turn * y).sin()
                + waves[3] * (turn * y).cos();
            let middle = level + a * x + b * y - law.bow_per_mm * (x * x + y * y) + wave / 2.0;
            // Pinches out over five millimetres.
            let share = ((end - x) / 5.0).clamp(0.0, 1.0);
            let t = if share > 0.0 { thick * share } else { 0.0 };
            top_mm[i * cells + k] = (middle + t / 2.0) as f32;
            thickness_mm[i * cells + k] = t as f32;
        }
    }
    Interiors {
        seed,
        n,
        grid: stone.grid,
        bars: vec![BarDraws {
            name: "A".to_owned(),
            top_mm,
            thickness_mm,
        }],
        specks: SpeckDraws {
            starts: vec![0; n + 1],
            specks: Vec::new(),
        },
        cracks: CrackDraws {
            starts: vec![0; n + 1],
            cracks: Vec::new(),
        },
        skin_inset_mm,
        rests_on: Vec::new(),
        warnings: Vec::new(),
    }
}

/// An invented price list: by the carat up to a size that can be worn, by the
/// piece above; settings make standard sizes easier to sell.
pub struct Prices {
    /// For a carat of clean bright stone.
    pub carat: f64,
    /// Paid more for a size that fits a setting.
    pub standard: f64,
    /// For a gram of specimen, at full colour.
    pub specimen_gram: f64,
}

impl Default for Prices {
    fn default() -> Self {
        Self {
            carat: 60.0,
            standard: 1.1,
            specimen_gram: 60.0,
        }
    }
}

/// Carats above which a stone is too big to wear.
const WEARABLE_CT: f64 = 60.0;

impl Appraiser for Prices {
    fn worth(&self, stone: &CutStone, _: usize, draw: &StoneDraw, _: usize) -> f64 {
        let whole = if draw.whole { 1.0 } else { 0.1 };
        if matches!(stone.kind, CutKind::Specimen) {
            return whole * self.specimen_gram * draw.weight.grams() * draw.clean_share;
        }
        // Counted as if cut to 4 mm where it is thicker.
        let counted = (draw.weight.carats() * (4.0 / draw.thickness.mm().max(4.0))).max(0.0);
        let worn = counted.min(WEARABLE_CT) + 0.3 * (counted - WEARABLE_CT).max(0.0);
        let fit = match &stone.kind {
            CutKind::Standard { length, .. } if length.mm() <= 30.0 => self.standard,
            _ => 1.0,
        };
        let depth = (draw.least_colour.mm() / 0.8).clamp(0.3, 1.0);
        whole * fit * self.carat * worn * draw.clean_share.powi(3) * depth
    }

    fn cost(&self, plan: &Plan, _: usize) -> f64 {
        40.0 * plan.stones.len() as f64 + 5.0 * plan.cuts.len() as f64
    }

    fn as_it_is(&self, _: usize) -> f64 {
        100.0
    }
}
