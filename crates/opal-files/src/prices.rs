//! The price file `opalwright-prices/1`, documented in `docs/prices.md`.

use crate::document::{self, FaultList};
use opal_evidence::{Fault, Faults};
use opal_units::Currency;
use opal_value::{
    BidLimits, BookParts, Costs, Curve, CurveError, PieceRules, PriceBook, PriceBy, PriceInterval,
    PriceRow, RoughRow, ShapeFactors,
};
use schemars::JsonSchema;
use serde::Deserialize;
use std::collections::BTreeMap;

/// The name of the format.
pub const PRICES_FORMAT: &str = "opalwright-prices/1";

/// Everything that a price file says.
#[derive(Clone, Debug, PartialEq)]
pub struct Prices {
    /// The prices.
    pub book: PriceBook,
    /// What the work costs.
    pub costs: Costs,
    /// What the cutter asks of a purchase.
    pub limits: BidLimits,
    /// The cutter's own bench rules, where they differ from the defaults.
    pub bench: BenchOverrides,
}

/// Bench rules that the cutter set; `None` leaves the default.
#[derive(Clone, Copy, Debug, Default, Deserialize, JsonSchema, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct BenchOverrides {
    /// What the blade takes, mm.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub kerf_mm: Option<f64>,
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
struct PricesFile {
    /// Always `opalwright-prices/1`.
    format: Format,
    /// What you call this book, and of when it is.
    #[schemars(length(min = 1, max = 200))]
    title: String,
    /// True only for the shipped example.
    #[serde(default)]
    invented: bool,
    /// ISO 4217 code, such as AUD.
    currency: String,
    /// One standard deviation of the whole market: 0.15 for about 15 % up or
    /// down, all stones together.
    #[schemars(range(min = 0.0, max = 1.5))]
    market_spread: f64,
    /// Prices by class.
    #[schemars(length(min = 1, max = 500))]
    row: Vec<RowFile>,
    size: SizeFile,
    shape: ShapeFile,
    factors: FactorsFile,
    backing: BackingFile,
    piece: PieceFile,
    /// Prices of rough sold unworked.
    #[schemars(length(min = 1, max = 500))]
    rough: Vec<RoughFile>,
    costs: CostsFile,
    #[serde(default)]
    bid: BidFile,
    #[serde(default)]
    bench: BenchOverrides,
}

#[derive(Deserialize, JsonSchema)]
enum Format {
    #[serde(rename = "opalwright-prices/1")]
    One,
}

/// Kinds of opal, by the look of the body.
#[derive(Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum VarietyKey {
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
enum BrightnessKey {
    Dull,
    Subdued,
    Bright,
    VeryBright,
    Brilliant,
}

