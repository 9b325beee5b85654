//! The shape of a price file: what serde reads and the schema is made of.

use opal_value::PriceInterval;
use schemars::JsonSchema;
use serde::Deserialize;
use std::collections::BTreeMap;

/// Bench rules that the cutter set; `None` leaves the default.
#[derive(Clone, Copy, Debug, Default, Deserialize, JsonSchema, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct BenchOverrides {
    /// What the blade takes, mm.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub kerf_mm: Option<f64>,
    /// The thickest piece that the saw cuts through, mm.
    #[schemars(range(min = 1.0, max = 500.0))]
    pub saw_reach_mm: Option<f64>,
    /// Least thickness of colour under a finished face, mm.
    #[schemars(range(min = 0.0, max = 10.0))]
    pub least_colour_mm: Option<f64>,
    /// Height of the wall below the dome, mm.
    #[schemars(range(min = 0.0, max = 10.0))]
    pub wall_mm: Option<f64>,
    /// Width of the bevel at the back, mm.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub bevel_mm: Option<f64>,
    /// Narrowest stone worth cutting, mm.
    #[schemars(range(min = 0.5, max = 50.0))]
    pub least_width_mm: Option<f64>,
    /// Least radius of curvature of an outline, mm.
    #[schemars(range(min = 0.1, max = 50.0))]
    pub least_radius_mm: Option<f64>,
    /// Thinnest finished stone, mm.
    #[schemars(range(min = 0.2, max = 20.0))]
    pub least_thickness_mm: Option<f64>,
    /// Left on at the saw outside the wanted surface, mm.
    #[schemars(range(min = 0.0, max = 10.0))]
    pub saw_allowance_mm: Option<f64>,
    /// Taken by grinding, sanding and polish on each side, mm.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub wheel_allowance_mm: Option<f64>,
    /// Chance that a stone breaks in the work, apart from the cracks that were seen.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub breakage_chance: Option<f64>,
}

/// A book of prices, what the work costs, and what to ask of a purchase.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "opalwright-prices/1")]
pub(super) struct PricesFile {
    /// Always `opalwright-prices/1`.
    pub(super) format: Format,
    /// What you call this book, and of when it is.
    #[schemars(length(min = 1, max = 200))]
    pub(super) title: String,
    /// True only for the shipped example.
    #[serde(default)]
    pub(super) invented: bool,
    /// ISO 4217 code, such as AUD.
    pub(super) currency: String,
    /// One standard deviation of the whole market: 0.15 for about 15 % up or
    /// down, all stones together.
    #[schemars(range(min = 0.0, max = 1.5))]
    pub(super) market_spread: f64,
    /// Prices by class.
    #[schemars(length(min = 1, max = 500))]
    pub(super) row: Vec<RowFile>,
    pub(super) size: SizeFile,
    pub(super) shape: ShapeFile,
    pub(super) factors: FactorsFile,
    pub(super) backing: BackingFile,
    pub(super) piece: PieceFile,
    /// Prices of rough sold unworked.
    #[schemars(length(min = 1, max = 500))]
    pub(super) rough: Vec<RoughFile>,
    pub(super) costs: CostsFile,
    #[serde(default)]
    pub(super) bid: BidFile,
    #[serde(default)]
    pub(super) bench: BenchOverrides,
}

#[derive(Deserialize, JsonSchema)]
pub(super) enum Format {
    #[serde(rename = "opalwright-prices/1")]
    One,
}

/// Kinds of opal, by the look of the body.
#[derive(Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum VarietyKey {
    Black,
    Dark,
    Light,
    Crystal,
    Boulder,
    Matrix,
}

/// Brightness by its word.
#[derive(Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum BrightnessKey {
    Dull,
    Subdued,
    Bright,
    VeryBright,
    Brilliant,
}

