//! A bar's edge traced on a photo of the stone's side, in machine form.

use super::trace::EstimateDoc;
use schemars::JsonSchema;
use serde::Serialize;

/// The name of the form.
pub const BAR_TRACE_FORMAT: &str = "opalwright-bar-trace/1";

/// What a photo of the side tells of a bar. Pixels count from the middle of the upper left
/// one, y down; millimetres are those of the stone, heights above its foot.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-bar-trace/1")]
pub struct BarTraceDoc {
    /// `opalwright-bar-trace/1`.
    pub format: String,
    /// Width and height of the photo, pixels.
    pub photo_px: [usize; 2],
    /// The box of the stone in it, pixels: upper left and lower right.
    pub stone_px: [[f64; 2]; 2],
    /// Side of a pixel across and upward, mm, from the stone's own sizes.
    pub mm_per_px: [f64; 2],
    /// The bar's upper edge, left to right, pixels.
    pub upper_px: Vec<[f64; 2]>,
    /// The bar's lower edge, left to right, pixels.
    pub lower_px: Vec<[f64; 2]>,
    /// Places on the edge, as evidence takes them, left to right.
    pub places: Vec<SidePlaceDoc>,
    /// What to keep in mind.
    pub notes: Vec<String>,
}

/// One place on the edge.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SidePlaceDoc {
    /// Where, seen from above, mm.
    pub at_mm: [f64; 2],
    /// Where in the photo: on the bar's upper edge, or where it is not.
    pub at_px: [f64; 2],
    /// True where there is no bar.
    pub absent: bool,
    /// Height of the bar's top above the foot, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub top_mm: Option<EstimateDoc>,
    /// Its thickness, mm, where its lower edge was followed too.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thickness_mm: Option<EstimateDoc>,
}
