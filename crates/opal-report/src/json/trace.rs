//! `opalwright-trace/1`: a stone's outline from a photo.

use schemars::JsonSchema;
use serde::Serialize;

/// The name of the format, with its version.
pub const TRACE_FORMAT: &str = "opalwright-trace/1";

/// What a photo from above, and one from the side where there is one, told of a
/// stone's shape. Pixels: x to the right and y down, (0, 0) in the middle of the first
/// one. Millimetres: y up, the outline's box beginning at 0, 0.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "opalwright-trace/1")]
pub struct TraceDoc {
    /// `opalwright-trace/1`.
    pub format: String,
    /// Width and height of the photo from above, pixels.
    pub photo_px: [usize; 2],
    /// What ties it to millimetres.
    pub scale: PhotoScaleDoc,
    /// The outline in the photo, pixels.
    pub outline_px: Vec<[f64; 2]>,
    /// The outline as evidence takes it, mm.
    pub outline_mm: Vec<[f64; 2]>,
    /// Its area, mm².
    pub area_mm2: EstimateDoc,
    /// Its longer calliper size, mm.
    pub length_mm: EstimateDoc,
    /// Its shorter calliper size, mm.
    pub width_mm: EstimateDoc,
    /// How high the stone stands, mm, where it was measured or seen from the side.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_mm: Option<EstimateDoc>,
    /// What ties the photo from the side to millimetres, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub side_scale: Option<PhotoScaleDoc>,
    /// What to keep in mind.
    pub notes: Vec<String>,
}

/// A value and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct EstimateDoc {
    /// The value.
    pub value: f64,
    /// One standard deviation.
    pub sigma: f64,
}

/// What ties a photo to millimetres.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PhotoScaleDoc {
    /// `card` or `two points`.
    pub by: String,
    /// Side of a pixel in the middle of the stone, mm.
    pub mm_per_px: f64,
    /// One standard deviation of a length, as a share of it.
    pub sigma_share: f64,
    /// How many corners of the card were seen, and how many it has.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub corners: Option<[usize; 2]>,
    /// How far the camera leaned from square, degrees.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tilt_deg: Option<f64>,
    /// How wide edges are blurred, mm, one standard deviation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub blur_mm: Option<f64>,
    /// The card's rim in the photo, pixels, round from its lower left.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub card_px: Option<[[f64; 2]; 4]>,
}
