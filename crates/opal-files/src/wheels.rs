//! The wheel file `opalwright-wheels/1`, documented in `docs/wheels.md`.

use crate::document::{self, FaultList};
use opal_evidence::{Fault, Faults};
use opal_finish::{Grain, GritScale, LogBelief, STINT_FACTOR, Saw, Wear, Wheel, WheelSet};
use opal_reference::grit;
use opal_units::{Area, Currency, Length, Money, Volume};
use schemars::JsonSchema;
use serde::Deserialize;
use serde_json::Value as Json;

/// The name of the format.
pub const WHEELS_FORMAT: &str = "opalwright-wheels/1";

/// The wheels and the saw of one bench.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "opalwright-wheels/1")]
struct WheelsFile {
    /// Always `opalwright-wheels/1`.
    #[allow(dead_code)] // the reader has held it against its one word
    format: Format,
    /// What you call this set, and of when it is.
    #[schemars(required, length(min = 1, max = 200))]
    title: Option<String>,
    /// ISO 4217 code of every amount, such as AUD; needed where a price is told.
    currency: Option<String>,
    /// Coarse to fine; the last one polishes.
    #[schemars(length(min = 1, max = 30))]
    wheel: Vec<WheelTable>,
    saw: Option<SawTable>,
}

#[derive(Deserialize, JsonSchema)]
enum Format {
    #[serde(rename = "opalwright-wheels/1")]
    One,
}

/// One wheel.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WheelTable {
    /// What you call it; what `log` calls it too.
    #[schemars(length(min = 1, max = 100))]
    name: String,
    kind: Kind,
    grit: GritTable,
    /// Stone that it takes off in a minute under your usual pressure, mm³.
    // What is wrong is left out here, so that what else is wrong is told with it.
    #[schemars(required, extend("exclusiveMinimum" = 0), range(max = 100_000.0))]
    removal_mm3_per_min: Option<f64>,
    /// The factor either way within which you are nine in ten sure of that.
    #[schemars(extend("exclusiveMinimum" = 1), range(max = 20.0))]
    #[serde(default = "wide")]
    factor: f64,
    /// What a new one costs, such as "95.00".
    price: Option<String>,
    /// How much stone it takes off before it is worn out, mm³.
    #[schemars(extend("exclusiveMinimum" = 0))]
    lasts_mm3: Option<f64>,
}

fn wide() -> f64 {
    3.0
}

/// What a wheel does.
#[derive(Clone, Copy, Deserialize, Eq, JsonSchema, PartialEq)]
#[serde(rename_all = "kebab-case")]
enum Kind {
    /// It leaves scratches, finer than those of the wheel before.
    Grind,
    /// It leaves none that shows.
    Polish,
}

/// A grain size: a number with its scale, or micrometres.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct GritTable {
    /// The scale that the number belongs to.
    scale: Option<ScaleKey>,
    /// The number, as it is printed.
    #[schemars(length(min = 1, max = 20))]
    number: Option<String>,
    /// The size in micrometres, where you know better than the scale's table.
    #[schemars(extend("exclusiveMinimum" = 0), range(max = 1000.0))]
    um: Option<f64>,
}

/// The scale of a grit number.
#[derive(Clone, Copy, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum ScaleKey {
    /// Sieved diamond, ISO 6106, such as 80/100.
    DiamondMesh,
    /// P grades of coated paper, ISO 6344.
    FepaP,
    /// F grades of powder, ISO 8486.
    FepaF,
    /// American grades of coated paper, ANSI B74.18.
    Cami,
    /// What makers of diamond wheels for stones print; no standard.
    LapidaryDiamond,
}

impl From<ScaleKey> for GritScale {
    fn from(key: ScaleKey) -> Self {
        match key {
            ScaleKey::DiamondMesh => Self::DiamondMesh,
            ScaleKey::FepaP => Self::FepaP,
            ScaleKey::FepaF => Self::FepaF,
            ScaleKey::Cami => Self::Cami,
            ScaleKey::LapidaryDiamond => Self::LapidaryDiamond,
        }
    }
}