impl VarietyKey {
    fn key(self) -> String {
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
    fn key(self) -> String {
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
struct IntervalFile {
    /// One sale in twenty fetches less.
    #[schemars(extend("exclusiveMinimum" = 0))]
    low: f64,
    /// One sale in twenty fetches more.
    #[schemars(extend("exclusiveMinimum" = 0))]
    high: f64,
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
struct RowFile {
    variety: VarietyKey,
    brightness: BrightnessKey,
    /// Price per carat, clean, standard shape, where the size factor is 1.
    per_carat: Option<IntervalFile>,
    /// Price per mm² of face, the same: for boulder and matrix.
    per_face_mm2: Option<IntervalFile>,
}

/// Factors by size: rows of size and factor.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SizeFile {
    /// By carats, counted at the accepted thickness.
    by_carat: Vec<[f64; 2]>,
    /// By face area in mm²; needed when a row is priced by its face.
    by_face_mm2: Option<Vec<[f64; 2]>>,
}

/// Factors by outline.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ShapeFile {
    /// A size that settings are stocked for.
    standard: f64,
    /// A standard outline in a size that nobody stocks.
    odd_size: f64,
    /// An outline of its own.
    freeform: f64,
    /// Kept whole.
    specimen: f64,
    /// On top of that, by outline.
    #[serde(default)]
    family: FamilyFile,
}

/// Factors by outline family; 1 where left out.
#[derive(Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct FamilyFile {
    oval: Option<f64>,
    round: Option<f64>,
    cushion: Option<f64>,
    oblong_cushion: Option<f64>,
    pear: Option<f64>,
    marquise: Option<f64>,
    heart: Option<f64>,
    square: Option<f64>,
    rectangle: Option<f64>,
    triangle: Option<f64>,
}

impl FamilyFile {
    fn factors(&self) -> BTreeMap<String, f64> {
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
struct FactorsFile {
    /// Rows of clean share of the face (0 to 1) and factor.
    clean_share: Vec<[f64; 2]>,
    /// Rows of mean colour thickness in mm and factor.
    colour_mm: Vec<[f64; 2]>,
    /// What a broken stone fetches, as a share of the whole one.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1.0))]
    broken_share: f64,
}

/// Backing that buyers accept.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct BackingFile {
    /// Rows of the stone's length in mm and the accepted backing in mm.
    accepted_mm: Vec<[f64; 2]>,
}

/// When a stone is priced by the piece.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct PieceFile {
    /// Backing beyond the accepted by more than this, mm.
    #[schemars(range(min = 0.0, max = 100.0))]
    excess_backing_mm: f64,
    /// Longer than any setting, mm.
    #[schemars(range(min = 1.0, max = 1000.0))]
    longest_in_a_setting_mm: f64,
    /// Backing as a share of the whole thickness.
    #[schemars(range(min = 0.0, max = 1.0))]
    potch_share_of_thickness: f64,
    /// Counted carats beyond those sold by the carat.
    #[schemars(range(min = 0.0, max = 100_000.0))]
    heavier_than_ct: f64,
}

/// The price of rough; leave a word out for any.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RoughFile {
    variety: Option<VarietyKey>,
    brightness: Option<BrightnessKey>,
    /// Price per carat of rough.
    per_carat: IntervalFile,
}

/// What the work costs, money in the currency's major units.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct CostsFile {
    #[schemars(range(min = 0.0))]
    labour_per_hour: f64,
    minutes: MinutesFile,
    consumables: ConsumablesFile,
    /// Selling fee as a share of the price.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 0.9))]
    selling_fee: f64,
}

/// Minutes by stage.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct MinutesFile {
    /// To look a piece over and set up.
    #[schemars(range(min = 0.0))]
    a_piece: f64,
    /// To set a saw cut up.
    #[schemars(range(min = 0.0))]
    a_cut: f64,
    /// To saw a square centimetre.
    #[schemars(range(min = 0.0))]
    sawing_a_cm2: f64,
    /// To grind a cubic centimetre off.
    #[schemars(range(min = 0.0))]
    grinding_a_cm3: f64,
    /// To dop, shape and finish a stone, beside its face.
    #[schemars(range(min = 0.0))]
    a_stone: f64,
    /// To sand and polish a square centimetre of face.
    #[schemars(range(min = 0.0))]
    finishing_a_cm2: f64,
    /// To weigh, photograph and list a stone.
    #[schemars(range(min = 0.0))]
    selling_a_stone: f64,
    /// One standard deviation of the minutes: 0.3 for about 30 % up or down.
    #[schemars(range(min = 0.0, max = 1.5))]
    spread: f64,
}

/// What is used up.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct ConsumablesFile {
    /// Blade, by a square centimetre of sawing.
    #[schemars(range(min = 0.0))]
    blade_a_cm2: f64,
    /// Wheels, by a cubic centimetre of grinding.
    #[schemars(range(min = 0.0))]
    wheels_a_cm3: f64,
    /// Belts, discs and polish, by a square centimetre of face.
    #[schemars(range(min = 0.0))]
    polish_a_cm2: f64,
    /// Dop, glue, bag and label, by a stone.
    #[schemars(range(min = 0.0))]
    sundries_a_stone: f64,
    /// Postage and insurance, by a stone.
    #[schemars(range(min = 0.0))]
    posting_a_stone: f64,
}

