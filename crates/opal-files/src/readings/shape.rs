//! The shape of a readings file, from which its schema is made.

use super::described::DescribedFile;
use opal_grade::Known;
use schemars::JsonSchema;
use serde::Deserialize;

/// What was looked at on a finished stone.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "opalwright-readings/1")]
pub(super) struct ReadingsFile {
    /// Always `opalwright-readings/1`.
    #[allow(dead_code)] // the reader has held it against its one word
    pub(super) format: Format,
    pub(super) stone: StoneFile,
    /// Looks and readings, in the order in which they were made.
    #[serde(default)]
    #[schemars(length(max = 500))]
    pub(super) reading: Vec<ReadingFile>,
    /// What papers state beside that: body tone, brightness, pattern, origin, and
    /// what cap and back of an assembled stone are made of.
    #[serde(default)]
    #[schemars(length(max = 20))]
    pub(super) described: Vec<DescribedFile>,
    pub(super) weighing: Option<WeighingFile>,
    #[serde(default)]
    pub(super) soak: SoakFile,
}

#[derive(Deserialize, JsonSchema)]
pub(super) enum Format {
    #[serde(rename = "opalwright-readings/1")]
    One,
}

/// The stone.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StoneFile {
    /// What it is called.
    #[schemars(length(min = 1, max = 200))]
    pub(super) name: String,
    /// What it was described as.
    #[schemars(length(max = 500))]
    pub(super) described_as: Option<String>,
    /// Weight on a scale, ct.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 100_000.0))]
    pub(super) weight_ct: Option<f64>,
    /// Weight on a scale, g.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 20_000.0))]
    pub(super) weight_g: Option<f64>,
    pub(super) sizes: Option<SizesFile>,
}

/// Sizes in mm.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SizesFile {
    /// `oval`, `round`, `cushion`, `pear`, …, or `freeform`.
    pub(super) outline: String,
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1000.0))]
    pub(super) length_mm: f64,
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1000.0))]
    pub(super) width_mm: f64,
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1000.0))]
    pub(super) height_mm: f64,
    /// Height of the straight wall.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub(super) girdle_mm: Option<f64>,
    /// Height of the dome half way out, above the wall.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub(super) dome_half_way_mm: Option<f64>,
    /// Height of a rounded back below the wall; 0 for a flat one.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub(super) back_mm: Option<f64>,
    /// One standard deviation of each size.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub(super) sigma_mm: Option<f64>,
    /// True when a setting hides the back.
    #[serde(default)]
    pub(super) back_hidden: bool,
}

/// One look or reading.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ReadingFile {
    /// Its name, to which papers link; `reading-1` and so on where left out.
    #[schemars(length(min = 1, max = 100))]
    pub(super) id: Option<String>,
    /// What was looked for: `gravity`, `index`, or a look such as `side-view`.
    pub(super) look: String,
    /// A number for `gravity` and `index`, a word for a look.
    pub(super) value: ValueFile,
    /// One standard deviation of a number.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub(super) sigma: Option<f64>,
    /// Who looked.
    #[schemars(length(max = 100))]
    pub(super) by: Option<String>,
    /// When.
    #[schemars(length(max = 100))]
    pub(super) at: Option<String>,
    /// Free text.
    #[schemars(length(max = 2000))]
    pub(super) note: Option<String>,
    /// Name of a photo, a file beside this one.
    #[schemars(length(min = 1, max = 200))]
    pub(super) photo: Option<String>,
    /// SHA-256 of the photo's bytes, hexadecimal; where it is given, the photo must
    /// match it.
    #[schemars(length(min = 64, max = 64))]
    pub(super) photo_sha256: Option<String>,
}

/// A number or a word.
#[derive(Deserialize, JsonSchema)]
#[serde(untagged)]
pub(super) enum ValueFile {
    Number(f64),
    Word(String),
}

/// Weighings in air and in water.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WeighingFile {
    /// One standard deviation of one reading of the scale, g.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub(super) scale_sigma_g: f64,
    /// One standard deviation of the thermometer, °C.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub(super) thermometer_sigma_c: Option<f64>,
    /// Dry weight afterwards, g.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub(super) dry_after_g: Option<f64>,
    /// Rows of: in air, in water with the wire, the wire alone in water (all g),
    /// and the water's temperature, °C.
    #[schemars(length(min = 1, max = 100))]
    pub(super) rows: Vec<WeighingRow>,
}

/// One weighing.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WeighingRow {
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub(super) in_air_g: f64,
    pub(super) in_water_g: f64,
    #[serde(default)]
    #[schemars(range(min = 0.0))]
    pub(super) wire_g: f64,
    #[schemars(range(min = 0.0, max = 40.0))]
    pub(super) water_c: f64,
}

/// What water could harm; what is left out is not known.
#[derive(Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SoakFile {
    /// It takes up water.
    #[serde(default)]
    pub(super) porous: KnownFile,
    /// It is glued.
    #[serde(default)]
    pub(super) glued: KnownFile,
    /// Its colour was put in.
    #[serde(default)]
    pub(super) treated: KnownFile,
    /// Cracks reach its skin.
    #[serde(default)]
    pub(super) open_cracks: KnownFile,
    /// It is set in metal.
    #[serde(default)]
    pub(super) mounted: bool,
}

/// Yes, no, or not known.
#[derive(Clone, Copy, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum KnownFile {
    Yes,
    No,
    #[default]
    Unknown,
}

impl From<KnownFile> for Known {
    fn from(file: KnownFile) -> Self {
        match file {
            KnownFile::Yes => Self::Yes,
            KnownFile::No => Self::No,
            KnownFile::Unknown => Self::Unknown,
        }
    }
}