/// The saw.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct SawTable {
    /// Area cut in a minute at your usual feed, mm².
    #[schemars(required, extend("exclusiveMinimum" = 0), range(max = 100_000.0))]
    feed_mm2_per_min: Option<f64>,
    /// Minutes to set a stone up and to clean after.
    #[schemars(required, range(min = 0.0, max = 120.0))]
    set_up_minutes: Option<f64>,
    /// What a blade costs, such as "60.00".
    blade_price: Option<String>,
    /// How much it cuts before it is worn out, mm².
    #[schemars(extend("exclusiveMinimum" = 0))]
    blade_lasts_mm2: Option<f64>,
    /// How wear grows with the feed; 2: twice the feed, four times the blade.
    #[schemars(range(min = 1.0, max = 5.0))]
    #[serde(default = "exponent")]
    wear_exponent: f64,
}

fn exponent() -> f64 {
    Saw::WEAR_EXPONENT
}

/// Reads a wheel file, TOML or JSON.
///
/// # Errors
/// All faults at once, each with file, line, field, value and limit.
pub fn read_wheels(name: &str, bytes: &[u8]) -> Result<WheelSet, Faults> {
    let read = document::read::<WheelsFile>(name, bytes);
    let mut faults = read.faults;
    let set = read.shape.and_then(|file| wheel_set(file, &mut faults));
    match (faults.into_faults(), set) {
        (None, Some(set)) => Ok(set),
        (Some(faults), _) => Err(faults),
        (None, None) => Err(Fault::new(name, "not understood", "must be a wheel file").into()),
    }
}

/// The JSON Schema of the wheel file, as kept in `docs/schema/`.
#[must_use]
pub fn wheels_schema() -> serde_json::Value {
    schemars::schema_for!(WheelsFile).to_value()
}

/// A wheel file as JSON with the same fields, for a form; `None` where it is neither TOML
/// nor JSON.
#[must_use]
pub fn wheels_as_json(text: &str) -> Option<Json> {
    document::fields_of(text)
}

/// The text of a wheel file with the fields of a form.
///
/// # Errors
/// All that is wrong with them, each with its field, value and limit.
pub fn wheels_from_json(fields: &Json) -> Result<String, Faults> {
    read_wheels("the wheels", fields.to_string().as_bytes())?;
    toml::to_string_pretty(fields)
        .map_err(|why| Fault::new("the wheels", "not writable", why.to_string()).into())
}

/// The example that ships with the program: an invented bench.
#[must_use]
pub fn example_wheels() -> &'static str {
    include_str!("../../../examples/wheels.toml")
}

fn wheel_set(file: WheelsFile, faults: &mut FaultList) -> Option<WheelSet> {
    let currency = file.currency.as_ref().and_then(|code| {
        let limit = "must be three capital letters, such as \"AUD\"";
        Currency::new(code)
            .map_err(|_| faults.add("currency", format!("\"{code}\""), limit))
            .ok()
    });
    let mut wheels: Vec<Wheel> = Vec::new();
    let last = file.wheel.len().saturating_sub(1);
    for (k, table) in file.wheel.iter().enumerate() {
        let path = format!("wheel[{k}]");
        if (table.kind == Kind::Polish) != (k == last) {
            let (value, limit) = match table.kind {
                Kind::Polish => ("polish", "only the last wheel polishes"),
                Kind::Grind => ("grind", "the last wheel must polish"),
            };
            faults.add(format!("{path}.kind"), value, limit);
        }
        if wheels
            .iter()
            .any(|w| w.name.eq_ignore_ascii_case(&table.name))
        {
            let limit = "each name once, so that the log knows which is meant";
            faults.add(format!("{path}.name"), table.name.clone(), limit);
        }
        let price = price(
            &path,
            ("price", &table.price),
            ("lasts_mm3", table.lasts_mm3),
            currency,
            faults,
        );
        let Some(wheel) = wheel(&path, table, faults) else {
            continue;
        };
        if let Some(coarser) = wheels.last().filter(|w| w.grain.size <= wheel.grain.size) {
            let value = format!("{} µm", wheel.grain.size.um());
            let limit = format!(
                "finer than the wheel before, {} µm",
                coarser.grain.size.um()
            );
            faults.add(format!("{path}.grit"), value, limit);
        }
        wheels.push(Wheel {
            wear: price.map(|(price, lasts)| Wear {
                price,
                lasts: Volume::from_mm3(lasts),
            }),
            ..wheel
        });
    }
    let saw = file.saw.as_ref().map_or(Saw::USUAL, |table| Saw {
        feed_mm2_per_min: table
            .feed_mm2_per_min
            .unwrap_or(Saw::USUAL.feed_mm2_per_min),
        set_up_minutes: table.set_up_minutes.unwrap_or(Saw::USUAL.set_up_minutes),
        blade: price(
            "saw",
            ("blade_price", &table.blade_price),
            ("blade_lasts_mm2", table.blade_lasts_mm2),
            currency,
            faults,
        )
        .map(|(price, lasts)| (price, Area::from_mm2(lasts))),
        wear_exponent: table.wear_exponent,
    });
    Some(WheelSet {
        title: file.title.unwrap_or_default(),
        wheels,
        saw,
    })
}