/// What to ask of a purchase; what is left out keeps its default.
#[derive(Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct BidFile {
    /// Expected gain over what is paid, 0.3 for 30 %.
    #[schemars(range(min = 0.0, max = 100.0))]
    margin: Option<f64>,
    /// Largest chance of a loss.
    #[schemars(range(min = 0.0, max = 1.0))]
    chance_of_loss: Option<f64>,
    /// Which worst share to look at, 0.1 for the worst tenth.
    #[schemars(range(max = 1.0), extend("exclusiveMinimum" = 0))]
    worst_share: Option<f64>,
    /// Largest mean loss over that worst share.
    #[schemars(range(min = 0.0))]
    worst_mean_loss: Option<f64>,
    /// What you have to work with.
    #[schemars(extend("exclusiveMinimum" = 0))]
    capital: Option<f64>,
    /// Buyer's fee as a share of the price.
    #[schemars(range(min = 0.0, max = 1.0))]
    fee: Option<f64>,
}

/// Reads a price file, TOML or JSON.
///
/// # Errors
/// All faults at once, each with file, line, field, value and limit.
pub fn read_prices(name: &str, bytes: &[u8]) -> Result<Prices, Faults> {
    let read = document::read::<PricesFile>(name, bytes);
    let mut faults = read.faults;
    let prices = read.shape.and_then(|file| prices(file, &mut faults));
    match (faults.into_faults(), prices) {
        (None, Some(prices)) => Ok(prices),
        (Some(faults), _) => Err(faults),
        (None, None) => Err(Fault::new(name, "not understood", "must be a price file").into()),
    }
}

fn prices(file: PricesFile, faults: &mut FaultList) -> Option<Prices> {
    let Format::One = file.format;
    let currency = Currency::new(&file.currency)
        .map_err(|_| {
            let limit = "must be three capital letters, such as \"AUD\"";
            faults.add("currency", format!("\"{}\"", file.currency), limit);
        })
        .ok();
    let rows = rows(&file, faults);
    let mut curve = |path: &str, points: &[[f64; 2]]| {
        Curve::new(points.to_vec())
            .map_err(|error| faults.push_new(curve_fault(path, &error)))
            .ok()
    };
    let size_by_carat = curve("size.by_carat", &file.size.by_carat);
    let size_by_face = match &file.size.by_face_mm2 {
        Some(points) => curve("size.by_face_mm2", points),
        None => curve("size.by_face_mm2", &[[1.0, 1.0]]),
    };
    let clean = curve("factors.clean_share", &file.factors.clean_share);
    let colour_mm = curve("factors.colour_mm", &file.factors.colour_mm);
    let accepted_backing_mm = curve("backing.accepted_mm", &file.backing.accepted_mm);
    let costs = costs(&file.costs);
    let limits = limits(&file.bid);
    let book = BookParts {
        currency: currency?,
        title: file.title,
        invented: file.invented,
        rows,
        size_by_carat: size_by_carat?,
        size_by_face: size_by_face?,
        shape: ShapeFactors {
            standard: file.shape.standard,
            odd_size: file.shape.odd_size,
            freeform: file.shape.freeform,
            specimen: file.shape.specimen,
            family: file.shape.family.factors(),
        },
        clean: clean?,
        colour_mm: colour_mm?,
        accepted_backing_mm: accepted_backing_mm?,
        piece: PieceRules {
            excess_backing_mm: file.piece.excess_backing_mm,
            longest_in_a_setting_mm: file.piece.longest_in_a_setting_mm,
            potch_share_of_thickness: file.piece.potch_share_of_thickness,
            heavier_than_ct: file.piece.heavier_than_ct,
        },
        broken_share: file.factors.broken_share,
        rough: file
            .rough
            .into_iter()
            .map(|row| RoughRow {
                variety: row.variety.map(VarietyKey::key),
                brightness: row.brightness.map(BrightnessKey::key),
                per_carat: row.per_carat.into(),
            })
            .collect(),
        market_log_sd: file.market_spread,
    };
    match PriceBook::new(book) {
        Ok(book) => Some(Prices {
            book,
            costs,
            limits,
            bench: file.bench,
        }),
        Err(found) => {
            for fault in found {
                faults.add(fault.field, fault.value, fault.limit);
            }
            None
        }
    }
}

