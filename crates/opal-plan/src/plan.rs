//! What a plan is, and what is forecast of it.

use crate::value::kind_words;
use opal_geom::{Grid, Outline};
use opal_units::{Area, Draws, Length, Mass};
use std::sync::Arc;

/// How the outline was chosen.
#[derive(Clone, Debug, PartialEq)]
pub enum CutKind {
    /// The best smooth outline of its own.
    Freeform,
    /// A size that settings are made for.
    Standard {
        /// Key of the family in the reference data: `oval`, `round`, ….
        family: String,
        /// Longer size.
        length: Length,
        /// Shorter size.
        width: Length,
    },
    /// The piece kept whole: skin and barren stock off, natural outline left.
    Specimen,
}

/// How the dome rises from the edge to the top.
///
/// Rise at a point is `height · (1 − ρ^exponent)`, where ρ runs from 0 at the
/// crown to 1 at the edge along the ray through the point (outlines that are
/// star-shaped about their crown).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DomeProfile {
    /// Rise from the edge to the crown.
    pub height: Length,
    /// 2 for a paraboloid; larger is flatter on top.
    pub exponent: f64,
}

/// How the underside ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Back {
    /// From the edge of the dome down to the flat back: the wall.
    pub wall: Length,
    /// Width of the bevel at the bottom edge.
    pub bevel: Length,
}

/// A stone as it is to be cut, in the stone frame.
#[derive(Clone, Debug, PartialEq)]
pub struct CutStone {
    /// How the outline was chosen.
    pub kind: CutKind,
    /// The outline from above, anticlockwise, not closed by repetition, mm.
    pub outline_mm: Vec<[f64; 2]>,
    /// The crown's place, mm.
    pub crown_mm: [f64; 2],
    /// How far the outline is turned from its own long axis along x.
    pub turn: opal_units::Angle,
    /// The edge plane: z = `edge_mm[0] + edge_mm[1]·(x − crown x) + edge_mm[2]·(y − crown y)`.
    pub edge_mm: [f64; 3],
    /// The dome above the edge plane.
    pub dome: DomeProfile,
    /// The wall and back below it.
    pub back: Back,
    /// The bar that the face shows: its place in `Interiors::bars`.
    pub bar: usize,
    /// For a piece kept whole, whose face follows the bar: how it is expected
    /// to look. The edge plane and the dome then only describe it roughly.
    pub natural: Option<Arc<NaturalShape>>,
}

/// A piece kept whole, as it is expected to look when finished: on the
/// middle-most heights of all interiors.
#[derive(Clone, Debug, PartialEq)]
pub struct NaturalShape {
    /// The nodes.
    pub grid: Grid,
    /// Finished face at each node, mm in the stone frame; NaN outside.
    pub face_mm: Vec<f32>,
    /// Finished back at each node, mm; NaN outside.
    pub back_mm: Vec<f32>,
}

/// What a cut stone turned out to be in one interior.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StoneDraw {
    /// Finished weight.
    pub weight: Mass,
    /// The part of it that is colour.
    pub colour: Mass,
    /// Area of the face, seen from above.
    pub face: Area,
    /// Share of the face that shows clean colour, 0..=1.
    pub clean_share: f64,
    /// Least thickness of colour under the clean face (5th centile over it).
    pub least_colour: Length,
    /// Mean thickness of colour under the clean face.
    pub mean_colour: Length,
    /// Mean thickness of the whole stone.
    pub thickness: Length,
    /// False when it broke, or nothing was left to sell.
    pub whole: bool,
}

/// Prices a stone; passed in by whoever knows the price book.
pub trait Appraiser: Sync {
    /// What the stone would fetch in interior `i`, in major units of one
    /// currency, before costs. `i` picks the draw of everything that is unsure
    /// about prices and looks, so that plans are compared on equal luck; `number`,
    /// the stone's place in its plan from 0, picks the luck that is its own.
    fn worth(&self, stone: &CutStone, number: usize, draw: &StoneDraw, i: usize) -> f64;

    /// What the work costs for a plan in interior `i`: labour and consumables,
    /// in major units.
    fn cost(&self, plan: &Plan, i: usize) -> f64;

    /// What the piece would fetch unworked, in interior `i`, in major units.
    fn as_it_is(&self, i: usize) -> f64;
}

/// One straight saw cut.
#[derive(Clone, Debug, PartialEq)]
pub struct SawCut {
    /// Order, from 1.
    pub order: u32,
    /// Two points of the line from above, mm (for an upright cut).
    pub line_mm: [[f64; 2]; 2],
    /// Tilt from upright.
    pub tilt: opal_units::Angle,
    /// The stone whose edge plane a level cut is parallel to, counted from 0.
    pub stone: usize,
    /// For a cut parallel to that stone's edge plane: how far above that
    /// plane the face lies that stays with the stone, mm; negative below it.
    /// The blade runs on the far side of it. `None` for an upright cut.
    pub level_mm: Option<f64>,
    /// What the blade takes.
    pub kerf: Length,
    /// In plain words: what it parts, what to set on the saw.
    pub words: String,
}

