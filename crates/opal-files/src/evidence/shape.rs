//! The file's own shapes: what stands in `opalwright-evidence/1`.
//!
//! Every field may be missing here; which must be there is said in the schema,
//! so that a file with several faults is still read as far as it goes and all
//! of them can be listed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Everything known of one piece of rough. Lengths in millimetres, angles in
/// degrees; x and y in the plane of the main bar, z up toward the face.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
#[schemars(title = "opalwright-evidence/1")]
pub(crate) struct EvidenceFile {
    /// The format and its version.
    #[schemars(required)]
    pub(crate) format: Option<Format>,
    /// The piece as a whole.
    #[schemars(required)]
    pub(crate) piece: Option<PieceTable>,
    /// The outside: exactly one of mesh, outline, callipers.
    #[schemars(required)]
    pub(crate) shape: Option<ShapeTable>,
    /// The colour bars, main bar first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 8))]
    pub(crate) bar: Vec<BarTable>,
    /// Surfaces on which inclusions were counted; none seen is evidence too.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 200))]
    pub(crate) exposure: Vec<ExposureTable>,
    /// Cracks that were seen.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 200))]
    pub(crate) crack: Vec<CrackTable>,
    /// A line along which the bars break off and go on higher or lower.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) step: Option<StepTable>,
    /// What the torch showed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) torch: Option<TorchTable>,
    /// How the colour looks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) look: Option<LookTable>,
}

/// The format and its version.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, Serialize)]
#[schemars(inline)]
pub(crate) enum Format {
    #[serde(rename = "opalwright-evidence/1")]
    One,
}

/// The piece as a whole.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PieceTable {
    /// What the cutter calls it.
    #[schemars(required, length(min = 1, max = 200))]
    pub(crate) name: Option<String>,
    /// How it grew.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) form: Option<FormWord>,
    /// Where it came from, free text; the ledger groups by it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 200))]
    pub(crate) origin: Option<String>,
    /// What the scale said, metric carats.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 2_500_000.0), extend("exclusiveMinimum" = 0))]
    pub(crate) weight_ct: Option<f64>,
    /// What the scale said, grams; instead of weight_ct.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 500_000.0), extend("exclusiveMinimum" = 0))]
    pub(crate) weight_g: Option<f64>,
    /// Where it was measured; else the usual one of the form.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) specific_gravity: Option<GravityTable>,
    /// What the seller asks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) asking: Option<MoneyTable>,
}

/// How the rough grew.
#[derive(Clone, Copy, Debug, Deserialize, Eq, JsonSchema, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(crate) enum FormWord {
    Seam,
    Nobby,
    Boulder,
    Pipe,
    Matrix,
    Unknown,
}

/// A measured specific gravity.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct GravityTable {
    /// The value.
    #[schemars(required, range(min = 0.5, max = 6.0))]
    pub(crate) value: Option<f64>,
    /// One standard deviation; 0.02 when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1.0), extend("exclusiveMinimum" = 0))]
    pub(crate) sigma: Option<f64>,
}

/// An amount of money.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MoneyTable {
    /// The amount as a text, exact: "900.00".
    #[schemars(required, length(min = 1, max = 30))]
    pub(crate) amount: Option<String>,
    /// ISO 4217 code.
    #[schemars(required, length(min = 3, max = 3))]
    pub(crate) currency: Option<String>,
}

/// The outside: exactly one of mesh, outline, callipers.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ShapeTable {
    /// A scan in a file beside this one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) mesh: Option<MeshTable>,
    /// A traced outline with heights.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) outline: Option<OutlineTable>,
    /// Three sizes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) callipers: Option<CallipersTable>,
    /// How the scan lies in the stone frame; left out: the file's axes are the
    /// stone's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) stone_from_mesh: Option<TransformTable>,
    /// True: the sightings were measured in the scan's own axes; turn scan and
    /// sightings together until the main bar lies flat.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) level_by_bar: Option<bool>,
}

/// A scan in a file beside this one.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MeshTable {
    /// The file's name, beside or below this file (PLY, OBJ or STL).
    #[schemars(required, length(min = 1, max = 400))]
    pub(crate) file: Option<String>,
    /// The unit that the file counts in. There is no default: files do not say.
    #[schemars(required)]
    pub(crate) unit: Option<UnitWord>,
}

/// A unit of length.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, Serialize)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(crate) enum UnitWord {
    Mm,
    Cm,
    M,
    Inch,
}

