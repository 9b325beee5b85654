//! `opalwright-demo/1`: the invented example from end to end.

use super::{BidDoc, PlanDoc, ShowDoc};
use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const DEMO_FORMAT: &str = "opalwright-demo/1";

/// Everything that came of the invented example.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-demo/1")]
pub struct DemoDoc {
    /// `opalwright-demo/1`.
    pub format: String,
    /// Always true: the piece and its prices are invented.
    pub invented: bool,
    /// The piece as it was taken in.
    pub stone: ShowDoc,
    /// The ways to cut it.
    pub plan: PlanDoc,
    /// The most to pay.
    pub bid: BidDoc,
    /// Where the bench sheet was written.
    pub sheet: String,
    /// The address of the workbench, where it is being served.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
}
