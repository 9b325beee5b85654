//! `opalwright-plan/1`: ways to cut, the best first.

use super::figure::{Digits, Figure};
use super::plan_why::PlanWhyDoc;
use opal_plan::{CutKind, CutStone, Origin, PlanKind, StoneForecast, ValuedPlan};
use opal_value::PriceUnit;
use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const PLAN_FORMAT: &str = "opalwright-plan/1";

/// Ways to cut a piece.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-plan/1")]
pub struct PlanDoc {
    /// `opalwright-plan/1`.
    pub format: String,
    /// What the cutter calls the piece.
    pub piece: String,
    /// The seed of the draws: the same seed gives the same bytes.
    pub seed: u64,
    /// How many possible insides.
    pub n_interiors: usize,
    /// Currency of every value, ISO 4217.
    pub currency: String,
    /// True while the prices are the invented example's.
    pub prices_invented: bool,
    /// What the cutter has decided already.
    pub asked: AskedDoc,
    /// The ways to cut, the best first.
    pub plans: Vec<WayToCutDoc>,
    /// Why the first stands first, and what would change that.
    pub why: PlanWhyDoc,
    /// What the forecast rests on, strongest first.
    pub rests_on: Vec<String>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

/// What the cutter has decided before anything is planned.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct AskedDoc {
    /// Most stones in one plan.
    pub most_stones: usize,
    /// Sizes to be cut, in plain words.
    pub orders: Vec<String>,
    /// Outlines to be cut as they were drawn, in the stone frame, mm.
    pub pinned_mm: Vec<Vec<[f64; 2]>>,
    /// Ground that no stone may take in, in the stone frame, mm.
    pub forbidden_mm: Vec<Vec<[f64; 2]>>,
    /// What the blade takes, mm.
    pub kerf_mm: f64,
    /// The thickest piece that the saw cuts through, mm.
    pub saw_reach_mm: f64,
}

/// One way to cut.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WayToCutDoc {
    /// `freeform`, `standard`, `specimen`, `several` or `as-it-is`.
    pub kind: String,
    /// What comes of it in a few words, such as `oval 18 × 13 mm`.
    pub title: String,
    /// Who thought of it: `found` by the search, `pinned` by the cutter, or
    /// `ordered`.
    pub origin: String,
    /// Price it by the `carat` or by the `piece`; left out where nothing is cut.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_by: Option<String>,
    /// The stones.
    pub stones: Vec<CutStoneDoc>,
    /// The saw cuts, in order.
    pub cuts: Vec<SawCutDoc>,
    /// What the wheel takes, on average.
    pub stock: StockDoc,
    /// What it is worth, net of work: three figures, always together.
    pub value: ValueDoc,
    /// How often the adapting cutter ends with each revision.
    pub revisions: Vec<RevisionDoc>,
    /// What its work costs, no luck either way, major units.
    pub work_cost: f64,
    /// Minutes that the work takes, selling included.
    pub minutes: Figure,
    /// How the price of its first stone comes about, in plain words.
    pub price_why: Vec<String>,
    /// Why it stands where it stands, in plain words.
    pub why: Vec<String>,
}

/// The three figures of a plan's value, major units.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ValueDoc {
    /// The plan is never revised.
    pub fixed: Figure,
    /// The cutter opens the face, sees, and then chooses.
    pub adapting: Figure,
    /// If you could see inside: an upper bound.
    pub seen_inside: Figure,
}

/// How a plan may end once the face was opened.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct RevisionDoc {
    /// In plain words.
    pub words: String,
    /// In which share of the interiors.
    pub share: f64,
}