impl VarietyKey {
    pub(super) fn key(self) -> String {
        match self {
            Self::Black => "black",
            Self::Dark => "dark",
            Self::Light => "light",
            Self::Crystal => "crystal",
            Self::Boulder => "boulder",
            Self::Matrix => "matrix",
        }
        .to_owned()
    }
}

impl BrightnessKey {
    pub(super) fn key(self) -> String {
        match self {
            Self::Dull => "dull",
            Self::Subdued => "subdued",
            Self::Bright => "bright",
            Self::VeryBright => "very-bright",
            Self::Brilliant => "brilliant",
        }
        .to_owned()
    }
}

/// Nine sales in ten fall between low and high.
#[derive(Clone, Copy, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct IntervalFile {
    /// One sale in twenty fetches less.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub(super) low: f64,
    /// One sale in twenty fetches more.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub(super) high: f64,
}

impl From<IntervalFile> for PriceInterval {
    fn from(file: IntervalFile) -> Self {
        Self {
            low: file.low,
            high: file.high,
        }
    }
}

/// The price of one class; exactly one of `per_carat` and `per_face_mm2`.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RowFile {
    pub(super) variety: VarietyKey,
    pub(super) brightness: BrightnessKey,
    /// Price per carat, clean, standard shape, where the size factor is 1.
    pub(super) per_carat: Option<IntervalFile>,
    /// Price per mm² of face, the same: for boulder and matrix.
    pub(super) per_face_mm2: Option<IntervalFile>,
}

/// Factors by size: rows of size and factor.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SizeFile {
    /// By carats, counted at the accepted thickness.
    pub(super) by_carat: Vec<[f64; 2]>,
    /// By face area in mm²; needed when a row is priced by its face.
    pub(super) by_face_mm2: Option<Vec<[f64; 2]>>,
}

/// Factors by outline.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ShapeFile {
    /// A size that settings are stocked for.
    pub(super) standard: f64,
    /// A standard outline in a size that nobody stocks.
    pub(super) odd_size: f64,
    /// An outline of its own.
    pub(super) freeform: f64,
    /// Kept whole.
    pub(super) specimen: f64,
    /// On top of that, by outline.
    #[serde(default)]
    pub(super) family: FamilyFile,
}

/// Factors by outline family; 1 where left out.
#[derive(Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct FamilyFile {
    pub(super) oval: Option<f64>,
    pub(super) round: Option<f64>,
    pub(super) cushion: Option<f64>,
    pub(super) oblong_cushion: Option<f64>,
    pub(super) pear: Option<f64>,
    pub(super) marquise: Option<f64>,
    pub(super) heart: Option<f64>,
    pub(super) square: Option<f64>,
    pub(super) rectangle: Option<f64>,
    pub(super) triangle: Option<f64>,
}

impl FamilyFile {
    pub(super) fn factors(&self) -> BTreeMap<String, f64> {
        [
            ("oval", self.oval),
            ("round", self.round),
            ("cushion", self.cushion),
            ("oblong-cushion", self.oblong_cushion),
            ("pear", self.pear),
            ("marquise", self.marquise),
            ("heart", self.heart),
            ("square", self.square),
            ("rectangle", self.rectangle),
            ("triangle", self.triangle),
        ]
        .into_iter()
        .filter_map(|(key, factor)| Some((key.to_owned(), factor?)))
        .collect()
    }
}

/// Factors by how clean and how thick the colour is.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FactorsFile {
    /// Rows of clean share of the face (0 to 1) and factor.
    pub(super) clean_share: Vec<[f64; 2]>,
    /// Rows of mean colour thickness in mm and factor.
    pub(super) colour_mm: Vec<[f64; 2]>,
    /// What a broken stone fetches, as a share of the whole one.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1.0))]
    pub(super) broken_share: f64,
}

/// Backing that buyers accept.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct BackingFile {
    /// Rows of the stone's length in mm and the accepted backing in mm.
    pub(super) accepted_mm: Vec<[f64; 2]>,
}