/// The JSON Schema of the price file, as kept in `docs/schema/`.
#[must_use]
pub fn prices_schema() -> serde_json::Value {
    schemars::schema_for!(PricesFile).to_value()
}

/// The shipped example: invented prices, marked as such.
#[must_use]
pub fn example_prices() -> &'static str {
    include_str!("../../../examples/prices.toml")
}

fn rows(file: &PricesFile, faults: &mut FaultList) -> Vec<PriceRow> {
    let mut rows = Vec::new();
    for (k, row) in file.row.iter().enumerate() {
        let path = format!("row[{k}]");
        let (by, price) = match (row.per_carat, row.per_face_mm2) {
            (Some(price), None) => (PriceBy::Carat, price),
            (None, Some(price)) => {
                if file.size.by_face_mm2.is_none() {
                    let limit = "size.by_face_mm2 must be given for it";
                    faults.add(&*path, "priced by its face", limit);
                }
                (PriceBy::FaceMm2, price)
            }
            (both, _) => {
                let value = if both.is_some() {
                    "with both prices"
                } else {
                    "without a price"
                };
                let limit = "must have exactly one of per_carat and per_face_mm2";
                faults.add(path, value, limit);
                continue;
            }
        };
        rows.push(PriceRow {
            variety: row.variety.key(),
            brightness: row.brightness.key(),
            by,
            price: price.into(),
        });
    }
    rows
}

fn curve_fault(path: &str, error: &CurveError) -> Fault {
    match error {
        CurveError::Empty => Fault::new(path, "empty", "must hold at least one row"),
        CurveError::Number { index, x, y } => Fault::new(
            format!("{path}[{index}]"),
            format!("[{x}, {y}]"),
            "must be two finite numbers, neither below 0",
        ),
        CurveError::Order { index, x } => Fault::new(
            format!("{path}[{index}]"),
            x,
            "must stand beyond the row before it",
        ),
    }
}

fn costs(file: &CostsFile) -> Costs {
    let (minutes, used) = (&file.minutes, &file.consumables);
    Costs {
        labour_per_hour: file.labour_per_hour,
        minutes_a_piece: minutes.a_piece,
        minutes_a_cut: minutes.a_cut,
        minutes_sawing_a_cm2: minutes.sawing_a_cm2,
        minutes_grinding_a_cm3: minutes.grinding_a_cm3,
        minutes_a_stone: minutes.a_stone,
        minutes_finishing_a_cm2: minutes.finishing_a_cm2,
        minutes_selling_a_stone: minutes.selling_a_stone,
        minutes_log_sd: minutes.spread,
        blade_a_cm2: used.blade_a_cm2,
        wheels_a_cm3: used.wheels_a_cm3,
        polish_a_cm2: used.polish_a_cm2,
        sundries_a_stone: used.sundries_a_stone,
        posting_a_stone: used.posting_a_stone,
        selling_fee: file.selling_fee,
    }
}