/// A traced outline with heights.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct OutlineTable {
    /// The outline from above, closed by itself: rows of x, y.
    #[schemars(required, length(min = 3, max = 5000), inner(inner(range(min = -2000.0, max = 2000.0))))]
    pub(crate) points_mm: Option<Vec<[f64; 2]>>,
    /// Rows of x, y and the skin's top z there.
    #[schemars(required, length(min = 1, max = 500), inner(inner(range(min = -2000.0, max = 2000.0))))]
    pub(crate) heights_mm: Option<Vec<[f64; 3]>>,
    /// The z of a flat underside; 0 when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -2000.0, max = 2000.0))]
    pub(crate) base_mm: Option<f64>,
    /// For a curved underside: rows of x, y and the skin's bottom z there.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 500), inner(inner(range(min = -2000.0, max = 2000.0))))]
    pub(crate) base_heights_mm: Option<Vec<[f64; 3]>>,
}

/// Three calliper sizes. The stone frame then begins at the lower corner of the
/// measured box: x from 0 to the length, y to the width, z to the height.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CallipersTable {
    /// Along x.
    #[schemars(required, range(max = 2000.0), extend("exclusiveMinimum" = 0))]
    pub(crate) length_mm: Option<f64>,
    /// Along y.
    #[schemars(required, range(max = 2000.0), extend("exclusiveMinimum" = 0))]
    pub(crate) width_mm: Option<f64>,
    /// Along z, across the bar.
    #[schemars(required, range(max = 2000.0), extend("exclusiveMinimum" = 0))]
    pub(crate) height_mm: Option<f64>,
    /// Volume over that of the box, judged by eye; left out: that of rough
    /// stones. The weight, where given, decides.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.2, max = 1.0))]
    pub(crate) solidity: Option<f64>,
}

/// `point_in_stone = rotation · point_in_mesh_mm + translation_mm`.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct TransformTable {
    /// Nine numbers, row by row.
    #[schemars(required)]
    pub(crate) rotation: Option<[f64; 9]>,
    /// Three numbers.
    #[schemars(required)]
    pub(crate) translation_mm: Option<[f64; 3]>,
}

/// All that is known of one bar.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BarTable {
    /// What the cutter calls it.
    #[schemars(required, length(min = 1, max = 80))]
    pub(crate) name: Option<String>,
    /// A 30-second look.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) quick: Option<QuickTable>,
    /// Looks at single places. A skin that cannot be read is left out, never
    /// entered as absent.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 2000))]
    pub(crate) sighting: Vec<SightingTable>,
}

/// A 30-second look at a bar.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct QuickTable {
    /// About how thick.
    #[schemars(required, range(max = 500.0), extend("exclusiveMinimum" = 0))]
    pub(crate) thickness_mm: Option<f64>,
    /// One standard deviation of that; two fifths of it when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 500.0), extend("exclusiveMinimum" = 0))]
    pub(crate) sigma_mm: Option<f64>,
    /// On what share of the edge it shows, 0 to 1.
    #[schemars(required, range(min = 0.0, max = 1.0))]
    pub(crate) edge_share: Option<f64>,
    /// About how high its top lies, in the stone frame.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -2000.0, max = 2000.0))]
    pub(crate) top_mm: Option<f64>,
    /// One standard deviation of that; 1 mm when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 500.0), extend("exclusiveMinimum" = 0))]
    pub(crate) top_sigma_mm: Option<f64>,
}

/// One look at a bar at one place: any of top, bottom and thickness; or a
/// least thickness; or absent.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SightingTable {
    /// Where: x, y.
    #[schemars(required, inner(range(min = -2000.0, max = 2000.0)))]
    pub(crate) at_mm: Option<[f64; 2]>,
    /// Height of the bar's top.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -2000.0, max = 2000.0))]
    pub(crate) top_mm: Option<f64>,
    /// Height of its bottom.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -2000.0, max = 2000.0))]
    pub(crate) bottom_mm: Option<f64>,
    /// Its thickness.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 500.0), extend("exclusiveMinimum" = 0))]
    pub(crate) thickness_mm: Option<f64>,
    /// It is at least this thick here; 0: it is here, nothing was measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 500.0))]
    pub(crate) thickness_at_least_mm: Option<f64>,
    /// True: no colour here.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) absent: Option<bool>,
    /// One standard deviation of every reading here; 0.3 when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 50.0), extend("exclusiveMinimum" = 0))]
    pub(crate) sigma_mm: Option<f64>,
    /// One standard deviation of the top, where it differs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 50.0), extend("exclusiveMinimum" = 0))]
    pub(crate) top_sigma_mm: Option<f64>,
    /// One standard deviation of the bottom, where it differs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 50.0), extend("exclusiveMinimum" = 0))]
    pub(crate) bottom_sigma_mm: Option<f64>,
    /// One standard deviation of the thickness, where it differs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 50.0), extend("exclusiveMinimum" = 0))]
    pub(crate) thickness_sigma_mm: Option<f64>,
}

