//! A slab of rough with a flat, level bar, and a round stone in its middle: small
//! enough to be worked out by hand.
#![allow(dead_code)] // each test uses its part

use opal_evidence::{Evidence, Form};
use opal_interior::{BarDraws, CrackDraws, Interiors, Speck, SpeckDraws};
use opal_plan::{Appraiser, Back, CutKind, CutStone, DomeProfile, Plan, StoneDraw};
use opal_stone::Stone;
use opal_testkit::{piece, rough};
use opal_units::{Angle, Length, Seed};

/// Pays for clean face alone, a broken stone as much as a whole one.
pub(crate) struct CleanFace;

impl Appraiser for CleanFace {
    fn worth(&self, _: &CutStone, _: usize, draw: &StoneDraw, _: usize) -> f64 {
        draw.face.mm2() * draw.clean_share
    }
    fn cost(&self, _: &Plan, _: usize) -> f64 {
        0.0
    }
    fn as_it_is(&self, _: usize) -> f64 {
        0.0
    }
}

pub(crate) fn slab() -> (Evidence, Stone) {
    let evidence = piece(Form::Seam, [24.0, 18.0, 10.0], 0.6);
    let stone = rough(&evidence, 0.5);
    (evidence, stone)
}

/// A flat, level bar in every inside: its top, its thickness, and specks.
pub(crate) fn flat(stone: &Stone, bars: &[(f32, f32)], specks: &[Vec<Speck>]) -> Interiors {
    let cells = stone.grid.len();
    let fill = |value: &dyn Fn(usize) -> f32| -> Vec<f32> {
        (0..bars.len() * cells)
            .map(|at| {
                if stone.inside(at % cells) {
                    value(at / cells)
                } else {
                    f32::NAN
                }
            })
            .collect()
    };
    let mut draws = SpeckDraws {
        starts: vec![0],
        specks: Vec::new(),
    };
    for own in specks {
        draws.specks.extend(own);
        draws.starts.push(draws.specks.len());
    }
    Interiors {
        seed: Seed(1),
        n: bars.len(),
        grid: stone.grid,
        bars: vec![BarDraws {
            name: "A".to_owned(),
            top_mm: fill(&|i| bars[i].0),
            thickness_mm: fill(&|i| bars[i].1),
        }],
        specks: draws,
        cracks: CrackDraws {
            starts: vec![0; bars.len() + 1],
            cracks: Vec::new(),
        },
        skin_inset_mm: vec![0.0; bars.len()],
        rests_on: Vec::new(),
        warnings: Vec::new(),
    }
}

/// A flat round stone of 8 mm in the middle of the rough.
pub(crate) fn cut() -> CutStone {
    let crown = [12.0, 9.0];
    CutStone {
        kind: CutKind::Freeform,
        outline_mm: (0..48)
            .map(|k| {
                let turn = std::f64::consts::TAU * f64::from(k) / 48.0;
                [crown[0] + 4.0 * turn.cos(), crown[1] + 4.0 * turn.sin()]
            })
            .collect(),
        crown_mm: crown,
        turn: Angle::from_degrees(0.0),
        edge_mm: [5.0, 0.0, 0.0],
        dome: DomeProfile {
            height: Length::ZERO,
            exponent: 2.0,
        },
        back: Back {
            wall: Length::from_mm(3.0),
            bevel: Length::ZERO,
        },
        bar: 0,
        natural: None,
    }
}