fn wheel(path: &str, table: &WheelTable, faults: &mut FaultList) -> Option<Wheel> {
    let grain = grain(&format!("{path}.grit"), &table.grit, faults)?;
    let rate = LogBelief::new(table.removal_mm3_per_min?, table.factor, STINT_FACTOR)?;
    match table.kind {
        Kind::Polish => Some(Wheel::polishing(&table.name, grain, rate)),
        Kind::Grind => Wheel::grinding(&table.name, grain, rate),
    }
}

fn grain(path: &str, table: &GritTable, faults: &mut FaultList) -> Option<Grain> {
    match (table.scale.map(GritScale::from), &table.number, table.um) {
        (Some(scale), Some(number), Some(um)) => Some(Grain {
            scale,
            number: number.clone(),
            size: Length::from_um(um),
        }),
        (Some(scale), Some(number), None) => {
            let grain = Grain::on_scale(scale, number);
            if grain.is_none() {
                let known: Vec<&str> = grit::rows()
                    .iter()
                    .filter(|row| Some(row.scale.as_str()) == scale.key())
                    .map(|row| row.number.as_str())
                    .collect();
                let limit = format!("one of {}; or give um as well", known.join(", "));
                faults.add(format!("{path}.number"), number.clone(), limit);
            }
            grain
        }
        (None, None, Some(um)) => Some(Grain {
            scale: GritScale::Micrometres,
            number: um.to_string(),
            size: Length::from_um(um),
        }),
        (None, Some(number), _) => {
            let sizes: Vec<String> = grit::rows()
                .iter()
                .filter(|row| row.number == *number)
                .map(|row| format!("{} µm on {}", row.um, row.scale))
                .collect();
            let limit = if sizes.is_empty() {
                "a number needs its scale: the same number is several sizes".to_owned()
            } else {
                format!("a number needs its scale: it is {}", sizes.join(", "))
            };
            faults.add(format!("{path}.scale"), "missing", limit);
            None
        }
        (_, None, _) => {
            faults.add(path, "without a size", "give scale and number, or um");
            None
        }
    }
}

/// A price and how long it lasts: both or neither.
fn price(
    path: &str,
    (price_field, price): (&str, &Option<String>),
    (lasts_field, lasts): (&str, Option<f64>),
    currency: Option<Currency>,
    faults: &mut FaultList,
) -> Option<(Money, f64)> {
    let (price, lasts) = match (price, lasts) {
        (Some(price), Some(lasts)) => (price, lasts),
        (None, None) => return None,
        (Some(_), None) => {
            faults.add(
                format!("{path}.{lasts_field}"),
                "missing",
                "goes with the price",
            );
            return None;
        }
        (None, Some(_)) => {
            faults.add(
                format!("{path}.{price_field}"),
                "missing",
                "goes with how long it lasts",
            );
            return None;
        }
    };
    let Some(currency) = currency else {
        faults.add("currency", "missing", "needed where a price is told");
        return None;
    };
    match Money::parse(price, currency) {
        Ok(money) if money.minor() >= 0 => Some((money, lasts)),
        _ => {
            let limit = "an amount such as \"95.00\", 0 or more";
            faults.add(
                format!("{path}.{price_field}"),
                format!("\"{price}\""),
                limit,
            );
            None
        }
    }
}