/// When a stone is priced by the piece.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PieceFile {
    /// Backing beyond the accepted by more than this, mm.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub(super) excess_backing_mm: f64,
    /// Longer than any setting, mm.
    #[schemars(range(min = 1.0, max = 1000.0))]
    pub(super) longest_in_a_setting_mm: f64,
    /// Backing as a share of the whole thickness.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub(super) potch_share_of_thickness: f64,
    /// Counted carats beyond those sold by the carat.
    #[schemars(range(min = 0.0, max = 100_000.0))]
    pub(super) heavier_than_ct: f64,
}

/// The price of rough; leave a word out for any.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RoughFile {
    pub(super) variety: Option<VarietyKey>,
    pub(super) brightness: Option<BrightnessKey>,
    /// Price per carat of rough.
    pub(super) per_carat: IntervalFile,
}

/// What the work costs, money in the currency's major units.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct CostsFile {
    #[schemars(range(min = 0.0))]
    pub(super) labour_per_hour: f64,
    pub(super) minutes: MinutesFile,
    pub(super) consumables: ConsumablesFile,
    /// Selling fee as a share of the price.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 0.9))]
    pub(super) selling_fee: f64,
}

/// Minutes by stage.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct MinutesFile {
    /// To look a piece over and set up.
    #[schemars(range(min = 0.0))]
    pub(super) a_piece: f64,
    /// To set a saw cut up.
    #[schemars(range(min = 0.0))]
    pub(super) a_cut: f64,
    /// To saw a square centimetre.
    #[schemars(range(min = 0.0))]
    pub(super) sawing_a_cm2: f64,
    /// To grind a cubic centimetre off.
    #[schemars(range(min = 0.0))]
    pub(super) grinding_a_cm3: f64,
    /// To dop, shape and finish a stone, beside its face.
    #[schemars(range(min = 0.0))]
    pub(super) a_stone: f64,
    /// To sand and polish a square centimetre of face.
    #[schemars(range(min = 0.0))]
    pub(super) finishing_a_cm2: f64,
    /// To weigh, photograph and list a stone.
    #[schemars(range(min = 0.0))]
    pub(super) selling_a_stone: f64,
    /// One standard deviation of the minutes: 0.3 for about 30 % up or down.
    #[schemars(range(min = 0.0, max = 1.5))]
    pub(super) spread: f64,
}

/// What is used up.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ConsumablesFile {
    /// Blade, by a square centimetre of sawing.
    #[schemars(range(min = 0.0))]
    pub(super) blade_a_cm2: f64,
    /// Wheels, by a cubic centimetre of grinding.
    #[schemars(range(min = 0.0))]
    pub(super) wheels_a_cm3: f64,
    /// Belts, discs and polish, by a square centimetre of face.
    #[schemars(range(min = 0.0))]
    pub(super) polish_a_cm2: f64,
    /// Dop, glue, bag and label, by a stone.
    #[schemars(range(min = 0.0))]
    pub(super) sundries_a_stone: f64,
    /// Postage and insurance, by a stone.
    #[schemars(range(min = 0.0))]
    pub(super) posting_a_stone: f64,
}

/// What to ask of a purchase; what is left out keeps its default.
#[derive(Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct BidFile {
    /// Expected gain over what is paid, 0.3 for 30 %.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub(super) margin: Option<f64>,
    /// Largest chance of a loss.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub(super) chance_of_loss: Option<f64>,
    /// Which worst share to look at, 0.1 for the worst tenth.
    #[schemars(range(max = 1.0), extend("exclusiveMinimum" = 0))]
    pub(super) worst_share: Option<f64>,
    /// Largest mean loss over that worst share.
    #[schemars(range(min = 0.0))]
    pub(super) worst_mean_loss: Option<f64>,
    /// What you have to work with.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub(super) capital: Option<f64>,
    /// Buyer's fee as a share of the price.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub(super) fee: Option<f64>,
}
