//! `opalwright-log/1` and `opalwright-now/1`: the bench.

use super::figure::{Digits, Figure};
use opal_units::Draws;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The name of the format, with its version.
pub const LOG_FORMAT: &str = "opalwright-log/1";
/// The name of the format, with its version.
pub const NOW_FORMAT: &str = "opalwright-now/1";

/// What happened to a stone at the bench, and what it is now.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-log/1")]
pub struct LogDoc {
    /// `opalwright-log/1`.
    pub format: String,
    /// What the cutter calls the piece.
    pub piece: String,
    /// `rough`, `sawn` or `face-open`.
    pub stage: String,
    /// What it weighs now, ct: by the scale, or carried on by volume.
    pub weight_ct: f64,
    /// The wheel on the spindle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wheel: Option<String>,
    /// The events, oldest first.
    pub events: Vec<LoggedDoc>,
    /// Pieces that came off.
    pub offcuts: Vec<OffcutDoc>,
    /// What the cutter should know.
    pub notes: Vec<String>,
}

/// One event.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LoggedDoc {
    /// Its number, counted from 1.
    pub number: usize,
    /// When it was logged, RFC 3339.
    pub at: String,
    /// What happened, with its particulars.
    pub event: serde_json::Value,
    /// In plain words.
    pub words: String,
    /// False where a later event undid it.
    pub stands: bool,
}

/// A piece that came off.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OffcutDoc {
    /// The event that made it.
    pub event: usize,
    /// What it is called.
    pub name: String,
    /// What it weighs, ct, by volume.
    pub weight_ct: f64,
    /// Its share of what the piece cost, by what each part was expected to bring
    /// when it came off; left out where it was not parted in a store.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share_of_cost: Option<f64>,
}

/// What to do next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "opalwright-now/1")]
pub struct NowDoc {
    /// `opalwright-now/1`.
    pub format: String,
    /// What the cutter calls the piece.
    pub piece: String,
    /// What the draws started from.
    pub seed: u64,
    /// How many possible insides.
    pub n_interiors: usize,
    /// ISO 4217 code of every amount.
    pub currency: String,
    /// True while the prices are the invented example's.
    pub prices_invented: bool,
    /// How many bench events it rests on.
    pub n_events: usize,
    /// The actions, the best first.
    pub advice: Vec<AdviceDoc>,
    /// The face from here down.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub facing: Option<FacingDoc>,
    /// What the cutter should know.
    pub notes: Vec<String>,
}

/// One action.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AdviceDoc {
    /// `open-window`, `saw`, `take-off`, `dig-out`, `finer-wheel`,
    /// `stop-and-shape`, `keep-whole` or `sell-as-it-is`.
    pub action: String,
    /// In plain words.
    pub words: String,
    /// Where, mm in the stone frame.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_mm: Option<[f64; 2]>,
    /// How deep, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub depth_mm: Option<f64>,
    /// What it brings in the end, major units.
    pub worth: Figure,
    /// What it brings over the best thing without further risk: mean.
    pub gain: f64,
    /// The standard error of that mean.
    pub gain_error: f64,
    /// The chance that it ends with less than half of what can be had now.
    pub ruin: f64,
}

/// The face from here down.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FacingDoc {
    /// What can come off before colour is likely to show, mm.
    pub blind_mm: f64,
    /// Where the advice stops, below the face as it stands, mm.
    pub stop_depth_mm: Figure,
    /// What following the advice brings, before the work that all ways share.
    pub advised: Figure,
    /// What stopping now brings.
    pub stop_now: Figure,
    /// The best depth, if one were fixed now, mm.
    pub best_fixed_mm: f64,
    /// What that brings.
    pub best_fixed: Figure,
    /// What would be had if one could see inside: an upper bound.
    pub seen_inside: Figure,
    /// The chance that the advice ends with the bar gone through somewhere.
    pub through: f64,
    /// Depth by depth.
    pub curve: Vec<DepthDoc>,
}

/// One depth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DepthDoc {
    /// Below the face as it stands, mm.
    pub depth_mm: f64,
    /// What stopping there brings.
    pub worth: Figure,
    /// Share of the face with potch on it, on average.
    pub covered: f64,
    /// Share of the face that shows colour, on average.
    pub colour: f64,
    /// The chance of having gone through the bar somewhere.
    pub through: f64,
}

/// Money with its spread, in machine form.
#[must_use]
pub fn money_figure(draws: &Draws, levels: &[f64]) -> Figure {
    Figure::of(draws, levels, Digits::Money)
}

/// Lengths with their spread, mm, in machine form.
#[must_use]
pub fn length_figure(draws: &Draws, levels: &[f64]) -> Figure {
    Figure::of(draws, levels, Digits::Length)
}

/// Shares with their spread, in machine form.
#[must_use]
pub fn share_figure(draws: &Draws, levels: &[f64]) -> Figure {
    Figure::of(draws, levels, Digits::Share)
}
