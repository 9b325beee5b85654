//! The shapes in which the page is told things (`opalwright-workbench/1`).
//!
//! Numbers that are unsure come as a [`Figure`]; money as a decimal text with
//! its currency.

use crate::scene::Scene;
use opal_units::{Draws, Money, Spread};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};

/// How many dots stand for a spread: each is one chance in twenty. Few enough
/// to count at a glance (Kay et al. 2016, CHI '16: quantile dot plots of 20 to
/// 50 dots are read best).
pub const N_DOTS: usize = 20;

/// An amount of money.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, JsonSchema)]
pub struct Amount {
    /// The amount as a decimal text.
    pub amount: String,
    /// ISO 4217 code.
    pub currency: String,
}

impl From<Money> for Amount {
    fn from(money: Money) -> Self {
        Self {
            amount: money.amount_text(),
            currency: money.currency().code().to_owned(),
        }
    }
}

/// A number with its spread, ready to be drawn.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Figure {
    /// The mean.
    pub mean: f64,
    /// Standard error of the mean from the number of draws.
    pub mean_error: f64,
    /// Quantiles by their level as text.
    pub quantiles: Map<String, Value>,
    /// [`N_DOTS`] equally likely values in rising order: the quantiles at the
    /// middles of twenty equal shares.
    pub dots: Vec<f64>,
}

impl From<&Draws> for Figure {
    fn from(draws: &Draws) -> Self {
        let spread = draws.spread();
        let quantiles = Spread::LEVELS
            .iter()
            .zip(spread.quantiles)
            .map(|(level, value)| (level.to_string(), Value::from(value)))
            .collect();
        let dots = (0..N_DOTS)
            .map(|k| draws.quantile((k as f64 + 0.5) / N_DOTS as f64))
            .collect();
        Self {
            mean: spread.mean,
            mean_error: spread.mean_error,
            quantiles,
            dots,
        }
    }
}

/// A stone in the list.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct StoneCard {
    /// Its number in the store.
    pub number: i64,
    /// What the cutter calls it.
    pub name: String,
    /// Key of the form: `seam`, `nobby`, ….
    pub form: String,
    /// Where it came from.
    pub origin: Option<String>,
    /// Weight, where it was weighed.
    pub weight_ct: Option<f64>,
    /// When it was taken in, RFC 3339.
    pub taken_in: String,
    /// What the seller asks.
    pub asking: Option<Amount>,
    /// The most to pay, where it was computed and still holds.
    pub bid: Option<Amount>,
    /// The chance of loss at that price.
    pub chance_of_loss: Option<f64>,
    /// True for the invented example.
    pub invented: bool,
}

/// A stone as it was taken in.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct StonePage {
    /// As in the list.
    pub card: StoneCard,
    /// The evidence document.
    pub evidence: Value,
    /// The outside, and the bar's sightings.
    pub scene: Scene,
    /// What was weighed and how shape, weight and specific gravity agree.
    pub check: Option<String>,
    /// What the cutter should know of how the shape was made.
    pub notes: Vec<String>,
    /// What was decided of it already (orders, outlines, ground left out).
    pub wishes: Value,
    /// True when the forecast is there already.
    pub forecast_ready: bool,
}

/// What the program expects of a stone.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Forecast {
    /// `opalwright-workbench/1`.
    pub format: &'static str,
    /// The seed.
    pub seed: u64,
    /// How many possible insides.
    pub n_interiors: usize,
    /// The price book's currency.
    pub currency: String,
    /// True while prices are the invented example's.
    pub prices_invented: bool,
    /// The most to pay.
    pub bid: BidView,
    /// The ways to cut, the best first.
    pub plans: Vec<PlanView>,
    /// Outside and possible insides, for drawing.
    pub scene: Scene,
    /// What the forecast rests on, strongest first.
    pub rests_on: Vec<String>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

/// The format's name and version.
pub const FORMAT: &str = "opalwright-workbench/1";

/// The most to pay, and what happens at that price.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct BidView {
    /// The price.
    pub price: Amount,
    /// Key of the limit that set it: `margin`, `chance_of_loss`, `worst_mean`,
    /// `stake` or `not_worth_buying`.
    pub binding: &'static str,
    /// What each limit alone would allow.
    pub by_limit: Vec<LimitView>,
    /// What happens at the price.
    pub at_price: PriceLook,
    /// The margin that was asked for.
    pub margin_wanted: f64,
    /// The chance of loss that was accepted.
    pub chance_of_loss_accepted: f64,
    /// What the number rests on, a sentence.
    pub sentence: String,
}

