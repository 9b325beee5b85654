//! The parcel file `opalwright-parcel/1`, documented in `docs/parcel.md`.

use crate::document::{self, FaultList};
use opal_evidence::{Fault, Faults};
use opal_units::{Currency, Mass, Money};
use opal_value::parcel::{LookedInto, Parcel, ParcelOffer, Usual};
use schemars::JsonSchema;
use serde::Deserialize;

/// The name of the format.
pub const PARCEL_FORMAT: &str = "opalwright-parcel/1";

/// A parcel of which some pieces were looked into.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "opalwright-parcel/1")]
struct ParcelFile {
    /// Always `opalwright-parcel/1`.
    #[allow(dead_code)] // the reader has held it against its one word
    format: Format,
    parcel: HeadFile,
    usual: UsualFile,
    /// The pieces looked into.
    #[serde(default)]
    #[schemars(length(max = 2000))]
    looked: Vec<LookedFile>,
}

#[derive(Deserialize, JsonSchema)]
enum Format {
    #[serde(rename = "opalwright-parcel/1")]
    One,
}

/// The parcel as a whole.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct HeadFile {
    /// What you call it.
    #[schemars(length(min = 1, max = 200))]
    name: String,
    /// Pieces in it, those looked into among them.
    #[schemars(range(min = 1, max = 2000))]
    pieces: u32,
    /// Weight of all of it, ct.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 5_000_000.0))]
    weight_ct: Option<f64>,
    /// Weight of all of it, g.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1_000_000.0))]
    weight_g: Option<f64>,
    /// What is asked for it.
    asking: Option<AskingFile>,
    /// Who picked the pieces that were looked into.
    picked_by: PickedFile,
    /// Minutes it takes to look into one piece; left out, the price book's
    /// `minutes.a_piece`.
    #[schemars(range(min = 0.0, max = 600.0))]
    minutes_a_look: Option<f64>,
}

/// Who picked the pieces that were looked into.
#[derive(Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum PickedFile {
    /// Nobody: they were taken blindly out of the bag.
    Blind,
    /// The seller, or the cutter by their looks.
    ByLooks,
}

/// An amount of money.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct AskingFile {
    /// The amount as a text, exact: "900.00".
    #[schemars(length(min = 1, max = 30))]
    amount: String,
    /// ISO 4217 code.
    #[schemars(length(min = 3, max = 3))]
    currency: String,
}

/// What is usual for such pieces.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct UsualFile {
    /// Share of the pieces that pay to cut.
    #[schemars(range(min = 0.001, max = 0.999))]
    pays: f64,
    /// What a piece that pays brings a carat of rough on average, net of work and
    /// selling, in major units of the price book's currency.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1_000_000.0))]
    per_carat: f64,
    /// Factor within which two in three of the pieces that pay lie about their middle.
    #[serde(default = "usual_factor")]
    #[schemars(range(min = 1.01, max = 10.0))]
    factor: f64,
    /// How many pieces looked into your belief weighs as much as.
    #[serde(default = "usual_counts_as")]
    #[schemars(range(min = 0.5, max = 1000.0))]
    counts_as: f64,
}

/// Common practice, no source: what pays differs by half or double and more.
fn usual_factor() -> f64 {
    2.5
}

/// Chosen: a belief that a handful of pieces overrules.
fn usual_counts_as() -> f64 {
    4.0
}

/// A piece that was looked into.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct LookedFile {
    /// Its weight, ct.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 500_000.0))]
    weight_ct: Option<f64>,
    /// Its weight, g.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 100_000.0))]
    weight_g: Option<f64>,
    /// What it brings once cut, net of work and selling; 0 where it does not pay.
    #[schemars(range(min = 0.0, max = 1e9))]
    worth: f64,
    /// One standard deviation of that; left out, a third of it.
    #[schemars(range(min = 0.0, max = 1e9))]
    sigma: Option<f64>,
}

/// How unsure the worth of a piece is that was looked into, as a share of it.
/// Common practice, no source.
const SIGMA_SHARE: f64 = 1.0 / 3.0;

/// Reads a parcel file, TOML or JSON.
///
/// # Errors
/// All faults at once, each with file, line, field, value and limit.
pub fn read_parcel(name: &str, bytes: &[u8]) -> Result<ParcelOffer, Faults> {
    let read = document::read::<ParcelFile>(name, bytes);
    let mut faults = read.faults;
    let offer = read.shape.map(|file| offer(file, &mut faults));
    match (faults.into_faults(), offer) {
        (None, Some(offer)) => Ok(offer),
        (Some(faults), _) => Err(faults),
        (None, None) => Err(Fault::new(name, "not understood", "must be a parcel file").into()),
    }
}

/// The JSON Schema of the parcel file, as kept in `docs/schema/`.
#[must_use]
pub fn parcel_schema() -> serde_json::Value {
    schemars::schema_for!(ParcelFile).to_value()
}

