//! `opalwright-price/1`: what a finished stone would fetch.

use super::figure::Figure;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The name of the format, with its version.
pub const PRICE_FORMAT: &str = "opalwright-price/1";

/// What a finished stone would fetch, and how to offer it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-price/1")]
pub struct PriceDoc {
    /// `opalwright-price/1`.
    pub format: String,
    /// What the cutter calls the stone.
    pub piece: String,
    /// The seed of the draws: the same seed gives the same bytes.
    pub seed: u64,
    /// True while the prices are the invented example's.
    pub prices_invented: bool,
    /// ISO 4217 code of every amount.
    pub currency: String,
    /// The stone as it was weighed, measured and graded.
    pub finished: FinishedDoc,
    /// What a buyer would pay, major units.
    pub amount: Figure,
    /// Price it by the `carat` or by the `piece`.
    pub price_by: String,
    /// Carats counted at the backing that buyers accept.
    pub counted_ct: f64,
    /// The middle price over those carats.
    pub per_counted_carat: f64,
    /// The middle price over the carats that the scale shows.
    pub per_scale_carat: f64,
    /// The middle price over the face: compares stones of any thickness.
    pub per_face_mm2: f64,
    /// How much of it the cutter's own sales taught, 0 for the table alone.
    pub learned: f64,
    /// Own sales that it rests on: all, of that kind, from that origin.
    pub sales: [usize; 3],
    /// How to offer it.
    pub asking: AskingDoc,
    /// Where the price comes from, in plain words.
    pub why: Vec<String>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

/// A finished stone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FinishedDoc {
    /// The likeliest variety, as price books write it.
    pub variety: String,
    /// The likeliest brightness, as price books write it.
    pub brightness: String,
    /// Its outline.
    pub shape: String,
    /// True where a setting of its size is stocked.
    pub standard_size: bool,
    /// Its weight.
    pub weight_ct: f64,
    /// Length, width and thickness.
    pub sizes_mm: [f64; 3],
    /// Mean thickness of its colour.
    pub colour_mm: f64,
    /// Clean share of its face, 0 to 1.
    pub clean_share: f64,
    /// Where its rough came from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<String>,
    /// What was judged.
    #[serde(default)]
    pub grade: Vec<GradeMarkDoc>,
    /// The body tone as it was judged, with the side that was looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub body_tone: Option<String>,
    /// The scales that nobody judged.
    #[serde(default)]
    pub not_judged: Vec<String>,
}

/// The words on one scale: more than one where it may be any of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GradeMarkDoc {
    /// The scale's key.
    pub scale: String,
    /// Its words.
    pub words: Vec<String>,
}

/// How to offer a stone; amounts in major units.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct AskingDoc {
    /// What to ask.
    pub ask: f64,
    /// Below it the stone is kept: what it cost, fee included; left out where no
    /// cost is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub floor: Option<f64>,
    /// The chance that its price falls below the floor.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub below_floor: Option<f64>,
    /// Days until it sells: one in twenty sooner, half, nineteen in twenty.
    pub days: [f64; 3],
}