/// What one limit alone would allow.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LimitView {
    /// Key of the limit.
    pub limit: &'static str,
    /// The price; absent where the limit does not bind or allows nothing.
    pub price: Option<Amount>,
}

/// What happens at a price.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PriceLook {
    /// The price.
    pub price: Amount,
    /// Chance of losing money.
    pub chance_of_loss: f64,
    /// Mean gain, major units.
    pub expected_gain: f64,
    /// Standard error of that mean from the number of draws.
    pub expected_gain_error: f64,
    /// The worst share that `worst_mean` looks at.
    pub worst_share: f64,
    /// Mean gain over that share, major units.
    pub worst_mean: f64,
    /// Net gain.
    pub gain: Figure,
}

/// One way to cut the piece.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PlanView {
    /// `freeform`, `standard`, `specimen`, `several` or `as_it_is`.
    pub kind: &'static str,
    /// The stones.
    pub stones: Vec<CutStoneView>,
    /// The saw cuts, in order.
    pub cuts: Vec<CutView>,
    /// What the wheel takes.
    pub stock: StockView,
    /// What it is worth, net of work, major units.
    pub value: ValueView,
    /// Mean cost of the work, major units.
    pub cost: Option<f64>,
    /// Price by the `carat` or by the `piece`.
    pub priced_by: Option<&'static str>,
    /// How often the adapting cutter ends with each revision, commonest first.
    pub revisions: Vec<RevisionView>,
    /// Why the plan stands where it stands, in plain words.
    pub why: Vec<String>,
}

/// How a plan may end once the face was opened.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct RevisionView {
    /// In plain words.
    pub words: String,
    /// In which share of the interiors.
    pub share: f64,
}

/// The three figures that always stand together.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ValueView {
    /// The plan is never revised.
    pub fixed: Figure,
    /// The cutter opens the face, sees, and then chooses.
    pub adapting: Figure,
    /// If you could see inside.
    pub seen_inside: Figure,
}

/// One planned stone.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CutStoneView {
    /// `freeform`, `standard` or `specimen`.
    pub kind: &'static str,
    /// Key of the standard family, where it is one.
    pub family: Option<String>,
    /// Longer and shorter size from above, mm.
    pub size_mm: [f64; 2],
    /// Outline from above, mm.
    pub outline_mm: Vec<[f64; 2]>,
    /// The crown's place, mm.
    pub crown_mm: [f64; 2],
    /// Turn of the long axis, degrees.
    pub turn_deg: f64,
    /// Tilt of the edge plane, degrees.
    pub tilt_deg: f64,
    /// Rise from the edge to the crown, mm.
    pub dome_mm: f64,
    /// Height of the wall below the dome's edge, mm.
    pub wall_mm: f64,
    /// Width of the bevel at the bottom edge, mm.
    pub bevel_mm: f64,
    /// The bar that its face shows.
    pub bar: usize,
    /// Its closed surface.
    pub surface: SurfaceView,
    /// Finished weight.
    pub weight_ct: Figure,
    /// Colour in it.
    pub colour_ct: Figure,
    /// Potch in it.
    pub potch_ct: Figure,
    /// Clean share of the face.
    pub clean_share: Figure,
    /// Least thickness of colour.
    pub least_colour_mm: Figure,
    /// Mean thickness of the whole stone.
    pub thickness_mm: Figure,
    /// Area of the face.
    pub face_mm2: Figure,
    /// The chance that it comes off the bench in one piece.
    pub whole_chance: f64,
    /// What it would fetch, major units.
    pub worth: Figure,
}

/// A triangle surface, flat lists.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SurfaceView {
    /// x, y, z, x, y, z, … mm.
    pub positions_mm: Vec<f32>,
    /// Three corners a face.
    pub faces: Vec<u32>,
}

/// One saw cut.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CutView {
    /// Order, from 1.
    pub order: u32,
    /// Two points from above, mm.
    pub line_mm: [[f64; 2]; 2],
    /// Tilt from upright, degrees.
    pub tilt_deg: f64,
    /// What the blade takes, mm.
    pub kerf_mm: f64,
    /// What to do.
    pub words: String,
}

/// What the wheel takes, on average.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct StockView {
    /// From above, mm.
    pub top_mm: f64,
    /// From below, mm.
    pub bottom_mm: f64,
    /// From the sides at the widest place, mm.
    pub sides_mm: f64,
    /// In all, mm³.
    pub volume_mm3: f64,
}
