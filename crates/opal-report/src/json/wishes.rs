//! `opalwright-wishes/1`: what the cutter has decided of a stone already.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What the cutter has decided of a stone already; everything empty leaves it to the
/// search.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WishesDoc {
    /// Sizes to cut from the piece, all in one plan, as they are spoken of: `a pair of
    /// 8 x 6`, `one 30 x 22 pendant`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub orders: Vec<String>,
    /// Outlines to cut as they stand, all in one plan.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pinned: Vec<PinnedDoc>,
    /// Ground that no stone may take in: closed polygons from above, mm in the stone
    /// frame.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub forbidden_mm: Vec<Vec<[f64; 2]>>,
    /// Most stones in one plan; the usual where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most_stones: Option<usize>,
}

/// An outline that stays where it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PinnedDoc {
    /// From above, closed, not by repetition, mm in the stone frame.
    pub outline_mm: Vec<[f64; 2]>,
    /// The bar that the face shows, counted from 0; whichever pays best where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bar: Option<usize>,
    /// The standard size that it is; freeform where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<PinnedSizeDoc>,
}

/// A standard size.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PinnedSizeDoc {
    /// Key of the family: `oval`, `round`, ….
    pub family: String,
    /// Longer size, mm.
    pub length_mm: f64,
    /// Shorter size, mm.
    pub width_mm: f64,
}