/// What is to be ground off around the stone, on average.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stock {
    /// From above.
    pub top: Length,
    /// From below.
    pub bottom: Length,
    /// From the sides, at the widest place.
    pub sides: Length,
    /// Volume to be removed by wheel after sawing.
    pub volume: opal_units::Volume,
}

/// Who thought of a plan.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub enum Origin {
    /// The search.
    #[default]
    Found,
    /// The cutter drew its outlines.
    Pinned,
    /// It fills the cutter's order.
    Ordered,
}

/// Which family a plan belongs to.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum PlanKind {
    /// One smooth outline of its own.
    Freeform,
    /// One or more standard sizes.
    Standard,
    /// The piece kept whole.
    Specimen,
    /// Several stones of any kind.
    Several,
    /// Sold as it is.
    AsItIs,
}

/// One way to cut the piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Which family.
    pub kind: PlanKind,
    /// What is cut.
    pub stones: Vec<CutStone>,
    /// The saw cuts, in order.
    pub cuts: Vec<SawCut>,
    /// What the wheel takes.
    pub stock: Stock,
    /// Who thought of it.
    pub origin: Origin,
}

impl Plan {
    /// What comes of it, in a few words: `oval 18 × 13 mm`, `2 × round 6 mm and
    /// freeform about 21 × 14 mm`, `as it is`.
    #[must_use]
    pub fn title(&self) -> String {
        let mut counted: Vec<(String, usize)> = Vec::new();
        for title in self.stones.iter().map(CutStone::title) {
            match counted.iter_mut().find(|c| c.0 == title) {
                Some(same) => same.1 += 1,
                None => counted.push((title, 1)),
            }
        }
        if counted.is_empty() {
            return "as it is".to_owned();
        }
        let each: Vec<String> = counted
            .into_iter()
            .map(|(title, count)| {
                if count == 1 {
                    title
                } else {
                    format!("{count} × {title}")
                }
            })
            .collect();
        each.join(" and ")
    }
}

impl CutStone {
    /// What it is and how large: `oval 18 × 13 mm`, `freeform about 21 × 14 mm`.
    #[must_use]
    pub fn title(&self) -> String {
        let name = match &self.kind {
            CutKind::Standard { .. } => return kind_words(&self.kind),
            CutKind::Freeform => "freeform",
            CutKind::Specimen => "specimen",
        };
        let Some(outline) = Outline::new(self.outline_mm.clone()) else {
            return name.to_owned();
        };
        let sizes = outline.calliper_sizes();
        format!("{name} about {:.0} × {:.0} mm", sizes.length, sizes.width)
    }
}

/// What is forecast of one stone, a draw for each interior.
#[derive(Clone, Debug, PartialEq)]
pub struct StoneForecast {
    /// Finished weight, ct.
    pub weight_ct: Draws,
    /// Colour in it, ct.
    pub colour_ct: Draws,
    /// Potch in it, ct.
    pub potch_ct: Draws,
    /// Clean share of the face.
    pub clean_share: Draws,
    /// Least thickness of colour, mm.
    pub least_colour_mm: Draws,
    /// Mean thickness of colour, mm.
    pub mean_colour_mm: Draws,
    /// Mean thickness of the whole stone, mm.
    pub thickness_mm: Draws,
    /// Area of the face, mm².
    pub face_mm2: Draws,
    /// The chance that it comes off the bench in one piece.
    pub whole_chance: f64,
    /// What it would fetch, major units.
    pub worth: Draws,
}

/// What a plan is worth, net of work: three figures, always together.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanValue {
    /// The plan is never revised.
    pub fixed: Draws,
    /// The cutter opens the face, sees, and then chooses.
    pub adapting: Draws,
    /// If you could see inside: an upper bound.
    pub seen_inside: Draws,
}

impl PlanValue {
    /// What opening the face and then choosing adds to a plan that is never
    /// revised: mean and standard error, on equal luck.
    #[must_use]
    pub fn worth_of_adapting(&self) -> (f64, f64) {
        mean_gap(&self.adapting, &self.fixed)
    }

    /// What seeing inside would add to that: mean and standard error.
    #[must_use]
    pub fn worth_of_seeing(&self) -> (f64, f64) {
        mean_gap(&self.seen_inside, &self.adapting)
    }
}

/// Mean of the paired differences and its standard error.
fn mean_gap(upper: &Draws, lower: &Draws) -> (f64, f64) {
    let n = upper.len().min(lower.len()) as f64;
    let gaps = || {
        upper
            .values()
            .iter()
            .zip(lower.values())
            .map(|(u, l)| u - l)
    };
    let mean = gaps().sum::<f64>() / n;
    if n < 2.0 {
        return (mean, 0.0);
    }
    let square: f64 = gaps().map(|gap| (gap - mean) * (gap - mean)).sum();
    (mean, (square / (n - 1.0) / n).sqrt())
}