fn offer(file: ParcelFile, faults: &mut FaultList) -> ParcelOffer {
    let head = file.parcel;
    let parcel = Parcel {
        pieces: head.pieces as usize,
        weight: weight(head.weight_ct, head.weight_g, "parcel", faults),
        looked: file
            .looked
            .iter()
            .enumerate()
            .map(|(k, piece)| LookedInto {
                weight: weight(
                    piece.weight_ct,
                    piece.weight_g,
                    &format!("looked[{k}]"),
                    faults,
                ),
                worth: piece.worth,
                sigma: piece.sigma.unwrap_or(SIGMA_SHARE * piece.worth),
            })
            .collect(),
        usual: Usual {
            pays: file.usual.pays,
            per_carat: file.usual.per_carat,
            factor: file.usual.factor,
            counts_as: file.usual.counts_as,
        },
    };
    // What the schema and the weights above let through, seen as a whole.
    if faults.is_empty() {
        for fault in parcel.faults() {
            let path = match fault.field.as_str() {
                "pieces" | "weight" => format!("parcel.{}", fault.field),
                _ => fault.field,
            };
            faults.add(path, fault.value, format!("must be {}", fault.limit));
        }
    }
    ParcelOffer {
        name: head.name,
        asking: head.asking.and_then(|asking| money(&asking, faults)),
        taken_blindly: matches!(head.picked_by, PickedFile::Blind),
        minutes_a_look: head.minutes_a_look,
        parcel,
    }
}

/// A weight that must be given once, in carats or in grams.
fn weight(ct: Option<f64>, g: Option<f64>, path: &str, faults: &mut FaultList) -> Mass {
    match (ct, g) {
        (Some(ct), None) => Mass::from_carats(ct),
        (None, Some(g)) => Mass::from_grams(g),
        (both, _) => {
            let value = if both.is_some() {
                "given twice"
            } else {
                "left out"
            };
            let limit = "must be given once, as weight_ct or weight_g";
            faults.add(format!("{path}.weight_ct"), value, limit);
            Mass::ZERO
        }
    }
}

fn money(asking: &AskingFile, faults: &mut FaultList) -> Option<Money> {
    let quoted = |text: &str| format!("\"{text}\"");
    let Ok(currency) = Currency::new(&asking.currency) else {
        let limit = "must be an ISO 4217 code, three capital letters such as \"AUD\"";
        faults.add("parcel.asking.currency", quoted(&asking.currency), limit);
        return None;
    };
    match Money::parse(&asking.amount, currency) {
        Ok(money) if money.minor() >= 0 => Some(money),
        _ => {
            let limit = format!(
                "must be a number not below 0 with at most {} digits after the point, such as \
                 \"900\"",
                currency.minor_digits()
            );
            faults.add("parcel.asking.amount", quoted(&asking.amount), limit);
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = include_str!("../../../examples/parcel.toml");

    fn faults(text: &str) -> Vec<String> {
        read_parcel("p.toml", text.as_bytes())
            .expect_err("is refused")
            .0
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn the_example_reads_and_is_valid_by_the_published_schema() {
        let offer = read_parcel("p.toml", GOOD.as_bytes()).expect("reads");
        assert_eq!(offer.parcel.pieces, 40);
        assert_eq!(offer.parcel.looked.len(), 6);
        assert!(offer.taken_blindly);
        let tree: serde_json::Value = toml::from_str(GOOD).expect("TOML");
        assert!(jsonschema::is_valid(&parcel_schema(), &tree));
        let text = serde_json::to_string(&tree).expect("writes");
        assert_eq!(
            read_parcel("p.json", text.as_bytes()).expect("reads"),
            offer
        );
    }

    #[test]
    fn the_published_schema_is_fresh() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../../docs/schema/parcel-1.schema.json");
        let fresh = serde_json::to_string_pretty(&parcel_schema()).expect("writes") + "\n";
        if std::env::var_os("OPAL_BLESS").is_some() {
            std::fs::write(&path, &fresh).expect("written");
        }
        let kept = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(
            kept == fresh,
            "docs/schema/parcel-1.schema.json is stale: run this test with OPAL_BLESS=1"
        );
    }

    #[test]
    fn all_faults_at_once_with_their_lines() {
        let text = GOOD
            .replacen("pieces = 40", "pieces = 0", 1)
            .replacen("pays = 0.25", "pays = 1.5", 1)
            .replacen("weight_ct = 44.0", "weight_ct = 44.0\nweight_g = 8.8", 1)
            .replacen("amount = \"900.00\"", "amount = \"-900\"", 1);
        let found = faults(&text);
        for field in ["parcel.pieces", "usual.pays"] {
            assert!(
                found
                    .iter()
                    .any(|f| f.contains(field) && f.starts_with("p.toml:")),
                "{field}: {found:?}"
            );
        }
    }

    #[test]
    fn what_only_shows_when_seen_as_a_whole() {
        let light = GOOD.replacen("weight_ct = 1850.0", "weight_ct = 100.0", 1);
        assert!(
            faults(&light)[0].contains("more than the pieces looked into weigh together"),
            "{:?}",
            faults(&light)
        );
        let few = GOOD.replacen("pieces = 40", "pieces = 4", 1);
        assert!(
            faults(&few)
                .iter()
                .any(|f| f.contains("at most the pieces"))
        );
        let both = GOOD.replacen("weight_ct = 44.0", "weight_ct = 44.0\nweight_g = 8.8", 1);
        assert!(faults(&both)[0].contains("looked[0].weight_ct"));
    }
}
