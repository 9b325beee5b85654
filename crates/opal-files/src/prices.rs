//! The price file `opalwright-prices/1`, documented in `docs/prices.md`.

mod edit;
mod shape;

use crate::document::{self, FaultList};
use opal_evidence::{Fault, Faults};
use opal_units::Currency;
use opal_value::{
    BidLimits, BookParts, Costs, Curve, CurveError, PieceRules, PriceBook, PriceBy, PriceRow,
    RoughRow, ShapeFactors,
};

pub use edit::{FieldChange, change_prices, prices_as_json};
pub use shape::BenchOverrides;
use shape::{BidFile, BrightnessKey, CostsFile, Format, PricesFile, VarietyKey};

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