fn limits(file: &BidFile) -> BidLimits {
    let start = BidLimits::default();
    BidLimits {
        margin: file.margin.unwrap_or(start.margin),
        chance_of_loss: file.chance_of_loss.unwrap_or(start.chance_of_loss),
        worst_share: file.worst_share.unwrap_or(start.worst_share),
        worst_mean_loss: file.worst_mean_loss.or(start.worst_mean_loss),
        capital: file.capital.or(start.capital),
        fee: file.fee.unwrap_or(start.fee),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edited(from: &str, to: &str) -> String {
        assert!(example_prices().contains(from), "{from}");
        example_prices().replacen(from, to, 1)
    }

    fn faults(text: &str) -> Vec<String> {
        read_prices("prices.toml", text.as_bytes())
            .expect_err("is refused")
            .0
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn the_example_reads_and_says_that_it_is_invented() {
        let prices = read_prices("prices.toml", example_prices().as_bytes()).expect("reads");
        assert!(prices.book.parts().invented);
        assert_eq!(prices.book.varieties().len(), 6);
        for variety in prices.book.varieties() {
            assert_eq!(prices.book.brightnesses(variety).len(), 5);
        }
        assert_eq!(prices.bench.kerf_mm, Some(0.4));
        assert_eq!(prices.limits.capital, Some(20_000.0));
    }

    #[test]
    fn the_same_in_json() {
        let tree: serde_json::Value = toml::from_str(example_prices()).expect("reads");
        let text = serde_json::to_string_pretty(&tree).expect("writes");
        assert_eq!(
            read_prices("prices.json", text.as_bytes()).expect("reads"),
            read_prices("prices.toml", example_prices().as_bytes()).expect("reads")
        );
    }

    #[test]
    fn all_faults_at_once_with_their_lines() {
        let text = example_prices()
            .replacen("low = 20, high = 80", "low = -20, high = 80", 1)
            .replacen("brightness = \"subdued\"", "brightness = \"glowing\"", 1)
            .replacen("kerf_mm = 0.4", "kerf = 0.4", 1)
            .replacen("labour_per_hour = 45.0\n", "", 1);
        let found = faults(&text);
        assert_eq!(
            found,
            [
                "prices.toml:16: row[0].per_carat.low is -20; must be a number above 0",
                "prices.toml:19: row[1].brightness is \"glowing\"; must be one of \"dull\", \"subdued\", \"bright\", \"very-bright\", \"brilliant\"",
                "prices.toml:179: costs.labour_per_hour is missing; must be a number of at least 0",
                "prices.toml:207: bench.kerf is not a known field; did you mean kerf_mm?",
            ]
        );
    }

    #[test]
    fn faults_of_meaning_have_lines_too() {
        for (from, to, fault) in [
            (
                "low = 60, high = 240",
                "low = 260, high = 240",
                "prices.toml:20: row[1].per_carat.low is 260; must not be above high, 240",
            ),
            (
                "brightness = \"subdued\"",
                "brightness = \"dull\"",
                "prices.toml:17: row[1] is black dull; row[0] already prices it",
            ),
            (
                "[0.7, 0.45]",
                "[0.7, 0.1]",
                "prices.toml:154: factors.clean_share[3] is 0.1; must not fall: more of it is never worth less",
            ),
            (
                "[10.0, 1.1], [30.0, 0.8]",
                "[10.0, 1.1], [11.0, 0.8]",
                "prices.toml:142: size.by_carat[5] is 0.8; must fall more slowly: here a larger stone would fetch less in all",
            ),
            (
                "[1.0, 0.8], [2.0, 1.0]",
                "[1.0, 0.8], [0.9, 1.0]",
                "prices.toml:142: size.by_carat[2] is 0.9; must stand beyond the row before it",
            ),
            (
                "currency = \"AUD\"",
                "currency = \"dollars\"",
                "prices.toml:7: currency is \"dollars\"; must be three capital letters, such as \"AUD\"",
            ),
            (
                "per_carat = { low = 20, high = 80 }",
                "",
                "prices.toml:13: row[0] is without a price; must have exactly one of per_carat and per_face_mm2",
            ),
            (
                "pear = 0.95",
                "pear = 0",
                "prices.toml:150: shape.family.pear is 0; must be above 0 and at most 10",
            ),
        ] {
            assert_eq!(faults(&edited(from, to)), [fault]);
        }
    }

    #[test]
    fn numbers_that_are_none_are_refused() {
        for bad in ["nan", "inf", "\"3\"", "true", "[]"] {
            let text = edited("market_spread = 0.15", &format!("market_spread = {bad}"));
            assert_eq!(faults(&text).len(), 1, "{bad}");
        }
    }

    #[test]
    fn the_schema_in_the_docs_is_fresh() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../docs/schema/prices-1.schema.json"
        );
        let mut fresh = serde_json::to_string_pretty(&prices_schema()).expect("writes");
        fresh.push('\n');
        if std::env::var_os("OPAL_WRITE_SCHEMAS").is_some() {
            std::fs::write(path, &fresh).expect("writes");
        }
        let kept = std::fs::read_to_string(path).unwrap_or_default();
        assert!(
            kept == fresh,
            "docs/schema/prices-1.schema.json is stale; run the tests with OPAL_WRITE_SCHEMAS=1"
        );
    }
}