/// One stone of a plan, in the stone frame, with what is forecast of it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CutStoneDoc {
    /// `freeform`, `standard` or `specimen`.
    pub kind: String,
    /// Key of the standard family, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub family: Option<String>,
    /// Longer and shorter standard size, mm, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size_mm: Option<[f64; 2]>,
    /// Outline from above, anticlockwise, mm.
    pub outline_mm: Vec<[f64; 2]>,
    /// The crown's place, mm.
    pub crown_mm: [f64; 2],
    /// Turn of the outline's long axis against x, degrees.
    pub turn_deg: f64,
    /// Edge plane: z at the crown, and its slopes along x and y.
    pub edge_plane: [f64; 3],
    /// Rise from the edge to the crown, mm.
    pub dome_mm: f64,
    /// Profile of the dome: 2 for a paraboloid, larger is flatter on top.
    pub dome_exponent: f64,
    /// Height of the wall under the edge, mm.
    pub wall_mm: f64,
    /// Width of the bevel under it, mm.
    pub bevel_mm: f64,
    /// The bar that the face shows, counted from 0.
    pub bar: usize,
    /// Finished weight.
    pub finished_weight_ct: Figure,
    /// Colour in it.
    pub colour_ct: Figure,
    /// Potch in it.
    pub potch_ct: Figure,
    /// Clean share of the face, 0 to 1.
    pub clean_share: Figure,
    /// Least thickness of colour under the clean face.
    pub least_colour_mm: Figure,
    /// Mean thickness of colour under the clean face.
    pub mean_colour_mm: Figure,
    /// Mean thickness of the whole stone.
    pub thickness_mm: Figure,
    /// Area of the face.
    pub face_mm2: Figure,
    /// The chance that it comes off the bench in one piece.
    pub whole_chance: f64,
    /// What it would fetch after the selling fee, major units.
    pub value: Figure,
}

/// One saw cut.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SawCutDoc {
    /// Order, from 1.
    pub order: u32,
    /// Two points of the line from above, mm.
    pub line_mm: [[f64; 2]; 2],
    /// Tilt from upright, degrees.
    pub tilt_deg: f64,
    /// For a cut parallel to a stone's edge plane: that stone, counted from 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub level_of_stone: Option<usize>,
    /// For such a cut: height of the face that stays with the stone above its
    /// edge plane, mm; negative below it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub level_mm: Option<f64>,
    /// What the blade takes, mm.
    pub kerf_mm: f64,
    /// What to do, in plain words.
    pub words: String,
}

/// What the wheel takes, on average.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct StockDoc {
    /// From above, mm.
    pub top_mm: f64,
    /// From below, mm.
    pub bottom_mm: f64,
    /// From the sides at the widest place, mm.
    pub sides_mm: f64,
    /// In all, mm³.
    pub volume_mm3: f64,
}

/// The key of a plan's family.
#[must_use]
pub fn plan_key(kind: PlanKind) -> &'static str {
    match kind {
        PlanKind::Freeform => "freeform",
        PlanKind::Standard => "standard",
        PlanKind::Specimen => "specimen",
        PlanKind::Several => "several",
        PlanKind::AsItIs => "as-it-is",
    }
}

