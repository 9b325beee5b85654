//! The wheels in force, in machine form.

use schemars::JsonSchema;
use serde::Serialize;

/// The name of the form.
pub const WHEEL_SET_FORMAT: &str = "opalwright-wheel-set/1";

/// The wheels in force, coarse to fine, with what the log taught of them.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-wheel-set/1")]
pub struct WheelSetDoc {
    /// `opalwright-wheel-set/1`.
    pub format: String,
    /// What the set is called.
    pub title: String,
    /// True for the cutter's own, false for a usual set.
    pub own: bool,
    /// The wheels.
    pub wheels: Vec<WheelDoc>,
}

/// One wheel.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WheelDoc {
    /// What it is called.
    pub name: String,
    /// Its grain, micrometres.
    pub grain_um: f64,
    /// The same as it is printed, with its scale.
    pub grit: String,
    /// How deep its scratches go, micrometres: 5, 50 and 95 in a hundred; none where
    /// none shows.
    pub damage_um: Option<[f64; 3]>,
    /// Stone that it takes off in a minute, mm³: 5, 50 and 95 in a hundred.
    pub removal_mm3_per_min: [f64; 3],
    /// How many stints of the cutter's own log taught that.
    pub stints: u32,
}
