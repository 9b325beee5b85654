//! `opalwright-learned/1`: what the cutter's own stones have taught.

use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const LEARNED_FORMAT: &str = "opalwright-learned/1";

/// What the cutter's own stones have taught.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-learned/1")]
pub struct LearnedDoc {
    /// `opalwright-learned/1`.
    pub format: String,
    /// Stones on record.
    pub stones: usize,
    /// Of these, finished and described.
    pub finished: usize,
    /// What each field has taught, by its name.
    pub origins: Vec<OriginDoc>,
    /// How forecasts did: all stones, then by origin, then by form.
    pub forecasts: Vec<ForecastRecordDoc>,
    /// What the cutter should know.
    pub warnings: Vec<String>,
}

/// What one field has taught.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OriginDoc {
    /// Its name.
    pub origin: String,
    /// Stones from it.
    pub stones: usize,
    /// What its stones say, leaning on the other fields.
    pub taught: Vec<TaughtDoc>,
}

/// One quantity of a field.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TaughtDoc {
    /// `bar-thickness` or `specks`, times what is usual for the form of rough; or `yield`,
    /// the share of the rough that becomes finished stone.
    pub what: String,
    /// Stones that it rests on.
    pub stones: usize,
    /// The likeliest value.
    pub middle: f64,
    /// Nine in ten of what it may be.
    pub between: [f64; 2],
    /// The same for a field not met yet.
    pub elsewhere: f64,
}

/// How forecasts of one quantity did on some stones.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ForecastRecordDoc {
    /// `finished-weight`, `clean-share`, `minutes` or `price`.
    pub what: String,
    /// Which stones: `all`, an origin, or a form.
    pub of: String,
    /// Stones.
    pub stones: usize,
    /// Mean of outcome less forecast, in the quantity's own unit.
    pub bias: f64,
    /// Its standard error; 0 for a single stone.
    pub bias_error: f64,
    /// Mean continuous ranked probability score: lower is better.
    pub crps: f64,
    /// Outcomes that the middle nine in ten of the forecast held.
    pub held_90: usize,
    /// Where outcomes fell in the forecast: counts in ten equal bins.
    pub pit: [usize; 10],
    /// By how much the spread should be multiplied, shrunk toward 1.
    pub widening: f64,
}