impl WayToCutDoc {
    /// A plan with its forecast; `price_by` and `price_why` say how it is priced and why,
    /// `work_cost` what its work costs in the middle, `minutes` how long it takes.
    #[must_use]
    pub fn new(
        valued: &ValuedPlan,
        price_by: Option<PriceUnit>,
        price_why: &[String],
        work_cost: f64,
        minutes: &opal_units::Draws,
        levels: &[f64],
    ) -> Self {
        let plan = &valued.plan;
        let mm = |length: opal_units::Length| Digits::Length.round(length.mm());
        let money = |draws| Figure::of(draws, levels, Digits::Money);
        Self {
            kind: plan_key(plan.kind).to_owned(),
            title: plan.title(),
            origin: match plan.origin {
                Origin::Found => "found",
                Origin::Pinned => "pinned",
                Origin::Ordered => "ordered",
            }
            .to_owned(),
            price_by: price_by.map(|unit| {
                match unit {
                    PriceUnit::Carat => "carat",
                    PriceUnit::Piece => "piece",
                }
                .to_owned()
            }),
            stones: plan
                .stones
                .iter()
                .zip(&valued.stones)
                .map(|(stone, forecast)| CutStoneDoc::new(stone, forecast, levels))
                .collect(),
            cuts: plan
                .cuts
                .iter()
                .map(|cut| SawCutDoc {
                    order: cut.order,
                    line_mm: cut.line_mm.map(rounded_point),
                    tilt_deg: Digits::Length.round(cut.tilt.degrees()),
                    level_of_stone: cut.level_mm.map(|_| cut.stone),
                    level_mm: cut.level_mm.map(|z| Digits::Length.round(z)),
                    kerf_mm: mm(cut.kerf),
                    words: cut.words.clone(),
                })
                .collect(),
            stock: StockDoc {
                top_mm: mm(plan.stock.top),
                bottom_mm: mm(plan.stock.bottom),
                sides_mm: mm(plan.stock.sides),
                volume_mm3: Digits::Size.round(plan.stock.volume.mm3()),
            },
            value: ValueDoc {
                fixed: money(&valued.value.fixed),
                adapting: money(&valued.value.adapting),
                seen_inside: money(&valued.value.seen_inside),
            },
            revisions: valued
                .revisions
                .iter()
                .map(|(words, share)| RevisionDoc {
                    words: words.clone(),
                    share: Digits::Share.round(*share),
                })
                .collect(),
            work_cost: Digits::Money.round(work_cost),
            minutes: Figure::of(minutes, levels, Digits::Length),
            price_why: price_why.to_vec(),
            why: valued.why.clone(),
        }
    }
}

fn rounded_point(point_mm: [f64; 2]) -> [f64; 2] {
    point_mm.map(|x| Digits::Length.round(x))
}

impl CutStoneDoc {
    fn new(stone: &CutStone, forecast: &StoneForecast, levels: &[f64]) -> Self {
        let mm = |length: opal_units::Length| Digits::Length.round(length.mm());
        let (kind, family, size_mm) = match &stone.kind {
            CutKind::Freeform => ("freeform", None, None),
            CutKind::Specimen => ("specimen", None, None),
            CutKind::Standard {
                family,
                length,
                width,
            } => (
                "standard",
                Some(family.clone()),
                Some([mm(*length), mm(*width)]),
            ),
        };
        let figure = |draws, digits| Figure::of(draws, levels, digits);
        Self {
            kind: kind.to_owned(),
            family,
            size_mm,
            outline_mm: stone
                .outline_mm
                .iter()
                .copied()
                .map(rounded_point)
                .collect(),
            crown_mm: rounded_point(stone.crown_mm),
            turn_deg: Digits::Length.round(stone.turn.degrees()),
            edge_plane: [
                Digits::Length.round(stone.edge_mm[0]),
                Digits::Share.round(stone.edge_mm[1]),
                Digits::Share.round(stone.edge_mm[2]),
            ],
            dome_mm: mm(stone.dome.height),
            dome_exponent: stone.dome.exponent,
            wall_mm: mm(stone.back.wall),
            bevel_mm: mm(stone.back.bevel),
            bar: stone.bar,
            finished_weight_ct: figure(&forecast.weight_ct, Digits::Weight),
            colour_ct: figure(&forecast.colour_ct, Digits::Weight),
            potch_ct: figure(&forecast.potch_ct, Digits::Weight),
            clean_share: figure(&forecast.clean_share, Digits::Share),
            least_colour_mm: figure(&forecast.least_colour_mm, Digits::Length),
            mean_colour_mm: figure(&forecast.mean_colour_mm, Digits::Length),
            thickness_mm: figure(&forecast.thickness_mm, Digits::Length),
            face_mm2: figure(&forecast.face_mm2, Digits::Size),
            whole_chance: Digits::Share.round(forecast.whole_chance),
            value: figure(&forecast.worth, Digits::Money),
        }
    }
}