/// A surface on which inclusions were counted.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ExposureTable {
    /// What surface.
    #[schemars(required)]
    pub(crate) kind: Option<ExposureWord>,
    /// How much of it was looked at.
    #[schemars(required, range(max = 1_000_000.0), extend("exclusiveMinimum" = 0))]
    pub(crate) area_mm2: Option<f64>,
    /// The smallest section that would have been seen.
    #[schemars(required, range(max = 50.0), extend("exclusiveMinimum" = 0))]
    pub(crate) smallest_seen_mm: Option<f64>,
    /// What was seen.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 5000))]
    pub(crate) specks: Vec<SpeckTable>,
}

/// The surface that was looked at.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, Serialize)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(crate) enum ExposureWord {
    Edge,
    Face,
    Window,
    Sawn,
}

/// One inclusion that was seen.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SpeckTable {
    /// What it is.
    #[schemars(required)]
    pub(crate) kind: Option<SpeckWord>,
    /// Where: x, y, z; left out when only counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(inner(range(min = -2000.0, max = 2000.0)))]
    pub(crate) at_mm: Option<[f64; 3]>,
    /// Diameter of the section that was seen.
    #[schemars(required, range(max = 200.0), extend("exclusiveMinimum" = 0))]
    pub(crate) diameter_mm: Option<f64>,
}

/// What an inclusion is.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, Serialize)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(crate) enum SpeckWord {
    Potch,
    Sand,
    Lens,
}

/// A crack seen as a line on a surface.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CrackTable {
    /// The line from above: rows of x, y.
    #[schemars(required, length(min = 2, max = 500), inner(inner(range(min = -2000.0, max = 2000.0))))]
    pub(crate) trace_mm: Option<Vec<[f64; 2]>>,
    /// Dip below the horizontal; 90 stands upright, above 90 leans the other way.
    #[schemars(required, range(max = 180.0), extend("exclusiveMinimum" = 0))]
    pub(crate) dip_deg: Option<f64>,
    /// How deep it reaches below the surface it was seen on.
    #[schemars(required, range(max = 2000.0), extend("exclusiveMinimum" = 0))]
    pub(crate) depth_mm: Option<f64>,
}

/// A line along which the bars break off and go on higher or lower.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StepTable {
    /// Two points on the line, seen from above.
    #[schemars(required, length(min = 2, max = 2), inner(inner(range(min = -2000.0, max = 2000.0))))]
    pub(crate) trace_mm: Option<Vec<[f64; 2]>>,
    /// How much higher the bars lie to its left, looking from the first point to the
    /// second; below 0 where they lie lower.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -2000.0, max = 2000.0))]
    pub(crate) rise_mm: Option<f64>,
    /// One standard deviation of that; 0.3 when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 2000.0), extend("exclusiveMinimum" = 0))]
    pub(crate) sigma_mm: Option<f64>,
}

/// What the torch showed.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct TorchTable {
    /// In a word.
    #[schemars(required)]
    pub(crate) look: Option<TorchWord>,
}

/// What the torch showed, in a word.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, Serialize)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(crate) enum TorchWord {
    Clean,
    Hazy,
    Specks,
    Dark,
}

/// How the colour looks, as far as it was judged.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct LookTable {
    /// The variety by its body.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) variety: Option<VarietyWord>,
    /// Body tone face up, 1 black to 9 white.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1, max = 9))]
    pub(crate) body_tone: Option<u8>,
    /// Brightness: a word, or the words that it may turn out to be.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) brightness: Option<BrightnessWords>,
    /// The dominant hue.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 80))]
    pub(crate) hue: Option<String>,
    /// The pattern word.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 80))]
    pub(crate) pattern: Option<String>,
}

/// The variety by its body.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, Serialize)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(crate) enum VarietyWord {
    Black,
    Dark,
    Light,
    Crystal,
    Boulder,
    Matrix,
}

/// One brightness word, or several.
#[derive(Clone, Debug, Deserialize, JsonSchema, Serialize)]
#[serde(untagged)]
#[schemars(inline)]
pub(crate) enum BrightnessWords {
    One(BrightnessWord),
    Several(Vec<BrightnessWord>),
}

/// Brightness in a word.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, Serialize)]
#[serde(rename_all = "lowercase")]
#[schemars(inline)]
pub(crate) enum BrightnessWord {
    Dull,
    Subdued,
    Bright,
    #[serde(rename = "very bright")]
    VeryBright,
    Brilliant,
}
